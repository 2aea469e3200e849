"""The stocktake in plain text: the sheet to count by, and how what was found differs from the record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from stockplan.cli.saying import room
from stockplan.cli.stock_lists import remarks
from stockplan.domain.as_typed import argument
from stockplan.domain.offcut import exchanged
from stockplan.domain.stock import StockItem
from stockplan.domain.units import size
from stockplan.report.columns import in_columns
from stockplan.report.words import counted, form_words

if TYPE_CHECKING:
    from stockplan.actions.counting import Stocktake
    from stockplan.actions.finding import Found


def count_sheet(bay: str, found: Sequence[Found]) -> str:
    """Print what should lie in a bay, with room to tick and to write beside it."""
    headings = ("found", "tag", "product", "batch", "lies as", "across × along, m", "last seen", "remarks")
    rows = [
        (
            "[  ]",
            one.item.tag,
            one.item.product,
            one.item.batch or "unknown",
            form_words(one.item.form),
            size(one.item.width_mm, one.item.length_mm),
            one.last_seen.isoformat() if one.last_seen else "never",
            remarks(one),
        )
        for one in found
    ]
    table = in_columns(headings, rows, ("across × along, m",), room())
    here = "Also here, not on this sheet: ______________________________"
    return f"Count of bay {bay}: {counted(len(rows), 'item')} on record\n\n{table}\n\n{here}"


def differences(taken: Stocktake) -> str:
    """Say how what was found differs from the record, one line a thing."""
    lines = [f"Bay {taken.bay}: {counted(len(taken.as_recorded), 'item')} as recorded."]
    if taken.perhaps_of:
        lines.append(f"All that was found is on record in bay {taken.perhaps_of}: is that the bay that was counted?")
    for item in taken.moved:
        lines.append(f"{item.tag}: found here, on record in {f'bay {item.bay}' if item.bay else 'no bay'}")
    for before, after in taken.measured:
        odd = exchanged((after.width_mm, after.length_mm), (before.width_mm, before.length_mm), widest_mm=0)
        asked = "; are across and along exchanged?" if odd else ""
        lines.append(f"{before.tag}: measures {_size(after)}, on record {_size(before)}{asked}")
    lines += [f"{tag}: found {word}" for tag, word in taken.conditions]
    for one in taken.missing:
        note = f" ({remarks(one)})" if remarks(one) else ""
        lines.append(f"{one.item.tag}: not found, {form_words(one.item.form)} {_size(one.item)}{note}")
    for gone in taken.gone:
        how = gone.how.value.replace("_", " ")
        see = f"stockplan history {argument(gone.item.tag)}"
        lines.append(f"{gone.item.tag}: found, but {how} by the record; see: {see}")
    for tag, near in taken.unknown:
        meant = f"; perhaps {' or '.join(near)} is meant" if near else "; take it in with: stockplan receive"
        lines.append(f"{tag}: found, but never in the yard by the record{meant}")
    return "\n".join(lines)


def _size(item: StockItem) -> str:
    return size(item.width_mm, item.length_mm)
