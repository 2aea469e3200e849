"""The pricing recursions against published values, against every way to cut, and on grids that do not fit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from fractions import Fraction
from random import Random

import pytest
from every_way_to_cut import Ground as TryGround
from every_way_to_cut import MostValuable, Prices, Size
from small_problems import BOUGHT_ONLY, GRASS, cut_lengths, item, job, problem, rolls, sound_plan

from stockplan.cutting import pricing
from stockplan.cutting.building import build_instance
from stockplan.cutting.grid import Grid
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.worths import tail_worth
from stockplan.domain.jobs import BatchRule
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import StockForm, StockItem

PENNIES = 1.0
UNIT = 500  # mm to one unit of the published sheets


def instance_of(held: StockItem, sizes: Iterable[Size], costs: CostSettings, full_mm: int = 4000) -> Instance:
    """A stock item, a job of any batch that wants each size once, and a roll of full width in a batch of its own."""
    far = item("far", f"{full_mm}x{held.length_mm}", batch="far", form="part_roll")
    wanted = job("J1", " ".join(f"{width}x{length}" for width, length in sizes), rule=BatchRule.ANY)
    return build_instance(problem([wanted], [held, far], (), costs), GRASS)


def only_pricer(instance: Instance) -> Pricer:
    (pricer,) = [p for p in Pricers(instance).each if p.sources[0].tags != ("far",)]
    return pricer


def prices_of(pricer: Pricer, pence: Mapping[Size, float]) -> dict[PieceType, float]:
    return {t: float(pence[t.width_mm, t.length_mm]) for t in pricer.types}


def value_from_text(text: str, pence: Mapping[Size, float], width_mm: int, length_mm: int) -> float:
    """Value of a pattern read from its one line, each piece the dearest size of its length that fits its lane.

    Also sees to it that drops fit the source, lanes the width and pieces their drop.
    """
    drops, _, tail = text.partition(" tail ")
    total, along = 0.0, int(tail or 0)
    for drop in drops.split():
        length, _, lanes = drop.rstrip("]").partition("[")
        along += int(length)
        across = 0
        for lane in lanes.split("|"):
            width, _, pieces = lane.partition(":")
            across += int(width)
            lengths = [int(piece) for piece in pieces.split("+")]
            assert sum(lengths) <= int(length)
            total += sum(max(p for (w, n), p in pence.items() if n == one and w <= int(width)) for one in lengths)
        assert across <= width_mm
    assert along == length_mm
    return total


# --- published --------------------------------------------------------------------------------------------------------

# Christofides and Whitlock, "An algorithm for two-dimensional cutting problems", Operations Research 25 (1977): sheet
# 15 × 10, pieces w × h with a value and a most; the optimum 244 is reached in three stages.
WHITLOCK = {
    (8, 4): (66, 2),
    (3, 7): (35, 1),
    (8, 2): (24, 3),
    (3, 4): (17, 5),
    (3, 3): (11, 2),
    (3, 2): (8, 2),
    (2, 1): (2, 1),
}
WHITLOCK_OPTIMUM = 244


@pytest.fixture(params=["as printed", "sheet and pieces on their side"])
def whitlock(request: pytest.FixtureRequest) -> tuple[Pricer, dict[Size, float], Size]:
    """The sheet as an offcut 15 units across and 10 along, or the other way about."""
    aside = request.param != "as printed"
    sheet = (10 * UNIT, 15 * UNIT) if aside else (15 * UNIT, 10 * UNIT)
    pence = {}
    for (across, along), (value, _) in WHITLOCK.items():
        pence[(along * UNIT, across * UNIT) if aside else (across * UNIT, along * UNIT)] = float(value)
    instance = instance_of(item("C1", f"{sheet[0]}x{sheet[1]}"), pence, BOUGHT_ONLY)
    return only_pricer(instance), pence, sheet


def test_christofides_and_whitlock_without_a_most_is_worth_at_least_their_optimum(
    whitlock: tuple[Pricer, dict[Size, float], Size],
) -> None:
    pricer, pence, sheet = whitlock
    (priced,) = pricer.price(prices_of(pricer, pence))
    assert priced.value >= WHITLOCK_OPTIMUM
    # No more than the sheet holds of the piece that is worth most for its area, 35 on 3 × 7 against 66 on 8 × 4.
    dearest = max(Fraction(value, w * h) for (w, h), (value, _) in WHITLOCK.items())
    assert priced.value <= 150 * dearest
    text = pricer.pattern(priced.source).text()
    assert value_from_text(text, pence, *sheet) == pytest.approx(priced.value)


def test_christofides_and_whitlock_without_a_most_by_every_way_to_cut(
    whitlock: tuple[Pricer, dict[Size, float], Size],
) -> None:
    pricer, pence, sheet = whitlock
    (priced,) = pricer.price(prices_of(pricer, pence))
    ground = TryGround(*sheet, 0, Fraction(0), False)
    assert priced.value == pytest.approx(MostValuable(ground, Prices(0, 0, sheet[0], False), pence).value())


def becker(wanted: str) -> PlanRequest:
    """Sheets of 12 × 12 units of 250 mm, bought whole at 1.00."""
    sizes = []
    for text in wanted.split():
        size, _, count = text.partition("*")
        across, _, along = size.partition("x")
        sizes.append(f"{250 * int(across)}x{250 * int(along)}*{count or 1}")
    return problem([job("J1", " ".join(sizes))], (), [rolls("3000x3000", 100)], BOUGHT_ONLY)


#   +---+---+---+   +------+----+   +------+----+      greedy: the first sheet full, and four in all
#   | 4 | 4 | 4 |   |  7   | // |   |  7   | // |  ...
#   +---+---+---+   +------+----+   +------+----+
#
#   +------+---+-+  +------+---+-+  +-------+---+
#   |  7   | 4 |/|  |  7   | 4 |/|  | 8 × 6 | 4 |      three
#   |      |   |/|  |      |   |/|  +-------+   |
#   +------+---+-+  +------+---+-+  +-------+---+
def test_becker_three_sheets_where_filling_one_after_another_takes_four() -> None:
    # Becker's thesis: sheets of 12 × 12, pieces 4 × 12 (3), 7 × 12 (2) and 8 × 6 (1).
    (planned,) = sound_plan(becker("4x12*3 7x12*2 8x6")).products
    assert len(planned.orders) == 3
    assert planned.lower_bound_pence <= 300


# --- every way to cut -------------------------------------------------------------------------------------------------


def random_source(random: Random) -> StockItem:
    form = random.choice(list(StockForm))
    width = random.choice([2000, 4000]) if form is not StockForm.OFFCUT else 500 * random.randint(1, 8)
    return item("C1", f"{width}x{500 * random.randint(2, 12)}", form=form.value, pence=random.randint(0, 1500))


def random_case(seed: int) -> tuple[StockItem, dict[Size, float], CostSettings]:
    random = Random(seed)
    held = random_source(random)
    sizes = {
        (500 * random.randint(1, held.width_mm // 500), 500 * random.randint(1, held.length_mm // 500))
        for _ in range(random.randint(1, 4))
    }
    per_mm2 = held.cost_pence_per_m2 / 1e6
    pence = {
        size: float(round(size[0] * size[1] * per_mm2 * random.uniform(0, 2) + random.choice([0, 0, 500])))
        for size in sorted(sizes)
    }
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]), random.random() < 0.8)
    return held, pence, costs


def most_valuable(held: StockItem, pence: Mapping[Size, float], costs: CostSettings) -> float:
    on_core = held.form is not StockForm.OFFCUT
    ground = TryGround(held.width_mm, held.length_mm, 0, Fraction(held.cost_pence_per_m2), on_core)
    prices = Prices(costs.crosscut_pence, costs.rip_pence, 4000, costs.leftovers_have_worth)
    wanted = {size: price for size, price in pence.items() if price > 0}
    return MostValuable(ground, prices, wanted).value()


def claimed(pattern: Pattern, instance: Instance, pence: Mapping[Size, float]) -> float:
    """What a pattern is worth by its pieces and its cost, counted anew."""
    pieces = sum(pence[t.width_mm, t.length_mm] * count for t, count in pattern.made().items())
    return pieces + pattern.source.value_pence - pattern.cost(instance)


def agrees_with_every_way(seed: int) -> None:
    held, pence, costs = random_case(seed)
    instance = instance_of(held, pence, costs)
    pricer = only_pricer(instance)
    expected = most_valuable(held, pence, costs)
    priced = pricer.price(prices_of(pricer, pence))
    if not priced:
        assert expected == float("-inf"), seed
        return
    assert priced[0].value == pytest.approx(expected, abs=PENNIES), seed
    pattern = pricer.pattern(priced[0].source)
    assert claimed(pattern, instance, pence) == pytest.approx(priced[0].value, abs=PENNIES), seed
    assert value_from_text(pattern.text(), pence, held.width_mm, held.length_mm) >= 0.0


@pytest.mark.parametrize("block", range(10))
def test_pricing_finds_the_best_of_every_way_to_cut(block: int) -> None:
    for seed in range(30 * block, 30 * block + 30):
        agrees_with_every_way(seed)


@pytest.mark.slow
def test_pricing_finds_the_best_of_every_way_to_cut_many_times() -> None:
    for seed in range(1000, 2500):
        agrees_with_every_way(seed)


# --- grids that do not fit --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("along_mm", "across_mm"), [(300, 500), (500, 300), (300, 450), (70, 90)])
def test_where_sizes_lie_off_the_grid_no_pattern_is_worth_more(along_mm: int, across_mm: int) -> None:
    """Sizes are multiples of half a metre; a grid counts as exact along an axis only if it carries all of them."""
    for seed in range(60):
        held, pence, costs = random_case(seed)
        instance = instance_of(held, pence, costs)
        exact = only_pricer(instance)
        expected = most_valuable(held, pence, costs)
        along, across = Grid(along_mm, 500 % along_mm == 0), Grid(across_mm, 500 % across_mm == 0)
        pricer = Pricer(instance, exact.sources, instance.piece_types(), along, across)
        priced = pricer.price(prices_of(pricer, pence))
        value = priced[0].value if priced else float("-inf")
        assert value >= expected - PENNIES, seed


#   0        1.85  2.25        3.55
#   +----------+---+------------+ 0      2.25 × 1.5 m at the end of the left lane is worth more than 1.85 × 1.5 m,
#   |   t 2    | / |            |        and 0.4 m beside the lanes is worth nothing
#   +----------+---+    t 1     | 3.5
#   |     left     +------------+ 4.8
#   +--------------+------------+ 5
@pytest.mark.parametrize(("along_mm", "across_mm"), [(100, 30), (100, 70), (70, 30), (100, 20), (70, 100), (30, 20)])
def test_no_lane_width_escapes_the_recursion_on_a_grid_that_does_not_carry_it(along_mm: int, across_mm: int) -> None:
    """Against the exact recursion with a lane of every width, itself checked above against every way to cut."""
    for seed in range(120):
        held, pence, costs = fine_case(seed)
        instance = instance_of(held, pence, costs)
        exact = only_pricer(instance)
        assert exact.across.exact
        (best,) = exact.price(prices_of(exact, pence))
        grids = Grid(along_mm, 100 % along_mm == 0), Grid(across_mm, False)
        taken = 500 % across_mm == 0
        pricer = Pricer(instance, exact.sources, instance.piece_types(), *grids, taken=taken)
        (hopeful,) = pricer.price(prices_of(pricer, pence))
        assert hopeful.value >= best.value - PENNIES, seed
        found = pricer.pattern(hopeful.source)
        assert pricer.cost(found, hopeful.value, prices_of(pricer, pence)) <= found.cost(instance) + PENNIES, seed


def test_one_lane_that_takes_the_rest_does_as_well_as_lanes_of_every_width() -> None:
    """The latter is itself checked above against every way to cut."""
    for seed in range(300):
        held, pence, costs = fine_case(seed)
        instance = instance_of(held, pence, costs)
        taking = only_pricer(instance)
        every = Pricer(instance, taking.sources, instance.piece_types(), taking.along, taking.across)
        prices = prices_of(taking, pence)
        (one,), (other,) = taking.price(prices), every.price(prices)
        assert one.value == pytest.approx(other.value, abs=1e-6), seed
        assert claimed(taking.pattern(one.source), instance, pence) == pytest.approx(one.value, abs=1e-3), seed


def fine_case(seed: int) -> tuple[StockItem, dict[Size, float], CostSettings]:
    """Widths in steps of 50 mm; seed 0 is the drawing."""
    if seed == 0:
        pence = {(1300, 4800): 6113.0, (1850, 3500): 18750.0}
        return item("C1", "3550x5000", pence=1450), pence, CostSettings(200, 0)
    random = Random(seed)
    width, length = 50 * random.randint(12, 80), 500 * random.randint(2, 12)
    sizes = {
        (50 * random.randint(10, width // 50), 100 * random.randint(5, length // 100))
        for _ in range(random.randint(1, 4))
    }
    cost = random.randint(300, 1500)
    pence = {size: float(round(size[0] * size[1] * cost / 1e6 * random.uniform(0.2, 2))) for size in sorted(sizes)}
    return item("C1", f"{width}x{length}", pence=cost), pence, CostSettings(random.choice([0, 200]), 0)


def test_a_tail_of_a_cut_length_is_worth_no_less_than_whatever_its_price_was_rounded_to() -> None:
    """Of 3,333 pence a metre 1.5 m cost 5,000 pence, and 1 m 3,333: a square metre of the former is dearer."""
    instance = build_instance(problem([job("J1", "3000x1000")], (), [cut_lengths("4000x6000", 3_333)]), GRASS)
    (pricer,) = Pricers(instance).each
    assert len({Fraction(s.unit_cost.pence, s.unit_cost.area_mm2) for s in pricer.sources}) > 1
    for source in pricer.sources:
        real = tail_worth(instance, source, pricer.lengths)
        for one in pricer.sources:
            told = pricer.tail_values(one)
            assert (told[1:] >= real[1 : len(told)]).all()


def test_of_patterns_that_hold_thousands_of_pieces_only_the_best_are_looked_into(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held = item("T1", "4000x9000", form="part_roll")
    pricer = only_pricer(instance_of(held, [(4000, 2000), (1900, 1500), (100, 100)], CostSettings()))
    ((source, value),) = [(one.source, one.value) for one in pricer.price(dict.fromkeys(pricer.types, 900.0))]
    traced: list[int] = []
    whole = Pattern.made

    def made(pattern: Pattern) -> Counter[PieceType]:
        traced.append(whole(pattern).total())
        return whole(pattern)

    monkeypatch.setattr(Pattern, "made", made)
    every = pricer.patterns(source, 0.0, 1_000)
    assert every[0][1] == value
    assert sum(traced) > pricing.MOST_TRACED >= sum(traced[:-1])
    few = pricer.patterns(source, 0.0, 2)
    assert few == every[:2]
