"""The plan without a job and the plan with it: two processes at once, or the one without taken from the store."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import PlanRequest, Progress, SearchLimits
from stockplan.errors import PlanUnsound

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


def plan_made_before(session: Session, request: PlanRequest, code: str) -> ProductPlan | None:
    """Give the last stored plan that answers this very request and can still be carried out; None when there is none.

    Parameters
    ----------
    session
        Where to read.
    request
        What would be asked for today. Its plan may have been made on an earlier day: its bound then holds all the more,
        and the plan itself while none of its days to order has passed.
    code
        Product code.
    """
    from stockplan.domain.fingerprint import fingerprint  # noqa: PLC0415
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts_with  # noqa: PLC0415

    for text in read_plan_texts_with(session, fingerprint(request, code)):
        plan = read_plan(text)
        one = next(product for product in plan.products if product.product == code)
        if plan.today <= request.today and all(order.order_by >= request.today for order in one.orders):
            return one
    return None


def both_plans(
    without: PlanRequest,
    with_it: PlanRequest,
    limits: SearchLimits,
    progress: Callable[[Progress], None] | None = None,
) -> tuple[ProductPlan | None, ProductPlan]:
    """Plan one product without a job and with it, in two processes at once.

    Parameters
    ----------
    without, with_it
        What is asked for.
    limits
        For each of the two.
    progress
        Told now and then how far the plan with it is.

    Returns
    -------
    tuple
        The plan without the job, None where there is no other job; and the plan with it.

    Raises
    ------
    PlanUnsound
        When a plan fails its check.
    """
    if not without.jobs:
        return None, sound_plan(with_it, limits, progress)
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415
    from concurrent.futures.process import BrokenProcessPool  # noqa: PLC0415

    with ProcessPoolExecutor(max_workers=1) as beside:
        other = beside.submit(_planned, without, limits)
        plan = sound_plan(with_it, limits, progress)
        try:
            return _sound(*other.result()), plan
        except BrokenProcessPool:  # it was killed, as where memory is short; this one does its work
            return sound_plan(without, limits), plan


def sound_plan(
    request: PlanRequest, limits: SearchLimits, progress: Callable[[Progress], None] | None = None
) -> ProductPlan:
    """Plan one product and have the plan checked.

    Parameters
    ----------
    request
        Of one product.
    limits
        How long to look.
    progress
        Told now and then how far it is.

    Raises
    ------
    PlanUnsound
        When the plan fails its check.
    """
    return _sound(*_planned(request, limits, progress))


def _planned(
    request: PlanRequest, limits: SearchLimits, progress: Callable[[Progress], None] | None = None
) -> tuple[ProductPlan, list[str]]:
    """A plan and what its check finds; returned rather than raised, as this may run in a process of its own."""
    from stockplan.cutting import plan_cuts  # noqa: PLC0415
    from stockplan.domain.check import check  # noqa: PLC0415

    plan = plan_cuts(request, limits, progress)
    return plan.products[0], [str(violation) for violation in check(request, plan)]


def _sound(plan: ProductPlan, violations: list[str]) -> ProductPlan:
    if violations:
        raise PlanUnsound(violations)
    return plan
