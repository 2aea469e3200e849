"""The other orders of a plan in an answer without one of them: under which names, and which must come sooner."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

from stockplan.cutting.assemble import Assembled
from stockplan.domain.plan import Order, ProductPlan, SourceCuts
from stockplan.domain.reasons import Sooner


def other_orders(
    plan: Assembled | ProductPlan, laid: Assembled, lay_on: dict[str, date], gone: str
) -> tuple[dict[str, str], tuple[Sooner, ...]]:
    """Name a plan's orders in an answer, so that as few as can be serve otherwise or must come sooner than planned.

    Orders of the same thing may stand for each other: one that gives the same to the same jobs keeps its name, and of
    the others the first to be needed is that which the plan has come first.

    Parameters
    ----------
    plan
        The plan, or its answer laid out.
    laid
        The other answer laid out; what it buys itself goes by keys that the plan does not have.
    lay_on
        By code of a job: its day.
    gone
        Key of the order that is not there.

    Returns
    -------
    tuple
        By key in the answer: the key to tell; and the orders that must come sooner.
    """
    orders = {order.key: order for order in plan.orders}
    gives = {cuts.source: _given(cuts) for cuts in plan.cuts}
    free = {key: order for key, order in orders.items() if key != gone}
    names: dict[str, str] = {}
    serving = [cuts for cuts in laid.cuts if cuts.source in orders]
    needed = {cuts.source: min(lay_on[piece.job] for piece in cuts.pieces()) - timedelta(days=1) for cuts in serving}
    changed = []
    for cuts in serving:
        same = [key for key in _alike(free, orders[cuts.source]) if gives[key] == _given(cuts)]
        if same:
            names[cuts.source] = same[0]
            del free[same[0]]
        else:
            changed.append(cuts.source)
    for source in sorted(changed, key=lambda source: (needed[source], source)):
        names[source] = _alike(free, orders[source])[0]
        del free[names[source]]
    sooner = [_sooner(orders[names[source]], day) for source, day in needed.items()]
    found = sorted((one for one in sooner if one is not None), key=lambda one: (one.order_by, one.order))
    return names, tuple(found)


def _given(cuts: SourceCuts) -> Counter[tuple[str, int, int]]:
    """What a source gives to which jobs."""
    return Counter((piece.job, piece.width_mm, piece.length_mm) for piece in cuts.pieces())


def _alike(orders: dict[str, Order], one: Order) -> list[str]:
    """Keys of the orders of the same thing as one, the first to come first."""
    found = [order for order in orders.values() if _thing(order) == _thing(one)]
    return [order.key for order in sorted(found, key=lambda order: (order.arrives_on, order.key))]


def _thing(order: Order) -> tuple[object, ...]:
    lead = order.arrives_on - order.order_by
    return order.supplier, order.form, order.width_mm, order.length_mm, order.price_pence, lead


def _sooner(order: Order, needed: date) -> Sooner | None:
    """By when an order must come that is needed on a day; None where it is here by then."""
    if order.arrives_on <= needed:
        return None
    return Sooner(order.key, order.order_by - (order.arrives_on - needed), needed)
