"""Where a piece may go on what is being cut and what that costs: the compiled rules against the plain ones."""

from __future__ import annotations

from collections import Counter
from itertools import product
from random import Random

import pytest
from plain_bench import Bench, Opened, pieces_on
from small_problems import GRASS, cut_lengths, item, job, problem, rolls

from stockplan.bench.weeks import week
from stockplan.cutting.assemble import tidy
from stockplan.cutting.building import build_instance
from stockplan.cutting.flat import AREA, FACTS_HEAD, PENCE, SOURCE_SIZE, TYPE_SIZE, Flat
from stockplan.cutting.instance import Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.piles import copied, give_back, new_row
from stockplan.cutting.places import cheapest_place, holds, open_for, put, take_out
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.rows import COST, DROPS, HEAD, NO_ROOM, SIZE, SOURCE, USED, opening, settle, worth
from stockplan.cutting.solution import Solution
from stockplan.domain.jobs import BatchRule
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
