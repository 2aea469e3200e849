"""Which held things a plan would have cut, were they free."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import Source
from stockplan.cutting.starting import answer_of
from stockplan.domain.plan import Plan, ProductPlan
from stockplan.domain.request import PlanRequest

STEPS = 5_000
SECONDS = 0.5  # clock guard


def held_wanted(request: PlanRequest, plan: ProductPlan, seed: int, should_stop: Callable[[], bool]) -> tuple[str, ...]:
    """Tags of held items that a cheaper plan cuts, in order; found by improving the plan with them at hand.

    Parameters
    ----------
    request
        The plan asked for.
    plan
        One product's plan, made without what is held.
    seed
        Seed of every random choice.
    should_stop
        Asked now and then; True ends the search with what it has.
    """
    held = {item.tag for item in request.held if item.product == plan.product}
    if not held or should_stop():
        return ()
    free = replace(request, stock=(*request.stock, *request.held), held=())
    instance = build_instance(free, plan.product)
    start = answer_of(instance, Plan(request.window, request.today, request.currency, (plan,)))
    if start is None:
        return ()
    from stockplan.cutting.recreate import Recreate  # noqa: PLC0415  it is slow to load

    better = Recreate(instance, seed).run(start, STEPS, Budget(time.monotonic() + SECONDS, None, should_stop))
    if better.rank(instance) >= start.rank(instance):
        return ()
    cut: Counter[Source] = Counter()
    for pattern, count in better.patterns.items():
        cut[pattern.source] += count
    wanted: list[str] = []
    for source, count in cut.items():
        mine = [tag for tag in source.tags if tag in held]
        wanted += mine[: max(0, count - (len(source.tags) - len(mine)))]
    return tuple(sorted(wanted))
