"""What somebody typed that a thing cost, held against the offers and the yard."""

from __future__ import annotations

from stockplan.domain.odd_costs import odd_cost
from stockplan.domain.stock import StockItem


def cost_of_others(where: str | None, item: StockItem) -> str:
    """Say that a thing costs far more or far less than other grass of its product; empty where it does not.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    item
        The thing, in the yard already.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.offer_rows import read_offers  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    query = "SELECT DISTINCT cost_pence_per_m2 FROM stock_item WHERE product = :product AND tag <> :tag"
    with open_yard(where) as store, store.reading() as source:
        offers = read_offers(source, [item.product])
        others = [cost for (cost,) in rows_of(source).run(query, {"product": item.product, "tag": item.tag})]
    return odd_cost(item.product, item.cost_pence_per_m2, offers, others)
