"""Tags, batches and bays typed that are on record already, but spelt otherwise: alike to a person, two to the store."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stockplan.errors import StockplanError
from stockplan.store.sheet_spelling import difference, folded

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


def check_spelling(rows: Rows, product: str, batch: str, tag: str = "", bay: str = "") -> None:
    """Check that what is typed of a thing that comes in is not spelt otherwise than in the yard.

    Parameters
    ----------
    rows
        Where to look.
    product, batch
        Of the thing; an empty batch is not known.
    tag
        Its tag; default none.
    bay
        Where it is to lie; default nowhere.

    Raises
    ------
    StockplanError
        When the yard has such a batch of the product or such a bay but spelt otherwise, or such a tag but in other
        letter case; names both.
    """
    faults = spelling_faults(rows, product, batch, tag, bay)
    if faults:
        raise StockplanError("\n".join(faults))


def check_bay(rows: Rows, bay: str) -> None:
    """Check that a bay is not spelt otherwise than one in which something lies: a bay of its own would be lost to it.

    Parameters
    ----------
    rows
        Where to look.
    bay
        As typed; empty is nowhere.

    Raises
    ------
    StockplanError
        When there is such a bay but spelt otherwise; names both.
    """
    check_spelling(rows, "", "", bay=bay)


def bay_fault(where: str | None, bay: str) -> str:
    """Say the same as `check_bay` raises; empty where nothing is wrong.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    bay
        As typed.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        return "".join(spelling_faults(rows_of(source), "", "", bay=bay))


def spelling_faults(rows: Rows, product: str, batch: str, tag: str = "", bay: str = "") -> list[str]:
    """Say the same as `check_spelling` raises, a sentence each."""
    batches = rows.run("SELECT DISTINCT batch FROM stock_item WHERE product = :product", {"product": product})
    tags = rows.run("SELECT tag FROM stock_item WHERE lower(tag) = lower(:tag)", {"tag": tag}) if tag else ()
    bays = rows.run("SELECT DISTINCT bay FROM stock_item") if bay else ()
    asked = (("tag", tag, tags), ("batch", batch, batches), ("bay", bay, bays))
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
