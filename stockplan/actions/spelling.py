"""Tags, batches and bays typed that are on record already, but spelt otherwise: alike to a person, two to the store."""

from __future__ import annotations

from collections.abc import Sequence
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


def batch_of_others(rows: Rows, product: str, batch: str, besides: str = "") -> tuple[str, ...]:
    """Give the products that a batch is on record for, of what lies in the yard or has left it, where this is not one.

    Parameters
    ----------
    rows
        Where to look.
    product, batch
        As typed; an empty batch is not known, and of no product.
    besides
        A tag that says nothing, as it was received just now; default none.
    """
    found: set[str] = set()
    for table in ("stock_item", "gone_item") if batch else ():
        query = f"SELECT DISTINCT product FROM {table} WHERE batch = :batch AND tag <> :besides"
        found |= {one for (one,) in rows.run(query, {"batch": batch, "besides": besides})}
    return () if product in found else tuple(sorted(found))


def other_product_words(product: str, batch: str, others: Sequence[str]) -> str:
    """Say that a batch is on record for other products only.

    Parameters
    ----------
    product, batch
        As typed.
    others
        As `batch_of_others` gives them.
    """
    return f"batch {batch} is on record for {' and '.join(others)}, and never was for {product}"


def other_product(where: str | None, product: str, batch: str, tag: str) -> str:
    """Say the same of something received just now; empty where the batch is no other product's.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    product, batch, tag
        Of the thing.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        others = batch_of_others(rows_of(source), product, batch, tag)
    return other_product_words(product, batch, others) if others else ""


def _otherwise(typed: str, held: set[str]) -> str:
    """How a name is spelt that is held, but not as typed; empty where it is not."""
    if not typed or typed in held:
        return ""
    return min((one for one in held if folded(one) == folded(typed)), default="")
