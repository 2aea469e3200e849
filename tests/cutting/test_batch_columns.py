"""The program over whole batches, against every way to cut."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest
from every_way_to_cut import WholeProblem
from plain_bench import Bench, Opened
from small_problems import GRASS, NO_CUTTING, item, job, problem, rolls
from test_brute_force import PENCE, random_request
from test_recreate import assert_feasible

from stockplan.cutting.batch_columns import BatchColumn, bought_batches
from stockplan.cutting.batch_master import BatchMaster
from stockplan.cutting.beside import Effort
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Choice, Instance, PieceType
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recombining import best_of_batches
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.jobs import BatchRule
from stockplan.domain.request import PlanRequest

EFFORT = Effort(60, lambda: False)
MOST_PIECES = 4  # of a batch, for every way to be gone through
Ways = frozenset[tuple[Opened, ...]]


class EveryColumn:
    """Every load of every stock batch at its cheapest, and every pattern of what is bought, piece by piece."""

    def __init__(self, instance: Instance) -> None:
        self.instance, self.bench = instance, Bench(instance)
        self.ways = cache(self._ways)
        self.columns: list[BatchColumn] = []
        self.patterns: dict[Pattern, None] = {}
        bought = bought_batches(instance)
        for batch in range(len(instance.batches)):
            units = [
                (number, choice)
                for number, group in enumerate(instance.groups)
                for choice in group.demands
                if choice.batch == batch
                for _ in range(group.units)
            ]
            for count in range(1, len(units) + 1):
                for load in sorted(set(combinations(units, count))):
                    self._add(batch, load, batch in bought)

    def _add(self, batch: int, load: tuple[tuple[int, Choice], ...], bought: bool) -> None:
        ways = self.ways(batch, self._pieces(load, batch))
        if bought:
            self.patterns.update(dict.fromkeys(self.bench.pattern(one) for way in ways for one in way))
        elif ways:
            best = min(ways, key=lambda way: sum(one.cost for one in way))
            patterns = tuple(self.bench.pattern(one) for one in best)
            self.columns.append(BatchColumn(batch, load, patterns, sum(p.cost(self.instance) for p in patterns)))

    def _pieces(self, load: tuple[tuple[int, Choice], ...], batch: int) -> tuple[int, ...]:
        needed: Counter[PieceType] = Counter({t: n for t, n in self.instance.fixed.items() if t.batch == batch})
        for group, choice in load:
            needed.update(self.instance.groups[group].demands[choice])
        return tuple(sorted(self.bench.number[piece] for piece in needed.elements()))

    def _ways(self, batch: int, pieces: tuple[int, ...]) -> Ways:
        """Every way to cut pieces from a batch that placing one after another reaches, in every order."""
        if not pieces:
            return frozenset({()})
        found = set()
        for piece in set(pieces):
            others = list(pieces)
            others.remove(piece)
            for way in self.ways(batch, tuple(others)):
                used = Counter(one.source for one in way)
                closed = [
                    number
                    for number, source in enumerate(self.instance.sources)
                    if source.batch == batch and (source.copies is None or used[number] < source.copies)
                ]
                for spot in self.bench.spots(piece, way, closed):
                    kept = tuple(one for at, one in enumerate(way) if at != spot.at)
                    found.add(tuple(sorted((*kept, spot.after), key=lambda one: (one.source, one.drops))))
        return frozenset(found)


def solved(instance: Instance, every: EveryColumn) -> Solution:
    incumbent = trimmed(instance, foreman_plan(instance))
    whole = best_of_batches(instance, every.columns, list(every.patterns), incumbent, EFFORT)
    assert whole.answer is not None
    assert whole.proven
    answer = trimmed(instance, whole.answer)
    assert_feasible(instance, answer)
    assert answer.rank(instance) <= incumbent.rank(instance)
    return answer


def few_pieces(request: PlanRequest) -> bool:
    return sum(job.piece_count for job in request.jobs) <= MOST_PIECES


def compare(seeds: range) -> tuple[int, int]:
    """The program over every load against every way to cut; how many problems were compared, and how many agree.

    Placing one piece after another does not reach every way to cut, so that a load may cost more than it has to.
    """
    compared = agreed = 0
    for seed in seeds:
        request = random_request(seed)
        if not few_pieces(request):
            continue
        instance = build_instance(request, GRASS)
        answer = solved(instance, EveryColumn(instance))
        best = WholeProblem(request).solve()
        assert sum(instance.jobs[j].piece_count for j in answer.short) == best.pieces_short, seed
        assert best.net_cost - PENCE <= answer.net_cost(instance), seed
        agreed += answer.net_cost(instance) <= best.net_cost + PENCE
        compared += 1
    return compared, agreed


def test_over_every_load_the_best_is_that_of_every_way_to_cut() -> None:
    compared, agreed = compare(range(60))
    assert compared == agreed >= 20


@pytest.mark.slow
def test_over_every_load_the_best_is_that_of_every_way_to_cut_many_times() -> None:
    compared, agreed = compare(range(60, 400))
    assert compared >= 100
    assert agreed >= 0.97 * compared


def test_the_relaxation_is_below_the_best_and_worth_what_its_prices_say() -> None:
    told = 0
    for seed in range(60):
        request = random_request(seed)
        instance = build_instance(request, GRASS)
        if not few_pieces(request):
            continue
        every = EveryColumn(instance)
        answer = solved(instance, every)
        if answer.short:
            continue
        master = BatchMaster(instance)
        assert master.add(every.columns, every.patterns) == len(every.columns) + len(every.patterns)
        assert master.add(every.columns, every.patterns) == 0
        assert master.solve()
        assert master.value <= answer.rank(instance)[0] + 0.01
        groups = zip(instance.groups, master.job_prices(), strict=True)
        worth = sum(group.units * price for group, price in groups) + sum(master.batch_prices().values())
        assert worth == pytest.approx(master.value, abs=0.05)  # duality; nothing here is fixed or short
        assert all(price <= 1e-6 for price in master.batch_prices().values())
        for column in every.columns:
            gain = sum(master.job_prices()[group] for group, _ in column.load) + master.batch_prices()[column.batch]
            assert gain <= column.cost + 0.01
        told += 1
    assert told >= 10


# --- by hand ----------------------------------------------------------------------------------------------------------


def test_a_cheaper_way_to_cut_a_load_takes_the_place_of_a_dearer_one() -> None:
    instance = build_instance(problem([job("J1", "2000x2000")], [item("T1", "2000x4000")]), GRASS)
    (column,) = EveryColumn(instance).columns
    master = BatchMaster(instance)
    assert master.add([replace(column, cost=column.cost + 500)]) == 1
    assert master.solve()
    assert master.value == pytest.approx(column.cost + 500, abs=0.01)
    assert master.add([column]) == 1
    assert master.add([replace(column, cost=column.cost + 1)]) == 0
    assert master.solve()
    assert master.value == pytest.approx(column.cost, abs=0.01)


def test_strips_of_one_job_may_come_from_two_batches_where_its_rule_is_any() -> None:
    stock = [item("T1", "2000x3000", "B1"), item("T2", "2000x3000", "B2")]
    request = problem([job("J1", "2000x3000*2", rule=BatchRule.ANY)], stock, [rolls("4000x25000", 150_000)])
    instance = build_instance(request, GRASS)
    assert [group.units for group in instance.groups] == [2]
    answer = solved(instance, EveryColumn(instance))
    assert not answer.short
    assert answer.given == {(0, Choice(0)): 1, (0, Choice(1)): 1}
    assert answer.net_cost(instance) == WholeProblem(request).solve().net_cost


def test_a_batch_makes_what_is_fixed_whatever_else_it_serves() -> None:
    request = problem([job("J1", "2000x3000")], [item("T1", "2000x6000")], [rolls("2000x3000", 9000)], NO_CUTTING)
    instance = build_instance(request, GRASS)
    mine = next(piece for piece in instance.piece_types() if piece.batch == 0)
    for count, from_stock in ((1, True), (2, False)):
        fixed = replace(instance, fixed={mine: count})
        every = EveryColumn(fixed)
        idle = every.ways(0, (every.bench.number[mine],) * count)
        patterns = tuple(every.bench.pattern(one) for one in min(idle, key=lambda way: sum(o.cost for o in way)))
        every.columns.append(BatchColumn(0, (), patterns, sum(p.cost(fixed) for p in patterns)))
        assert len(every.columns) == 1 + from_stock
        made = Counter(patterns)
        bought = next(pattern for pattern in every.patterns if pattern.source.copies is None)
        start = Solution(made + Counter([bought]), {(0, Choice(1)): 1}, frozenset())
        whole = best_of_batches(fixed, every.columns, list(every.patterns), start, EFFORT)
        assert whole.answer is not None
        assert_feasible(fixed, whole.answer)
        assert whole.answer.given == {(0, Choice(0 if from_stock else 1)): 1}
        master = BatchMaster(fixed)
        master.add(every.columns, every.patterns)
        assert master.solve()
        assert master.value == pytest.approx(whole.answer.net_cost(fixed), abs=0.01)


def test_without_anything_in_the_yard_or_anything_on_offer() -> None:
    wanted = [job("J1", "2000x3000"), job("J2", "2000x1000")]
    for stock, supply in (([], [rolls("2000x4000", 9000)]), ([item("T1", "2000x4000")], []), ([], [])):
        request = problem(wanted, stock, supply)
        instance = build_instance(request, GRASS)
        best = WholeProblem(request).solve()
        answer = solved(instance, EveryColumn(instance))
        assert sum(instance.jobs[j].piece_count for j in answer.short) == best.pieces_short
        assert answer.net_cost(instance) == best.net_cost
