"""From the relaxation over whole batches to an answer: sound, near the relaxation, and nothing stays settled."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from small_problems import GRASS
from test_brute_force import random_request
from test_recreate import assert_feasible

from stockplan.bench.weeks import week_of
from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.batch_master import BatchMaster
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.diving import dive
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.recombining import NEVER_PAID, Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed

UNLIMITED = Budget(math.inf)


def ready(instance: Instance, steps: int = 2_000) -> tuple[Recombiner, Recreate, Solution]:
    """The relaxation over what some steps of ruin and recreate saw, and their answer."""
    search = Recreate(instance, 0)
    best = search.run(trimmed(instance, foreman_plan(instance)), steps, Budget(math.inf), 0.05)
    recombiner = Recombiner(instance, search.seen)
    assert recombiner.relax(best)
    return recombiner, search, best


@pytest.fixture(scope="module")
def a_week() -> Instance:
    return build_instance(week_of([16], 3), GRASS)


@pytest.fixture(autouse=True)
def few_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.cutting.diving.STEPS", 1_000)
    monkeypatch.setattr("stockplan.cutting.diving.MOVES_A_STEP", 2_000)


def test_an_answer_is_found_near_the_relaxation_and_nothing_stays_settled(a_week: Instance) -> None:
    recombiner, search, best = ready(a_week)
    before = recombiner.master.value
    found = dive(recombiner, BatchPricing(search), search, best, UNLIMITED)
    assert found is not None
    assert_feasible(a_week, found)
    assert before - 0.5 <= found.rank(a_week)[0] < 1.01 * best.rank(a_week)[0]
    assert recombiner.master.solve()
    assert recombiner.master.value <= before + 0.5, "loads were added, and none has to be served"


@pytest.mark.parametrize("seed", range(30))
def test_small_problems_of_every_kind_stay_feasible(seed: int) -> None:
    instance = build_instance(random_request(seed), GRASS)
    recombiner, search, best = ready(instance, 200)
    found = dive(recombiner, BatchPricing(search), search, best, UNLIMITED)
    if found is not None:
        assert_feasible(instance, found)


def test_what_is_settled_is_in_the_relaxation_and_earns_nothing_more(a_week: Instance) -> None:
    recombiner, _, _ = ready(a_week)
    master = recombiner.master
    before = master.value
    _, column = min(master.shares(), key=lambda one: (one[0], one[1].key))
    master.settle(column)
    full = {group for group, _ in column.load}
    prices = recombiner.price(full)
    assert prices is not None
    assert all(prices.groups[group] == -NEVER_PAID for group in full)
    assert master.value >= before - 0.5
    shares = {one.key: part for part, one in master.shares()}
    assert shares[column.key] == pytest.approx(1)
    served = Counter(group for _, one in master.shares() for group, _ in one.load if one.key != column.key)
    assert not full & {group for group in served if a_week.groups[group].units == 1}
    master.unsettle()
    assert recombiner.price() is not None
    assert master.value == pytest.approx(before, abs=0.5)


def test_no_time_and_a_relaxation_too_dear_give_nothing(a_week: Instance, monkeypatch: pytest.MonkeyPatch) -> None:
    recombiner, search, best = ready(a_week)
    assert dive(recombiner, BatchPricing(search), search, best, Budget(0.0)) is None
    assert dive(recombiner, BatchPricing(search), search, best, Budget(math.inf, 0)) is None
    monkeypatch.setattr("stockplan.cutting.diving.MOST_LOSS", -0.5)
    assert dive(recombiner, BatchPricing(search), search, best, UNLIMITED) is None


@pytest.mark.parametrize(("jobs", "seed"), [(16, 3), (24, 2)])
def test_a_load_that_makes_the_rest_too_dear_is_taken_back(
    jobs: int, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    instance = build_instance(week_of([jobs], seed), GRASS)
    recombiner, search, best = ready(instance)
    before = recombiner.master.value
    taken_back, unsettle = [], BatchMaster.unsettle

    def noted(master: BatchMaster, column: BatchColumn | None = None) -> None:
        taken_back.append(column)
        unsettle(master, column)

    monkeypatch.setattr(BatchMaster, "unsettle", noted)
    monkeypatch.setattr("stockplan.cutting.diving.MOST_LOSS", -0.002)
    found = dive(recombiner, BatchPricing(search), search, best, UNLIMITED)
    assert found is not None
    assert_feasible(instance, found)
    *before_the_end, at_the_end = taken_back
    assert before_the_end
    assert None not in before_the_end, "one at a time"
    assert at_the_end is None, "in the end all of them are"
    assert recombiner.master.solve()
    assert recombiner.master.value <= before + 0.5
