"""Accepted plans over the small yard of `builders`, for the tests of planning again, acceptance and deliveries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from builders import JOB, MONDAY, OTHER_ROLL, ROLL, build, new_order, read_cuts, small_request

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.ledger import PieceCut
from stockplan.domain.plan import Plan
from stockplan.domain.purchase import OrderLine, OrderState, line_key
from stockplan.domain.refit import refit
from stockplan.domain.request import PlanRequest
from stockplan.domain.standing import Schedule, Standing
from stockplan.domain.stock import StockItem

SECOND = Job("J2", "Alder Close", "G30", MONDAY + timedelta(days=1), "road", BatchRule.ONE, (Strip("A", 4000, 2500),))
THIRD = Job("J3", "Birch End", "G30", MONDAY + timedelta(days=3), "road", BatchRule.ONE, (Strip("A", 4000, 2000, 2),))
THREE = small_request(JOB, SECOND, THIRD)
ALL_OF_J1 = ("3000: J1.A1", "2000: J1.B1 | J1.B2")


def first_plan(request: PlanRequest = THREE) -> Plan:
    """R-1 for J1 and J2, R-2 for J3."""
    return build(
        request,
        {
            "R-1": read_cuts(request, *ALL_OF_J1, "2500: J2.A1"),
            "R-2": read_cuts(request, "2000: J3.A1", "2000: J3.A2"),
        },
    ).plan


def bought_plan(request: PlanRequest = THREE) -> Plan:
    """A roll to order for all three jobs."""
    order = new_order()
    cuts = read_cuts(request, *ALL_OF_J1, "2500: J2.A1", "2000: J3.A1", "2000: J3.A2")
    return build(request, {"new-1": cuts}, orders=[order]).plan


def standing(plan: Plan, number: int, items: Sequence[StockItem] = (ROLL, OTHER_ROLL)) -> tuple[Standing, ...]:
    """What a plan is still to cut when it has just been accepted, or when its sources are these things instead."""
    by_key = {item.tag: item for item in items}
    found = []
    for cuts in plan.cuts():
        item = by_key[cuts.source]
        fitted = refit(cuts, item, 4000)
        found.append(Standing(number, cuts.source, item, fitted.cuts, fitted.leftovers, fitted.lost))
    return tuple(found)


def coming(
    plan: Plan, number: int, state: OrderState = OrderState.ORDERED, due: date | None = None
) -> tuple[Standing, ...]:
    """What a plan is still to cut from orders that have not come in."""
    found = []
    for line in lines(plan, number, state, due):
        cuts = next(cuts for cuts in plan.cuts() if cuts.source == line.plan_key)
        fitted = refit(cuts, line.as_stock(), 4000)
        found.append(Standing(number, line.plan_key, line.as_stock(), fitted.cuts, fitted.leftovers, fitted.lost))
    return tuple(found)


def lines(plan: Plan, number: int, state: OrderState = OrderState.ORDERED, due: date | None = None) -> list[OrderLine]:
    return [
        OrderLine(
            line_key(number, order.key),
            number,
            order.key,
            order.product,
            order.supplier,
            order.form,
            order.width_mm,
            order.length_mm,
            order.price_pence,
            order.order_by,
            due or order.arrives_on,
            state,
        )
        for order in plan.orders()
    ]


def schedule(*jobs: Job, **rest: object) -> Schedule:
    return replace(Schedule({job.code: job for job in jobs or (JOB, SECOND, THIRD)}), **rest)  # type: ignore[arg-type]


def cut_piece(
    number: int = 1, width_mm: int = 1500, length_mm: int = 2000, source: str = "R-1", batch: str = "B7"
) -> PieceCut:
    return PieceCut(number, width_mm, length_mm, source, batch, "G30")
