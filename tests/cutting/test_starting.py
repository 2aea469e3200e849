"""A plan made before is read back as the answer it was, and a plan that no longer holds is left aside."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from small_problems import GRASS, QUICK, item, job, problem, rolls
from test_brute_force import random_request
from test_brute_force_layouts import random_request as random_layouts

from stockplan.bench.lawns import lawns_for
from stockplan.bench.layouts import laid_out
from stockplan.bench.weeks import week
from stockplan.cutting.building import build_instance
from stockplan.cutting.planner import plan_cuts
from stockplan.cutting.starting import answer_of
from stockplan.domain.request import PlanRequest, SearchLimits


def comes_back(request: PlanRequest, limits: SearchLimits = QUICK) -> None:
    plan = plan_cuts(request, limits)
    for planned in plan.products:
        instance = build_instance(request, planned.product)
        answer = answer_of(instance, plan)
        assert answer is not None
        assert answer.net_cost(instance) == planned.net_cost_pence
        assert {instance.jobs[j].code for j in answer.short} == {short.job for short in planned.short}


@pytest.mark.parametrize("block", range(2))
def test_plans_come_back_as_the_answers_they_were(block: int) -> None:
    for seed in range(8 * block, 8 * block + 8):
        comes_back(random_request(seed), SearchLimits(seconds=10, work=20))
        comes_back(random_layouts(seed), SearchLimits(seconds=10, work=20))


def test_a_week_and_a_week_of_lawns_come_back() -> None:
    comes_back(week("S", 3), SearchLimits(seconds=10, work=20))
    comes_back(laid_out(lawns_for(week("S", 1), Random(1))), SearchLimits(seconds=10, work=20))


def test_a_plan_made_before_is_never_lost() -> None:
    request = week("S", 2)
    before = plan_cuts(request, SearchLimits(seconds=20, work=40))
    again = plan_cuts(replace(request, last=before), SearchLimits(seconds=20, work=2, seed=7))
    assert again.net_cost_pence <= before.net_cost_pence


def test_what_is_no_answer_any_more_is_left_aside() -> None:
    request = problem([job("J1", "2000x3000*2")], supply=[rolls("4000x10000", 50_000)])
    plan = plan_cuts(request, QUICK)
    assert answer_of(build_instance(request, GRASS), plan) is not None
    for other in (
        replace(request, jobs=(job("J2", "2000x3000*2"),)),
        replace(request, jobs=(job("J1", "2000x3500*2"),)),
        replace(request, supply=(rolls("4000x9000", 50_000),)),
        replace(request, supply=(rolls("4000x10000", 50_001),)),
    ):
        assert answer_of(build_instance(other, GRASS), plan) is None
    more = replace(request, jobs=(*request.jobs, job("J2", "1000x1000")))
    answer = answer_of(build_instance(more, GRASS), plan)
    assert answer is not None
    assert answer.short == {1}
    assert answer_of(build_instance(request, GRASS), None) is None


def test_among_equal_plans_the_one_made_before_stands() -> None:
    stock = (item("T1", "2000x3000"), item("T2", "2000x3000", "B2"))
    request = problem([job("J1", "2000x3000")], stock)
    first = plan_cuts(replace(request, stock=stock[1:]), QUICK)
    again = plan_cuts(replace(request, last=first), QUICK)
    assert [used.source for used in plan_cuts(request, QUICK).stock_used()] == ["T1"]
    assert [used.source for used in again.stock_used()] == ["T2"]
