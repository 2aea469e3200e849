"""Invented weeks of work: sound, never dearer than the foreman, the same again, and stopped when told to stop."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from plan_file_checker import check_plan_file

from stockplan.bench.weeks import week, write_folder
from stockplan.cutting.planner import plan_cuts
from stockplan.domain.check import check
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest, Progress, SearchLimits
from stockplan.report.plan_file import plan_to_json

WEEKS = [*(("S", seed) for seed in range(6)), ("M", 0)]
WORK = 60  # little enough that the clock never ends a search
BY_WORK = SearchLimits(seconds=120, work=WORK)


def without_seconds(text: str) -> str:
    """A plan file with the wall-clock times taken out."""
    document = json.loads(text)
    for product in document["products"]:
        del product["seconds"]
    return json.dumps(document)


def never_dearer(plan: Plan) -> bool:
    return all(p.foreman_cost_pence is None or p.net_cost_pence <= p.foreman_cost_pence for p in plan.products)


@cache
def planned_by_work(size: str, seed: int) -> tuple[PlanRequest, Plan]:
    """Neither can be changed, so that tests may share them."""
    request = week(size, seed)
    return request, plan_cuts(request, BY_WORK)


@pytest.mark.parametrize(("size", "seed"), WEEKS)
def test_a_week_is_planned_soundly_and_never_dearer_than_the_foreman(size: str, seed: int, tmp_path: Path) -> None:
    request, plan = planned_by_work(size, seed)
    assert check(request, plan) == ()
    assert never_dearer(plan)
    write_folder(request, tmp_path)
    file = tmp_path / "plan.json"
    file.write_text(plan_to_json(request, plan), encoding="utf-8")
    assert check_plan_file(tmp_path, file) == []


def test_over_some_weeks_the_planner_beats_the_foreman_by_a_percent_or_more() -> None:
    planned = foreman = 0
    for seed in range(6):
        for part in planned_by_work("S", seed)[1].products:
            planned += part.net_cost_pence
            foreman += part.foreman_cost_pence or part.net_cost_pence
    assert planned <= 0.99 * foreman


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_a_small_week_ends_within_a_tenth_of_its_bound_in_twenty_seconds(seed: int) -> None:
    request = week("S", seed)
    plan = plan_cuts(request, SearchLimits(seconds=20))
    assert check(request, plan) == ()
    assert all(part.gap <= 0.1 for part in plan.products)


# --- the same again ---------------------------------------------------------------------------------------------------

DIGEST = """
import hashlib, json
from stockplan.bench.weeks import week
from stockplan.cutting.planner import plan_cuts
from stockplan.domain.request import SearchLimits
from stockplan.report.plan_file import plan_to_json
request = week("S", 1)
document = json.loads(plan_to_json(request, plan_cuts(request, SearchLimits(seconds=120, work={work}))))
for product in document["products"]:
    del product["seconds"]
print(hashlib.sha256(json.dumps(document).encode()).hexdigest())
"""


def digest(text: str) -> str:
    return hashlib.sha256(without_seconds(text).encode()).hexdigest()


@pytest.mark.parametrize("work", [30, 200])
def test_same_input_and_work_limit_same_plan_in_any_process(work: int) -> None:
    request = week("S", 1)
    here = digest(plan_to_json(request, plan_cuts(request, SearchLimits(seconds=120, work=work))))
    code = DIGEST.format(work=work)
    for hash_seed in ("1", "77"):
        environment = os.environ | {"PYTHONHASHSEED": hash_seed}
        answer = subprocess.run(
            [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
        )
        assert answer.stdout.strip() == here


def test_the_order_in_which_things_are_listed_does_not_matter_to_soundness_or_bound() -> None:
    request = week("S", 3)
    turned = PlanRequest(
        request.window,
        request.today,
        request.products,
        request.supply[::-1],
        request.stock[::-1],
        request.jobs[::-1],
        request.costs,
    )
    one, other = plan_cuts(request, BY_WORK), plan_cuts(turned, BY_WORK)
    assert check(turned, other) == ()
    assert one.lower_bound_pence <= other.net_cost_pence
    assert other.lower_bound_pence <= one.net_cost_pence


def test_another_seed_gives_a_sound_plan_that_no_bound_contradicts() -> None:
    request = week("S", 4)
    plans = [plan_cuts(request, SearchLimits(seconds=120, work=WORK, seed=seed)) for seed in range(3)]
    assert all(check(request, plan) == () for plan in plans)
    assert max(plan.lower_bound_pence for plan in plans) <= min(plan.net_cost_pence for plan in plans)


# --- stopped ----------------------------------------------------------------------------------------------------------


def test_the_clock_is_obeyed_within_a_second_on_a_large_week() -> None:
    request = week("L", 0)
    began = time.process_time()  # at most the time by the clock: other tests may hold the processors
    plan = plan_cuts(request, SearchLimits(seconds=2))
    spent = time.process_time() - began
    assert check(request, plan) == ()
    assert never_dearer(plan)
    assert {part.ended_by for part in plan.products} <= {"clock", "proof"}
    assert spent <= 3.0


@pytest.mark.parametrize("size", ["S", "M"])
def test_told_to_stop_at_once_there_is_a_sound_plan_at_once(size: str) -> None:
    request = week(size, 2)
    began = time.process_time()
    plan = plan_cuts(request, SearchLimits(seconds=60), should_stop=lambda: True)
    assert time.process_time() - began <= 2.0
    assert check(request, plan) == ()
    assert {part.ended_by for part in plan.products} == {"interrupt"}


def test_told_to_stop_half_way_the_best_plan_so_far_is_kept() -> None:
    request = week("M", 1)
    heard: list[Progress] = []
    plan = plan_cuts(request, SearchLimits(seconds=60), heard.append, lambda: len(heard) >= 2)
    assert check(request, plan) == ()
    known = [progress.best_pence for progress in heard if progress.best_pence is not None]
    assert plan.net_cost_pence <= min(known)


def test_progress_only_ever_gets_better_and_bound_stays_below_cost() -> None:
    heard: list[Progress] = []
    plan = plan_cuts(week("S", 0), SearchLimits(seconds=60, work=300), heard.append)
    costs = [progress.best_pence for progress in heard if progress.best_pence is not None]
    bounds = [progress.bound_pence for progress in heard if progress.bound_pence is not None]
    assert costs == sorted(costs, reverse=True)
    assert bounds == sorted(bounds)
    assert bounds[-1] <= plan.net_cost_pence <= costs[-1]
    assert all(one.seconds <= other.seconds for one, other in pairwise(heard))
