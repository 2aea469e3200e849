"""What covers a small job, against going through every source, every share-out and every seam."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import combinations, product
from random import Random

import pytest
from cover_questions import CUT_LENGTHS, ROLLS, TODAY, answered, asked, first
from estimator_yards import LAYOUT, PENCE, WIDEST, exact_cost, lying

from stockplan.domain.cover import Coverage, Offer, Question, Ready
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source, purchase
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.request import CostSettings
from stockplan.errors import RequestError
from stockplan.report.cover_text import answer_line

# --- every way there is ----------------------------------------------------------------------------------------------


def random_yard(random: Random, most: int) -> list[Source]:
    yard = []
    for number in range(random.randint(1, most)):
        form = random.choice(["offcut", "offcut", "part_roll", "roll"])
        width = 500 * random.randint(1, 6) if form == "offcut" else random.choice([2000, 4000])
        batch = random.choice(["B1", "B1", "B2", ""])
        pence = random.choice([0, 700, 1000, 1010])
        yard.append(lying(f"T{number}", width, 500 * random.randint(2, 10), batch, form, pence))
    return yard


def every_cover(yard: Sequence[Source], pieces: Pieces, costs: CostSettings) -> list[float]:
    """Least cost from each set of sources of one batch that gives all pieces, each piece from any of them, in order."""
    best: dict[frozenset[str], float] = {}
    for batch in {source.batch for source in yard}:
        members = [source for source in yard if source.batch == batch]
        for chosen in product(range(len(members)), repeat=len(pieces)):
            total = 0.0
            for place, source in enumerate(members):
                mine = tuple(piece for piece, where in zip(pieces, chosen, strict=True) if where == place)
                total += exact_cost(source, mine, costs) if mine else 0
            things = frozenset(members[place].key for place in chosen)
            best[things] = min(best.get(things, math.inf), total)
    return sorted(cost for cost in best.values() if cost < math.inf)


def every_seam(yard: Sequence[Source], size: tuple[int, int], costs: CostSettings) -> float:
    """Least cost of two pieces side by side, without the seam, from one source or two of one batch."""
    width, length = size
    best = math.inf
    for left in range(500, width - 499, 500):
        halves = ((left, length), (width - left, length))
        for source in yard:
            best = min(best, exact_cost(source, halves, costs))
        for one, other in combinations(yard, 2):
            if one.batch == other.batch:
                for first, second in ((one, other), (other, one)):
                    best = min(best, exact_cost(first, halves[:1], costs) + exact_cost(second, halves[1:], costs))
    return best


def judge(seed: int, most_pieces: int, most_items: int) -> str:
    random = Random(seed)
    yard = random_yard(random, most_items)
    count = random.randint(1, most_pieces)
    pieces = in_order(tuple((500 * random.randint(1, 7), 500 * random.randint(2, 6)) for _ in range(count)))
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    found = cover(Question(pieces, ("G30",), TODAY), Offer(yard, (), {"G30": WIDEST}, costs=costs, layout=LAYOUT))
    best = every_cover(yard, pieces, costs)
    free = found.of(Ready.FREE)
    if best:
        assert all(one.seam_mm == 0 for one in free), seed
        assert len(free) == min(3, len(best)), seed
        for one, least in zip(free, best, strict=False):
            assert abs(one.cost_pence - least) <= PENCE, seed
        assert list(free) == sorted(free, key=lambda answer: answer.cost_pence), seed
        assert len({frozenset(take.source.key for take in one.takes) for one in free}) == len(free), seed
        assert_tells_all_single(found, yard, costs, seed)
        return "whole"
    assert found.misses, seed
    assert all(answer.seam_mm == pieces[0][1] for answer in free), seed
    seamed = every_seam(yard, pieces[0], costs) if count == 1 else math.inf
    assert bool(free) == (seamed < math.inf), seed
    if free:
        assert abs(free[0].grass_pence - seamed) <= PENCE, seed
        return "seam"
    return "miss"


def assert_tells_all_single(found: Coverage, yard: Sequence[Source], costs: CostSettings, seed: int) -> None:
    """Among the answers is every single source that costs less than the last of them."""
    pieces, free = found.question.pieces, found.of(Ready.FREE)
    told = {answer.takes[0].source.key for answer in free if len(answer.takes) == 1}
    for source in yard:
        if source.key not in told:
            cost = exact_cost(source, pieces, costs)
            assert cost == math.inf or (len(free) == 3 and cost >= free[-1].cost_pence - PENCE), seed


@pytest.mark.parametrize("block", range(8))
def test_one_piece_in_random_yards(block: int) -> None:
    found = [judge(seed, 1, 6) for seed in range(60 * block, 60 * block + 60)]
    assert {"whole", "seam", "miss"} == set(found)


@pytest.mark.parametrize("block", range(4))
def test_several_pieces_in_random_yards(block: int) -> None:
    for seed in range(5000 + 15 * block, 5000 + 15 * block + 15):
        judge(seed, 3, 4)


@pytest.mark.parametrize("block", range(4))
def test_of_several_grasses_the_best_of_each_are_told(block: int) -> None:
    """However far one grass needs to be gone into, once answers in another are known: nothing is lost by it."""
    for seed in range(8000 + 25 * block, 8000 + 25 * block + 25):
        random = Random(seed)
        yard = [
            replace(one, key=f"{grass}-{one.key}", product=grass, condition=random.choice(["", "", "wet"]))
            for grass in ("G20", "G30", "G40")
            for one in random_yard(random, 6)
        ]
        pieces = in_order(tuple((500 * random.randint(1, 5), 500 * random.randint(2, 5)) for _ in range(seed % 3 + 1)))
        offer = Offer(yard, (), dict.fromkeys(("G20", "G30", "G40"), WIDEST), layout=LAYOUT)
        every = Question(pieces, tuple(offer.widest_mm), TODAY, None, 2)
        each = [cover(replace(every, products=(grass,)), offer).of(Ready.FREE) for grass in every.products]
        apart = [one for answers in each for one in answers if not one.seam_mm]
        apart.sort(key=lambda one: (any(take.source.condition for take in one.takes), one.cost_pence))
        told = [one for one in cover(every, offer).of(Ready.FREE) if not one.seam_mm]
        assert [one.cost_pence for one in told] == [one.cost_pence for one in apart[:2]], seed


@pytest.mark.slow
def test_one_piece_in_random_yards_many_times() -> None:
    for seed in range(10_000, 12_000):
        judge(seed, 1, 6)


@pytest.mark.slow
def test_several_pieces_in_random_yards_many_times() -> None:
    for seed in range(20_000, 20_300):
        judge(seed, 3, 5)


def rectangles(random: Random, count: int, step: int) -> Iterator[tuple[int, int]]:
    for _ in range(count):
        yield step * random.randint(600 // step, 4000 // step), step * random.randint(1000 // step, 8000 // step)


@pytest.mark.parametrize("block", range(4))
def test_whether_it_fits_and_what_it_lacks_at_every_millimetre(block: int) -> None:
    for seed in range(500 * block, 500 * block + 500):
        random = Random(seed)
        yard = [lying(f"T{place:02}", w, n, f"B{place}") for place, (w, n) in enumerate(rectangles(random, 8, 1))]
        (size,) = rectangles(random, 1, 1)
        found = answered(asked(size), *yard)
        fitting = {one.key for one in yard if one.width_mm >= size[0] and one.length_mm >= size[1]}
        told = {answer.takes[0].source.key for answer in found.of(Ready.FREE) if not answer.seam_mm}
        assert told <= fitting, seed
        assert len(told) == min(3, len(fitting)), seed
        if not fitting:
            lacking = {one.key: (max(0, size[0] - one.width_mm), max(0, size[1] - one.length_mm)) for one in yard}
            nearest = sorted(lacking, key=lambda key: (sum(lacking[key]), key))[:3]
            assert [miss.source.key for miss in found.misses[:3]] == nearest, seed
            for miss in found.misses:
                assert (miss.across_mm, miss.along_mm) == lacking[miss.source.key], seed
                one = miss.source
                assert miss.turned == (one.width_mm >= size[1] and one.length_mm >= size[0]), seed
            turned = [one for one in yard if one.width_mm >= size[1] and one.length_mm >= size[0]]
            assert any(miss.turned for miss in found.misses) == bool(turned), seed


# --- by hand ---------------------------------------------------------------------------------------------------------


def test_a_piece_from_an_offcut_of_its_own_size_costs_the_offcut() -> None:
    # 3.1 × 1.8 at 10.00 a m²: (0.25 + 0.45 × 3.1 / 4) × (0.6 + 0.4 × 1.8 / 6) = 0.4311 of 55.80
    found = answered(asked((3100, 1800)), lying("K-112", 3100, 1800))
    assert first(found, Ready.FREE).cost_pence == 2405


def test_purchases_are_cut_to_the_step_and_come_after_their_lead_time() -> None:
    found = answered(asked((3100, 1830)), supply=[CUT_LENGTHS, ROLLS])
    cut, roll = found.of(Ready.BUY)
    assert (cut.takes[0].source.length_mm, cut.from_day) == (1900, TODAY + timedelta(days=2))
    # 1.9 m at 50.00; ripped first: 0.9 × 1.9 at 0.25 + 0.45 × 0.225 = 0.35125, × 0.72667, of 12.50 a m² stay
    assert cut.cost_pence == 9500 + 500 - 545
    assert roll.takes[0].source.length_mm == 10_000


def test_a_longer_cut_length_is_bought_where_what_it_leaves_is_kept() -> None:
    """With 0.9 m over, nothing is kept; 0.1 m more makes it a metre of full width."""
    found = answered(asked((4000, 2050)), supply=[replace(CUT_LENGTHS, price_pence=100)])
    lengths = {answer.takes[0].source.length_mm for answer in found.of(Ready.BUY)}
    assert lengths == {2100}
    dear = answered(asked((4000, 1000)), supply=[CUT_LENGTHS], costs=CostSettings(0, 0))
    assert first(dear, Ready.BUY).takes[0].source.length_mm == 1000


def test_more_than_one_length_is_bought_where_one_does_not_do() -> None:
    found = answered(asked((4000, 5000), (4000, 4000), (2000, 1000), (2000, 1000)), supply=[CUT_LENGTHS])
    (answer,) = found.of(Ready.BUY)
    assert sorted(take.source.length_mm for take in answer.takes) == [1000, 4000, 5000]
    assert answer.cost_pence == 50_000 + 300, "one rip; a crosscut would cost more than one more length"
    assert not answered(asked((4000, 5000), (4100, 4000)), supply=[CUT_LENGTHS]).of(Ready.BUY)


def test_two_lengths_are_bought_where_that_saves_a_cut() -> None:
    (answer,) = answered(asked((4000, 3000), (4000, 2000)), supply=[CUT_LENGTHS]).of(Ready.BUY)
    assert sorted(take.source.length_mm for take in answer.takes) == [2000, 3000]
    assert answer.cost_pence == 5 * CUT_LENGTHS.price_pence  # by hand: five metres, and nothing to cut
    (cheap,) = answered(asked((4000, 3000), (4000, 2000)), supply=[CUT_LENGTHS], costs=CostSettings(0, 0)).of(Ready.BUY)
    assert cheap.cost_pence == answer.cost_pence
    assert len(cheap.takes) == 1  # where cuts are free one length is as good, and less to handle


NARROW_LENGTHS = replace(CUT_LENGTHS, width_mm=2000, price_pence=2700)


def test_pieces_are_bought_of_several_offers_where_that_costs_less() -> None:
    found = answered(asked((4000, 5000), (1200, 5000)), supply=[CUT_LENGTHS, NARROW_LENGTHS]).of(Ready.BUY)
    assert [sorted(take.source.width_mm for take in answer.takes) for answer in found] == [[2000, 4000], [4000, 4000]]
    # 5 m at 50.00 and at 27.00, one rip; 0.8 × 5.0 at 0.25 + 0.45 × 0.2 = 0.34, × 0.93333, of 13.50 a m² stay
    assert found[0].cost_pence == 25_000 + 13_500 + 300 - 1713
    alike = answered(asked((4000, 5000), (1200, 5000)), supply=[CUT_LENGTHS, replace(NARROW_LENGTHS, price_pence=5000)])
    assert [len({take.source.width_mm for take in answer.takes}) for answer in alike.of(Ready.BUY)] == [1]


def test_all_lengths_of_an_offer_share_what_is_known_of_cutting_them() -> None:
    """Five unlike sizes took some twenty seconds while every length was worked out by itself."""
    desk = Desk(WIDEST, CostSettings())
    short, long = (purchase(CUT_LENGTHS, length, TODAY) for length in (4000, 5900))
    assert desk.cutter(short) is desk.cutter(long)
    assert desk.cutter(short) is not desk.cutter(purchase(NARROW_LENGTHS, 4000, TODAY))
    assert desk.cutter(short) is not desk.cutter(purchase(replace(CUT_LENGTHS, price_pence=5010), 4000, TODAY))


def test_what_is_bought_of_several_offers_is_in_time_where_it_can_be() -> None:
    """Whatever a late offer costs, it neither stands in the way of one in time nor is mixed with it."""
    cheap_and_late = replace(CUT_LENGTHS, supplier="Birch", price_pence=500, lead_days=20)
    question = asked((4000, 5000), (1200, 5000), lay_on=TODAY + timedelta(days=7))
    best, *others = answered(question, supply=[CUT_LENGTHS, NARROW_LENGTHS, cheap_and_late]).of(Ready.BUY)
    assert sorted(take.source.width_mm for take in best.takes) == [2000, 4000]
    assert [answer.in_time for answer in (best, *others)] == [True, True, False]
    assert {take.source.key for take in others[-1].takes} == {"Birch"}


def test_a_seam_may_join_what_is_bought_of_two_offers() -> None:
    found = answered(asked((4500, 2000)), supply=[CUT_LENGTHS, NARROW_LENGTHS]).of(Ready.BUY)
    assert [sorted(take.source.width_mm for take in answer.takes) for answer in found] == [[2000, 4000], [4000, 4000]]
    assert all(answer.seam_mm == 2000 for answer in found)


def test_what_comes_too_late_is_told_last_and_as_late() -> None:
    found = answered(asked((3100, 1800), lay_on=TODAY + timedelta(days=3)), supply=[ROLLS, CUT_LENGTHS])
    assert [(answer.in_time, answer.takes[0].source.key) for answer in found.answers] == [
        (True, "Ashcombe"),
        (False, "Fernlea Mills"),
    ]


def test_what_is_still_to_come_is_free_only_for_later_days() -> None:
    coming = replace(lying("new-1", 4000, 5000), from_day=TODAY + timedelta(days=2))
    question = asked((3100, 1800), lay_on=TODAY + timedelta(days=2))
    assert not answered(question, coming).of(Ready.FREE)
    assert answered(replace(question, lay_on=TODAY + timedelta(days=3)), coming).of(Ready.FREE)


def test_sound_grass_comes_before_wet_grass() -> None:
    wet = replace(lying("K-1", 3100, 1800), condition="wet")
    found = answered(asked((3100, 1800)), wet, lying("K-2", 4000, 9000))
    assert [answer.takes[0].source.key for answer in found.of(Ready.FREE)] == ["K-2", "K-1"]


def test_two_batches_never_make_one_job() -> None:
    found = answered(asked((2000, 2000), (2000, 2000)), lying("K-1", 2000, 2000, "B1"), lying("K-2", 2000, 2000, "B2"))
    assert not found.answers


def test_an_unknown_batch_matches_nothing_but_itself() -> None:
    found = answered(asked((2000, 2000), (2000, 2000)), lying("K-1", 2000, 2000, ""), lying("K-2", 2000, 2000, ""))
    assert not found.answers


def test_a_seam_takes_selvedge_off_both_sides_and_costs_its_metres() -> None:
    layout = LayoutSettings()
    found = answered(
        asked((3100, 1800)), lying("K-1", 1600, 1800), lying("K-2", 1560, 1900), lying("K-3", 1559, 9000), layout=layout
    )
    (answer,) = [one for one in found.of(Ready.FREE) if {take.source.key for take in one.takes} == {"K-1", "K-2"}]
    assert sum(take.pieces[0][0] for take in answer.takes) == 3100 + 2 * layout.selvedge_mm
    assert (answer.seam_mm, answer.seam_pence) == (1800, 1080)


def test_neither_side_of_a_seam_covers_less_than_the_narrowest_strip_and_a_narrow_one_is_pointed_out() -> None:
    """Of a side of 380 mm, 30 come off at the seam and 50 at the free side: 300 are left, the least there may be."""
    wide, layout = lying("K-1", 780, 2000), LayoutSettings()
    assert not answered(asked((1099, 2000)), wide, lying("K-2", 379, 2000), layout=layout).answers
    (answer,) = answered(asked((1100, 2000)), wide, lying("K-2", 380, 2000), layout=layout).answers
    assert answer.narrow_mm == 300
    assert "one seam of 2.00 m along the pile, 12.00; NARROW: one strip covers only 0.30 m; costs" in answer_line(
        answer
    )
    (wider,) = answered(asked((1300, 2000)), wide, lying("K-2", 580, 2000), layout=layout).answers
    assert "NARROW" not in answer_line(wider)


def test_a_part_roll_gives_both_sides_of_a_seam_one_behind_the_other() -> None:
    found = answered(asked((3000, 2000)), lying("P-1", 2000, 9000, form="part_roll"))
    (answer,) = found.of(Ready.FREE)
    assert len(answer.takes) == 1
    assert answer.takes[0].pieces == ((1500, 2000), (1500, 2000)) or sum(w for w, _ in answer.takes[0].pieces) == 3000


def test_what_would_fit_only_turned_is_told_even_when_others_miss_by_less() -> None:
    near = [lying(f"K-{place}", 3000, 1800, f"B{place}") for place in range(5)]
    found = answered(asked((3100, 1800)), *near, lying("T-1", 1900, 3200))
    assert [miss.source.key for miss in found.misses] == ["K-0", "K-1", "K-2", "T-1"]
    assert [miss.turned for miss in found.misses] == [False, False, False, True]


def test_no_miss_asks_for_something_wider_than_any_loom() -> None:
    """Three of 4 × 12 m side by side would take 12 m across, 8 m more than the roll has; end to end it lacks 11 m."""
    found = answered(asked(*[(4000, 12_000)] * 3), lying("R-1", 4000, 25_000, form="roll"))
    assert [(miss.across_mm, miss.along_mm) for miss in found.misses] == [(0, 11_000)]
    found = answered(asked((2900, 4000), (3000, 4000)), lying("K-1", 4000, 5000))
    assert [(miss.across_mm, miss.along_mm) for miss in found.misses] == [(1900, 0)]  # to 5.90 m


def test_more_pieces_than_can_be_tried_are_refused() -> None:
    with pytest.raises(RequestError, match="stockplan quote"):
        answered(asked(*((1000 + place, 1000) for place in range(6))))
    assert answered(asked(*[(1000, 1000)] * 12), lying("K-1", 4000, 4000)).answers
