"""What covers a small job where things are promised: what freeing them costs, and what takes their place."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from cover_questions import CUT_LENGTHS, ROLLS, TODAY, answered, asked, first
from estimator_yards import LAYOUT, PENCE, WIDEST, loaded, lying

from stockplan.domain.cover import Answer, Freeing, Offer, Question, Ready
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_promise import Load, Promise, PromisedJob
from stockplan.domain.cover_source import Source
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.stock import SupplyOption
from stockplan.report.cover_text import answer_line, cover_text

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
