"""Portions of an answer: each is sound by itself, what is found goes back whole, and nothing outside it changes."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from small_problems import GRASS
from test_brute_force import random_request
from test_brute_force_layouts import random_request as random_layouts
from test_recreate import assert_feasible

from stockplan.bench.weeks import week_of
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.portions import JOBS, LEAST_JOBS, ROLLS, Portion, Portions
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.search import Search
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.request import PlanRequest

UNLIMITED = Budget(math.inf)


@pytest.fixture(scope="module")
def a_week() -> Instance:
    return build_instance(week_of([120], 3), GRASS)


def foremans(instance: Instance) -> Solution:
    return trimmed(instance, foreman_plan(instance))


def portions_of(instance: Instance, answer: Solution, seed: int) -> list[Portion]:
    taken = Portions(instance, seed)
    return [taken.of_batches(answer), taken.of_rolls(answer)]


def assert_a_part(instance: Instance, answer: Solution, portion: Portion) -> None:
    """What it holds is the answer's own, sound and without surplus, and put back as it is changes nothing."""
    assert_feasible(portion.instance, portion.answer)
    assert portion.answer.patterns <= answer.patterns
    assert trimmed(portion.instance, portion.answer) == portion.answer
    back = portion.put_back(answer, portion.answer)
    assert (back.patterns, back.given) == (answer.patterns, {u: n for u, n in answer.given.items() if n})
    stock = {p.source.batch for p in portion.answer.patterns if p.source.option is None}
    for batch in stock:
        mine = {p: n for p, n in answer.patterns.items() if p.source.batch == batch}
        assert all(portion.answer.patterns[p] == n for p, n in mine.items()), "copies of a class stay together"


@pytest.mark.parametrize("seed", range(6))
def test_portions_of_a_large_week_are_problems_of_their_own(a_week: Instance, seed: int) -> None:
    answer = foremans(a_week)
    of_batches, of_rolls = portions_of(a_week, answer, seed)
    for portion in (of_batches, of_rolls):
        assert_a_part(a_week, answer, portion)
    whole = sum(origin is not None for origin in of_batches.origins)
    assert JOBS / 2 <= whole <= 2 * JOBS
    assert of_rolls.origins
    assert not any(origin is not None for origin in of_rolls.origins)
    bought = sum(n for p, n in answer.patterns.items() if p.source.option is not None)
    assert sum(of_rolls.answer.patterns.values()) == min(ROLLS, bought)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("drawn", [random_request, random_layouts])
def test_small_problems_of_every_kind_stay_whole(drawn: object, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.cutting.portions.JOBS", 2)
    monkeypatch.setattr("stockplan.cutting.portions.ROLLS", 2)
    monkeypatch.setattr("stockplan.cutting.portions.STEPS", 200)
    assert callable(drawn)
    request: PlanRequest = drawn(seed)
    instance = build_instance(request, GRASS)
    answer = foremans(instance)
    for portion in portions_of(instance, answer, seed):
        assert_a_part(instance, answer, portion)
    better = Portions(instance, seed).improved(answer, 800, UNLIMITED)
    assert_feasible(instance, better)
    assert better.rank(instance) <= answer.rank(instance)
    assert better.short == answer.short


def test_a_better_answer_to_a_portion_makes_the_whole_cheaper_by_as_much(a_week: Instance) -> None:
    answer = foremans(a_week)
    for portion in portions_of(a_week, answer, 1):
        found = Recreate(portion.instance, 0).run(portion.answer, 4_000, UNLIMITED, 0.01)
        saved = portion.answer.net_cost(portion.instance) - found.net_cost(portion.instance)
        whole = portion.put_back(answer, found)
        assert saved > 0
        assert_feasible(a_week, whole)
        assert whole.net_cost(a_week) == answer.net_cost(a_week) - saved
        assert trimmed(a_week, whole) == whole


def test_same_seed_same_answer_and_no_time_no_change(a_week: Instance, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.cutting.portions.STEPS", 1_000)
    answer = foremans(a_week)
    found = [Portions(a_week, 7).improved(answer, 4_000, Budget(math.inf)) for _ in range(2)]
    assert found[0] == found[1]
    assert found[0].rank(a_week) < answer.rank(a_week)
    assert Portions(a_week, 7).improved(answer, 4_000, Budget(0.0)) == answer


def test_the_search_improves_portions_of_large_weeks_alone(a_week: Instance, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = Counter[int]()

    def improved(self: Portions, answer: Solution, steps: int, budget: Budget) -> Solution:
        asked[len(self.instance.jobs)] += 1
        return answer

    monkeypatch.setattr(Portions, "improved", improved)
    monkeypatch.setattr("stockplan.cutting.bounding.Bounding.climb", lambda *_: None)
    monkeypatch.setattr("stockplan.cutting.rounds.Rounds.run", lambda _, best: best)
    for steps in ("FIRST_STEPS", "STEPS_OF_CYCLE", "STEPS_OF_SMALL"):
        monkeypatch.setattr(f"stockplan.cutting.search.{steps}", 200)
    monkeypatch.setattr("stockplan.cutting.search.CYCLES", 1)
    small = build_instance(week_of([LEAST_JOBS - 1], 3), GRASS)
    for instance in (small, a_week):
        Search(instance, 0, Budget(math.inf), lambda *_: None).run()
    assert dict(asked) == {len(a_week.jobs): 1}


def test_what_is_remembered_changes_no_answer(a_week: Instance) -> None:
    answer = foremans(a_week)
    searches = [Recreate(a_week, 3, alone=alone) for alone in (False, True)]
    found = [search.run(answer, 2_000, UNLIMITED, 0.02) for search in searches]
    assert found[0] == found[1]
    assert len(searches[1].seen.loads) < len(searches[0].seen.loads) / 32
