"""Beam searches: plans that can be cut, within their cost, and on tiny problems the best there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from random import Random

import numpy as np
import pytest
from every_way_to_cut import IMPOSSIBLE, ExactCuts, Ground, Pieces, Prices, Size, splits

from stockplan.cutting.beam import GUIDES, Beam
from stockplan.cutting.beam_kernels import cut_back

STEP = 500


def never() -> bool:
    return False


def can_be_cut(plan: Sequence[tuple[int, tuple]], sizes: Sequence[Size], sheets: Sequence[Size]) -> bool:  # type: ignore[type-arg]
    """Whether drops, lanes and pieces have room on their sheets, none turned."""
    for source, drops in plan:
        width, length = sheets[source]
        if sum(drop for drop, _ in drops) > length:
            return False
        for drop, lanes in drops:
            if sum(lane for lane, _ in lanes) > width:
                return False
            for lane, pieces in lanes:
                if sum(sizes[i][1] for i in pieces) > drop or max(sizes[i][0] for i in pieces) > lane:
                    return False
    return True


@pytest.mark.parametrize("guide", range(GUIDES))
def test_it_keeps_to_copies_and_cost(guide: int) -> None:
    sizes, demands = [(2, 3), (1, 1)], [4, 3]
    beam = Beam(sizes, demands, [(4, 3), (2, 6)], [10, 11], [1, None])
    plan = beam.run(20, guide, 32, never)
    assert plan is not None
    made = Counter(i for _, drops in plan for _, lanes in drops for _, lane in lanes for i in lane)
    assert made == Counter({0: 4, 1: 3})
    assert Counter(source for source, _ in plan)[0] <= 1
    assert sum((10, 11)[source] for source, _ in plan) <= 32
    assert beam.run(20, guide, 20, never) is None


@pytest.mark.parametrize("seed", range(40))
def test_plans_can_be_cut_and_hold_every_piece(seed: int) -> None:
    random = Random(seed)
    sheets = [(random.randint(20, 40), random.randint(20, 40)) for _ in range(random.randint(1, 3))]
    small = min(w for w, _ in sheets), min(n for _, n in sheets)
    sizes = [(random.randint(3, small[0]), random.randint(3, small[1])) for _ in range(random.randint(1, 9))]
    demands = [random.randint(1, 4) for _ in sizes]
    costs = [random.randint(5, 9) for _ in sheets]
    beam = Beam(sizes, demands, sheets, costs, [None] * len(sheets))
    plans = [beam.run(width, seed % GUIDES, 10**6, never, shaken) for width in (1, 5, 60) for shaken in (None, 7)]
    for plan in plans:
        assert plan is not None
        assert can_be_cut(plan, sizes, sheets)
        assert Counter(i for _, drops in plan for _, lanes in drops for _, lane in lanes for i in lane) == Counter(
            dict(enumerate(demands))
        )
    assert plans == [
        beam.run(width, seed % GUIDES, 10**6, never, shaken) for width in (1, 5, 60) for shaken in (None, 7)
    ]
    for worth, drops in beam.sheets(30, seed % GUIDES, 0, 4, of_a_count=2):
        assert can_be_cut([(0, drops)], sizes, sheets)
        made = Counter(i for _, lanes in drops for _, lane in lanes for i in lane)
        assert all(count <= demands[i] for i, count in made.items())
        area = sum(sizes[i][0] * sizes[i][1] * count for i, count in made.items())
        assert worth == pytest.approx(area * min(c / (w * n) for c, (w, n) in zip(costs, sheets, strict=True)))


def test_of_few_pieces_it_finds_as_few_sheets_as_there_can_be() -> None:
    """Against every way to share pieces out among sheets, and every way to cut each."""
    met = 0
    for seed in range(60):
        random = Random(seed)
        sheet = STEP * random.randint(4, 6), STEP * random.randint(4, 6)
        pieces = tuple(
            sorted(
                (STEP * random.randint(1, sheet[0] // STEP), STEP * random.randint(1, sheet[1] // STEP))
                for _ in range(random.randint(3, 6))
            )
        )
        fewest = fewest_sheets(pieces, sheet)
        beam = Beam(pieces, [1] * len(pieces), [sheet], [1], [None])
        assert all(beam.run(2_000, guide, fewest - 1, never) is None for guide in range(GUIDES)), seed
        met += any(beam.run(2_000, guide, fewest, never) is not None for guide in range(GUIDES))
    assert met >= 57


def fewest_sheets(pieces: Pieces, sheet: Size) -> int:
    cuts = ExactCuts(Ground(*sheet, 0, Fraction(0), False), Prices(0, 0, sheet[0], False))

    @cache
    def fewest(left: Pieces) -> int:
        if not left:
            return 0
        ways = [rest for taken, rest in splits(left) if left[0] in taken and cuts.cost(taken) < IMPOSSIBLE]
        return 1 + min(map(fewest, ways))

    return fewest(pieces)


@pytest.mark.parametrize("seed", range(20))
def test_of_too_many_children_the_best_are_kept_in_order(seed: int) -> None:
    """Against a stable sort; alike ones are common."""
    random = Random(seed)
    count, many = random.randint(1, 60), random.randint(1, 30)
    guides = np.array([float(random.randint(0, 9)) for _ in range(count)])
    ways = np.arange(3 * count, dtype=np.int64).reshape(count, 3)
    best = sorted(sorted(range(count), key=lambda n: guides[n])[:many])
    expected = [(guides[n], tuple(ways[n])) for n in best]
    kept = cut_back((guides, ways), count, many)
    assert [(guides[n], tuple(ways[n])) for n in range(kept)] == expected
