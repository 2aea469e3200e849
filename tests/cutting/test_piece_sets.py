"""Sets of pieces at their true cost, against every way to cut; and the search over them, against every plan."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from random import Random

import numpy as np
import pytest
from builders import worth_of_item
from every_way_to_cut import IMPOSSIBLE, ExactCuts, Ground, Prices
from small_problems import item, job, problem, rolls

from stockplan.cutting.drop_sets import Lanes, Shelf
from stockplan.cutting.instance import Instance, PieceType, build_instance
from stockplan.cutting.kinds import Kind, kinds_of
from stockplan.cutting.knapsack import Choices, Knapsack
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.piece_sets import PieceSets
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import StockForm

PENCE = 4  # leftovers are rounded down one by one; every_way_to_cut keeps to steps of half a metre
NEVER_STOP = lambda: False  # noqa: E731


def one_source(seed: int) -> PlanRequest:
    """One stock item and one job of up to four pieces that each fit on it, sizes whole half metres."""
    random = Random(seed)
    width, length = 500 * random.randint(3, 8), 500 * random.randint(4, 14)
    form = random.choice([StockForm.OFFCUT, StockForm.PART_ROLL])
    stock = [item("T1", f"{width}x{length}", form=form.value, pence=random.choice([0, 700, 1000, 1010]))]
    sizes = [
        f"{500 * random.randint(1, width // 500)}x{500 * random.randint(2, length // 500)}"
        for _ in range(random.randint(1, 4))
    ]
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]), random.random() < 0.7)
    return problem([job("J1", " ".join(sizes))], stock, [rolls("4000x7000", 30_000)], costs)


def kind_of_stock(request: PlanRequest) -> tuple[Instance, Kind | None]:
    instance = build_instance(request, "G30")
    kinds = kinds_of(instance, 100_000, 30_000, NEVER_STOP)
    assert kinds is not None
    return instance, next((kind for kind in kinds if kind.sources[0].copies is not None), None)


def every_way(request: PlanRequest) -> ExactCuts:
    held, costs = request.stock[0], request.costs
    value, on_core = worth_of_item(request, held), held.form is not StockForm.OFFCUT
    ground = Ground(held.width_mm, held.length_mm, value, Fraction(held.cost_pence_per_m2), on_core)
    return ExactCuts(
        ground, Prices(costs.crosscut_pence, costs.rip_pence, request.widest_mm("G30"), costs.leftovers_have_worth)
    )


def compare_every_set(seed: int) -> int:
    """Compare every set of the pieces; returns how many sets fit."""
    request = one_source(seed)
    instance, kind = kind_of_stock(request)
    if kind is None:
        return 0
    exact, sets, fitted = every_way(request), PieceSets(kind), 0
    types = (*kind.solos, *kind.narrow)
    for needs in product(*(range(kind.most[t] + 1) for t in types)):
        if not any(needs):
            continue
        pieces = tuple(sorted((t.width_mm, t.length_mm) for t, n in zip(types, needs, strict=True) for _ in range(n)))
        least, found = exact.cost(pieces), sets.cheapest(needs, kind.lengths[0])
        assert (found is None) == (least == IMPOSSIBLE), (seed, needs)
        if found is not None:
            fitted += 1
            pattern = sets.pattern(needs, found)
            assert pattern.cost(instance) == found.cost, (seed, needs, pattern.text())
            assert [pattern.made()[t] for t in types] == list(needs)
            assert found.cost <= least + PENCE, (seed, needs, pattern.text(), found.cost, least)
    return fitted


def test_sets_of_pieces_cost_what_the_best_of_all_cuts_costs() -> None:
    assert sum(compare_every_set(seed) for seed in range(60)) > 100


@pytest.mark.slow
def test_sets_of_pieces_cost_what_the_best_of_all_cuts_costs_at_length() -> None:
    assert sum(compare_every_set(seed) for seed in range(60, 460)) > 700


def test_no_set_is_worth_more_than_the_knapsack_says_and_all_good_ones_are_listed() -> None:
    listed = 0
    for seed in range(40):
        _, kind = kind_of_stock(one_source(seed))
        if kind is None:
            continue
        random = Random(seed)
        types = (*kind.solos, *kind.narrow)
        prices = np.array([t.width_mm * t.length_mm / 1_000_000 * random.uniform(300, 1200) for t in types])
        sack, sets = Knapsack(kind, Choices.of(kind)), PieceSets(kind)
        sack.fill(prices)
        reduced = {}
        for needs in product(*(range(kind.most[t] + 1) for t in types)):
            found = sets.cheapest(needs, kind.lengths[0]) if any(needs) else None
            if found is not None:
                reduced[needs] = found.cost - float(np.dot(needs, prices))
        least = sack.least(kind.lengths[0])
        assert least <= min(0.0, min(reduced.values(), default=0.0)) + 1e-6
        most = sorted(reduced.values())[len(reduced) // 2] if reduced else 0.0
        assert not sack.fill(prices, max(0.0, most - least), most_cells=1)
        assert sack.fill(prices, max(0.0, most - least) + 1e-6)
        assert sack.least(kind.lengths[0]) == pytest.approx(least)
        good = set(sack.good(kind.lengths[0], most, 10_000))
        missing = [needs for needs, value in reduced.items() if value <= most - 1e-6 and needs not in good]
        assert not missing, (seed, missing)
        listed += len(good)
    assert listed > 40


def drop_of_two_lanes(random: Random) -> tuple[PlanRequest, tuple[tuple[tuple[int, int], ...], ...], int]:
    """A source, pieces in two lanes, and a drop some way longer than they are; sizes whole tenths of a metre."""
    width = 100 * random.randint(25, 40)
    lanes, left = [], width
    for number in range(2):
        across = 100 * random.randint(5, max(5, left // 100 - 5 * (2 - number)))
        along = [100 * random.randint(8, 25) for _ in range(random.randint(1, 2))]
        narrower = [max(300, across - 100 * random.randint(0, 9)) for _ in along]
        lanes.append(tuple(zip([across, *narrower[1:]], along, strict=True)))
        left -= across
    length = max(sum(piece[1] for piece in lane) for lane in lanes) + 100 * random.choice((0, 0, 0, 3, 12))
    form = random.choice((StockForm.OFFCUT, StockForm.PART_ROLL))
    stock = [item("T1", f"{width}x{length + 3000}", form=form.value, pence=random.choice((700, 1010, 2000)))]
    jobs = [job("J1", " ".join(f"{w}x{h}" for lane in lanes for w, h in lane))]
    return problem(jobs, stock, [rolls("4000x25000", 90_000)]), tuple(lanes), length


@pytest.mark.parametrize("seed", range(450))
def test_lanes_are_made_wider_wherever_that_pays(seed: int) -> None:
    """Against every width of either lane in steps of 0.1 m, by the cost of the whole pattern."""
    request, laid, length = drop_of_two_lanes(Random(seed))
    instance = build_instance(request, "G30")
    source = next(s for s in instance.sources if s.copies is not None)
    types = [tuple(PieceType(source.batch, w, h) for w, h in lane) for lane in laid]
    narrow = [max(t.width_mm for t in lane) for lane in types]

    def cost(widths: tuple[int, ...]) -> int:
        lanes = tuple(LanePattern(width, pieces) for width, pieces in zip(widths, types, strict=True))
        return Pattern(source, (DropPattern(length, lanes),)).cost(instance)

    lanes = Lanes(tuple(narrow), tuple(sum(t.length_mm for t in lane) for lane in types), tuple(types))
    _, widths = Shelf(instance, source).best(lanes, length)
    every = product(*(range(least, source.width_mm + 1, 100) for least in narrow))
    least = min(cost(way) for way in every if sum(way) <= source.width_mm)
    assert sum(widths) <= source.width_mm
    assert cost(widths) <= least + PENCE
