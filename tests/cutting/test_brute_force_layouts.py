"""Tiny problems in which jobs may be laid in several ways: every combination of layouts, and every way to cut each.

The layouts are lists of strips made up at random; whether lawns could be laid so is not asked here.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from random import Random

import pytest
from every_way_to_cut import WholeProblem
from small_problems import item, job, problem, rolls
from test_brute_force import LIMITS, PENCE, random_stock, random_supply

from stockplan.cutting.planner import plan_cuts
from stockplan.domain.check import Rule, check
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.layout import LaidLawn, Layout, PlacedStrip
from stockplan.domain.picked import with_picked_layouts
from stockplan.domain.plan import PlanStatus
from stockplan.domain.request import CostSettings, PlanRequest, SearchLimits


def layout(number: int, pieces: str, pence: int) -> Layout:
    """A layout from text such as `1500x2000 3000x2000`, with what its seams cost."""
    strips = []
    for letter, text in zip("ABCDEF", pieces.split(), strict=False):
        width, length = (int(part) for part in text.split("x"))
        strips.append(PlacedStrip("back", letter, 1, 0, 0, width, 0, length, width, length, width))
    return Layout(str(number), (LaidLawn("back", 0.0, 1, tuple(strips), (), (0, 1)),), pence)


def random_job(random: Random, number: int) -> Job:
    ways = []
    for way in range(random.randint(1, 3)):
        sizes = [f"{500 * random.randint(1, 6)}x{500 * random.randint(2, 7)}" for _ in range(random.randint(1, 2))]
        ways.append(layout(way + 1, " ".join(sizes), random.choice([0, 300, 2000])))
    rule = BatchRule.ANY if random.random() < 0.4 else BatchRule.ONE
    return replace(job(f"J{number}", "500x500", rule=rule, day=random.randint(0, 3)), strips=(), layouts=tuple(ways))


def random_request(seed: int) -> PlanRequest:
    random = Random(seed)
    jobs = [random_job(random, number) for number in range(random.randint(1, 2))]
    return problem(jobs, [random_stock(random, n) for n in range(random.randint(1, 3))], random_supply(random))


def best_of_all(request: PlanRequest) -> float | None:
    """The least cost at which every job is served; None where that cannot be."""
    found = []
    for picked in product(*(one.layouts for one in request.jobs)):
        jobs = tuple(replace(one, strips=way.strips, layouts=()) for one, way in zip(request.jobs, picked, strict=True))
        best = WholeProblem(replace(request, jobs=jobs)).solve()
        if best.pieces_short == 0:
            found.append(best.net_cost + sum(way.seam_cost_pence for way in picked))
    return min(found, default=None)


@pytest.mark.parametrize("block", range(4))
def test_the_bound_is_never_above_the_best_and_the_best_is_mostly_found(block: int) -> None:
    tried = met = 0
    for seed in range(12 * block, 12 * block + 12):
        request = random_request(seed)
        plan = plan_cuts(request, LIMITS)
        assert [str(v) for v in check(request, plan) if v.rule is not Rule.LAYOUT] == []
        (planned,) = plan.products
        best = best_of_all(request)
        if best is None:
            assert planned.short
            continue
        tried += 1
        if planned.short:
            continue
        assert planned.lower_bound_pence <= best, seed
        assert best <= planned.net_cost_pence + PENCE, seed
        met += planned.net_cost_pence <= best
        if planned.status is PlanStatus.OPTIMAL:
            assert planned.net_cost_pence <= best, seed
    assert met >= tried - 2


@pytest.mark.parametrize("costs", [CostSettings(), CostSettings(0, 0, leftovers_have_worth=False)])
def test_a_job_that_mixes_batches_is_laid_the_way_that_stock_suits(costs: CostSettings) -> None:
    ways = (layout(1, "3000x4000", 0), layout(2, "2000x4000 1500x4000", 300))
    mixes = replace(job("J1", "500x500", rule=BatchRule.ANY), strips=(), layouts=ways)
    stock = [item("T1", "2000x4000"), item("T2", "1500x4000", "B2"), item("T3", "2000x2000", "B3")]
    request = problem([mixes, job("J2", "2000x2000")], stock, [rolls("3000x10000", 40_000)], costs)
    (planned,) = plan_cuts(request, LIMITS).products
    second = replace(mixes, strips=ways[1].strips, layouts=())
    best = WholeProblem(replace(request, jobs=(second, request.jobs[1]))).solve()
    assert planned.net_cost_pence == best.net_cost + 300
    assert [chosen.layout.label for chosen in planned.layouts] == ["2"]
    assert planned.lower_bound_pence <= planned.net_cost_pence
    assert planned.lower_bound_pence > 0


def test_the_layout_that_stock_suits_beats_the_one_that_takes_the_least_grass() -> None:
    # By the first way a new roll is bought; by the second, which takes more grass, two offcuts serve.
    ways = (layout(1, "3000x4000", 0), layout(2, "2000x4000 1500x4000", 2500))
    one = replace(job("J1", "500x500"), strips=(), layouts=ways)
    request = problem([one], [item("T1", "2000x4000"), item("T2", "1500x4000")], [rolls("3000x10000", 40_000)])
    plan = plan_cuts(request, SearchLimits(seconds=10, work=60))
    (planned,) = plan.products
    assert [chosen.layout.label for chosen in planned.layouts] == ["2"]
    assert planned.seam_cost_pence == 2500
    assert not planned.orders
    settled = with_picked_layouts(request, plan)
    assert [strip.label for strip in settled.jobs[0].strips] == ["A", "B"]


def test_seams_may_cost_more_than_the_grass_they_save() -> None:
    ways = (layout(1, "2000x4000 1000x4000", 50_000), layout(2, "3000x4500", 0))
    one = replace(job("J1", "500x500"), strips=(), layouts=ways)
    request = problem([one], [item("T1", "3000x9000", form="roll")])
    (planned,) = plan_cuts(request, SearchLimits(seconds=10, work=60)).products
    assert [chosen.layout.label for chosen in planned.layouts] == ["2"]


def test_plans_that_may_pick_never_cost_more_than_plans_that_may_not() -> None:
    for seed in range(200, 206):
        request = random_request(seed)
        first = replace(request, jobs=tuple(replace(one, layouts=one.layouts[:1]) for one in request.jobs))
        (fixed,) = plan_cuts(first, SearchLimits(seconds=20, work=40)).products
        (joint,) = plan_cuts(request, SearchLimits(seconds=20, work=100)).products
        if not fixed.short:
            assert not joint.short
            assert joint.net_cost_pence <= fixed.net_cost_pence
