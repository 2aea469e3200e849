"""Sets of pieces cut from what is bought, against every way to cut every purchase."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import product
from random import Random

import numpy as np
import pytest
from every_way_to_cut import IMPOSSIBLE, ExactCuts, Prices, purchases
from small_problems import GRASS, cut_lengths, job, problem, rolls

from stockplan.cutting.bought_prices import BoughtPrices
from stockplan.cutting.bought_sets import BoughtSets
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.charged_sets import Listed
from stockplan.cutting.grounds import Ground
from stockplan.cutting.instance import PieceType, Source
from stockplan.cutting.kinds import most_needed
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.pricers import GAIN, Pricers
from stockplan.cutting.set_patterns import SetPatterns
from stockplan.domain.request import CostSettings, PlanRequest

Made = frozenset[tuple[PieceType, int]]

PENCE = 4  # leftovers are rounded down one by one
MOST_ROUNDS = 60


def bought_only(seed: int, *, finely: bool = False) -> PlanRequest:
    """A few strips and nothing in the yard; sizes whole half metres, but one roll's where the grid is to be fine."""
    random = Random(seed)
    width, length = 500 * random.randint(4, 8), 500 * random.randint(4, 10)
    strips = [
        f"{500 * random.randint(1, width // 500)}x{500 * random.randint(2, length // 500)}*{random.randint(1, 2)}"
        for _ in range(random.randint(1, 3))
    ]
    supply = [rolls(f"{width}x{length}", random.randint(9_000, 60_000))]
    if seed % 2:
        supply.append(cut_lengths(f"{width}x{length}", random.randint(2_000, 9_000)))
    if finely:
        supply.append(rolls(f"{width}x{length + 10}", 60_000))
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]), random.random() < 0.7)
    return problem([job("J1", " ".join(strips))], (), supply, costs)


def every_set(request: PlanRequest, most: Mapping[PieceType, int]) -> dict[Source, dict[Made, float]]:
    """By purchase whose length is a whole half metre: every set that it holds, and what the best cut of it costs."""
    instance, costs = build_instance(request, GRASS), request.costs
    prices = Prices(costs.crosscut_pence, costs.rip_pence, request.widest_mm(GRASS), costs.leftovers_have_worth)
    found: dict[Source, dict[Made, float]] = {}
    for number, option in enumerate(request.supply):
        if option.length_mm % 500:
            continue
        for ground in purchases(option):
            (source,) = (s for s in instance.sources if s.option == number and s.length_mm == ground.length_mm)
            cuts, found[source] = ExactCuts(ground, prices), {}
            for needs in product(*(range(count + 1) for count in most.values())):
                made = frozenset((t, n) for t, n in zip(most, needs, strict=True) if n)
                pieces = tuple(sorted((t.width_mm, t.length_mm) for t, n in made for _ in range(n)))
                cost = cuts.cost(pieces) if pieces else IMPOSSIBLE
                if cost < IMPOSSIBLE:
                    found[source][made] = float(cost)
    return found


def compare_with_every_set(seed: int, *, finely: bool = False) -> int:
    """Lower prices where a set gains, until none does; returns how many gained."""
    random, request = Random(seed), bought_only(seed, finely=finely)
    instance = build_instance(request, GRASS)
    most = most_needed(instance)
    exact, bought, gained = every_set(request, most), BoughtSets(instance, Pricers(instance)), 0
    prices = {t: random.uniform(0.0, 2.0) * t.width_mm * t.length_mm / 500 for t in most}
    cuts = SetPatterns(instance)
    for _ in range(MOST_ROUNDS):
        found = bought.priced(prices, Budget(math.inf))
        worth = {one.source: one.value for one in found.priced}
        for source, sets in exact.items():
            for made, cost in sets.items():
                paid = sum(prices[t] * n for t, n in made)
                assert source.value_pence - cost + paid <= worth[source] + PENCE, (seed, made)
        for one in found.gaining:
            made = frozenset(one.pieces)
            assert all(n <= most[t] for t, n in made)
            assert sum(prices[t] * n for t, n in made) > one.cost
            pattern = cuts.of(one.source, one.pieces)
            assert pattern is not None
            assert frozenset(pattern.made().items()) == made
            # Of a cut length longer than its pieces need not the best is told: a shorter one costs less.
            assert pattern.cost(instance) - one.cost >= -PENCE, (seed, made)
            assert pattern.cost(instance) - one.cost <= PENCE or not one.source.on_core, (seed, made)
            if one.source in exact:
                assert -PENCE <= one.cost - exact[one.source][made] <= 1, (seed, made)
        gained += len(found.gaining)
        if found.settled:
            assert all(one.value <= one.source.value_pence + GAIN for one in found.priced), seed
            return gained
        assert found.gaining, seed
        for one in found.gaining:
            if paid := sum(prices[t] * n for t, n in one.pieces):
                prices.update({t: prices[t] * max(0.0, min(1.0, one.cost / paid)) for t, _ in one.pieces})
    raise AssertionError(seed)


@pytest.mark.parametrize("block", range(6))
def test_purchases_are_worth_what_the_best_of_all_cuts_of_pieces_needed_is(block: int) -> None:
    assert sum(compare_with_every_set(seed) for seed in range(12 * block, 12 * block + 12)) > 5


@pytest.mark.parametrize("block", range(6))
def test_where_the_grid_is_fine_tables_in_steps_miss_nothing(block: int) -> None:
    assert sum(compare_with_every_set(seed, finely=True) for seed in range(20 * block, 20 * block + 20)) > 5


def test_no_set_repeats_a_piece_that_is_needed_once() -> None:
    """Five times 4 m would fill the roll, where recursions that repeat pieces see no waste."""
    instance = build_instance(problem([job("J1", "4000x5000")], (), [rolls("4000x25000", 100_000)]), GRASS)
    (piece,) = instance.piece_types()
    prices = {piece: 21_000.0}
    assert Pricers(instance).without_gain(prices, Budget(math.inf)).patterns, "five are worth more than the roll"
    bought = BoughtSets(instance, Pricers(instance))
    found = bought.priced(prices, Budget(math.inf))
    assert found.settled
    assert not found.gaining
    cost = 100_000 - 90_000 * 20 // 25  # nine tenths of what is left is worth, less a crosscut
    (one,) = bought.priced({piece: cost + 1_000.0}, Budget(math.inf)).gaining
    assert one.pieces == ((piece, 1),)
    assert one.cost == cost + instance.costs.crosscut_pence


def test_cuts_of_more_pieces_than_a_listing_has_room_for_are_passed_over() -> None:
    """Sixty small strips come off one roll in ruin and recreate; 150 would not fit a byte."""
    instance = build_instance(problem([job("J1", "500x500*150")], (), [rolls("4000x25000", 100_000)]), GRASS)
    (source,), (piece,) = instance.sources, instance.piece_types()
    listed = Listed(Ground(*Pricers(instance).each, most_needed(instance)))

    def cut(count: int) -> Pattern:
        lanes = tuple(LanePattern(500, (piece,)) for _ in range(min(count, 8)))
        return Pattern(source, (DropPattern(500, lanes),) * max(1, count // 8))

    listed.learn([cut(2), cut(48), cut(150)], instance)
    near = listed.near(listed.worth(np.array([100.0]), ()), -math.inf)
    assert near.sizes.tolist() == [2]


def test_sizes_that_the_grid_does_not_carry_are_refused() -> None:
    """A set may then be worth more than it is said to be."""
    instance = build_instance(problem([job("J1", "3999x4321")], (), [rolls("4000x24999", 100_000)]), GRASS)
    with pytest.raises(ValueError, match="does not carry all sizes"):
        BoughtPrices(instance, Pricers(instance), {})
