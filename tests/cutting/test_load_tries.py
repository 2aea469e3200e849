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
from stockplan.cutting.load_tries import Sets, Tie, Unit, Way, best_loads

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
    needed = [{piece for way in unit.ways for piece in way.needs} for unit in units]
    users = Counter(piece for pieces in needed for piece in pieces)
    own = {u: frozenset(piece for piece in pieces if users[piece] == 1) for u, pieces in enumerate(needed)}
    return tuple(
        Tie(u, types, float(random.randint(1, 40))) for u, types in own.items() if types and random.random() < 0.6
    )


def random_unit(random: Random) -> Unit:
    def needs() -> Counter[PieceType]:
        return Counter(random.choice(TYPES) for _ in range(random.randint(1, 4)))

    ways = (Way(random.randint(0, 30), needs()) for _ in range(random.choice((1, 1, 2, 3))))
    return Unit(random.randint(0, 90), tuple(ways))


def random_case(seed: int) -> tuple[list[Sets], list[Unit]]:
    random = Random(seed)
    units = [random_unit(random) for _ in range(random.randint(1, 4))]
    return [random_sets(random, units) for _ in range(random.randint(1, 3))], units


def ways(source: Sets) -> Iterator[tuple[Counter[PieceType], float]]:
    yield Counter(), source.whole
    for row, size, loss in zip(source.pieces, source.sizes, source.losses, strict=True):
        yield Counter(source.types[place] for place in row[:size]), float(loss)


def least_by_hand(sources: list[Sets], units: list[Unit]) -> dict[tuple[tuple[int, int], ...], float]:
    """By the units served and the way of each: the least that is taken."""
    found: dict[tuple[tuple[int, int], ...], float] = {}
    for chosen_ways in product(*([None, *range(len(unit.ways))] for unit in units)):
        which = {n: units[n].ways[way] for n, way in enumerate(chosen_ways) if way is not None}
        served = tuple((n, way) for n, way in enumerate(chosen_ways) if way is not None)
        needs = sum((Counter(way.needs) for way in which.values()), Counter[PieceType]())
        of_units = sum(which[n].taken if n in which else unit.left_out for n, unit in enumerate(units))
        for chosen in product(*(list(ways(source)) for source in sources)):
            if sum((made for made, _ in chosen), Counter[PieceType]()) == needs:
                taken = of_units + sum(loss for _, loss in chosen)
                for source, (made, _) in zip(sources, chosen, strict=True):
                    taken += sum(
                        tie.pence
                        for tie in source.ties
                        if tie.unit in which
                        and (own := tie.types & which[tie.unit].needs.keys())
                        and not own & made.keys()
                    )
                found[served] = min(found.get(served, math.inf), taken)
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
        assert all(every[load.served] == pytest.approx(load.taken) for load in loads), seed
        assert len({load.served for load in loads}) == len(loads)
        tied += any(source.ties for source in sources)
        for load in loads:
            made = (list(ways(source))[1 + number] for source, number in zip(sources, load.sets, strict=True))
            needs = sum((Counter(units[unit].ways[way].needs) for unit, way in load.served), Counter[PieceType]())
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
        assert all(every[load.served] == pytest.approx(load.taken) for load in loads), seed
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
