"""What stands in for a batch that time does not reach: never below the best that it can serve."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from random import Random

import pytest
from small_problems import GRASS, item, job, problem
from test_whole_loads import FEW_STEPS, proved

from stockplan.bench.weeks import week
from stockplan.cutting import first_loads
from stockplan.cutting.ascent import first_price
from stockplan.cutting.batch_columns import bought_batches
from stockplan.cutting.batch_relaxation import BatchRelaxation, of_batch
from stockplan.cutting.boxed import Boxed
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.links import rebates
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.solution import trimmed
from stockplan.cutting.standing import Standing
from stockplan.cutting.whole_loads import WholeLoads


def of_week(seed: int) -> Instance:
    """A week of eight jobs."""
    request = week("S", seed)
    return build_instance(request, request.products[0].code)


def unit_prices(instance: Instance, random: Random) -> list[int]:
    """About what units cost, a fifth of them worth nothing."""
    area = [sum(s.width_mm * s.length_mm * s.count for s in job.strips) / 1e6 for job in instance.jobs]
    return [int(area[g.job] * 1280 * random.choice((0.0, 0.8, 0.95, 1.0, 1.2))) for g in instance.groups]


def batches(instance: Instance, prices: Sequence[int]) -> Iterator[tuple[int, Instance, tuple[int, ...]]]:
    """Those in the yard that may serve something at these prices, each as a problem of its own."""
    for batch in sorted(set(range(len(instance.batches))) - bought_batches(instance)):
        alone, which = of_batch(instance, batch, prices)
        if alone.groups and alone.sources and all(group.units == 1 for group in alone.groups):
            yield batch, alone, which


def by_columns(whole: Instance) -> Boxed:
    """The relaxation of the whole problem over patterns, with rows that tie jobs to sources."""
    start = {t: first_price(whole, t) for t in whole.piece_types()}
    columns = Boxed(whole, Pricers(whole, apart=True), start, Budget(math.inf), share=0.1, tied=True)
    columns.run(lambda _: None)
    return columns


def stands_at(whole: Instance, batch: int, prices: Sequence[int]) -> Standing:
    """What stands in for a batch after its relaxation at some prices of units."""
    alone, which = of_batch(whole, batch, prices)
    start = {t: first_price(alone, t) for t in alone.piece_types()}
    relaxation = BatchRelaxation(alone, start, Budget(math.inf), {})
    relaxation.run(lambda _: None)
    off = {(which[group], h): pence for (group, h), pence in rebates(alone, relaxation.rows).items()}
    known = Standing(relaxation.prices, off, relaxation.worth, frozenset(which))
    assert known.most(alone, which) == pytest.approx(relaxation.most, abs=0.1)
    return known


def best_served(alone: Instance) -> int:
    """The best that a batch can serve, pence, by the proof over all sets."""
    return sum(alone.penalties) - proved(alone)


@pytest.mark.parametrize("seed", [0, 3, 4, 6])
def test_prices_of_a_relaxation_bound_what_the_batch_serves_at_others(seed: int) -> None:
    whole, random = of_week(seed), Random(seed)
    prices = unit_prices(whole, random)
    known = {batch: stands_at(whole, batch, prices) for batch, _, _ in batches(whole, prices)}
    compared = 0
    for _ in range(3):
        for batch, alone, which in batches(whole, unit_prices(whole, random)):
            if batch in known:
                assert known[batch].most(alone, which) >= best_served(alone) - 0.1
                compared += 1
    assert compared >= 3


def test_nothing_is_known_where_another_job_wants_the_same_size_that_was_worth_nothing_then() -> None:
    # One piece alone must pay for all that the roll is then worth less; of two each pays for half of a little more.
    jobs = [job("J1", "2000x2000"), job("J2", "2000x2000"), job("J3", "1000x1000")]
    whole = build_instance(problem(jobs, [item("T1", "2000x4000")]), GRASS)
    known = stands_at(whole, 0, [8_000, 0, 0])
    assert known.most(*of_batch(whole, 0, [7_000, 0, 0])) < math.inf
    assert known.most(*of_batch(whole, 0, [8_000, 0, 3_000])) < math.inf, "it wants another size"
    both, which = of_batch(whole, 0, [8_000, 8_000, 0])
    assert best_served(both) > 2 * best_served(of_batch(whole, 0, [8_000, 0, 0])[0])
    assert known.most(both, which) == math.inf


@pytest.mark.parametrize("seed", [0, 3, 4, 6])
def test_so_do_prices_of_the_whole_problem_by_columns(seed: int) -> None:
    whole, random = of_week(seed), Random(seed)
    columns = by_columns(whole)
    known = Standing(columns.prices, rebates(whole, columns.rows), columns.worth, frozenset(range(len(whole.groups))))
    compared = 0
    for _ in range(3):
        for _, alone, which in batches(whole, unit_prices(whole, random)):
            assert known.most(alone, which) >= best_served(alone) - 0.1
            compared += 1
    assert compared >= 3


@pytest.mark.parametrize("seed", [0, 3, 4, 6])
def test_a_pass_that_has_no_time_left_tells_a_bound_all_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_loads, "STEPS", FEW_STEPS)
    monkeypatch.setattr(first_loads, "MOVES", FEW_STEPS)
    whole = of_week(seed)
    columns = by_columns(whole)
    foreman = trimmed(whole, foreman_plan(whole))

    class Late(WholeLoads):
        def in_no_time(self) -> float | None:
            assert self._priced()
            self.budget = Budget(0.0)
            return self._evaluated()

    first = first_loads.first_loads(whole, foreman, Budget(math.inf))
    known = {"rows": columns.rows, "worth": columns.worth}
    bound = Late(whole, columns.prices, first, Budget(math.inf), **known).in_no_time()
    assert bound is not None
    assert 0.8 * columns.bound <= bound <= foreman.rank(whole)[0]
    assert Late(whole, columns.prices, first, Budget(math.inf), rows=columns.rows).in_no_time() is None
