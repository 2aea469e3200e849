"""The bound over whole loads: against every plan there is, and against other bounds."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from random import Random
from typing import ClassVar

import pytest
from every_way_to_cut import WholeProblem
from small_problems import GRASS, item, job, problem, rolls
from test_brute_force import PENCE, random_request
from test_brute_force_layouts import best_of_all, layout
from test_brute_force_layouts import random_request as random_request_of_lawns

from stockplan.bench.weeks import week
from stockplan.cutting import bounding, first_loads, grounds, whole_loads
from stockplan.cutting.ascent import first_price
from stockplan.cutting.batch_columns import BatchColumn, bought_batches
from stockplan.cutting.batch_load import BatchLoad
from stockplan.cutting.batch_master import BatchMaster
from stockplan.cutting.batch_relaxation import BatchRelaxation, of_batch
from stockplan.cutting.bought_prices import BoughtPrices
from stockplan.cutting.bought_sets import BoughtSets
from stockplan.cutting.bounding import Bounding
from stockplan.cutting.bounds import cheapest_choices
from stockplan.cutting.boxed import Boxed
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.exact import Exact
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.found_loads import FoundLoads
from stockplan.cutting.instance import Instance, PieceType, in_whole_loads
from stockplan.cutting.kinds import kinds_of
from stockplan.cutting.links import charged_once, links_of
from stockplan.cutting.parts import parts_of
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.planner import bound_part
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.proving import Proof
from stockplan.cutting.set_tables import SetTables
from stockplan.cutting.solution import Load, Solution, trimmed
from stockplan.cutting.whole_loads import WholeLoads
from stockplan.domain.jobs import BatchRule
from stockplan.domain.request import PlanRequest

FEW_STEPS = 2_000


@pytest.fixture(autouse=True)
def few_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_loads, "STEPS", FEW_STEPS)
    monkeypatch.setattr(first_loads, "MOVES", FEW_STEPS)


def lawns_in_one_batch_each(seed: int) -> PlanRequest:
    """One or two jobs that may be laid in several ways."""
    request = random_request_of_lawns(seed)
    return replace(request, jobs=tuple(replace(one, batch_rule=BatchRule.ONE) for one in request.jobs))


def bound_of(instance: Instance) -> float:
    foreman = trimmed(instance, foreman_plan(instance))
    prices = {t: first_price(instance, t) for t in instance.piece_types()}
    budget = Budget(math.inf)
    whole = WholeLoads(instance, prices, first_loads.first_loads(instance, foreman, budget), budget)
    told: list[float] = []
    whole.run(told.append, lambda *_: None)
    assert told == sorted(told)
    assert whole.bound == max([0.0, *told])
    return whole.bound


@pytest.mark.parametrize("seeds", [*(range(20 * n, 20 * n + 20) for n in range(6)), (314, 1241, 1399, 1847, 2534) * 3])
@pytest.mark.parametrize("step_mm", [grounds.STEP_MM, 1_500])
def test_the_bound_is_below_the_best_of_all_plans_and_mostly_meets_it(
    seeds: Sequence[int], step_mm: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every assignment and every way to cut is gone through; the last cases have pieces that are worth nothing.

    Sizes are multiples of half a metre, so that tables have steps of several points with the second step alone.
    """
    monkeypatch.setattr(grounds, "STEP_MM", step_mm)
    met = tried = 0
    for seed in seeds:
        request = random_request(seed)
        instance = build_instance(request, GRASS)
        if not in_whole_loads(instance) or not instance.groups:
            continue
        best = WholeProblem(request).solve()
        bound = bound_of(instance)
        short = best.pieces_short * instance.penalties[0] / instance.jobs[0].piece_count
        assert bound <= best.net_cost + short + PENCE, seed
        tried += 1
        met += bound >= (best.net_cost + short) * (1 - 1e-3) - PENCE
    assert tried >= 15
    assert met >= 0.6 * tried, "what is bought alone may be cut in shares"


@pytest.mark.parametrize("block", range(3))
def test_so_it_is_where_jobs_may_be_laid_in_several_ways(block: int) -> None:
    """Every combination of layouts is gone through as well."""
    met = tried = several = 0
    for seed in range(20 * block, 20 * block + 20):
        request = lawns_in_one_batch_each(seed)
        best = best_of_all(request)
        if best is None:
            continue
        instance = build_instance(request, GRASS)
        bound = bound_of(instance)
        assert bound <= best + PENCE, seed
        tried += 1
        met += bound >= best * (1 - 1e-3) - PENCE
        several += any(group.several_layouts for group in instance.groups)
    assert several >= 10
    assert met >= 0.6 * tried, "what is bought alone may be cut in shares"


def test_seams_are_served_by_no_batch_though_it_is_the_first() -> None:
    lawn = replace(job("J1", "500x500", rule=BatchRule.ANY), strips=(), layouts=(layout(1, "3000x4000", 300),))
    request = problem([lawn], [item("T1", "1000x1000", "B1")], [rolls("3000x10000", 40_000)])
    best = 40_000 + 200 - 21_600 + 300  # a roll and a crosscut, less a tail at 0.90 of 24,000, and the seams
    assert best - 2 < bound_of(build_instance(request, GRASS)) <= best


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("tries", [0, 5])
def test_loads_that_are_shown_are_cut_for_what_the_relaxation_was_told(
    seed: int, tries: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or less, where it was told of one cut of sets that ruin and recreate made."""
    monkeypatch.setattr(whole_loads, "MOST_TRIES", tries)
    request = week("S", seed)
    instance = build_instance(request, request.products[0].code)
    foreman = trimmed(instance, foreman_plan(instance))

    class Told(FoundLoads):
        """Compares what the relaxation is told with what is shown of it."""

        told: ClassVar[dict[tuple[int, Load], int]] = {}

        def columns(
            self, batch: int, search: BatchLoad, groups: Sequence[int], prices: Sequence[int]
        ) -> list[BatchColumn]:
            found = super().columns(batch, search, groups, prices)
            self.told.update({column.key: column.cost for column in found})
            return found

        def to_show(self, master: BatchMaster) -> tuple[list[BatchColumn], list[Pattern]]:
            shown, bought = super().to_show(master)
            for column in shown:
                assert column.cost <= self.told[column.key] + 1
                assert tries or column.cost >= self.told[column.key] - 1
            return shown, bought

    loads: list[BatchColumn] = []
    prices = {t: first_price(instance, t) for t in instance.piece_types()}
    budget = Budget(math.inf)
    first = first_loads.first_loads(instance, foreman, budget)
    whole = WholeLoads(instance, prices, first, budget, Told(instance))
    whole.run(lambda _: None, lambda found, _: loads.extend(found))
    assert loads
    for column in loads:
        assert_is_cut(instance, column)


def assert_is_cut(instance: Instance, column: BatchColumn) -> None:
    """The patterns of a load make its pieces, from what there is, at its cost."""
    made = sum((pattern.made() for pattern in column.patterns), Counter[PieceType]())
    assert made == sum((Counter(instance.groups[g].demands[h]) for g, h in column.load), Counter[PieceType]())
    used = Counter(pattern.source for pattern in column.patterns)
    assert all(count <= (source.copies or 0) for source, count in used.items())
    assert column.cost == sum(pattern.cost(instance) for pattern in column.patterns)


def shown_for(instance: Instance) -> list[BatchColumn]:
    """Every load that is shown on the way to the bound."""
    shown: list[BatchColumn] = []
    prices, budget = {t: first_price(instance, t) for t in instance.piece_types()}, Budget(math.inf)
    first = first_loads.first_loads(instance, trimmed(instance, foreman_plan(instance)), budget)
    WholeLoads(instance, prices, first, budget).run(lambda _: None, lambda loads, _: shown.extend(loads))
    return shown


def test_loads_that_are_shown_are_cut_for_the_layouts_that_they_name() -> None:
    laid = others = 0
    for seed in range(60):
        request = lawns_in_one_batch_each(seed)
        instance = build_instance(request, GRASS)
        loads = shown_for(instance)
        for column in loads:
            assert_is_cut(instance, column)
        laid += len(loads)
        others += any(choice.layout for column in loads for _, choice in column.load)
    assert laid > 10
    assert others > 3


def test_the_best_load_of_a_batch_is_that_of_a_proof_over_all_sets() -> None:
    """Leaving units out at their prices makes it a problem of its own, which the other method proves."""
    found = [best_loads_compared(seed) for seed in (0, 1, 3, 4, 5, 6)]
    assert sum(found) >= 5


def best_loads_compared(seed: int) -> int:
    """Compare the best loads of batches of a week; returns how many serve anything."""
    request = week("S", seed)
    whole, random = build_instance(request, request.products[0].code), Random(seed)
    area = [sum(s.width_mm * s.length_mm * s.count for s in job.strips) / 1e6 for job in whole.jobs]
    prices = [int(area[group.job] * 1280 * random.uniform(0.95, 1.05)) for group in whole.groups]
    served = 0
    for batch in sorted(set(range(len(whole.batches))) - bought_batches(whole)):
        alone, _ = of_batch(whole, batch, prices)
        if not alone.groups or not alone.sources or any(group.units > 1 for group in alone.groups):
            continue
        start = {t: first_price(alone, t) for t in alone.piece_types()}
        links = [link for rows in links_of(alone).values() for link in rows]
        charges = {(link.source, link.group): random.choice((0.0, random.uniform(0, 20_000))) for link in links}
        best = sum(alone.penalties) - proved(alone)
        for begun in ({}, charges):
            relaxation = BatchRelaxation(alone, start, Budget(math.inf), {}, begun)
            relaxation.run(lambda _: None)
            search = BatchLoad(relaxation, 0.0)
            search.run(Budget(math.inf))
            assert relaxation.most >= search.most >= best - 0.1
            if search.loads:
                assert search.worth(search.loads[0]) == search.most == pytest.approx(best, abs=1.0)
                served += bool(search.loads[0].served)
    return served


def test_a_relaxation_of_a_batch_begins_with_the_bound_of_what_it_is_given() -> None:
    """Prices of pieces and rows from columns bound what sets of pieces can do no worse than they bound the columns."""
    begun = 0
    for seed in range(8):
        request = week("S", seed)
        whole = build_instance(request, request.products[0].code)
        prices = [int(sum(t.width_mm * t.length_mm for t in need) * 1.3e-3) for need in needs_of(whole)]
        for batch in sorted(set(range(len(whole.batches))) - bought_batches(whole)):
            alone, _ = of_batch(whole, batch, prices)
            if not alone.groups or not alone.sources:
                continue
            start = {t: first_price(alone, t) for t in alone.piece_types()}
            columns = Boxed(alone, Pricers(alone, apart=True), start, Budget(math.inf), share=0.1, tied=True)
            columns.run(lambda _: None)
            charges = charged_once(alone, columns.rows)
            relaxation = BatchRelaxation(alone, columns.prices, Budget(math.inf), {}, charges)
            relaxation.run(lambda _: None, tolerance=1.0)
            assert relaxation.bound >= columns.bound - 1.0
            begun += bool(charges)
    assert begun > 5


def needs_of(instance: Instance) -> list[Counter[PieceType]]:
    """By group: the pieces of the first of its choices."""
    return [Counter(next(iter(group.demands.values()), {})) for group in instance.groups]


def test_prices_of_pieces_that_nobody_has_a_use_for_are_lowered_at_no_loss() -> None:
    """What units cost, or are left out for, is the same, so that the bound can but rise."""

    class Lowered(BatchRelaxation):
        def told(self, prices: dict[PieceType, float]) -> dict[PieceType, float]:
            return self._no_higher_than_of_use(prices, {})

    lower = 0
    for seed in range(6):
        request, random = week("S", seed), Random(seed)
        whole = build_instance(request, request.products[0].code)
        units = [random.randint(0, 60_000) for _ in whole.groups]
        for batch in sorted(set(range(len(whole.batches))) - bought_batches(whole)):
            alone, _ = of_batch(whole, batch, units)
            if alone.groups and alone.sources:
                prices = {t: first_price(alone, t) * random.uniform(0.2, 2.0) for t in alone.piece_types()}
                told = Lowered(alone, prices, Budget(math.inf), {}).told(prices)
                assert all(0.0 <= told[t] <= prices[t] for t in prices)
                assert cheapest_choices(alone, told)[0] == pytest.approx(cheapest_choices(alone, prices)[0], abs=1e-3)
                lower += sum(told[t] < prices[t] - 1.0 for t in prices)
    assert lower > 20


def test_where_purchases_are_settled_none_gains_and_no_price_is_held_down_by_a_fence() -> None:
    for seed in range(4):
        request = week("S", seed)
        instance, budget = build_instance(request, request.products[0].code), Budget(math.inf)
        pricers = Pricers(instance)
        (recombiner, best) = first_loads.first_loads(instance, trimmed(instance, foreman_plan(instance)), budget)
        assert recombiner.relax(best)
        bought = BoughtPrices(instance, pricers, {t: first_price(instance, t) for t in instance.piece_types()})
        while bought.settle(recombiner.master, budget, budget):
            pass
        assert not recombiner.master.leant_on()
        assert BoughtSets(instance, pricers).priced(bought.prices, budget).settled
        asked = recombiner.master.piece_prices()
        assert all(bought.prices[t] == pytest.approx(pence, abs=0.1) for t, pence in asked.items())


def test_loads_that_a_search_tells_of_are_not_gathered_again(monkeypatch: pytest.MonkeyPatch) -> None:
    (part,) = parts_of(week("S", 0), None, 0)
    instance = build_instance(part.request, part.product)
    gathered = first_loads.first_loads(instance, trimmed(instance, foreman_plan(instance)), Budget(math.inf))
    master = gathered.recombiner.master
    told = first_loads.Told(master.columns(), master.patterns_within(math.inf, 1_000), gathered.best)
    words = [[told], [], [told._replace(loads=[])]]

    def hear() -> list[first_loads.Told]:
        return words.pop() if words else []

    monkeypatch.setattr(bounding.Bounding, "_over_sets", lambda _: False)
    monkeypatch.setattr(first_loads, "first_loads", None)
    bounds: list[float] = []
    bound_part(part, time.monotonic() + 60, bounds.append, lambda *_: None, lambda: False, hear)
    assert not words, "it listens between passes too"
    assert bounds[0] < bounds[-1] <= gathered.best.rank(instance)[0]


def test_where_a_search_tells_of_none_in_time_loads_are_gathered_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise LookupError

    monkeypatch.setattr(first_loads, "first_loads", none)
    monkeypatch.setattr("stockplan.cutting.planner.WAITING_SHARE", 0.005)
    (part,) = parts_of(week("S", 0), None, 0)
    told: list[float] = []
    with pytest.raises(LookupError):
        bound_part(part, time.monotonic() + 60, told.append, lambda *_: None, lambda: False, list)
    assert told, "the bound by columns comes before"


@pytest.mark.parametrize("a_second", [0, 10**9])
def test_whole_loads_of_lawns_are_begun_where_there_is_time_to_list_them(
    a_second: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[bool] = []
    monkeypatch.setattr("stockplan.cutting.planner.LISTED_A_SECOND", a_second)
    monkeypatch.setattr(bounding.Bounding, "_over_sets", lambda _: False)
    monkeypatch.setattr(WholeLoads, "run", lambda *_: begun.append(True))
    request = lawns_in_one_batch_each(5)
    (part,) = parts_of(request, None, 0)
    bound_part(part, time.monotonic() + 60, lambda _: None, lambda *_: None, lambda: False)
    assert begun == [True] * bool(a_second)


def proved(instance: Instance) -> int:
    """The least cost, jobs left out at their penalty, by the proof over tables of sets."""
    kinds = kinds_of(instance, 30_000)
    assert kinds is not None
    best = Solution(Counter(), {}, frozenset(range(len(instance.jobs))))
    exact = Exact(instance, [SetTables(kind, lambda: False) for kind in kinds], ())
    exact.relax(Budget(math.inf), lambda _: None)
    found = [best]

    def hear(answer: Solution | None, _: float) -> None:
        if answer is not None:
            found.append(answer)

    Proof(instance, exact).run(best, Budget(math.inf), hear)
    return min(answer.rank(instance)[0] for answer in found)


@pytest.mark.slow
def test_on_a_week_of_thirty_jobs_it_is_above_other_bounds_and_below_a_plan() -> None:
    request: PlanRequest = week("M", 0)
    instance = build_instance(request, request.products[0].code)
    foreman = trimmed(instance, foreman_plan(instance))
    budget = Budget(time.monotonic() + 60)
    bounding = Bounding(instance, budget, 1.0, lambda _: None, foreman.patterns)
    bounding.climb(float(foreman.rank(instance)[0]))
    first = first_loads.first_loads(instance, foreman, budget)
    whole = WholeLoads(instance, bounding.prices, first, budget)
    whole.run(lambda _: None, lambda *_: None)
    assert bounding.bound < whole.bound < foreman.rank(instance)[0]
