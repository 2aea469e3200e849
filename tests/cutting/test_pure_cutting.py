"""Pure cutting stock: leftovers worth nothing, cuts free, one batch. Bounds against brute force; published cases."""

from __future__ import annotations

import math
import threading
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from random import Random

import numpy as np
import pytest
from every_way_to_cut import WholeProblem
from small_problems import BOUGHT_ONLY, item, job, problem, rolls, sound_plan

from stockplan.cutting import tight
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.covering import SCALE, Column, Covering, bound_at
from stockplan.cutting.one_dimension import LengthOracle
from stockplan.cutting.pure import as_pure
from stockplan.cutting.rounding import Rounding
from stockplan.cutting.tight import columns_within, settle, solve_over
from stockplan.cutting.two_dimensions import SheetOracle, Sums
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import PlanStatus
from stockplan.domain.request import Pin, PlanRequest, SearchLimits

SECONDS = 20
PENCE = 10_000
LIMITS = SearchLimits(seconds=SECONDS, work=250)

# Christofides and Whitlock, Operations Research 25 (1977), their first example: width, length, value, most.
CHRISTOFIDES_WHITLOCK = (
    (8, 4, 66, 2),
    (3, 7, 35, 1),
    (8, 2, 24, 3),
    (3, 4, 17, 5),
    (3, 3, 11, 2),
    (3, 2, 8, 2),
    (2, 1, 2, 1),
)


def rounding(sizes: Sequence[int], demands: Sequence[int], lengths: Sequence[int], costs: Sequence[int]) -> Rounding:
    """A one-dimensional problem, relaxed."""
    covering = Covering(tuple(demands), tuple(costs), (None,) * len(lengths))
    found = Rounding(covering, LengthOracle(sizes, lengths), Budget(time.monotonic() + SECONDS))
    found.relax()
    return found


def cheapest(sizes: Sequence[int], demands: Sequence[int], lengths: Sequence[int], costs: Sequence[int]) -> int:
    """Least cost of lengths for all pieces, by trying every way to fill the next length with the first piece."""

    def fillings(left: int, demand: tuple[int, ...], first: int) -> list[tuple[int, ...]]:
        found = [demand]
        for i in range(first, len(demand)):
            if demand[i] and sizes[i] <= left:
                less = tuple(d - (k == i) for k, d in enumerate(demand))
                found += fillings(left - sizes[i], less, i)
        return found

    @cache
    def least(demand: tuple[int, ...]) -> float:
        first = next((i for i, d in enumerate(demand) if d), None)
        if first is None:
            return 0
        less = tuple(d - (k == first) for k, d in enumerate(demand))
        options = [
            cost + least(rest)
            for length, cost in zip(lengths, costs, strict=True)
            if sizes[first] <= length
            for rest in set(fillings(length - sizes[first], less, first))
        ]
        return min(options, default=math.inf)

    return int(least(tuple(demands)))


def random_lengths(random: Random) -> tuple[list[int], list[int], list[int], list[int]]:
    """Sizes, demands, lengths to cut from and their costs; every size fits the longest."""
    lengths = random.sample(range(15, 40), random.choice([1, 1, 2]))
    sizes = random.sample(range(3, max(lengths) + 1), random.randint(1, 4))
    demands = [random.randint(1, 3) for _ in sizes]
    return sizes, demands, lengths, [random.randint(2, 9) for _ in lengths]


@pytest.mark.parametrize("seed", range(60))
def test_lengths_are_solved_and_proven_as_by_brute_force(seed: int) -> None:
    sizes, demands, lengths, costs = random_lengths(Random(seed))
    best = cheapest(sizes, demands, lengths, costs)
    found = rounding(sizes, demands, lengths, costs)
    assert found.bound <= best
    choice = Random(0)
    found.dive()
    for _ in range(20):
        if not found.proven:
            found.dive(choice)
            settle(found, LengthOracle(sizes, lengths), SECONDS)
        assert found.bound <= best <= found.cost
    assert found.bound == best == found.cost


@pytest.mark.parametrize("seed", range(30))
def test_every_full_length_is_listed_so_that_the_program_over_them_is_exact(seed: int) -> None:
    """At prices of nothing no column is left out: the best cost has an answer, one less has none."""
    sizes, demands, lengths, costs = random_lengths(Random(seed))
    best = cheapest(sizes, demands, lengths, costs)
    oracle = LengthOracle(sizes, lengths)
    found = Rounding(Covering(tuple(demands), tuple(costs), (None,) * len(lengths)), oracle, Budget(math.inf))
    found.bound = best
    columns = columns_within(found, oracle, [np.zeros(len(sizes), dtype=np.int64)])
    assert columns is not None
    answer, settled = solve_over(found.problem, columns, best, SECONDS)
    assert settled
    assert answer is not None
    assert found.problem.cost(answer) == best
    assert solve_over(found.problem, columns, best - 1, SECONDS) == (None, True)


def test_an_answer_that_falls_short_settles_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    problem_of_one, columns = Covering((3,), (1,), (None,)), [Column(0, ((0, 2),))]
    assert solve_over(problem_of_one, columns, 2, SECONDS) == (Counter({columns[0]: 2}), True)
    monkeypatch.setattr(tight, "_covers", lambda *_: False)
    assert solve_over(problem_of_one, columns, 2, SECONDS) == (None, False)


def test_a_program_is_left_when_the_search_has_to_stop() -> None:
    """Sixty sizes in threes: far more work than the moment until it is first asked whether to stop."""
    choice = Random(1)
    threes = {tuple(sorted(choice.sample(range(60), 3))) for _ in range(4_000)}
    columns = [Column(0, tuple((size, 1) for size in three)) for three in sorted(threes)]
    began = time.monotonic()
    answer, settled = solve_over(Covering((1,) * 60, (1,), (None,)), columns, 20, 6.0, lambda: True)
    assert (answer, settled) == (None, False)
    assert time.monotonic() - began < 5
    for thread in threading.enumerate():
        if thread.daemon:
            thread.join(20)  # or it would come back while Python takes itself apart


@pytest.mark.parametrize("seed", range(30))
def test_settling_finds_a_plan_as_cheap_as_the_bound(seed: int) -> None:
    sizes, demands, lengths, costs = random_lengths(Random(seed))
    best = cheapest(sizes, demands, lengths, costs)
    found = rounding(sizes, demands, lengths, costs)
    while found.bound < best:
        before = found.bound
        assert settle(found, LengthOracle(sizes, lengths), SECONDS)
        assert before < found.bound <= best
    assert settle(found, LengthOracle(sizes, lengths), SECONDS)
    assert found.cost == found.bound == best


def test_counting_pieces_proves_what_the_plain_relaxation_does_not() -> None:
    """Fieldhouse's instance: its relaxation with pieces repeating at will is 259/132, its optimum 3.

    "The duality gap in trim problems", SICUP Bulletin 5 (1990), from memory: 44 × 2, 33 × 3 and 12 × 6 from 132.
    """
    sizes, demands = [44, 33, 12], [2, 3, 6]
    assert sum(s * d for s, d in zip(sizes, demands, strict=True)) == 259
    assert cheapest(sizes, demands, [132], [1]) == 3
    found = rounding(sizes, demands, [132], [1])
    found.dive()
    assert found.bound == found.cost == 3


@pytest.mark.parametrize("prices", [(7, 5, 3), (0, 9, 1), (10, 0, 0)])
def test_a_length_is_filled_with_no_more_than_is_wanted(prices: tuple[int, ...]) -> None:
    sizes, counts = [7, 5, 3], [1, 2, 3]
    (offer,) = LengthOracle(sizes, [20]).price(np.array(prices), counts)
    worths = [
        a * prices[0] + b * prices[1] + c * prices[2]
        for a in range(2)
        for b in range(3)
        for c in range(4)
        if 7 * a + 5 * b + 3 * c <= 20
    ]
    assert offer.most == max(worths)
    assert max(sum(prices[t] * n for t, n in c.made) for c in offer.columns) == max(worths)
    assert all(n <= counts[t] for c in offer.columns for t, n in c.made)


def test_sums_round_down_to_what_sizes_add_up_to() -> None:
    sums = Sums([4, 7], 20)
    assert sums.values.tolist() == [0, 4, 7, 8, 11, 12, 14, 15, 16, 18, 19, 20]
    assert sums.values[sums.at(13)] == 12
    first, left = sums.less(7)
    assert sums.values[first] == 7
    assert sums.values[left].tolist() == [max(s for s in sums.values if s <= x - 7) for x in sums.values if x >= 7]


def lies_as_cut(sizes: Sequence[tuple[int, int]], sheet: tuple[int, int], column: Column, oracle: SheetOracle) -> bool:
    """Whether a column's drops, lanes and pieces fit into one another and into the sheet."""
    drops = oracle.cuts[column]
    pieces = Counter(i for _, lanes in drops for _, lane in lanes for i in lane)
    fits = all(
        sum(sizes[i][1] for i in lane) <= length and all(sizes[i][0] <= width for i in lane)
        for length, lanes in drops
        for width, lane in lanes
    )
    across = all(sum(width for width, _ in lanes) <= sheet[0] for _, lanes in drops)
    return (
        fits
        and across
        and sum(length for length, _ in drops) <= sheet[1]
        and tuple(sorted(pieces.items())) == column.made
    )


def test_the_best_sheet_of_christofides_and_whitlock() -> None:
    """Optimum 244 on a sheet of 15 by 10, reached in three stages."""
    sizes = [(width, length) for width, length, _, _ in CHRISTOFIDES_WHITLOCK]
    most = [m for *_, m in CHRISTOFIDES_WHITLOCK]
    prices = np.array([v * SCALE for *_, v, _ in CHRISTOFIDES_WHITLOCK])
    oracle = SheetOracle(sizes, [(15, 10)], [1])
    (offer,) = oracle.price(prices, most)
    values = [sum(int(prices[t]) * n for t, n in column.made) for column in offer.columns]
    assert max(values) == 244 * SCALE <= offer.most
    assert all(lies_as_cut(sizes, (15, 10), column, oracle) for column in offer.columns)


@pytest.mark.parametrize("seed", range(25))
def test_sheets_promise_no_less_than_they_can_be_cut_into(seed: int) -> None:
    random = Random(seed)
    sheet = random.randint(10, 30), random.randint(10, 30)
    sizes = list({(random.randint(2, sheet[0]), random.randint(2, sheet[1])) for _ in range(5)})
    counts = [random.randint(1, 4) for _ in sizes]
    prices = np.array([random.randint(0, width * length) * SCALE for width, length in sizes])
    oracle = SheetOracle(sizes, [sheet], [100])
    (offer,) = oracle.price(prices, counts)
    for column in offer.columns:
        assert lies_as_cut(sizes, sheet, column, oracle)
        assert all(n <= counts[t] for t, n in column.made)
        assert sum(int(prices[t]) * n for t, n in column.made) <= offer.most


def test_prices_of_narrow_pieces_add_up_on_wide_sheets() -> None:
    """A sheet holds 14,000 of them: at the prices of a beginning what they come to is no number of 64 bits."""
    costs = (10_000_003, 10_000_000)
    oracle = SheetOracle([(600, 600), (7, 10)], [(1000, 1000), (990, 1000)], costs)
    found = Rounding(Covering((2, 1), costs, (None, None)), oracle, Budget(time.monotonic() + SECONDS))
    found.relax()
    assert found.bound == 2 * costs[1]


def random_request(random: Random) -> PlanRequest:
    """Five pieces at most, cut from rolls or from rolls and stock of one batch, for one who throws leftovers away."""
    pieces = [f"{500 * random.randint(1, 5)}x{500 * random.randint(1, 5)}" for _ in range(random.randint(2, 5))]
    jobs = [job(f"J{n}", size, rule=BatchRule.ANY) for n, size in enumerate(pieces)]
    if random.random() < 0.7:
        offered = [
            rolls(f"{500 * random.randint(5, 6)}x{500 * random.randint(5, 9)}", PENCE * random.randint(2, 5))
            for _ in range(random.randint(1, 2))
        ]
        return problem(jobs, (), offered, BOUGHT_ONLY)
    stock = [
        item(f"T{n}", f"{500 * random.randint(5, 6)}x{500 * random.randint(5, 9)}", "B1", "roll") for n in range(3)
    ]
    return problem(jobs, stock, (), BOUGHT_ONLY)


@pytest.mark.parametrize("seed", range(12))
def test_sheets_are_bounded_as_by_brute_force(seed: int) -> None:
    request = random_request(Random(seed))
    best = WholeProblem(request).solve()
    (planned,) = sound_plan(request, LIMITS).products
    assert planned.lower_bound_pence <= best.net_cost
    if not best.pieces_short:
        assert best.net_cost == planned.net_cost_pence


def test_filling_sheet_by_sheet_is_not_best() -> None:
    """Sheets of 12 by 12: three of 4 × 12 fill one, and then three more are needed (Becker, thesis)."""
    jobs = [job("A", "400x1200*3"), job("B", "700x1200*2"), job("C", "800x600")]
    (planned,) = sound_plan(problem(jobs, (), [rolls("1200x1200", PENCE)], BOUGHT_ONLY), LIMITS).products
    assert planned.net_cost_pence == 3 * PENCE
    assert planned.status is PlanStatus.OPTIMAL


def test_a_dive_ends_where_copies_run_out() -> None:
    """Twenty pieces, one to a length, and two lengths: there is no answer, and none is given."""
    found = Rounding(Covering((20,), (1,), (2,)), LengthOracle([6], [10]), Budget(time.monotonic() + SECONDS))
    found.relax()
    found.dive()
    assert found.best is None


def test_prices_that_gain_are_scaled_before_they_bound() -> None:
    problem_of_one = Covering((2,), (1,), (None,))
    oracle = LengthOracle([4], [10])
    prices = np.array([SCALE])  # two pieces make a length worth 2 where it costs 1
    assert bound_at(problem_of_one, prices, oracle.price(prices, (2,))) == 1


def test_leftovers_of_worth_or_cuts_at_a_cost_are_not_pure() -> None:
    jobs, offered = [job("A", "1000x2000*3")], [rolls("2000x5000", PENCE)]
    pure = as_pure(build_instance(problem(jobs, (), offered, BOUGHT_ONLY), "G30"))
    assert pure is not None
    assert pure.problem.demands == (3,)
    assert not pure.lengths_only
    assert as_pure(build_instance(problem(jobs, (), offered), "G30")) is None
    two_batches = [item("T1", "2000x5000", "B1"), item("T2", "2000x5000", "B2")]
    assert as_pure(build_instance(problem(jobs, two_batches, (), BOUGHT_ONLY), "G30")) is None


def test_sources_that_not_every_piece_may_use_are_not_pure() -> None:
    jobs = [job("A", "1000x2000"), job("B", "1000x2000")]
    stock = [item("T1", "2000x5000"), item("T2", "2000x5000")]
    request = problem(jobs, stock, (), BOUGHT_ONLY)
    assert as_pure(build_instance(request, "G30")) is not None
    assert as_pure(build_instance(replace(request, pins=(Pin("A", "T2"),)), "G30")) is None
    (planned,) = sound_plan(replace(request, pins=(Pin("A", "T2"),)), LIMITS).products
    assert planned.short == ()


def test_the_same_problem_gets_the_same_plan() -> None:
    jobs = [job(f"J{n}", f"{300 + 70 * n}x{900 - 40 * n}*{n + 2}") for n in range(6)]
    request = problem(jobs, (), [rolls("1500x2100", PENCE), rolls("1200x2600", PENCE - 500)], BOUGHT_ONLY)
    limits = SearchLimits(seconds=60, work=30)
    first, second = (sound_plan(request, limits).products[0] for _ in range(2))
    assert first.cuts == second.cuts
    assert first.lower_bound_pence == second.lower_bound_pence
