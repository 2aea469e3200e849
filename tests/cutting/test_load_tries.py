"""The best load among sources cut into given sets: against going through every choice."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from itertools import combinations_with_replacement, product
from random import Random

import numpy as np
import pytest

from stockplan.cutting.instance import PieceType
from stockplan.cutting.load_tries import Sets, Unit, best_loads

TYPES = tuple(PieceType(0, 1000 + 100 * n, 2000) for n in range(4))
PLENTY = 10**7


def random_sets(random: Random) -> Sets:
    every = [c for size in range(1, 4) for c in combinations_with_replacement(range(len(TYPES)), size)]
    chosen = random.sample(every, random.randint(0, 9))
    pieces = np.zeros((len(chosen), 5), dtype=np.int16)
    for row, one in enumerate(chosen):
        pieces[row, : len(one)] = one
    losses = np.array([float(random.randint(0, 60)) for _ in chosen])
    return Sets(TYPES, pieces, np.array([len(one) for one in chosen], dtype=np.int64), losses, random.randint(0, 20))


def random_unit(random: Random) -> Unit:
    needs = Counter(random.choice(TYPES) for _ in range(random.randint(1, 4)))
    return Unit(random.randint(0, 30), random.randint(0, 90), needs)


def ways(source: Sets) -> Iterator[tuple[Counter[PieceType], float]]:
    yield Counter(), source.whole
    for row, size, loss in zip(source.pieces, source.sizes, source.losses, strict=True):
        yield Counter(source.types[place] for place in row[:size]), float(loss)


def least_by_hand(sources: list[Sets], units: list[Unit]) -> dict[tuple[int, ...], float]:
    """By the units served: the least that is taken."""
    made: dict[tuple[int, ...], float] = {}
    for chosen in product(*(list(ways(source)) for source in sources)):
        pieces = sum((one for one, _ in chosen), Counter())
        key = tuple(pieces[t] for t in TYPES)
        made[key] = min(made.get(key, math.inf), sum(loss for _, loss in chosen))
    found = {}
    for served in product((False, True), repeat=len(units)):
        needs = sum(
            (Counter(unit.needs) for unit, is_served in zip(units, served, strict=True) if is_served), Counter()
        )
        taken = sum(u.served if is_served else u.left_out for u, is_served in zip(units, served, strict=True))
        taken += made.get(tuple(needs[t] for t in TYPES), math.inf)
        found[tuple(n for n, is_served in enumerate(served) if is_served)] = taken
    return found


@pytest.mark.parametrize("block", range(6))
def test_no_loads_take_less_than_those_found(block: int) -> None:
    several = 0
    for seed in range(50 * block, 50 * block + 50):
        random = Random(seed)
        sources = [random_sets(random) for _ in range(random.randint(1, 3))]
        units = [random_unit(random) for _ in range(random.randint(1, 5))]
        every = least_by_hand(sources, units)
        purse, most = min(every.values()) + random.choice([0.5, 40.5, 120.5]), random.randint(1, 6)
        least = sorted(taken for taken in every.values() if taken < purse)[:most]
        loads = best_loads(sources, units, purse, PLENTY, most)
        assert loads is not None
        assert [load.taken for load in loads] == pytest.approx(least), seed
        assert all(every[load.units] == pytest.approx(load.taken) for load in loads), seed
        assert len({load.units for load in loads}) == len(loads)
        several += len(loads) > 1
        assert best_loads(sources, units, min(least), PLENTY, most) == [], "none takes less than the least"
    assert several >= 5


def test_too_many_steps_are_told() -> None:
    random = Random(1)
    sources, units = [random_sets(random) for _ in range(3)], [random_unit(random) for _ in range(5)]
    assert best_loads(sources, units, 1e9, 3, 2) is None
