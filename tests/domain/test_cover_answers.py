"""What covers a small job, against going through every source, every share-out and every seam."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations, product
from random import Random

import pytest
from estimator_yards import LAYOUT, PENCE, WIDEST, exact_cost, loaded, lying

from stockplan.domain.cover import Answer, Coverage, Freeing, Offer, Question, Ready
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_promise import Load, Promise, PromisedJob
from stockplan.domain.cover_source import Source
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import SupplyForm, SupplyOption
from stockplan.errors import RequestError
from stockplan.report.cover_text import answer_line, cover_text

TODAY = date(2026, 11, 26)
CUT_LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 6000, 5000, 2)
ROLLS = SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 10_000, 40_000, 4)


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


def test_two_lengths_are_bought_where_that_saves_a_cut() -> None:
    (answer,) = answered(asked((4000, 3000), (4000, 2000)), supply=[CUT_LENGTHS]).of(Ready.BUY)
    assert sorted(take.source.length_mm for take in answer.takes) == [2000, 3000]
    assert answer.cost_pence == 5 * CUT_LENGTHS.price_pence  # by hand: five metres, and nothing to cut
    (cheap,) = answered(asked((4000, 3000), (4000, 2000)), supply=[CUT_LENGTHS], costs=CostSettings(0, 0)).of(Ready.BUY)
    assert cheap.cost_pence == answer.cost_pence
    assert len(cheap.takes) == 1  # where cuts are free one length is as good, and less to handle


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
JOB = PromisedJob(THURSDAY)


def reserved(source: Source, *sizes: tuple[int, int], job: str = "J1") -> Load:
    return loaded(source, *((job, size) for size in sizes))


def freed(
    question: Question,
    *loads: Load,
    free: Sequence[Source] = (),
    supply: Sequence[SupplyOption] = (),
    jobs: Mapping[str, PromisedJob] | None = None,
) -> Answer:
    """The cheapest promised answer, of things promised to J1 and J2, both laid on Thursday."""
    found = answered(question, *free, supply=supply, loads=loads, jobs=jobs or {"J1": JOB, "J2": JOB})
    return first(found, Ready.PROMISED)


def moved(answer: Answer) -> list[tuple[str, tuple[str, ...]]]:
    assert answer.freeing is not None
    return [(move.take.source.key, move.jobs) for move in answer.freeing.moves]


def test_freeing_costs_what_replaces_it_less_what_the_plan_no_longer_spends() -> None:
    """Planned: 50.00 × 4 less nothing, since 1 m is 0.75 × 40.00. The roll is worth its price, 200.00."""
    answer = freed(
        asked((3500, 2000)), reserved(lying("R-1", 4000, 5000, form="roll"), (4000, 4000)), supply=[CUT_LENGTHS]
    )
    assert moved(answer) == [("Ashcombe", ("J1",))]
    assert answer.freeing is not None
    assert answer.freeing.cost_pence == 20_000 - (20_000 - 3000 + 200)
    assert answer.freeing.proven


def test_what_a_moved_job_had_elsewhere_is_given_back_though_too_small_for_the_question() -> None:
    """J1 moves to one roll of 10 m: 400.00 for it, less 1 m left; both things it was to be cut from are whole again."""
    small = reserved(lying("K-1", 4000, 2000), (4000, 2000))
    answer = freed(
        asked((4000, 6000)), reserved(lying("P-1", 4000, 7000, form="part_roll"), (4000, 7000)), small, supply=[ROLLS]
    )
    assert moved(answer) == [("Fernlea Mills", ("J1",))]
    # 0.9 of 280.00; K-1 0.825 of 80.00; left of P-1 1 m: 0.75 of 40.00; of the roll 1 m as well, at 40.00 a metre
    assert answer.cost_pence == 40_000 - 3000 + 2 * 200 - 6600 - 3000 + 200


def test_what_a_moved_job_shares_with_another_is_cut_for_that_one_alone() -> None:
    """R-2 gives J2 its 2 m and is worth 0.9 of 5 m instead of 0.9 of 3 m and, cut through once less, 2.00 more."""
    shared = loaded(lying("R-2", 4000, 7000, form="part_roll"), ("J2", (4000, 2000)), ("J1", (4000, 2000)))
    mine = reserved(lying("P-1", 4000, 6000, form="part_roll"), (4000, 6000))
    answer = freed(asked((4000, 6000)), mine, shared, supply=[ROLLS])
    assert moved(answer) == [("Fernlea Mills", ("J1",))]
    new_roll = 40_000 - 2 * 4000 * 825 // 1000 + 2 * 200
    assert answer.cost_pence == 0 + new_roll - (3600 * 5 - 3600 * 3 + 200)


def test_a_job_with_pieces_elsewhere_is_replaced_from_its_batch_or_wholly() -> None:
    taken = reserved(lying("R-1", 4000, 6000, "B1"), (4000, 4000))
    other = reserved(lying("R-2", 4000, 2000, "B1"), (4000, 2000))
    others = [lying("K-1", 4000, 4000, "B2"), lying("K-2", 4000, 4100, "B1")]
    assert moved(freed(asked((4000, 5000)), taken, other, free=others)) == [("K-2", ("J1",))]
    begun = {"J1": replace(JOB, begun=True)}
    found = answered(asked((4000, 5000)), *others[:1], loads=[taken], jobs=begun)
    assert first(found, Ready.PROMISED).freeing == Freeing(Promise(3, jobs=(("J1", THURSDAY),)))


def test_a_pinned_job_loses_nothing() -> None:
    taken = reserved(lying("R-1", 4000, 6000), (4000, 4000))
    pinned = {"J1": replace(JOB, pinned=True)}
    found = answered(asked((4000, 3000)), lying("K-1", 4000, 4000), loads=[taken], jobs=pinned)
    assert first(found, Ready.PROMISED).freeing == Freeing(Promise(3, jobs=(("J1", THURSDAY),)))
    assert freed(asked((4000, 2000)), taken, jobs=pinned).cost_pence > 0


def test_pieces_of_a_job_of_any_batches_may_come_from_several() -> None:
    taken = reserved(lying("R-1", 4000, 6000, "B1"), (4000, 3000), (4000, 2000))
    others = [lying("K-1", 4000, 3000, "B2"), lying("K-2", 4000, 2000, "B3")]
    jobs = {"J1": replace(JOB, one_batch=False)}
    assert len(moved(freed(asked((4000, 5000)), taken, free=others, jobs=jobs))) == 2
    found = answered(asked((4000, 5000)), *others, loads=[taken], jobs={"J1": JOB})
    assert first(found, Ready.PROMISED).freeing == Freeing(Promise(3, jobs=(("J1", THURSDAY),)))


def test_without_a_replacement_in_time_no_cost_is_claimed() -> None:
    late = replace(CUT_LENGTHS, lead_days=7)
    answer = freed(asked((3500, 2000)), reserved(lying("R-1", 4000, 5000), (4000, 4000)), supply=[late])
    assert answer.freeing is not None
    assert (answer.freeing.cost_pence, answer.freeing.moves) == (None, ())


def test_small_things_too_may_replace_what_is_freed_and_only_what_comes_in_time() -> None:
    small, late = lying("K-1", 1000, 2000, "B2"), replace(lying("K-2", 1000, 1990, "B3"), from_day=THURSDAY)
    loads = [reserved(lying("R-1", 1600, 2000), (1000, 1900))]
    offer = Offer((), (), {"G30": WIDEST}, loads=loads, jobs={"J1": JOB}, layout=LAYOUT)
    answer = first(cover(asked((1500, 2000)), offer, lambda: [small, late]), Ready.PROMISED)
    assert moved(answer) == [("K-1", ("J1",))]


def test_what_a_plan_leaves_over_of_another_thing_may_replace_what_is_freed() -> None:
    taken = reserved(lying("P-1", 4000, 5000, "B1", form="part_roll"), (4000, 2000))
    other = reserved(lying("P-2", 4000, 9000, "B1", form="part_roll"), (4000, 4000), job="J2")
    answer = freed(asked((4000, 5000)), taken, other)
    assert moved(answer) == [("P-2", ("J1",))]
    assert answer.cost_pence == 3600 * 5, (
        "5 m of grass more are gone, and as many cuts made; what is left of both is 3 m"
    )


def test_what_is_held_for_a_quote_has_no_known_cost_of_freeing() -> None:
    held = Promise(quote="Q-7", until=THURSDAY)
    answer = first(answered(asked((3500, 2000)), held=[(lying("K-1", 4000, 6000), held)]), Ready.PROMISED)
    assert answer.freeing is not None
    assert answer.freeing.cost_pence is None


def test_a_job_of_very_many_unlike_pieces_is_answered_at_once() -> None:
    sizes = [(4000, 1000 + 10 * place) for place in range(22)]
    large = reserved(lying("R-1", 4000, 30_000, form="roll"), *sizes)
    began = time.process_time()
    answer = freed(asked((4000, 12_000)), large, free=[lying("R-2", 4000, 30_000, form="roll")], supply=[ROLLS])
    assert time.process_time() - began < 2
    assert answer.freeing is not None
    assert not answer.freeing.proven


def test_two_jobs_that_move_share_what_is_bought() -> None:
    """One roll of 10 m gives both jobs; a roll for each would cost more, though each leaves more over."""
    both = loaded(lying("R-1", 4000, 7000), ("J1", (4000, 4000)), ("J2", (4000, 3000)))
    answer = freed(asked((4000, 7000)), both, supply=[ROLLS])
    assert moved(answer) == [("Fernlea Mills", ("J1", "J2"))]


def test_a_job_longer_than_any_roll_is_replaced_by_two() -> None:
    answer = freed(
        asked((3500, 9000)), reserved(lying("R-1", 4000, 18_000), (4000, 9000), (4000, 8000)), supply=[ROLLS]
    )
    assert answer.freeing is not None
    assert [move.take.source.length_mm for move in answer.freeing.moves] == [10_000, 10_000]


def test_what_is_left_of_a_promised_thing_may_still_serve_its_jobs() -> None:
    """Both pieces from the roll cost what cutting them from it together costs: 2 m less are left."""
    taken = lying("R-1", 4000, 9000, form="part_roll")
    answer = freed(asked((4000, 2000)), reserved(taken, (4000, 4000)), supply=[CUT_LENGTHS])
    assert answer.freeing is not None
    assert (answer.freeing.moves, answer.freeing.stays) == ((), ("J1",))
    assert answer.cost_pence == 3600 * 2 + 200
    assert "reserved by plan 3 for J1 (Thu 3 Dec); still gives that; costs 74.00 in all" in answer_line(answer)


def test_a_seam_is_tried_on_promised_things_where_none_gives_the_piece_whole() -> None:
    """Two offcuts side by side, of which one is promised to a job that another offcut serves as well."""
    taken = reserved(lying("K-1", 1500, 3000), (1500, 2000))
    free = [lying("K-2", 1500, 3000), lying("K-3", 1500, 2000, "B2")]
    answer = freed(asked((3000, 3000)), taken, free=free)
    assert {take.source.key for take in answer.takes} == {"K-1", "K-2"}
    assert (answer.seam_mm, moved(answer)) == (3000, [("K-3", ("J1",))])
    late = replace(lying("P-9", 4000, 9000), from_day=THURSDAY)
    question = asked((3000, 3000), lay_on=TODAY + timedelta(days=1))
    found = answered(question, *free, loads=[taken], jobs={"J1": JOB}, rests=[late])
    assert first(found, Ready.PROMISED).seam_mm == 3000, "a rest that comes too late is no reason not to look"
    one = answered(asked((1500, 3000)), lying("K-4", 1500, 2000), loads=[taken], jobs={"J1": JOB})
    assert {answer.seam_mm for answer in one.of(Ready.PROMISED)} == {0}


def test_a_seam_is_tried_on_what_plans_leave_over() -> None:
    rest = replace(lying("R-1", 1500, 3000), from_day=THURSDAY)
    found = answered(asked((3000, 3000)), lying("K-2", 1500, 3000), rests=[rest])
    answer = first(found, Ready.REST)
    assert answer.seam_mm == 3000
    assert "Yes, from Thu 3 Dec on: " in cover_text(found, "GBP")


def test_misses_tell_what_is_promised_or_sold_and_nearly_does() -> None:
    taken = reserved(lying("R-1", 4000, 5000), (4000, 4000))
    found = answered(
        asked((4000, 6500)), lying("K-1", 4000, 1000), loads=[taken], jobs={"J1": JOB}, supply=[CUT_LENGTHS]
    )
    assert [(miss.source.key, miss.ready, miss.along_mm) for miss in found.misses] == [
        ("K-1", Ready.FREE, 5500),
        ("R-1", Ready.PROMISED, 1500),
        ("Ashcombe", Ready.BUY, 500),
    ]
    text = cover_text(found, "GBP")
    assert "R-1 in bay A1, batch B1: G30 offcut 4.00 × 5.00, promised, 150 cm short along the pile" in text
    assert "the longest G30 cut length 4.00 × 6.00 from Ashcombe, to be bought, 50 cm short along the pile" in text


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
