"""Prices from rounded sizes are a beginning only: the bound that comes of them is true, and as near as without."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from every_way_to_cut import WholeProblem
from test_brute_force import random_request

from stockplan.bench.weeks import week
from stockplan.cutting import nearly
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.nearly import LESS_CLOSE, STEP_MM, nearly_solved, rounded
from stockplan.cutting.pooled import pooled, pooled_bound
from stockplan.domain.request import PlanRequest


def to_ten_millimetres(request: PlanRequest, seed: int) -> PlanRequest:
    """The same with strips some 10 mm smaller, so that no coarse grid carries them."""
    jobs = []
    for number, job in enumerate(request.jobs):
        cut = 10 * ((seed + number) % 4)
        strips = (replace(s, width_mm=s.width_mm - cut, length_mm=s.length_mm - cut) for s in job.strips)
        jobs.append(replace(job, strips=tuple(strips)))
    return replace(request, jobs=tuple(jobs))


def test_never_above_the_best_of_every_way_to_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nearly, "MOST_POINTS", 0)
    told = 0
    for seed in range(60):
        request = to_ten_millimetres(random_request(seed), seed)
        best = WholeProblem(request).solve()
        if best.pieces_short:
            continue  # its cost leaves penalties out
        instance = build_instance(request, request.jobs[0].product)
        bound = pooled_bound(request, instance, Budget(time.monotonic() + 60, 2000))[0]
        assert bound <= best.net_cost + 1e-6, seed
        told += bound >= 0.5 * best.net_cost > 0
    assert told >= 10


@pytest.mark.parametrize("seed", [2, 5])
def test_ends_as_near_as_from_an_ascent(seed: int) -> None:
    request = week("S", seed)
    easier = pooled(request, build_instance(request, request.products[0].code))
    bounds = [
        nearly_solved(easier, Budget(time.monotonic() + 60, 5000), lambda _: None, rounding=rounding)[0]
        for rounding in (True, False)
    ]
    assert bounds[0] == pytest.approx(bounds[1], rel=3 * LESS_CLOSE)


def test_a_rounded_problem_asks_for_as_much_and_fits_as_well() -> None:
    request = week("M", 2)
    instance = build_instance(request, request.products[0].code)
    coarse = rounded(instance)
    steps = {size % STEP_MM for t in coarse.piece_types() for size in (t.width_mm, t.length_mm)}
    steps |= {size % STEP_MM for s in coarse.sources for size in (s.width_mm, s.length_mm)}
    assert steps == {0}
    for before, after in zip(instance.groups, coarse.groups, strict=True):
        for choice, demand in before.demands.items():
            near = after.demands[choice]
            assert sum(near.values()) == sum(demand.values())
    fitted = sum(s.makes(t) for s in instance.sources for t in instance.piece_types())
    assert sum(s.makes(nearly._nearest(t)) for s in coarse.sources for t in instance.piece_types()) >= fitted


def test_ends_in_time_and_says_nothing_untrue_when_the_budget_is_over() -> None:
    request = week("M", 2)
    easier = pooled(request, build_instance(request, request.products[0].code))
    assert nearly_solved(easier, Budget(time.monotonic() - 1), lambda _: None) == (0.0, {})
    for work in (1, 30, 100):
        told: list[float] = []
        bound, prices = nearly_solved(easier, Budget(time.monotonic() + 60, work), told.append)
        assert bound == max(told, default=0.0)
        assert bool(prices) is (bound > 0)
