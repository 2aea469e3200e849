"""Which tag may be meant by one that was never in the yard, and what became of one that is not there."""

from __future__ import annotations

import shlex
from itertools import pairwise
from typing import TYPE_CHECKING

from stockplan.domain.stock import StockItem
from stockplan.domain.tags import is_misread, tidied
from stockplan.domain.units import size
from stockplan.errors import StoreError

if TYPE_CHECKING:
    from stockplan.domain.ledger import Yard
    from stockplan.store.rows import Rows

MOST = 3  # tags named; more of them help nobody


def known(rows: Rows, yard: Yard, tag: str) -> StockItem:
    """Look up an item that must be in the yard.

    Parameters
    ----------
    rows
        For finding tags that may be meant.
    yard
        What was read of this tag.
    tag
        As typed.

    Raises
    ------
    StoreError
        When it is not there; says what became of it, or which tag may be meant.
    """
    try:
        return yard.item(tag)
    except ValueError as error:
        if tag in yard.gone:
            was = yard.gone[tag].item
            raise StoreError(
                f"{error}; it measured {size(was.width_mm, was.length_mm)}; see: stockplan history {shlex.quote(tag)}"
            ) from error
        near = meant(rows, tag) or "; stockplan stock lists what is there"
        raise StoreError(f"{error}{near}") from error


def near_tags(rows: Rows, tag: str) -> list[str]:
    """Find tags that differ only in letter case, spaces, dashes and zeros before, what has left the yard last.

    At most three. Spreadsheet programs drop the zeros of a tag such as 0147.

    Where there is none, and the check letter says that a character was misread, those that differ in one character or
    in two neighbours exchanged.
    """
    plain = "ltrim(upper(replace(replace(tag, ' ', ''), '-', '')), '0')"
    wanted = tag.replace(" ", "").replace("-", "").upper().lstrip("0")
    alike = _found(rows, f"{plain} = :wanted", {"wanted": wanted})
    return alike or (_misread_for(rows, tidied(tag)) if is_misread(tag) else [])


def meant(rows: Rows, tag: str) -> str:
    """Say which tag may be meant, as the end of a sentence; empty when nothing is like it."""
    misread = "; its last letter does not fit the rest, so a character was misread" if is_misread(tag) else ""
    near = near_tags(rows, tag)
    return f"{misread}; perhaps {' or '.join(near)} is meant" if near else misread


def _misread_for(rows: Rows, tag: str) -> list[str]:
    places = [place for place, character in enumerate(tag) if character.isalnum()]
    patterns = [f"{tag[:place]}_{tag[place + 1 :]}" for place in places]
    pairs = [(one, other) for one, other in pairwise(places) if other == one + 1]
    patterns += [f"{tag[:one]}{tag[other]}{tag[one]}{tag[other + 1 :]}" for one, other in pairs]
    values = {f"like_{number}": pattern for number, pattern in enumerate(patterns)}
    condition = " OR ".join(f"tag LIKE :{name}" for name in values)
    return _found(rows, condition, values)


def _found(rows: Rows, condition: str, values: dict[str, str]) -> list[str]:
    lying_and_gone = (f"SELECT tag FROM {table} WHERE {condition}" for table in ("stock_item", "gone_item"))
    found = [tag for query in lying_and_gone for tag in sorted(tag for (tag,) in rows.run(query, values))]
    return found[:MOST]
