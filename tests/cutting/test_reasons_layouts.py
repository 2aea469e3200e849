"""Reasons for jobs that may be laid in several ways, held against every combination of layouts and every way to cut."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

from every_way_to_cut import WholeProblem
from test_brute_force import LIMITS, PENCE
from test_brute_force_layouts import random_request

from stockplan.cutting.planner import plan_cuts
from stockplan.domain.reasons import BatchGround
from stockplan.domain.request import PlanRequest


def best_of_all(request: PlanRequest, banned: set[tuple[str, str]], *, may_buy: bool = True) -> float | None:
    """The least cost at which every job is served, some batches forbidden to some; None where that cannot be."""
    found = []
    for picked in product(*(one.layouts for one in request.jobs)):
        jobs = tuple(replace(one, strips=way.strips, layouts=()) for one, way in zip(request.jobs, picked, strict=True))
        whole = WholeProblem(replace(request, jobs=jobs), banned)
        if not may_buy:
            whole.bought = [[] for _ in request.supply]
        best = whole.solve()
        if best.pieces_short == 0:
            found.append(best.net_cost + sum(way.seam_cost_pence for way in picked))
    return min(found, default=None)


def test_what_is_told_is_true_whichever_way_jobs_are_laid() -> None:
    judged: Counter[str] = Counter()
    for seed in range(36):
        request = random_request(seed)
        (plan,) = plan_cuts(request, LIMITS).products
        if plan.short:
            continue
        for reason in plan.batch_reasons:
            if len(reason.batches) > 1:
                continue
            best = best_of_all(request, {(reason.job, reason.batches[0])})
            judged[reason.ground.value] += 1
            if reason.ground is BatchGround.ONLY:
                assert best is None, seed
            elif reason.ground is BatchGround.CHEAPEST:
                assert best is not None, seed
                assert reason.extra_pence is not None
                assert best <= plan.net_cost_pence + reason.extra_pence + PENCE, seed
        if len(plan.orders) == 1:
            (told,) = plan.order_reasons
            best = best_of_all(request, set(), may_buy=False)
            judged["order"] += 1
            if told.extra_pence is not None:
                assert best is not None, seed
                assert best <= plan.net_cost_pence + told.extra_pence + PENCE, seed
    assert judged["only"] >= 6
    assert judged["cheapest"] >= 3
    assert judged["order"] >= 3
