"""Tags and batches typed that are on record already, but spelt otherwise: alike to a person, and two to the store."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stockplan.errors import StockplanError
from stockplan.store.sheet_spelling import difference, folded

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


def check_spelling(rows: Rows, product: str, batch: str, tag: str = "") -> None:
    """Check that what is typed of a thing that comes in is not spelt otherwise than in the yard.

    Parameters
    ----------
    rows
        Where to look.
    product, batch
        Of the thing; an empty batch is not known.
    tag
        Its tag; default none.

    Raises
    ------
    StockplanError
        When the yard has such a batch of the product but spelt otherwise, or such a tag but in other letter case; names
        both.
    """
    faults = spelling_faults(rows, product, batch, tag)
    if faults:
        raise StockplanError("\n".join(faults))


def spelling_faults(rows: Rows, product: str, batch: str, tag: str = "") -> list[str]:
    """Say the same as `check_spelling` raises, a sentence each."""
    batches = rows.run("SELECT DISTINCT batch FROM stock_item WHERE product = :product", {"product": product})
    tags = rows.run("SELECT tag FROM stock_item WHERE lower(tag) = lower(:tag)", {"tag": tag}) if tag else ()
    asked = (("tag", tag, tags), ("batch", batch, batches))
    found = ((name, typed, _otherwise(typed, {one for (one,) in held})) for name, typed, held in asked)
    return [
        f"{name}: {difference(typed, held)} one in the yard, found {typed!r}, "
        f"would be right: {held!r}, if it is the same"
        for name, typed, held in found
        if held
    ]


def _otherwise(typed: str, held: set[str]) -> str:
    """How a name is spelt that is held, but not as typed; empty where it is not."""
    if not typed or typed in held:
        return ""
    return min((one for one in held if folded(one) == folded(typed)), default="")
