"""Sets of pieces listed by their worth: against every way to cut, and against tables of all sets there are."""

from __future__ import annotations

import math
from collections import Counter
from itertools import product
from random import Random

import pytest
from small_problems import GRASS
from test_piece_sets import every_way, one_source

from stockplan.bench.weeks import week
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.exact import Exact
from stockplan.cutting.grounds import Ground
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.kinds import kinds_of, most_needed
from stockplan.cutting.near_sets import Effort, NearSets
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.set_tables import SetTables

PLENTY = Effort(drops=100_000, sets=200_000, drop_steps=100_000_000, set_steps=400_000_000)
EVERYTHING = -1e9  # pence
WITHIN = 2_000.0  # pence
PENCE = 4  # leftovers are rounded down one by one; every_way_to_cut keeps to steps of half a metre


def grounds_of(instance: Instance) -> list[Ground]:
    most = most_needed(instance)
    pricers = Pricers(instance, apart=True).each
    return [Ground(pricer, most) for pricer in pricers if pricer.sources[0].copies is not None]


def listed(
    ground: Ground, prices: dict[PieceType, float], least: float
) -> dict[tuple[tuple[PieceType, int], ...], float]:
    """By set: what it costs."""
    found = NearSets(ground, prices).worth(least, PLENTY)
    assert found is not None
    sets = {}
    for pieces, size, value in zip(found.pieces, found.sizes, found.values, strict=True):
        made = Counter(ground.types[place] for place in pieces[:size])
        paid = sum(prices[t] * n for t, n in made.items())
        sets[tuple(sorted(made.items(), key=str))] = ground.source.value_pence - float(value) + paid
    assert len(sets) == len(found.sizes), "each set once"
    return sets


@pytest.mark.parametrize("block", range(8))
def test_every_set_that_a_source_holds_is_listed_at_the_least_it_costs(block: int) -> None:
    """All there are, since nothing is too little; the least by going through every way to cut."""
    fitted = 0
    for seed in range(25 * block, 25 * block + 25):
        request, random = one_source(seed), Random(seed)
        instance, exact = build_instance(request, GRASS), every_way(one_source(seed))
        for ground in grounds_of(instance):
            prices = {t: random.uniform(0.5, 1.5) * t.width_mm * t.length_mm / 1000 for t in ground.types}
            sets = listed(ground, prices, EVERYTHING)
            most = [int(count) for count in ground.most]
            for needs in product(*(range(count + 1) for count in most)):
                made = {t: n for t, n in zip(ground.types, needs, strict=True) if n}
                pieces = tuple(sorted((t.width_mm, t.length_mm) for t, n in made.items() for _ in range(n)))
                cost = sets.get(tuple(sorted(made.items(), key=str)), math.inf)
                if not made:
                    continue
                least = exact.cost(pieces)
                assert (cost == math.inf) == (least == math.inf), (seed, pieces)
                if cost < math.inf:
                    fitted += 1
                    assert -PENCE <= cost - float(least) <= 0.1, (seed, pieces)
    assert fitted > 25


@pytest.mark.parametrize("seed", range(2))
def test_on_a_week_of_eight_jobs_what_is_near_is_as_in_tables_of_all_sets(seed: int) -> None:
    """At prices of the relaxation over sets, where patterns that repeat pieces would seem worth far more."""
    instance = build_instance(week("S", seed), week("S", seed).products[0].code)
    kinds = kinds_of(instance, 30_000)
    assert kinds is not None
    tables = [SetTables(kind, lambda: False) for kind in kinds]
    exact = Exact(instance, tables, ())
    exact.relax(Budget(math.inf), lambda _: None)
    prices = dict(exact.prices or {})
    compared = 0
    for ground in grounds_of(instance):
        for table in tables:
            for c, lengths in enumerate(table.kind.lengths):
                if ground.source not in lengths.sources:
                    continue
                solos, narrow = table.worth(prices)
                held = table.tables[c]
                reduced = held.costs - solos[held.rows] - narrow[held.columns]
                most = float(reduced.min()) + WITHIN
                expected = {
                    tuple(sorted(table.pieces(c, n), key=str)): float(held.costs[n])
                    for n in range(len(reduced))
                    if reduced[n] <= most
                }
                sets = listed(ground, {t: prices.get(t, 0.0) for t in ground.types}, ground.source.value_pence - most)
                assert sets.keys() == expected.keys()
                assert all(abs(sets[one] - cost) < 0.1 for one, cost in expected.items())
                compared += len(expected)
    assert compared > 50


def test_a_listing_that_is_too_much_is_none() -> None:
    (ground,) = grounds_of(build_instance(one_source(7), GRASS))[:1]
    near = NearSets(ground, dict.fromkeys(ground.types, 1000.0))
    for effort in (
        Effort(0, 9, 10**6, 10**6),
        Effort(9, 0, 10**6, 10**6),
        Effort(9, 9, 0, 10**6),
        Effort(9, 9, 10**6, 0),
    ):
        assert near.worth(EVERYTHING, effort) is None
    assert near.worth(near.most + 1, Effort(0, 0, 0, 0)) is not None, "there is nothing to list"
