"""Sets of pieces at their true cost, against every way to cut; and the search over them, against every plan."""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction
from itertools import product
from random import Random

import pytest
from builders import worth_of_item
from every_way_to_cut import IMPOSSIBLE, ExactCuts, Ground, Prices
from small_problems import cut_lengths, item, job, problem, rolls

from stockplan.cutting.building import build_instance
from stockplan.cutting.drop_sets import Lanes, Shelf
from stockplan.cutting.drop_tables import DropTables
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.kinds import Kind, kinds_of
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.set_tables import SetTables
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
    kinds = kinds_of(instance, 30_000)
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
    exact, sets, fitted = every_way(request), SetTables(kind, NEVER_STOP), 0
    types = (*kind.solos, *kind.narrow)
    for needs in product(*(range(kind.most[t] + 1) for t in types)):
        if not any(needs):
            continue
        pieces = tuple(sorted((t.width_mm, t.length_mm) for t, n in zip(types, needs, strict=True) for _ in range(n)))
        least, at = exact.cost(pieces), sets.number_of(0, dict(zip(types, needs, strict=True)))
        found = math.inf if at is None else float(sets.tables[0].costs[at])
        assert (found == math.inf) == (least == IMPOSSIBLE), (seed, needs)
        if at is not None and found < math.inf:
            fitted += 1
            pattern = sets.pattern(0, at)
            assert pattern.cost(instance) == found, (seed, needs, pattern.text())
            assert [pattern.made()[t] for t in types] == list(needs)
            assert dict(sets.pieces(0, at)) == dict(pattern.made())
            assert found <= least + PENCE, (seed, needs, pattern.text(), found, least)
    return fitted


def test_sets_of_pieces_cost_what_the_best_of_all_cuts_costs() -> None:
    assert sum(compare_every_set(seed) for seed in range(60)) > 100


@pytest.mark.slow
def test_sets_of_pieces_cost_what_the_best_of_all_cuts_costs_at_length() -> None:
    assert sum(compare_every_set(seed) for seed in range(60, 460)) > 700


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


def whole(instance: Instance, source: Source, length: int) -> int:
    """What a source costs beside the one drop of this length cut from it."""
    left = source.length_mm - length
    return source.value_pence - (instance.worth(source, source.width_mm, left, tail=True) if left else 0)


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
    kind = next(kind for kind in kinds_of(instance, 30_000) or [] if kind.sources[0] == source)
    tables = DropTables(kind, NEVER_STOP)
    made = Counter(piece for lane in types for piece in lane)
    needs = [made[t] for t in kind.narrow]
    sets = [number for number, row in enumerate(tables.needs.tolist()) if row == needs]
    if sets:  # a lane over the whole width is a solo
        drop = tables.drop(sets[0], length)
        assert tables.cost_at(sets[0], length) == Pattern(source, (drop,)).cost(instance) - whole(
            instance, source, length
        )
        assert Pattern(source, (drop,)).cost(instance) <= cost(widths)


def test_what_a_tail_is_worth_is_asked_once_for_all_lengths_that_are_sold(monkeypatch: pytest.MonkeyPatch) -> None:
    """Something measured to the millimetre makes the step one, and of 30 m in steps of 0.1 m there are 291 lengths."""
    asked: Counter[int] = Counter()
    tail = Shelf.tail

    def counted(self: Shelf, length_mm: int) -> int:
        asked[length_mm] += 1
        return tail(self, length_mm)

    request = problem([job("J1", "4000x5921")], [item("T1", "1279x8666")], [cut_lengths("4000x30000", 6000)])
    kinds = kinds_of(build_instance(request, "G30"), 30_000)
    assert kinds is not None
    (kind,) = (kind for kind in kinds if kind.sources[0].copies is None)
    monkeypatch.setattr(Shelf, "tail", counted)
    (lengths,) = kind.lengths
    assert (kind.step, len(lengths.sources)) == (1, 291)
    assert sum(asked.values()) < 2 * 30_000
    for used in (1, 5921, 5999, 6000, 29_999, 30_000):
        holding = [one for one in lengths.sources if one.length_mm >= used]
        costs = [one.value_pence - tail(kind.shelf, one.length_mm - used) for one in holding]
        assert lengths.opening[used] == min(costs)
        assert lengths.sources[lengths.which[used]] is holding[costs.index(min(costs))]
