"""The best load among sources cut into given sets: against going through every choice."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations_with_replacement, product
from random import Random

import numpy as np
import pytest

from stockplan.cutting.instance import PieceType
from stockplan.cutting.load_tries import Sets, Tie, Unit, best_loads

TYPES = tuple(PieceType(0, 1000 + 100 * n, 2000) for n in range(4))
PLENTY = 10**7


def random_sets(random: Random, units: list[Unit]) -> Sets:
    every = [c for size in range(1, 4) for c in combinations_with_replacement(range(len(TYPES)), size)]
    chosen = random.sample(every, random.randint(0, 9))
    pieces = np.zeros((len(chosen), 5), dtype=np.int16)
    for row, one in enumerate(chosen):
        pieces[row, : len(one)] = one
    losses = np.array([float(random.randint(0, 60)) for _ in chosen])
    sizes = np.array([len(one) for one in chosen], dtype=np.int64)
    return Sets(TYPES, pieces, sizes, losses, random.randint(0, 20), random_ties(random, units))


def random_ties(random: Random, units: list[Unit]) -> tuple[Tie, ...]:
    """Ties to some units, by pieces that nobody else needs."""
    users = Counter(piece for unit in units for piece in unit.needs)
    own = {u: frozenset(piece for piece in unit.needs if users[piece] == 1) for u, unit in enumerate(units)}
    return tuple(
        Tie(u, types, float(random.randint(1, 40))) for u, types in own.items() if types and random.random() < 0.6
    )


def random_unit(random: Random) -> Unit:
    needs = Counter(random.choice(TYPES) for _ in range(random.randint(1, 4)))
    return Unit(random.randint(0, 30), random.randint(0, 90), needs)


def random_case(seed: int) -> tuple[list[Sets], list[Unit]]:
    random = Random(seed)
    units = [random_unit(random) for _ in range(random.randint(1, 5))]
    return [random_sets(random, units) for _ in range(random.randint(1, 3))], units


def ways(source: Sets) -> Iterator[tuple[Counter[PieceType], float]]:
    yield Counter(), source.whole
    for row, size, loss in zip(source.pieces, source.sizes, source.losses, strict=True):
        yield Counter(source.types[place] for place in row[:size]), float(loss)


def least_by_hand(sources: list[Sets], units: list[Unit]) -> dict[tuple[int, ...], float]:
    """By the units served: the least that is taken."""
    found: dict[tuple[int, ...], float] = {}
    for served in product((False, True), repeat=len(units)):
        which = tuple(n for n, is_served in enumerate(served) if is_served)
        needs = sum((Counter(units[n].needs) for n in which), Counter[PieceType]())
        of_units = sum(u.served if is_served else u.left_out for u, is_served in zip(units, served, strict=True))
        for chosen in product(*(list(ways(source)) for source in sources)):
            if sum((made for made, _ in chosen), Counter[PieceType]()) == needs:
                taken = of_units + sum(loss for _, loss in chosen)
                for source, (made, _) in zip(sources, chosen, strict=True):
                    taken += sum(t.pence for t in source.ties if t.unit in which and not t.types & made.keys())
                found[which] = min(found.get(which, math.inf), taken)
    return found


@pytest.mark.parametrize("block", range(6))
def test_no_loads_take_less_than_those_found(block: int) -> None:
    several = tied = 0
    for seed in range(50 * block, 50 * block + 50):
        random = Random(-seed)
        sources, units = random_case(seed)
        every = least_by_hand(sources, units)
        purse, most = min(every.values()) + random.choice([0.5, 40.5, 120.5]), random.randint(1, 6)
        least = sorted(taken for taken in every.values() if taken < purse)[:most]
        loads = best_loads(sources, units, purse, PLENTY, most)
        assert loads is not None
        assert [load.taken for load in loads] == pytest.approx(least), seed
        assert all(every[load.units] == pytest.approx(load.taken) for load in loads), seed
        assert len({load.units for load in loads}) == len(loads)
        tied += any(source.ties for source in sources)
        for load in loads:
            made = (list(ways(source))[1 + number] for source, number in zip(sources, load.sets, strict=True))
            needs = sum((Counter(units[unit].needs) for unit in load.units), Counter[PieceType]())
            assert sum((pieces for pieces, _ in made), Counter[PieceType]()) == needs, "the sets it is cut into"
        several += len(loads) > 1
        assert best_loads(sources, units, min(least), PLENTY, most) == [], "none takes less than the least"
    assert several >= 5
    assert tied >= 10


@pytest.mark.parametrize("block", range(3))
def test_of_sources_alike_every_load_is_looked_at_once(block: int) -> None:
    """In fewer steps than where they are stated apart, and none is missed."""
    fewer = several = 0
    for seed in range(1000 + 40 * block, 1040 + 40 * block):
        random = Random(seed)
        units = [random_unit(random) for _ in range(random.randint(2, 4))]
        one, another = random_sets(random, units), random_sets(random, units)
        sources = random.choice([[one] * 3, [one, one, another], [another, one, one]])
        every = least_by_hand(sources, units)
        purse = min(every.values()) + 60.5
        least = sorted(taken for taken in every.values() if taken < purse)[:4]
        loads = best_loads(sources, units, purse, PLENTY, 4)
        assert loads is not None
        assert [load.taken for load in loads] == pytest.approx(least), seed
        assert all(every[load.units] == pytest.approx(load.taken) for load in loads), seed
        apart = [replace(source) for source in sources]
        assert steps_of(sources, units, purse) <= steps_of(apart, units, purse)
        fewer += steps_of(sources, units, purse) < steps_of(apart, units, purse)
        several += len(loads) > 1
    assert fewer >= 10
    assert several >= 5


def steps_of(sources: list[Sets], units: list[Unit], purse: float) -> int:
    """How many steps are enough, found by halves."""
    few, enough = 0, PLENTY
    while enough - few > 1:
        middle = (few + enough) // 2
        few, enough = (middle, enough) if best_loads(sources, units, purse, middle, 4) is None else (few, middle)
    return enough


def test_too_many_steps_are_told() -> None:
    sources, units = random_case(1)
    assert best_loads(sources, units, 1e9, 3, 2) is None
