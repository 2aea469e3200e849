"""What is remembered of trials, against its patterns, and put together again."""

from __future__ import annotations

import math
import time
from collections import Counter

import pytest
from small_problems import GRASS
from test_recreate import assert_feasible

from stockplan.bench.weeks import week, week_of
from stockplan.cutting.batch_columns import bought_batches, columns_of
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.beside import Effort
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import PieceType
from stockplan.cutting.recombining import Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.search import Search
from stockplan.cutting.seen import SeenLoad
from stockplan.cutting.solution import Prices, trimmed


def test_what_gains_most_at_the_prices_is_told_first_and_nothing_twice() -> None:
    instance = build_instance(week("S", 1), GRASS)
    search = Recreate(instance, 1)
    search.run(trimmed(instance, foreman_plan(instance)), 600, Budget(math.inf))
    prices = Prices([20_000.0 + 1_000.0 * g for g in range(len(instance.groups))])

    def loss(one: SeenLoad) -> float:
        return one.cost - sum(prices.groups[g] - instance.groups[g].cost(choice) for g, choice in one.load)

    told = [search.seen.new_loads(prices, math.inf, 10) for _ in range(3)]
    lost = [loss(one) for some in told for one in some]
    assert len(lost) == 30
    assert lost == sorted(lost)
    assert len({(one.batch, one.load) for some in told for one in some}) == 30
    rest = search.seen.new_loads(prices, lost[-1] + 20_000.0, 10_000)
    assert rest
    assert all(lost[-1] <= loss(one) < lost[-1] + 20_000.0 for one in rest)
    assert search.seen.new_loads(prices, lost[-1] + 20_000.0, 10_000) == []
    assert search.seen.new_loads(None, 0.0, 10_000)


def test_the_cheapest_way_to_serve_a_load_is_told_and_the_oldest_are_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    instance = build_instance(week("S", 2), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    searches = [Recreate(instance, 2)]
    monkeypatch.setattr("stockplan.cutting.seen.LOADS", 32)
    monkeypatch.setattr("stockplan.cutting.seen.NUMBERS_OF_LOADS", 1024)
    searches.append(Recreate(instance, 2))
    for search in searches:
        search.run(start, 300, Budget(math.inf))
    every, few = (search.seen.new_loads(None, 0.0, 100_000) for search in searches)
    least = {(one.batch, one.load): one.cost for one in every}
    assert len(least) == len(every) > 32
    assert 1 < len(few) <= 32
    assert all(one.cost >= least[one.batch, one.load] for one in few)
    assert all(one.cost == sum(pattern.cost(instance) for pattern in one.patterns) for one in few)


@pytest.mark.parametrize("seed", range(3))
def test_what_is_remembered_of_a_batch_can_be_cut_at_the_cost_it_is_remembered_at(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    search = Recreate(instance, seed)
    best = search.run(trimmed(instance, foreman_plan(instance)), 600, Budget(math.inf))
    recombiner = Recombiner(instance, search.seen)
    assert recombiner.learn(most=100_000) > 40
    assert recombiner.learn(most=100_000) == 0
    BatchPricing(search).run(columns_of(instance, best), [40_000.0] * len(instance.groups), 700, Budget(math.inf))
    assert recombiner.learn(most=100_000) > 0
    assert recombiner.learn(most=100_000) == 0
    for column in recombiner.master.columns():
        assert column.cost == sum(pattern.cost(instance) for pattern in column.patterns)
        made: Counter[PieceType] = Counter()
        for pattern in column.patterns:
            assert pattern.source.batch == column.batch
            made += pattern.made()
        needed: Counter[PieceType] = Counter()
        for group, choice in column.load:
            needed.update(instance.groups[group].demands[choice])
        assert made == needed
        assert all(used <= (s.copies or 0) for s, used in Counter(p.source for p in column.patterns).items())


@pytest.mark.parametrize("seed", range(4))
def test_recombining_never_makes_an_answer_worse_and_keeps_it_feasible(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    search = Recreate(instance, seed)
    start = trimmed(instance, foreman_plan(instance))
    assert {column.batch for column in columns_of(instance, start)}.isdisjoint(bought_batches(instance))
    search.run(start, 1500, Budget(time.monotonic() + 60), 0.1)
    recombiner = Recombiner(instance, search.seen)
    assert recombiner.relax(start)
    assert recombiner.master.value <= start.rank(instance)[0]
    whole = recombiner.whole(start, Effort(60, lambda: False, 100), most_columns=500, most_patterns=500)
    assert whole.answer is not None
    better = trimmed(instance, whole.answer)
    assert_feasible(instance, better)
    assert better.rank(instance)[0] <= start.rank(instance)[0]
    assert whole.bound <= better.rank(instance)[0]


class WithoutBounds(Search):
    """A search that goes straight on to recombining."""

    def _find_bound(self) -> None:
        return


def test_where_only_work_is_limited_the_answer_does_not_depend_on_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.cutting.rounds.MOVES_A_ROUND", 6_000)
    monkeypatch.setattr("stockplan.cutting.search.STEPS_OF_SMALL", 5_000)
    instance = build_instance(week_of([12], 2), GRASS)
    found = []
    for _ in range(2):
        told: list[str] = []
        budget = Budget(time.monotonic() + 600, 1_100)
        search = WithoutBounds(instance, 3, budget, lambda phase, *_, told=told: told.append(phase))
        found.append((search.run().best, budget.work))
        assert "combining" in told
        assert not budget.by_the_clock
        assert budget.ended_by == "work limit"
        assert_feasible(instance, search.best)
    assert found[0] == found[1]
