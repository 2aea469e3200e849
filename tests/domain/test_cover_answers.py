"""What covers a small job, against going through every source, every share-out and every seam."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import combinations, product
from random import Random

import pytest
from builders import is_full, worth
from every_way_to_cut import ExactCuts, Ground, Prices

from stockplan.domain.cover import Answer, Coverage, Offer, Promise, Question, Ready, Source, source_of
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_freeing import replacement
from stockplan.domain.cover_search import Desk
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.errors import RequestError
from stockplan.report.cover_text import answer_line, cover_text

TODAY = date(2026, 11, 26)
PENCE = 6  # one a leftover: worth is rounded down leftover by leftover
WIDEST = 4000
LAYOUT = LayoutSettings(selvedge_mm=0, least_narrow_mm=500, warn_narrow_mm=500)
CUT_LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 6000, 5000, 2)
ROLLS = SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 10_000, 40_000, 4)


def lying(tag: str, width: int, length: int, batch: str = "B1", form: str = "offcut", pence: int = 1000) -> Source:
    return source_of(StockItem(tag, "G30", batch, StockForm(form), width, length, "A1", pence), WIDEST)


def asked(*pieces: tuple[int, int], lay_on: date | None = None, most: int = 3) -> Question:
    return Question(in_order(pieces), ("G30",), TODAY, lay_on, most)


def answered(question: Question, *free: Source, supply: Sequence[SupplyOption] = (), **more: object) -> Coverage:
    offer = Offer(free, supply, {"G30": WIDEST}, layout=LAYOUT)
    return cover(question, replace(offer, **more))  # type: ignore[arg-type]


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


def exact_cost(source: Source, pieces: Pieces, costs: CostSettings) -> float:
    """Every way to cut, on a grid of half a metre."""
    prices = Prices(costs.crosscut_pence, costs.rip_pence, WIDEST, True)
    pence = Fraction(source.cost.pence * 1_000_000, source.cost.area_mm2)
    full = is_full(source.width_mm, source.on_core, WIDEST)
    touch = pence * source.width_mm * source.length_mm / 1_000_000
    whole = source.form in (StockForm.ROLL, SupplyForm.ROLL, SupplyForm.CUT_LENGTH)
    before = math.floor(touch) if whole else worth(source.width_mm, source.length_mm, full, pence)
    ground = Ground(source.width_mm, source.length_mm, before, pence, source.on_core)
    return ExactCuts(ground, prices).cost(in_order(pieces)[::-1])


def every_cover(yard: Sequence[Source], pieces: Pieces, costs: CostSettings) -> float:
    """Least cost of one source, or of several of one batch with each piece from any of them."""
    best = math.inf
    for batch in {source.batch for source in yard}:
        members = [source for source in yard if source.batch == batch]
        for chosen in product(range(len(members)), repeat=len(pieces)):
            total = 0.0
            for place, source in enumerate(members):
                mine = tuple(piece for piece, where in zip(pieces, chosen, strict=True) if where == place)
                total += exact_cost(source, mine, costs) if mine else 0
                if total >= best:
                    break
            best = min(best, total)
    return best


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
    if best < math.inf:
        assert free, seed
        assert free[0].seam_mm == 0, seed
        assert abs(free[0].cost_pence - best) <= PENCE, seed
        assert list(free) == sorted(free, key=lambda answer: answer.cost_pence), seed
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


def first(found: Coverage, ready: Ready) -> Answer:
    return found.of(ready)[0]


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


def test_more_pieces_than_can_be_tried_are_refused() -> None:
    with pytest.raises(RequestError, match="stockplan quote"):
        answered(asked(*((1000 + place, 1000) for place in range(6))))
    assert answered(asked(*[(1000, 1000)] * 12), lying("K-1", 4000, 4000)).answers


# --- what is promised ------------------------------------------------------------------------------------------------

THURSDAY = TODAY + timedelta(days=7)


def promise(*pieces: tuple[int, int], tied: bool = False, spent: int = 5000) -> Promise:
    return Promise(
        plan=3, jobs=(("J1", THURSDAY),), needs={"J1": in_order(pieces)}, tied=frozenset({"J1"} if tied else ()),
        spent_pence=spent,
    )  # fmt: skip


def test_freeing_costs_what_replaces_it_less_what_the_plan_no_longer_spends() -> None:
    taken = lying("R-1", 4000, 5000)
    found = answered(asked((3500, 2000)), supply=[CUT_LENGTHS], promised=[(taken, promise((4000, 4000)))])
    answer = first(found, Ready.PROMISED)
    assert answer.freeing is not None
    (bought,) = answer.freeing.replacement
    assert (bought.source.key, bought.source.length_mm) == ("Ashcombe", 4000)
    assert answer.freeing.cost_pence == 20_000 - 5000
    assert answer.cost_pence == answer.grass_pence + 15_000


def test_a_job_with_pieces_elsewhere_is_replaced_only_from_its_batch() -> None:
    taken = lying("R-1", 4000, 6000, "B1")
    others = [lying("K-1", 4000, 4000, "B2"), lying("K-2", 4000, 4100, "B1")]
    tied = answered(
        asked((4000, 5000)), *others, supply=[CUT_LENGTHS], promised=[(taken, promise((4000, 4000), tied=True))]
    )
    answer = first(tied, Ready.PROMISED)
    assert answer.freeing is not None
    assert [take.source.key for take in answer.freeing.replacement] == ["K-2"]


def test_without_a_replacement_in_time_no_cost_is_claimed() -> None:
    late = replace(CUT_LENGTHS, lead_days=7)
    found = answered(asked((3500, 2000)), supply=[late], promised=[(lying("R-1", 4000, 5000), promise((4000, 4000)))])
    answer = first(found, Ready.PROMISED)
    assert answer.freeing is not None
    assert (answer.freeing.cost_pence, answer.freeing.replacement) == (None, ())


def test_small_things_too_may_replace_what_is_freed_and_only_what_comes_in_time() -> None:
    small, late = lying("K-1", 1000, 2000, "B2"), replace(lying("K-2", 1000, 1990, "B3"), from_day=THURSDAY)
    offer = Offer((), (), {"G30": WIDEST}, promised=[(lying("R-1", 4000, 6000), promise((1000, 1900)))], layout=LAYOUT)
    answer = first(cover(asked((3500, 2000)), offer, lambda: [small, late]), Ready.PROMISED)
    assert answer.freeing is not None
    assert [take.source.key for take in answer.freeing.replacement] == ["K-1"]


def test_what_is_held_for_a_quote_has_no_known_cost_of_freeing() -> None:
    held = Promise(quote="Q-7", until=THURSDAY)
    answer = first(answered(asked((3500, 2000)), promised=[(lying("K-1", 4000, 6000), held)]), Ready.PROMISED)
    assert answer.freeing is not None
    assert answer.freeing.cost_pence is None


def test_jobs_are_replaced_one_by_one_where_nothing_holds_them_together() -> None:
    both = Promise(3, jobs=(("J1", THURSDAY), ("J2", THURSDAY)), needs={"J1": ((4000, 4000),), "J2": ((4000, 3000),)})
    free = [lying("K-1", 4000, 4000, "B2"), lying("K-2", 4000, 3000, "B3")]
    question = asked((1000, 1000))
    found = replacement(both, "B1", free, [], question, Desk(WIDEST, CostSettings()))
    assert found is not None
    assert sorted(take.source.key for take in found[0]) == ["K-1", "K-2"]


def test_a_tied_job_may_be_cut_wholly_from_elsewhere_and_gives_back_the_rest() -> None:
    taken = lying("R-1", 4000, 6000, "B1")
    tied = replace(promise((4000, 4000), tied=True), whole={"J1": (((4000, 4000), (4000, 2000)), 7000)})
    found = answered(asked((4000, 5000)), supply=[CUT_LENGTHS], promised=[(taken, tied)])
    answer = first(found, Ready.PROMISED)
    assert answer.freeing is not None
    (bought,) = answer.freeing.replacement
    assert bought.source.length_mm == 6000
    assert answer.freeing.cost_pence == 30_000 + 200 - 7000 - 5000


def test_tied_jobs_cut_wholly_from_elsewhere_share_what_is_bought() -> None:
    """One roll of 10 m gives both jobs; a roll for each would cost more, though each leaves more over."""
    days = (("J1", THURSDAY), ("J2", THURSDAY))
    mine = {"J1": ((4000, 4000),), "J2": ((4000, 3000),)}
    whole = {"J1": (((4000, 4000), (1000, 1000)), 300), "J2": (((4000, 3000), (2000, 1000)), 200)}
    both = Promise(3, jobs=days, needs=mine, tied=frozenset(mine), whole=whole)
    found = replacement(both, "B1", [], [ROLLS], asked((1000, 1000)), Desk(WIDEST, CostSettings()))
    assert found is not None
    (bought,), given_back = found
    assert len(bought.pieces) == 4
    assert given_back == 500


def test_a_job_longer_than_any_roll_is_replaced_by_two() -> None:
    found = answered(
        asked((3500, 2000)),
        supply=[ROLLS],
        promised=[(lying("R-1", 4000, 18_000), promise((4000, 9000), (4000, 8000)))],
    )
    answer = first(found, Ready.PROMISED)
    assert answer.freeing is not None
    assert [take.source.length_mm for take in answer.freeing.replacement] == [10_000, 10_000]


def test_what_is_left_of_a_promised_thing_may_still_serve_its_jobs() -> None:
    """Both pieces from the roll cost what cutting them from it together costs: its worth, less 3 m, and two cuts."""
    taken = lying("R-1", 4000, 9000, form="part_roll")
    found = answered(asked((4000, 2000)), supply=[CUT_LENGTHS], promised=[(taken, promise((4000, 4000), tied=True))])
    answer = first(found, Ready.PROMISED)
    assert answer.freeing is not None
    assert [take.source.key for take in answer.freeing.replacement] == ["R-1"]
    together = Desk(WIDEST, CostSettings()).take(taken, ((4000, 4000), (4000, 2000)))
    assert together is not None
    assert answer.cost_pence == together.cost_pence - 5000
    assert "for J1 (Thu 3 Dec); what is then left of it still gives that" in answer_line(answer)


def test_what_is_wider_than_anything_sold_is_bought_for_two_strips_and_a_seam() -> None:
    """5.5 m and a selvedge of 30 mm off each side of the seam: strips of 4 m and 1.56 m side by side.

    Two lengths of 3 m at 50.00 a metre and one rip, less what is kept of 2.44 × 3 m; one length of 6 m takes a crosscut
    more.
    """
    found = answered(asked((5500, 3000)), supply=[CUT_LENGTHS], layout=LayoutSettings())
    (answer,) = found.of(Ready.BUY)
    assert sum(width for take in answer.takes for width, _ in take.pieces) == 5560
    assert (answer.seam_mm, answer.seam_pence) == (3000, 1800)
    share = (0.25 + 0.45 * 2.44 / 4) * (0.6 + 0.4 * 3 / 6)
    assert answer.cost_pence == pytest.approx(30_000 + 300 + 1800 - share * 12.5 * 2.44 * 3 * 100, abs=PENCE)
    assert "No, but it can be bought" in cover_text(found, "GBP")
    assert "with a seam of 3.00 m along the pile." in cover_text(found, "GBP")
    assert not answered(asked((5500, 7000)), supply=[CUT_LENGTHS]).answers, "longer than any length sold"
    whole = answered(asked((3000, 3000)), supply=[CUT_LENGTHS, replace(CUT_LENGTHS, supplier="Z", width_mm=2000)])
    assert [one.seam_mm for one in whole.of(Ready.BUY)] == [0], "a seam is for what no offer gives whole"
