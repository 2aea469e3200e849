"""Sets of pieces listed by their worth: against every way to cut, and against tables of all sets there are."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest
from small_problems import GRASS, item, job, problem, rolls
from test_brute_force_layouts import layout
from test_piece_sets import every_way, kind_of_stock, one_source

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
from stockplan.domain.layout import Layout
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import StockForm

PLENTY = Effort(drops=100_000, sets=200_000, drop_steps=100_000_000, set_steps=400_000_000)
EVERYTHING = -1e9  # pence
WITHIN = 2_000.0  # pence
PENCE = 4  # leftovers are rounded down one by one; every_way_to_cut keeps to steps of half a metre


def grounds_of(instance: Instance, step: int = 1) -> list[Ground]:
    """Every class of stock, with tables in steps of so many points, or as many as the shortest piece has."""
    most = most_needed(instance)
    pricers = [one for one in Pricers(instance, apart=True).each if one.sources[0].copies is not None and one.types]
    shortest = [min(pricer.along.piece(t.length_mm) for t in pricer.types) for pricer in pricers]
    return [Ground(one, most, step=min(step, points)) for one, points in zip(pricers, shortest, strict=True)]


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
    assert sum(compare_every_set(one_source(seed), seed) for seed in range(25 * block, 25 * block + 25)) > 25


def test_so_is_every_set_of_an_offcut_twice_as_wide_as_full_width() -> None:
    """Two leftovers side by side may then count as full width: no one lane takes what the others leave."""
    assert sum(compare_every_set(wide_source(seed), seed) for seed in range(20)) > 25


def wide_source(seed: int) -> PlanRequest:
    random = Random(seed)
    width, length = 500 * random.randint(8, 10), 500 * random.randint(4, 12)
    sizes = [
        f"{500 * random.randint(1, 4)}x{500 * random.randint(2, length // 500)}" for _ in range(random.randint(1, 2))
    ]
    stock = [item("T1", f"{width}x{length}", form=StockForm.OFFCUT.value, pence=random.choice([1000, 2500]))]
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    return problem([job("J1", " ".join(sizes))], stock, [rolls("2040x7000", 30_000)], costs)  # full width from 2 m on


@pytest.mark.parametrize("block", range(4))
def test_lanes_as_wide_as_their_pieces_call_for_are_enough(block: int) -> None:
    """Sizes in steps of 50 mm, so that slivers and ends come just to half a metre by padding two lanes or three.

    Against tables of all sets, which are worked out without recursions or a grid.
    """
    compared = padded = 0
    for seed in range(40 * block, 40 * block + 40):
        instance, kind = kind_of_stock(narrow_pieces(seed))
        if kind is None:  # all pieces together take more than there is
            continue
        table, (ground,) = SetTables(kind, lambda: False), grounds_of(instance, step=seed % 2 + 1)
        expected = {
            tuple(sorted(table.pieces(0, n), key=str)): float(cost) for n, cost in enumerate(table.tables[0].costs)
        }
        sets = listed(ground, dict.fromkeys(ground.types, 0.0), EVERYTHING)
        assert sets.keys() == expected.keys() - {()}, seed
        assert all(-PENCE <= sets[one] - expected[one] <= 0.1 for one in sets), seed
        compared += len(sets)
        padded += any(t.width_mm < 500 for t in ground.types)
    assert compared > 400
    assert padded > 20


def narrow_pieces(seed: int) -> PlanRequest:
    """One stock item and one job of three to five pieces, most of them narrow, of sizes that go together oddly."""
    random = Random(seed)
    width, length = 50 * random.randint(24, 50), 50 * random.randint(50, 90)
    sizes = [
        f"{50 * random.randint(3, 14)}x{50 * random.randint(10, length // 50)}" for _ in range(random.randint(3, 5))
    ]
    stock = [item("T1", f"{width}x{length}", form=StockForm.OFFCUT.value, pence=random.choice([1000, 2500]))]
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    return problem([job("J1", " ".join(sizes))], stock, [rolls("4000x7000", 30_000)], costs)


def compare_every_set(request: PlanRequest, seed: int) -> int:
    """Compare every set of the pieces; returns how many sets fit."""
    random, fitted = Random(seed), 0
    exact = every_way(request)
    for ground in grounds_of(build_instance(request, GRASS), step=seed % 3 + 1):
        prices = {
            t: random.choice([0.0, random.uniform(0.5, 1.5)]) * t.width_mm * t.length_mm / 1000 for t in ground.types
        }
        sets = listed(ground, prices, EVERYTHING)
        for needs in product(*(range(int(count) + 1) for count in ground.most)):
            made = {t: n for t, n in zip(ground.types, needs, strict=True) if n}
            if not made:
                continue
            cost = sets.get(tuple(sorted(made.items(), key=str)), math.inf)
            least = exact.cost(tuple(sorted((t.width_mm, t.length_mm) for t, n in made.items() for _ in range(n))))
            assert (cost == math.inf) == (least == math.inf), (seed, made)
            if cost < math.inf:
                fitted += 1
                assert -PENCE <= cost - float(least) <= 0.1, (seed, made)
    return fitted


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


@pytest.mark.parametrize("seed", [2, 5])
def test_tables_in_steps_lead_to_the_same_sets(seed: int) -> None:
    """On weeks of 30 jobs with sizes of 10 mm, at prices of grass a little dearer than what it costs."""
    request = week("M", seed)
    instance = build_instance(request, request.products[0].code)
    random, compared = Random(seed), 0
    for exact, coarse in zip(grounds_of(instance), grounds_of(instance, step=5), strict=True):
        cost = exact.source.unit_cost.pence / exact.source.unit_cost.area_mm2
        prices = {t: random.uniform(0.7, 1.3) * cost * t.width_mm * t.length_mm for t in exact.types}
        fine = NearSets(exact, prices)
        most = NearSets(coarse, prices).most
        assert fine.most - 0.1 <= most
        sets = listed(exact, prices, fine.most - 2_000)
        assert listed(coarse, prices, fine.most - 2_000) == pytest.approx(sets, abs=0.1)
        compared += len(sets)
    assert compared > 200


@pytest.mark.parametrize("block", range(4))
def test_no_set_is_listed_with_pieces_of_two_layouts_of_a_job(block: int) -> None:
    """And every other one is, at the least it costs, by going through every way to cut; tables promise no less."""
    listed_sets = mixed_sets = 0
    for seed in range(12 * block, 12 * block + 12):
        request, random = two_lawns(seed), Random(seed)
        exact, alone = every_way(request), build_instance(request, GRASS)
        for ground in grounds_of(alone, step=seed % 3 + 1):
            prices = {t: random.uniform(0.0, 1.5) * t.width_mm * t.length_mm / 1000 for t in ground.types}
            sets, most = listed(ground, prices, EVERYTHING), -math.inf
            for needs in product(*(range(int(count) + 1) for count in ground.most)):
                made = {t: n for t, n in zip(ground.types, needs, strict=True) if n}
                cost = exact.cost(tuple(sorted((t.width_mm, t.length_mm) for t, n in made.items() for _ in range(n))))
                if not made or cost == math.inf:
                    continue
                found = sets.get(tuple(sorted(made.items(), key=str)))
                (one_way,) = ground.laid_one_way(np.array([needs], dtype=np.int8))
                if fits_one_layout_each(alone, made):
                    assert one_way, (seed, made)
                    assert found is not None, (seed, made)
                    assert -PENCE <= found - float(cost) <= 0.1, (seed, made)
                    most = max(most, ground.source.value_pence - found + sum(prices[t] * n for t, n in made.items()))
                    listed_sets += 1
                elif all(users_of(alone, t) == 1 for t in made):
                    assert not one_way, (seed, made)
                    mixed_sets += 1
            assert NearSets(ground, prices).most >= most - 0.1
            least = most - random.uniform(0.0, 5_000.0)
            near = listed(ground, prices, least)
            worth_enough = {
                one
                for one, cost in sets.items()
                if ground.source.value_pence - cost + sum(prices[t] * n for t, n in one) >= least + 0.1
            }
            assert all(near[one] == sets[one] for one in worth_enough), seed
    assert listed_sets > 100
    assert mixed_sets > 50


def two_lawns(seed: int) -> PlanRequest:
    """One stock item and two jobs with two layouts or three of one piece or two, sizes whole half metres."""
    random = Random(seed)
    width, length = 500 * random.randint(4, 8), 500 * random.randint(6, 12)

    def ways() -> tuple[Layout, ...]:
        return tuple(
            layout(
                number,
                " ".join(
                    f"{500 * random.randint(1, width // 500)}x{500 * random.randint(2, length // 1000)}"
                    for _ in range(random.randint(1, 2))
                ),
                0,
            )
            for number in range(1, random.randint(3, 4))
        )

    jobs = [replace(job(name, "500x500"), strips=(), layouts=ways()) for name in ("J1", "J2")]
    stock = [item("T1", f"{width}x{length}", form=random.choice(["offcut", "part_roll"]), pence=1000)]
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    return problem(jobs, stock, [rolls("4000x7000", 30_000)], costs)


def users_of(instance: Instance, piece: PieceType) -> int:
    """How many jobs have a layout that needs a piece."""
    return sum(any(piece in demand for demand in group.demands.values()) for group in instance.groups)


def fits_one_layout_each(instance: Instance, made: dict[PieceType, int]) -> bool:
    """Whether the jobs, each laid one way, need all these pieces."""
    nothing = Counter[PieceType]()
    ways = [[nothing, *(Counter(d) for h, d in g.demands.items() if h.batch == 0)] for g in instance.groups]
    return any(Counter(made) <= sum(chosen, nothing) for chosen in product(*ways))


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
