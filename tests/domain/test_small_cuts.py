"""Cutting a few pieces from one source, against going through every way to cut, and against its own shape."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from every_way_to_cut import IMPOSSIBLE, ExactCuts, Ground, Prices

from stockplan.domain.pieces import Pieces, boxes, fits, in_order
from stockplan.domain.pieces_cut import SmallCut
from stockplan.domain.request import CostSettings
from stockplan.domain.small_cuts import LENGTHS_OF_THE_RULE, Cutter
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth

PENCE = 5  # one a leftover: worth is rounded down leftover by leftover
COST = UnitCost(1000, MM2_PER_M2)


def random_pieces(random: Random, most: int, longest: int = 6) -> Pieces:
    count = random.randint(1, most)
    return in_order(tuple((500 * random.randint(1, 6), 500 * random.randint(1, longest)) for _ in range(count)))


def random_case(random: Random, most: int, longest: int) -> tuple[Pieces, int, int, bool, int, CostSettings]:
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]), random.random() < 0.9)
    width, length = 500 * random.randint(2, 8), 500 * random.randint(2, 2 * longest)
    pence = random.choice([0, 700, 1000, 1010])
    return random_pieces(random, most), width, length, random.random() < 0.5, pence, costs


def exactly(case: tuple[Pieces, int, int, bool, int, CostSettings]) -> float:
    """The least cost of all ways to cut on a grid of half a metre; every size here lies on it, as does the rule's."""
    pieces, width, length, on_core, pence, costs = case
    prices = Prices(costs.crosscut_pence, costs.rip_pence, 4000, costs.leftovers_have_worth)
    return ExactCuts(Ground(width, length, 0, Fraction(pence), on_core), prices).cost(pieces)


def judge(seed: int, most: int, longest: int) -> None:
    case = pieces, width, length, on_core, pence, costs = random_case(Random(seed), most, longest)
    cutter = Cutter(width, UnitCost(pence, MM2_PER_M2), 4000, costs)
    found, best = cutter.cut(pieces, length, on_core), exactly(case)
    assert (found is None) == (best == IMPOSSIBLE), seed
    assert fits(pieces, width, length) == (found is not None), seed
    if found is not None:
        assert_whole(found, pieces, width, length)
        assert found.net_pence <= best, seed
        assert best <= found.net_pence + PENCE, seed


def assert_whole(cut: SmallCut, pieces: Pieces, width: int, length: int) -> None:
    """Pieces are those asked for, lie within their lanes and drops, and with the remainders fill the source."""
    lanes = [lane for drop in cut.drops for lane in drop.lanes]
    assert in_order(tuple(piece for lane in lanes for piece in lane.pieces)) == pieces
    assert sum(drop.length_mm for drop in cut.drops) <= length
    for drop in cut.drops:
        assert sum(lane.width_mm for lane in drop.lanes) <= width
        for lane in drop.lanes:
            assert sum(n for _, n in lane.pieces) <= drop.length_mm
            assert max(w for w, _ in lane.pieces) <= lane.width_mm
    area = sum(w * n for w, n in pieces) + sum(one.width_mm * one.length_mm for one in cut.remainders)
    assert area == width * length


@pytest.mark.parametrize("block", range(10))
def test_nothing_cheaper_among_all_ways_to_cut(block: int) -> None:
    for seed in range(30 * block, 30 * block + 30):
        judge(seed, most=3, longest=5)


@pytest.mark.slow
def test_nothing_cheaper_among_all_ways_to_cut_many_times() -> None:
    for seed in range(10_000, 11_500):
        judge(seed, most=4, longest=4)


def test_a_balcony_from_a_roll_by_hand() -> None:
    # 3.1 × 1.8 from 4 × 25 at 10.00 a m²: crosscut, rip; 0.9 × 1.8 is worth (0.25 + 0.45 × 0.225) × 0.72 of 16.20,
    # 4.097; the tail, 92.8 m² on its core, 0.90 of 928.00.
    cut = Cutter(4000, COST, 4000, CostSettings()).cut(((3100, 1800),), 25_000, True)
    assert cut is not None
    assert (cut.crosscuts, cut.rips, cut.cutting_pence) == (1, 1, 500)
    assert [(one.width_mm, one.length_mm, one.worth_pence) for one in cut.remainders] == [
        (4000, 23_200, 83_520),
        (900, 1800, 409),
    ]


def test_a_piece_that_fills_its_source_needs_no_cut() -> None:
    cut = Cutter(3100, COST, 4000, CostSettings()).cut(((3100, 1800),), 1800, False)
    assert cut is not None
    assert (cut.net_pence, cut.remainders) == (0, ())


def test_grass_is_never_turned() -> None:
    assert fits(((1800, 3100),), 1800, 3100)
    assert not fits(((1800, 3100),), 3100, 1800)


def test_boxes_of_two_pieces_lie_beside_or_behind_each_other() -> None:
    assert boxes(in_order(((2000, 3000), (1500, 1000)))) == ((2000, 4000), (3500, 3000))


def test_a_leftover_is_made_wide_enough_to_keep() -> None:
    """0.4 m off a source 0.9 m wide: what is beside it is kept; the lane's end is worth most at full width."""
    cut = Cutter(900, COST, 4000, CostSettings(0, 0)).cut(((400, 1000),), 2000, False)
    assert cut is not None
    assert {(one.width_mm, one.length_mm) for one in cut.remainders} == {(500, 1000), (900, 1000)}


# --- what the rule of worth must keep to for this module to be right -------------------------------------------------

DEAR = UnitCost(10**12, MM2_PER_M2)  # so dear that rounding to the penny is nothing


def worth_of(width: int, length: int, on_core: bool) -> int:
    return leftover_worth(Leftover(width, length, on_core, 4000), DEAR)


@pytest.mark.parametrize("on_core", [False, True])
@pytest.mark.parametrize("width", [500, 1130, 2000, 3919, 3920, 4000])
def test_worth_is_convex_in_length_between_the_lengths_of_the_rule(width: int, on_core: bool) -> None:
    for low, high in pairwise((0, *LENGTHS_OF_THE_RULE, 25_000)):
        lengths = range(low, high, max(1, (high - low) // 97))
        for a, b, c in zip(lengths, lengths[1:], lengths[2:], strict=False):
            assert 2 * worth_of(width, b, on_core) <= worth_of(width, a, on_core) + worth_of(width, c, on_core) + 2


@pytest.mark.parametrize("length", [1000, 1700, 3000, 6000, 20_000])
def test_worth_is_convex_in_width_between_the_widths_of_the_rule(length: int) -> None:
    marks = Cutter(4000, COST, 4000, CostSettings()).widths_of_the_rule
    for low, high in pairwise((*marks, 4001)):
        widths = range(low, high, max(1, (high - low) // 97))
        for a, b, c in zip(widths, widths[1:], widths[2:], strict=False):
            assert 2 * worth_of(b, length, False) <= worth_of(a, length, False) + worth_of(c, length, False) + 2


def test_a_leftover_is_worth_no_less_than_the_two_it_is_cut_into() -> None:
    random = Random(11)
    for _ in range(2000):
        width, length, on_core = random.randint(400, 4000), random.randint(500, 25_000), random.random() < 0.5
        whole = worth_of(width, length, on_core)
        across, along = random.randint(1, width - 1), random.randint(1, length - 1)
        assert worth_of(across, length, False) + worth_of(width - across, length, False) <= whole
        assert worth_of(width, along, False) + worth_of(width, length - along, on_core) <= whole
