"""Ruin and recreate: what it says a cut costs is what the pattern costs, and no account that it keeps goes astray."""

from __future__ import annotations

import math
import time
from collections import Counter
from itertools import product
from random import Random

import pytest
from plain_bench import Bench, Opened, pieces_on
from small_problems import GRASS, cut_lengths, item, job, problem, rolls
from test_brute_force import random_request

from stockplan.bench.weeks import week
from stockplan.cutting.assemble import tidy
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.flat import AREA, CLASS, FACTS_HEAD, PENCE, SOURCE_SIZE, TYPE_SIZE, Flat
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.memory import (
    B_NOW,
    B_STANDS,
    BATCH_SIZE,
    BATCHES_AT,
    BEST_COST,
    COSTS,
    FREE,
    FREE_AT,
    P_COST,
    P_LIST,
    P_ROWS,
    P_WHOLE,
)
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.piles import copied, gain, give_back, new_row
from stockplan.cutting.places import cheapest_place, holds, open_for, put, take_out
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.rows import COST, DROPS, HEAD, NO_ROOM, SIZE, SOURCE, USED, opening, settle, worth
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth


def small_instance(random: Random) -> Instance:
    """Offcuts, a part roll, rolls and cut lengths, with pieces of any size to the millimetre."""
    sizes = " ".join(f"{random.randint(300, 4000)}x{random.randint(300, 5000)}" for _ in range(6))
    stock = [
        item("C1", f"{random.randint(600, 4000)}x{random.randint(1000, 6000)}"),
        item("C2", f"{random.randint(600, 4000)}x{random.randint(1000, 6000)}"),
        item("P1", f"{random.choice([2000, 3970, 4000])}x{random.randint(3000, 9000)}", form="part_roll"),
    ]
    supply = [rolls("4000x12000", 50_000), cut_lengths("4000x9050", 5_500)]
    return build_instance(problem([job("J1", sizes, rule=BatchRule.ANY)], stock, supply), GRASS)


def filled(bench: Bench, random: Random) -> list[Opened]:
    """Sources of one batch with pieces put on them at random places."""
    batch = random.randrange(len(bench.instance.batches))
    pieces = [i for i, piece in enumerate(bench.types) if piece.batch == batch]
    closed = [i for i, source in enumerate(bench.sources) if source.batch == batch]
    opened: tuple[Opened, ...] = ()
    for _ in range(random.randint(1, 9)):
        spots = list(bench.spots(random.choice(pieces), opened, closed)) if pieces else []
        if not spots:
            continue
        spot = random.choice(spots)
        before = opened[spot.at].cost if spot.at >= 0 else 0
        assert spot.delta == spot.after.cost - before
        opened = (*(one for at, one in enumerate(opened) if at != spot.at), spot.after)
    return list(opened)


def fits(bench: Bench, one: Opened) -> bool:
    """Drops fit the source, lanes the width, pieces their lane, and the lengths noted are the lengths there are."""
    source = bench.sources[one.source]
    lanes = [(length, lane) for length, lanes in one.drops for lane in lanes]
    return (
        one.used == sum(length for length, _ in one.drops) <= source.length_mm
        and all(sum(width for width, _, _ in lanes) <= source.width_mm for _, lanes in one.drops)
        and all(used == sum(bench.length[p] for p in pieces) <= length for length, (_, used, pieces) in lanes)
        and all(bench.width[p] <= width for _, (width, _, pieces) in lanes for p in pieces)
    )


class Compiled:
    """Rows of the compiled rules, for the sources that the plain bench has."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.search = Recreate(bench.instance, 0)
        self.search.load(Solution(Counter(), {}, frozenset()))
        self.flat, self.facts, self.state = self.search.flat, self.search.flat.facts, self.search.state

    def row(self, one: Opened) -> int:
        """A row cut like an opened source; the only one in use."""
        self.search.load(Solution(Counter(), {}, frozenset()))
        row, tokens = new_row(self.state), self.flat.tokens(self.bench.pattern(one))
        self.state[row + SOURCE], self.state[row + DROPS] = self.source(one.source), len(one.drops)
        self.state[row + HEAD : row + HEAD + len(tokens)] = tokens
        settle(self.facts, self.state, row)
        return int(row)

    def source(self, number: int) -> int:
        return self.flat.first_source + number * SOURCE_SIZE

    def piece(self, number: int) -> int:
        return self.flat.first_type + number * TYPE_SIZE

    def pattern(self, row: int) -> Pattern:
        size = self.state[row + SIZE]
        return self.flat.pattern(int(self.state[row + SOURCE]), self.state[row + HEAD : row + size])

    def cost(self, row: int) -> int:
        return int(self.state[row + COST])


def test_worth_is_that_of_the_domain_to_the_penny() -> None:
    instance = build_instance(week("S", 0), GRASS)
    facts = Flat(instance, [0] * 100).facts.copy()
    random, s = Random(1), FACTS_HEAD
    for _ in range(20_000):
        pence, area = (
            random.randint(0, 10 ** random.randint(1, 8)),
            random.choice([10**6, random.randint(1, 1_200_000_000)]),
        )
        facts[s + PENCE], facts[s + AREA] = pence, area
        width = random.randint(1, 6000)
        length = random.choice([random.randint(900, 7000), random.randint(1, 200_000)])
        full = random.random() < 0.5
        shape = Leftover(width, length, full, 10**9)
        assert worth(facts, s, width, length, full) == leftover_worth(shape, UnitCost(pence, area)), (
            shape,
            pence,
            area,
        )


@pytest.mark.parametrize("seed", range(40))
def test_costs_kept_of_rows_are_the_costs_of_their_patterns(seed: int) -> None:
    random = Random(seed)
    bench = Bench(small_instance(random))
    rows = Compiled(bench)
    for _ in range(5):
        for one in filled(bench, random):
            row = rows.row(one)
            assert fits(bench, one)
            assert rows.pattern(row) == bench.pattern(one)
            assert rows.cost(row) == one.cost == bench.pattern(one).cost(bench.instance)
            assert rows.state[row + USED] == one.used
            assert tidy(bench.pattern(one)).cost(bench.instance) <= one.cost


@pytest.mark.parametrize("seed", range(40))
def test_a_piece_goes_to_the_cheapest_of_all_places(seed: int) -> None:
    random = Random(seed)
    bench = Bench(small_instance(random))
    rows = Compiled(bench)
    for one in filled(bench, random):
        row = rows.row(one)
        for piece in range(len(bench.types)):
            least = min((spot.delta for spot in bench.spots(piece, (one,), [])), default=NO_ROOM)
            assert cheapest_place(rows.facts, rows.state, row, rows.piece(piece))[0] == least
            if least < NO_ROOM:
                changed = copied(rows.state, row)
                place = cheapest_place(rows.facts, rows.state, changed, rows.piece(piece))
                put(rows.facts, rows.state, changed, rows.piece(piece), place)
                pattern = rows.pattern(changed)
                assert rows.cost(changed) == one.cost + least == pattern.cost(bench.instance)
                assert pattern in {bench.pattern(spot.after) for spot in bench.spots(piece, (one,), [])}
                give_back(rows.state, changed)
            assert rows.pattern(row) == bench.pattern(one)


@pytest.mark.parametrize("seed", range(20))
def test_what_opening_a_source_for_a_piece_costs(seed: int) -> None:
    bench = Bench(small_instance(Random(seed)))
    rows = Compiled(bench)
    for piece, number in product(range(len(bench.types)), range(len(bench.sources))):
        if bench.sources[number].batch != bench.types[piece].batch:
            continue
        new = bench.newly(piece, number)
        cost = opening(rows.facts, rows.piece(piece), rows.source(number))
        assert cost == (NO_ROOM if new is None else new.cost)
        if new is not None:
            row = new_row(rows.state)
            open_for(rows.facts, rows.state, row, rows.source(number), rows.piece(piece))
            assert rows.cost(row) == new.cost == rows.pattern(row).cost(bench.instance)
            give_back(rows.state, row)


@pytest.mark.parametrize("seed", range(40))
def test_a_piece_taken_out_leaves_the_others_and_closes_up(seed: int) -> None:
    random = Random(seed)
    bench = Bench(small_instance(random))
    rows = Compiled(bench)
    for one in filled(bench, random):
        piece, row = random.choice(pieces_on(one)), rows.row(one)
        assert holds(rows.state, row, rows.piece(piece))
        take_out(rows.facts, rows.state, row, rows.piece(piece))
        left = pieces_on(one)
        left.remove(piece)
        assert (rows.state[row + DROPS] == 0) == (not left)
        if left:
            pattern = rows.pattern(row)
            after = bench.from_pattern(pattern)
            assert fits(bench, after)
            assert sorted(pieces_on(after)) == sorted(left)
            assert rows.cost(row) == pattern.cost(bench.instance)
            assert after.used <= one.used


#   +-----------+-----+          +-----------+-----+
#   |    A      | /// |  put B   |    A      |  B  |   take B out again
#   +-----------+-----+   -->    +-----------+-----+   and the first is back
def test_putting_a_piece_beside_another_and_taking_it_out_again_changes_nothing() -> None:
    bench = Bench(build_instance(problem([job("J1", "2500x3000 1500x3000")], [item("C1", "4000x5000")]), GRASS))
    rows = Compiled(bench)
    narrow, wide = range(2)
    (first,) = {spot.after for spot in bench.spots(wide, (), [0]) if len(spot.after.drops[0][1]) == 1}
    row = rows.row(first)
    assert not holds(rows.state, row, rows.piece(narrow))
    put(
        rows.facts, rows.state, row, rows.piece(narrow), cheapest_place(rows.facts, rows.state, row, rows.piece(narrow))
    )
    assert rows.pattern(row) != bench.pattern(first)
    take_out(rows.facts, rows.state, row, rows.piece(narrow))
    assert rows.pattern(row) == bench.pattern(first)
    assert rows.cost(row) == first.cost


# --- whole answers ----------------------------------------------------------------------------------------------------


def assert_feasible(instance: Instance, answer: Solution) -> None:
    """Copies suffice, every source makes what is cut from it, every unit has one batch, demand is met."""
    for source in {pattern.source for pattern in answer.patterns}:
        used = sum(count for pattern, count in answer.patterns.items() if pattern.source == source)
        assert source.copies is None or used <= source.copies
    made = dict.fromkeys(instance.piece_types(), 0)
    for pattern, count in answer.patterns.items():
        for piece, number in pattern.made().items():
            assert pattern.source.makes(piece)
            made[piece] += count * number
    assert all(made[piece] >= count for piece, count in answer.demand(instance).items())
    for number, group in enumerate(instance.groups):
        units = sum(n for (g, _), n in answer.given.items() if g == number)
        assert units == (0 if group.job in answer.short else group.units)


@pytest.mark.parametrize("seed", range(12))
def test_the_foremans_plan_is_feasible_and_trimming_it_never_costs(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    answer = foreman_plan(instance)
    assert_feasible(instance, answer)
    leaner = trimmed(instance, answer)
    assert_feasible(instance, leaner)
    assert leaner.net_cost(instance) <= answer.net_cost(instance)


@pytest.mark.parametrize("seed", range(6))
def test_ruin_and_recreate_keeps_an_answer_feasible_and_never_makes_it_worse(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    better = improved(instance, start, seed)
    assert better.rank(instance)[0] < start.rank(instance)[0]


def improved(instance: Instance, start: Solution, seed: int, steps: int = 500) -> Solution:
    """What ruin and recreate makes of an answer, and all that it kept account of meanwhile gone over."""
    search = Recreate(instance, seed)
    better = search.run(start, steps, Budget(deadline=math.inf), 0.05)
    assert_feasible(instance, better)
    assert better.rank(instance)[0] <= start.rank(instance)[0]
    assert search.state[BEST_COST] == better.rank(instance)[0]
    assert_in_order(search)
    return better


def assert_in_order(search: Recreate) -> None:
    """Costs, stock left whole, rows in use and what is remembered of them are what they would be if made anew."""
    state, facts, flat = search.state, search.flat.facts, search.flat
    rows: list[int] = state[state[FREE_AT] : state[FREE_AT] + state[FREE]].tolist()
    total = 0
    for batch in range(len(search.instance.batches)):
        place = state[BATCHES_AT] + batch * BATCH_SIZE
        pile = state[place + B_STANDS]
        assert state[place + B_NOW] == pile
        mine = state[state[pile + P_LIST] : state[pile + P_LIST] + state[pile + P_ROWS]].tolist()
        rows += mine
        patterns = [flat.pattern(int(state[row + SOURCE]), state[row + HEAD : row + state[row + SIZE]]) for row in mine]
        assert [state[row + COST] for row in mine] == [pattern.cost(search.instance) for pattern in patterns]
        assert state[pile + P_COST] == sum(pattern.cost(search.instance) for pattern in patterns)
        total += state[pile + P_COST]
        used = Counter(pattern.source for pattern in patterns)
        for source, at in flat.source_at.items():
            if source.batch == batch and source.copies is not None:
                assert state[state[pile + P_WHOLE] + facts[at + CLASS]] == source.copies - used[source]
        for row, piece in product(mine, flat.types):
            if piece.batch == batch:
                at = flat.type_at[piece]
                assert gain(facts, state, row, at) == cheapest_place(facts, state, row, at)[0]
    assert len(rows) == len(set(rows)), "a row is in use twice, or lost"
    assert total <= state[COSTS]


@pytest.mark.parametrize("seed", range(60))
def test_small_problems_of_every_kind_stay_feasible_and_exact(seed: int) -> None:
    """Pins, late rolls, cut lengths, strips from any batch, several layouts, jobs that nothing holds."""
    instance = build_instance(random_request(seed), GRASS)
    improved(instance, trimmed(instance, foreman_plan(instance)), seed, 200)


@pytest.mark.parametrize("seed", range(12))
def test_awkward_problems_too(seed: int) -> None:
    random = Random(seed)
    jobs = [awkward_job(f"J{n}", random) for n in range(random.randint(1, 5))]
    stock = [item(f"T{n}", f"{random.randint(600, 4000)}x{random.randint(1000, 9000)}", f"B{n % 3}") for n in range(5)]
    supply = [rolls("4000x12000", 50_000), cut_lengths("4000x9050", 5_500)]
    instance = build_instance(problem(jobs, stock, supply), GRASS)
    start = Solution(Counter(), {}, frozenset(range(len(instance.jobs))))
    improved(instance, start, seed)


def awkward_job(code: str, random: Random) -> Job:
    sizes = [(random.randint(300, 4100), random.randint(300, 5000)) for _ in range(random.randint(1, 4))]
    wanted = " ".join(f"{width}x{length}*{random.randint(1, 6)}" for width, length in sizes)
    return job(code, wanted, rule=random.choice([BatchRule.ANY, BatchRule.ONE]))


def test_the_same_seed_gives_the_same_answer_and_another_another() -> None:
    instance = build_instance(week("M", 1), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    first, again, other = (Recreate(instance, seed).run(start, 2000, Budget(math.inf), 0.05) for seed in (4, 4, 5))
    assert first == again
    assert first != other


def test_it_ends_when_the_clock_the_work_or_the_user_says_so() -> None:
    instance = build_instance(week("M", 0), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    search = Recreate(instance, 0)
    search.run(start, 1, Budget(math.inf))  # what is compiled is there from now on
    began = time.monotonic()
    search.run(start, 100_000_000, Budget(began + 0.2))
    assert time.monotonic() - began < 2.0
    work = Budget(math.inf, 20)
    search.run(start, 100_000_000, work)
    assert work.work == 20
    asked: list[int] = []
    search.run(start, 100_000_000, Budget(math.inf, None, lambda: asked.append(1) or len(asked) > 5))
    assert len(asked) == 6
    assert search.run(start, 1000, Budget(0.0)) == start


def test_no_source_is_given_more_pieces_than_there_is_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty small pieces fit one offcut; where there is room for ten in ten drops, it is not full."""
    request = problem([job("J1", "400x500*40")], [item("C1", "4000x5000")], [rolls("4000x5000", 9000)])
    instance = build_instance(request, GRASS)
    nothing = Solution(Counter(), {}, frozenset({0}))
    free = improved(instance, nothing, 0)
    assert sum(free.patterns.values()) == 1
    monkeypatch.setattr("stockplan.cutting.memory.MOST_ON_A_SOURCE", 9)
    tight = improved(instance, nothing, 0)
    assert 10 <= max(sum(pattern.made().values()) for pattern in tight.patterns) <= 20
    assert sum(tight.patterns.values()) > 1
    # An answer to begin from may hold more.
    assert improved(instance, free, 0).rank(instance) <= free.rank(instance)
