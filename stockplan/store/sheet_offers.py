"""Rows of the supply sheet by which a supplier sells a product no more: product and supplier, and nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from stockplan.store.sheet_faults import FaultLog, shown
from stockplan.store.sheet_files import RawSheet
from stockplan.store.sheet_rules import COLUMNS, CheckedSheet, read_column
from stockplan.store.sheet_spelling import check_spelling

MOST_NAMED = 10  # offers that a remark names
_WHO = ("product", "supplier")


def split_ended(raw: RawSheet) -> tuple[RawSheet, RawSheet]:
    """Part the rows that say what is sold from those that end what was.

    Parameters
    ----------
    raw
        The supply sheet.
    """
    position = {column: raw.header.index(column) for column in COLUMNS["supply"] if column in raw.header}
    if len(position) < len(COLUMNS["supply"]):
        return raw, replace(raw, frame=raw.frame.iloc[:0])
    blank = {column: raw.frame[at].str.strip() == "" for column, at in position.items()}
    ended = ~blank["product"] & ~blank["supplier"]
    for column in position.keys() - set(_WHO):
        ended &= blank[column]
    return replace(raw, frame=raw.frame[~ended]), replace(raw, frame=raw.frame[ended])


def read_ended(raw: RawSheet, faults: FaultLog) -> CheckedSheet:
    """Read product and supplier of the rows that end offers."""
    import pandas as pd  # noqa: PLC0415  most commands read no spreadsheet

    columns = {
        column: read_column(raw, column, COLUMNS["supply"][column], faults) if column in raw.header else []
        for column in _WHO
    }
    return CheckedSheet(raw, pd.DataFrame(columns, index=raw.frame.index, dtype=object))


def pairs(sheet: CheckedSheet) -> dict[tuple[str, str], int]:
    """Give every product and supplier that a sheet speaks of together, with the first row that does."""
    found: dict[tuple[str, str], int] = {}
    for row, product, supplier in sheet.frame[list(_WHO)].dropna().itertuples(name=None):
        found.setdefault((product, supplier), row)
    return found


def check_ended(
    ended: CheckedSheet, supply: CheckedSheet, held: Iterable[tuple[str, str]], label: str, faults: FaultLog
) -> None:
    """Note rows that end what other rows offer, and remark what stays on offer though the sheet says nothing of it.

    Parameters
    ----------
    ended, supply
        Rows that end offers, and rows that make them.
    held
        Product and supplier of what the store has on offer.
    label
        What a remark calls the sheet.
    faults
        Where to note them.
    """
    sold = list(dict.fromkeys(held))
    check_spelling(ended, "supplier", "product", sold, faults)
    offered = pairs(supply)
    for row, product, supplier in ended.frame[list(_WHO)].dropna().itertuples(name=None):
        if (other := offered.get((product, supplier))) is not None:
            what = f"sells {shown(product)} no more by this row, and offers it in row {other}"
            faults.add(ended.raw.fault(row, "supplier", what, shown(supplier), "one of the two"))
    spoken_for = offered.keys() | pairs(ended).keys()
    stays = [f"{product} from {supplier}" for product, supplier in sold if (product, supplier) not in spoken_for]
    if stays:
        more = f" and {len(stays) - MOST_NAMED} more" if len(stays) > MOST_NAMED else ""
        faults.remark(
            f"{label} says nothing of {', '.join(stays[:MOST_NAMED])}{more}, which can still be bought as before; "
            "a row with product and supplier alone says that it cannot"
        )
