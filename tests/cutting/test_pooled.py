"""With all stock in one batch and cheaper nothing costs more: its bound is below every plan's cost."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import pytest
from every_way_to_cut import WholeProblem
from small_problems import GRASS, item, job, problem, rolls
from test_brute_force import random_request

from stockplan.bench.weeks import week
from stockplan.cutting import bounding
from stockplan.cutting.ascent import Ascent
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.planner import plan_cuts
from stockplan.cutting.pooled import POOL, pooled, pooled_bound, with_coarse_sizes
from stockplan.cutting.pricers import Pricers
from stockplan.domain.request import CostSettings, CutAlready, PlanRequest, SearchLimits


def bound_of(request: PlanRequest) -> float:
    instance = build_instance(request, request.jobs[0].product)
    return pooled_bound(request, instance, Budget(time.monotonic() + 60, 2000))[0]


def unequal(request: PlanRequest, seed: int) -> PlanRequest:
    """The same with costs that differ a little from item to item, as batches' do, so that they are lowered."""
    costs = [1003 + 37 * (seed + place) % 91 for place in range(len(request.stock))]
    stock = (replace(item, cost_pence_per_m2=cost) for item, cost in zip(request.stock, costs, strict=True))
    return replace(request, stock=tuple(stock))


def compare(seeds: range) -> None:
    """Bounds of random problems against the best of every way to cut, where that leaves nothing short."""
    told = 0
    for seed in seeds:
        request = unequal(random_request(seed), seed)
        best = WholeProblem(request).solve()
        if best.pieces_short:
            continue  # its cost leaves penalties out
        bound = bound_of(request)
        assert bound <= best.net_cost + 1e-6, seed
        told += bound >= 0.5 * best.net_cost > 0
    assert told >= len(seeds) / 6  # so that it says something


def test_never_above_the_best_of_every_way_to_cut() -> None:
    compare(range(120))


@pytest.mark.parametrize(("narrower_mm", "shorter_mm"), [(30, 0), (0, 7), (30, 7)])
def test_sources_made_wider_and_longer_lower_no_cost(narrower_mm: int, shorter_mm: int) -> None:
    """Cuts off the steps are not tried, so that the least cost found may be above the least there is."""
    told = 0
    for seed in range(150):
        request = random_request(seed)
        odd = tuple(
            replace(item, width_mm=item.width_mm - narrower_mm, length_mm=item.length_mm - shorter_mm)
            for item in request.stock
        )
        request = replace(request, stock=odd)
        best = WholeProblem(request).solve()
        instance = build_instance(request, request.jobs[0].product)
        easier = with_coarse_sizes(instance)
        pricers = Pricers(easier)
        if best.pieces_short or pricers.too_coarse:
            continue
        ascent = Ascent(easier, pricers, Budget(time.monotonic() + 60, 300))
        ascent.run(60)
        assert ascent.bound <= best.net_cost + 1e-6, seed
        told += easier != instance and ascent.bound >= 0.5 * best.net_cost > 0
    assert told >= 15


def test_rolls_that_cost_less_than_nothing_once_made_wider_leave_a_bound() -> None:
    """Grass so cheap, and rips so dear, that a roll made wider is made cheaper by more than its price."""
    request = problem(
        [job("J1", "1000x500 2000x2000")], (), [rolls("3970x10000", 10_000)], CostSettings(rip_pence=3_000)
    )
    easier = with_coarse_sizes(build_instance(request, GRASS))
    assert [source.value_pence for source in easier.sources] == [-50_000]
    prices = dict.fromkeys(easier.piece_types(), 5_000.0)
    bound, safe = Pricers(easier).bound(prices, Budget(math.inf))
    assert bound <= 0.0
    assert max(safe.values()) == pytest.approx(0.0, abs=1e-6)


def test_of_a_large_problem_sizes_as_they_are_tell_more_than_those_rounded_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounding, "MOST_ROWS", 0)
    higher = 0
    for seed in range(200):
        request = random_request(seed)
        odd = tuple(replace(item, width_mm=item.width_mm - 50) for item in request.stock)
        request = replace(request, stock=odd)
        best = WholeProblem(request).solve()
        if best.pieces_short:
            continue
        told: list[float] = []
        instance = build_instance(request, request.jobs[0].product)
        bounding.Bounding(instance, Budget(time.monotonic() + 60, 300), 1.0, told.append, ()).climb(math.inf)
        if told:
            assert told[-1] <= best.net_cost + 1e-6, seed
            higher += len(told) > 1 and told[-1] > told[-2] + 1.0
    assert higher >= 5


@pytest.mark.slow
def test_never_above_the_best_of_every_way_to_cut_many_problems() -> None:
    compare(range(120, 900))


@pytest.mark.parametrize(("size", "seed", "near"), [("S", 0, 0.25), ("M", 1, 0.15)])
def test_below_what_is_proven_possible_and_not_far(size: str, seed: int, near: float) -> None:
    request = week(size, seed)
    plan = plan_cuts(request, SearchLimits(seconds=20, work=1))
    assert plan.net_cost_pence * (1 - near) <= bound_of(request) <= plan.net_cost_pence


def test_far_fewer_sizes_and_as_few_recursions_as_costs() -> None:
    request = week("M", 0)
    instance = build_instance(request, "G30")
    easier = pooled(request, instance, costs=4)
    assert easier.batches == (POOL, "new")
    assert easier.penalties == instance.penalties
    assert len(easier.piece_types()) < len(instance.piece_types()) / 3
    offers = len(instance.supply)
    assert len(Pricers(easier).each) <= 4 + offers
    tags = sorted(tag for source in easier.sources for tag in source.tags)
    assert tags == sorted(item.tag for item in request.stock)


def test_a_job_begun_may_go_on_from_the_pool() -> None:
    request = week("S", 0)
    job = next(job for job in request.jobs if job.piece_count > 1)
    batch = next(item.batch for item in request.stock if item.batch)
    request = replace(request, cut_already=(CutAlready(job.code, job.strips[0].label, 1, batch),))
    instance = build_instance(request, "G30")
    easier = pooled(request, instance)
    number = next(n for n, one in enumerate(easier.jobs) if one.code == job.code)
    (group,) = (group for group in easier.groups if group.job == number)
    assert {easier.batches[choice.batch] for choice in group.demands} == {POOL}


def test_what_a_late_offer_is_too_late_for_has_a_price_of_its_own() -> None:
    """Four pieces of a size, two to a roll: the early two are only had from the dear roll."""
    jobs = [job("J1", "4000x12500*2", day=0), job("J2", "4000x12500*2", day=10)]
    offers = [rolls("4000x25000", 150_000), rolls("4000x25000", 100_000, lead_days=9)]
    request = problem(jobs, [item("R1", "4000x1500")], offers)
    instance = build_instance(request, GRASS)
    bound, prices = pooled_bound(request, instance, Budget(time.monotonic() + 60, 2000))
    least = 250_000 + 2 * request.costs.crosscut_pence
    assert bound == pytest.approx(least, rel=1e-3)
    assert Pricers(instance).bound(prices, Budget(math.inf))[0] == pytest.approx(least, rel=1e-3)
