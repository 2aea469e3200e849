"""Cautions about things that were stored as typed, though a slip is likely."""

from __future__ import annotations

from stockplan.cli.saying import say
from stockplan.domain.as_typed import argument
from stockplan.domain.stock import StockItem


def tell_other_product(where: str | None, item: StockItem) -> None:
    """Say that the batch of something received just now is on record for other products only."""
    from stockplan.actions.spelling import other_product  # noqa: PLC0415

    if odd := other_product(where, item.product, item.batch, item.tag):
        see = f"stockplan history {argument(item.tag)}"
        say(f"CAREFUL: {odd}. If that is a slip, reverse what was received and take it in again; its number: {see}")


def tell_odd_cost(where: str | None, item: StockItem) -> None:
    """Say that what something is stored to have cost is far from what its grass costs elsewhere."""
    from stockplan.actions.odd_costs import cost_of_others  # noqa: PLC0415

    if odd := cost_of_others(where, item):
        say(f"CAREFUL: {odd}. If that is a slip, put it right: stockplan measure --cost AMOUNT {argument(item.tag)}")
