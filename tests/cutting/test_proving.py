"""Proofs over sets of pieces: against every plan, and against the whole-number program solved by another engine."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from random import Random

import pytest
from every_way_to_cut import WholeProblem
from small_problems import GRASS
from test_brute_force import PENCE, random_request
from test_brute_force_layouts import best_of_all
from test_brute_force_layouts import random_request as random_layouts
from test_links import many_alike
from test_recreate import assert_feasible
from whole_program import best_whole

from stockplan.bench.weeks import week
from stockplan.cutting import load_states, proving
from stockplan.cutting.beside import Effort
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.exact import Exact
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.kinds import kinds_of
from stockplan.cutting.load_states import Fields
from stockplan.cutting.proving import Proof
from stockplan.cutting.set_tables import SetTables
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.jobs import BatchRule
from stockplan.domain.request import Pin, PlanRequest


class Proved:
    """The best answer of a problem, as proved from the foreman's."""

    def __init__(self, instance: Instance, work_limit: int | None = None) -> None:
        self.instance, self.bounds = instance, list[float]()
        kinds = kinds_of(instance, 30_000)
        assert kinds is not None
        self.best = trimmed(instance, foreman_plan(instance))
        self.exact = Exact(instance, [SetTables(kind, lambda: False) for kind in kinds], self.best.patterns)
        self.exact.relax(Budget(math.inf), lambda _: None)
        self.budget = Budget(math.inf, work_limit)
        if self.exact.relaxed:
            Proof(instance, self.exact).run(self.best, self.budget, self.hear)

    def hear(self, answer: Solution | None, bound: float) -> None:
        self.bounds.append(bound)
        if answer is not None:
            assert_feasible(self.instance, answer)
            self.best = min(self.best, answer, key=lambda one: one.rank(self.instance))

    @property
    def cost(self) -> int:
        return self.best.rank(self.instance)[0]

    @property
    def proven(self) -> bool:
        return bool(self.bounds) and self.bounds[-1] >= self.cost


def agrees_with_every_plan(request: PlanRequest) -> bool:
    """Whether a problem is one with a relaxation; then its best is proved, and is the best of all plans."""
    found = Proved(build_instance(request, GRASS))
    if not found.exact.relaxed:  # no bound above nothing
        return False
    best = WholeProblem(request).solve()
    assert found.proven
    assert sum(found.instance.jobs[j].piece_count for j in found.best.short) == best.pieces_short
    assert best.net_cost - PENCE <= found.best.net_cost(found.instance) <= best.net_cost
    return True


def test_the_best_of_all_plans_is_found_and_proved() -> None:
    assert sum(agrees_with_every_plan(random_request(seed)) for seed in range(150)) > 75


def test_where_sizes_and_offcuts_are_alike_as_well() -> None:
    assert sum(agrees_with_every_plan(many_alike(seed)) for seed in range(25)) > 15


@pytest.mark.slow
def test_the_best_of_all_plans_is_found_and_proved_many_times() -> None:
    assert sum(agrees_with_every_plan(random_request(seed)) for seed in range(2000, 2800)) > 400


def test_layouts_are_picked_as_if_each_had_been_tried() -> None:
    tried = 0
    for seed in range(60):
        request = random_layouts(seed)
        # One layout of a job that mixes batches is all that is stated; `mixing.py` picks it.
        jobs = (
            replace(one, layouts=one.layouts[: 1 if one.batch_rule is BatchRule.ANY else 9]) for one in request.jobs
        )
        request = replace(request, jobs=tuple(jobs))
        found, best = Proved(build_instance(request, GRASS)), best_of_all(request)
        if best is not None and found.exact.relaxed:
            assert found.proven
            assert best - PENCE <= found.cost <= best, seed
            tried += 1
    assert tried > 20


def over_every_set(found: Proved) -> int:
    """The least cost of all answers over all sets of pieces, by the other engine."""
    sets = {
        tables.pattern(c, n): int(table.costs[n])
        for tables in found.exact.tables
        for c, table in enumerate(tables.tables)
        for n in range(len(table.costs))
        if math.isfinite(table.costs[n])
    }
    start = trimmed(found.instance, foreman_plan(found.instance))
    whole = best_whole(found.instance, sets, start, Effort(30, lambda: False))
    assert whole.proven
    assert whole.answer is not None
    return whole.answer.rank(found.instance)[0]


def test_what_is_pinned_is_cut_from_there_in_the_cheapest_way() -> None:
    pinned = 0
    for seed in range(300, 480):
        request, random = random_request(seed), Random(seed)
        if not request.stock:
            continue
        pins = tuple(Pin(job.code, random.choice(request.stock).tag) for job in request.jobs if random.random() < 0.5)
        found = Proved(build_instance(replace(request, pins=pins), GRASS))
        if pins and found.exact.relaxed:
            assert found.proven
            assert found.cost == over_every_set(found), seed
            pinned += not found.best.short
    assert pinned > 10


@pytest.mark.parametrize("seed", [8, 20])
def test_another_engine_finds_nothing_better_on_a_week(seed: int) -> None:
    request = week("S", seed)
    instance = build_instance(request, request.products[0].code)
    found = Proved(instance)
    assert found.proven
    listed = found.exact.listed(found.cost - found.exact.bound + PENCE, Budget(math.inf))
    assert listed is not None
    sets = {one.pattern(n): int(one.costs[n]) for one in listed for n in range(len(one.numbers))}
    start = trimmed(instance, foreman_plan(instance))
    whole = best_whole(instance, sets, start, Effort(30, lambda: False))
    assert whole.proven
    assert whole.answer is not None
    assert whole.answer.rank(instance) == found.best.rank(instance)


@pytest.mark.parametrize("seed", [3, 10, 13])
def test_bounds_rise_step_by_step_and_stay_below_the_best(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    request = week("S", seed)
    instance = build_instance(request, request.products[0].code)
    at_once = Proved(instance)
    monkeypatch.setattr(proving, "FIRST_LISTED", 200)
    by_steps = Proved(instance)
    assert len(by_steps.bounds) > len(at_once.bounds)
    assert by_steps.bounds == sorted(by_steps.bounds)
    assert by_steps.bounds[-1] == by_steps.cost == at_once.cost


def test_what_is_too_much_is_left_open_and_said_to_be(monkeypatch: pytest.MonkeyPatch) -> None:
    request = week("S", 10)
    instance = build_instance(request, request.products[0].code)
    best = Proved(instance).cost
    limited = [Proved(instance, work_limit=30) for _ in range(2)]
    assert not limited[0].proven
    assert limited[0].bounds == limited[1].bounds
    monkeypatch.setattr(load_states, "MOST_STATES", 50_000)
    open_end = Proved(instance)
    for found in (*limited, open_end):
        assert max(found.bounds, default=0.0) <= best <= found.cost
    assert not open_end.proven


@pytest.mark.parametrize("seed", range(20))
def test_counts_in_one_number_fit_just_when_each_does(seed: int) -> None:
    random = Random(seed)
    most = [random.choice((1, 1, 2, 3, 5)) for _ in range(random.randint(1, 12))]
    fields = Fields.of(most)
    for _ in range(200):
        one, two = ([random.randint(0, count) for count in most] for _ in range(2))
        codes = [fields.code(enumerate(counts)) for counts in (one, two)]
        fits = not codes[0] & codes[1] & fields.single
        fits = fits and (fields.full - sum(codes)) & fields.guards == fields.guards
        together = Counter(dict(enumerate(one))) + Counter(dict(enumerate(two)))
        assert fits == all(together[n] <= count for n, count in enumerate(most))
        if fits:
            assert sum(codes) == fields.code(together.items())
