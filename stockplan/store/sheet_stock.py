"""The stock sheet held against what the store knows of the same tags."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence

from stockplan.domain.odd_costs import odd_cost
from stockplan.domain.stock import StockItem, SupplyOption
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


def remark_odd_costs(
    sheet: CheckedSheet,
    stock: Sequence[StockItem],
    offers: Iterable[SupplyOption],
    held: Iterable[StockItem],
    faults: FaultLog,
) -> None:
    """Remark on things that cost far more or far less than their grass on offer or in the yard, once a product.

    Parameters
    ----------
    sheet
        The stock sheet, without faults.
    stock
        What its rows say, in the same order.
    offers
        What can be bought, by the sheets or the store.
    held
        What lies in the yard; a cost that is known is not remarked on again.
    faults
        Where to remark on them.
    """
    sold: dict[str, set[SupplyOption]] = {}
    for offer in offers:
        sold.setdefault(offer.product, set()).add(offer)
    known = {item.tag: item.cost_pence_per_m2 for item in held}
    costs: dict[str, dict[str, int]] = {}
    for item in held:
        costs.setdefault(item.product, {})[item.tag] = item.cost_pence_per_m2
    found: dict[str, list[tuple[int, str, str]]] = {}
    for row, item in zip(sheet.frame.index.tolist(), stock, strict=True):
        cost, product = item.cost_pence_per_m2, item.product
        if known.get(item.tag) == cost:
            continue
        others = [of for tag, of in costs.get(product, {}).items() if tag != item.tag]
        if odd := odd_cost(product, cost, sold.get(product, ()), others):
            found.setdefault(product, []).append((row, item.tag, odd))
    for (row, tag, odd), *more in found.values():
        alike = f"; so are {len(more):,} more of it" if len(more) > 1 else "; so is 1 more of it" if more else ""
        faults.remark(f"{sheet.raw.label}:{row}: cost_per_m2: {odd}; {tag} is stored so all the same{alike}")
