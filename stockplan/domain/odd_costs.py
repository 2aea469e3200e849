"""What a thing is said to have cost, held against what its grass costs elsewhere: a slip of the keyboard shows."""

from __future__ import annotations

from collections.abc import Iterable

from stockplan.domain.quote import offer_per_m2
from stockplan.domain.stock import SupplyOption
from stockplan.domain.units import money

TIMES_ODD = 3  # a price per running metre of a roll 4 m wide is 4 times that per square metre


def odd_cost(product: str, cost: int, offers: Iterable[SupplyOption], costs_of_stock: Iterable[int]) -> str:
    """Say that a cost is many times the dearest there is, or a small part of the cheapest; empty where it is neither.

    Parameters
    ----------
    product
        The grass.
    cost
        Pence per square metre; nothing paid at all is no slip.
    offers
        What can be bought of the grass.
    costs_of_stock
        Of other things of it, pence per square metre; those that cost nothing are passed over.
    """
    others = [other for other in (*map(offer_per_m2, offers), *costs_of_stock) if other]
    least, most = min(others, default=0), max(others, default=0)
    there = f"{product} on offer or in the yard"
    if most and cost > TIMES_ODD * most:
        return (
            f"{money(cost)} per m² is about {round(cost / most):,} times what the dearest {there} costs, {money(most)}"
        )
    if 0 < TIMES_ODD * cost < least:
        return f"{money(cost)} per m² is less than a third of what the cheapest {there} costs, {money(least)}"
    return ""
