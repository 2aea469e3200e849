"""The stock sheet held against what the store knows of the same tags."""

from __future__ import annotations

from collections.abc import Container, Iterable

from stockplan.domain.stock import StockItem
from stockplan.store.sheet_faults import FaultLog, shown
from stockplan.store.sheet_rules import CheckedSheet
from stockplan.store.sheet_spelling import check_spelling

_FIXED = ("product", "batch", "form")  # what a tag is said to be once and for all


def check_stock(sheet: CheckedSheet, held: Iterable[StockItem], gone: Container[str], faults: FaultLog) -> None:
    """Note tags that have left the yard or are something else there, and batches and bays spelt otherwise than there.

    Parameters
    ----------
    sheet
        The stock sheet.
    held
        What lies in the yard.
    gone
        Tags of what has left it.
    faults
        Where to note them.
    """
    known = {item.tag: item for item in held}
    batches = [(item.product, item.batch) for item in known.values()]
    new = {row for row, tag in sheet.frame["tag"].items() if tag not in known}
    check_spelling(sheet, "batch", "product", batches, faults, new)
    _remark_other_products(sheet, batches, new, faults)
    check_spelling(sheet, "bay", None, [("", item.bay) for item in known.values()], faults)
    rows = sheet.frame[["tag", *_FIXED]]
    for row, tag, *says in rows.itertuples(name=None):
        if tag in gone:
            right = "no row for it; a new thing needs a tag of its own"
            faults.add(sheet.raw.fault(row, "tag", "has left the yard", shown(tag), right))
        if (item := known.get(tag)) is None:
            continue
        for column, found in zip(_FIXED, says, strict=True):
            was = getattr(item, column)
            if found is not None and found != was:
                right = f"{was or 'an empty cell'}; another thing needs another tag"
                what = f"not what tag {tag} has in the store"
                faults.add(sheet.raw.fault(row, column, what, shown(found), right))


def _remark_other_products(
    sheet: CheckedSheet, held: Iterable[tuple[str, str]], new: Container[object], faults: FaultLog
) -> None:
    """Remark on new things of a batch that lies in the yard in other grass alone: product or batch may be a slip."""
    products: dict[str, set[str]] = {}
    for product, batch in held:
        products.setdefault(batch, set()).add(product)
    for row, tag, product, batch in sheet.frame[["tag", "product", "batch"]].dropna().itertuples(name=None):
        others = products.get(batch) if batch and row in new else None
        if others and product not in others:
            faults.remark(
                f"{sheet.raw.label}:{row}: batch: {batch} lies in the yard as {' and '.join(sorted(others))}; {tag} is "
                f"stored as {product} all the same"
            )
            others.add(product)  # once is enough
