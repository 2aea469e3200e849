"""What stays with accepted plans, what is given back, and what is left to plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL
from standing_yard import SECOND, THIRD, THREE, bought_plan, coming, cut_piece, first_plan, schedule, standing

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.replanning import Scope, scope
from stockplan.domain.request import CutAlready, Pin
from stockplan.domain.standing import clusters

WEEK = THREE.window
NEW = Job("J9", "Elm Rise", "G30", MONDAY, "house", BatchRule.ONE, (Strip("A", 1000, 1000),))


def tags(found: Scope) -> tuple[list[str], list[str]]:
    return [one.item.tag for one in found.kept], [one.item.tag for one in found.freed]


def planned(found: Scope) -> list[str]:
    return [job.code for job in found.jobs]


def test_without_any_plan_every_job_of_the_window_is_planned_whole() -> None:
    found = scope(schedule(), Window(MONDAY, MONDAY + timedelta(days=1)))
    assert (planned(found), found.settled, found.kept, found.freed, found.notes) == (["J1", "J2"], (), (), (), ())


def test_what_is_accepted_stays_and_only_new_jobs_are_planned() -> None:
    found = scope(schedule(JOB, SECOND, THIRD, NEW, standing=standing(first_plan(), 1)), WEEK)
    assert planned(found) == ["J9"]
    assert tags(found) == (["R-1", "R-2"], [])
    assert found.notes == ()
    assert found.staying == ("what plan 1 is to cut from 2 sources stays with it",)


def test_again_gives_everything_back() -> None:
    found = scope(schedule(standing=standing(first_plan(), 1)), WEEK, again=True)
    assert planned(found) == ["J1", "J2", "J3"]
    assert tags(found) == ([], ["R-1", "R-2"])
    assert found.notes == ()
    assert found.staying == ("what plan 1 is to cut from 2 sources is planned anew",)


def test_jobs_that_would_lack_nothing_if_all_were_cut_are_covered_so_far() -> None:
    promised = standing(first_plan(), 1)
    assert scope(schedule(JOB, SECOND, THIRD, NEW, standing=promised), WEEK, again=True).covered == {"J1", "J2", "J3"}
    more = replace(JOB, strips=(JOB.strips[0], replace(JOB.strips[1], count=3)))
    assert scope(schedule(more, SECOND, THIRD, standing=promised), WEEK).covered == {"J2"}
    assert scope(schedule(), WEEK).covered == frozenset()


def test_sources_that_share_a_job_hang_together() -> None:
    both = replace(standing(first_plan(), 1)[1], cuts=standing(first_plan(), 1)[0].cuts)
    first, third = standing(first_plan(), 1)
    assert clusters((first, third)) == [(first,), (third,)]
    assert clusters((third, first, both)) == [(third,), (first, both)]
    assert clusters(()) == []


def test_what_also_serves_a_job_outside_the_window_is_not_given_back() -> None:
    found = scope(schedule(standing=standing(first_plan(), 1)), Window(MONDAY, MONDAY), again=True)
    assert (planned(found), tags(found)) == ([], (["R-1", "R-2"], []))
    assert found.notes == (
        "R-1 of plan 1 stays as it is: it also serves J2 (2026-12-01); plan 2026-11-30 to 2026-12-01 to take all of it "
        "in",
    )


def test_a_job_that_needs_more_is_given_back_with_all_that_hangs_on_it() -> None:
    more = replace(JOB, strips=(JOB.strips[0], replace(JOB.strips[1], count=3)))
    found = scope(schedule(more, SECOND, THIRD, standing=standing(first_plan(), 1)), WEEK)
    assert planned(found) == ["J1", "J2"]
    assert tags(found) == (["R-2"], ["R-1"])
    assert found.notes == ("R-1 of plan 1: planned anew, as J1 lacks 1 of B",)


def test_of_a_job_that_is_not_given_back_only_the_rest_is_planned_in_its_batch() -> None:
    more = replace(JOB, strips=(JOB.strips[0], replace(JOB.strips[1], count=3)))
    found = scope(schedule(more, SECOND, THIRD, standing=standing(first_plan(), 1)), WEEK, only=["J1"])
    assert planned(found) == ["J1"]
    assert found.settled == (CutAlready("J1", "A", 1, "B7"), CutAlready("J1", "B", 2, "B7"))
    assert tags(found) == (["R-1", "R-2"], [])


@pytest.mark.parametrize(
    ("changed", "because"),
    [
        (replace(JOB, strips=(Strip("A", 4000, 3100), JOB.strips[1])), "J1 A is now 4.00 × 3.10, was 4.00 × 3.00"),
        (replace(JOB, strips=JOB.strips[:1]), "J1 no longer needs B"),
        (
            replace(JOB, strips=(JOB.strips[0], replace(JOB.strips[1], count=1))),
            "J1 needs 1 of B; 0 cut and 2 to be cut are too many",
        ),
        (replace(JOB, product="S20"), "J1 is now laid in S20"),
        (None, "J1 is no longer in the schedule"),
    ],
)
def test_what_no_longer_suits_the_schedule_is_given_back_with_all_that_hangs_on_it(
    changed: Job | None, because: str
) -> None:
    jobs = [job for job in (changed, SECOND, THIRD) if job is not None]
    found = scope(schedule(*jobs, standing=standing(first_plan(), 1)), WEEK)
    assert planned(found) == [job.code for job in jobs if job is not THIRD]
    assert tags(found) == (["R-2"], ["R-1"])
    assert found.notes == (f"R-1 of plan 1: planned anew, as {because}",)


def test_a_lawn_measured_again_is_given_back() -> None:
    found = scope(schedule(standing=standing(first_plan(), 1), remeasured=frozenset({"J3"})), WEEK)
    assert planned(found) == ["J3"]
    assert found.notes == ("R-2 of plan 1: planned anew, as J3 has been measured again",)


def test_of_copies_cut_beyond_what_is_needed_only_as_many_as_are_needed_count() -> None:
    pieces = {("J1", "B"): [cut_piece(1), cut_piece(2), cut_piece(3, source="R-2", batch="B9")]}
    found = scope(schedule(JOB, pieces=pieces), WEEK)
    assert found.settled == (CutAlready("J1", "B", 2, "B7"),)


def test_a_job_that_is_moved_to_a_later_day_changes_nothing() -> None:
    later = replace(JOB, lay_on=MONDAY + timedelta(days=2))
    assert scope(schedule(later, SECOND, THIRD, standing=standing(first_plan(), 1)), WEEK).jobs == ()


def test_an_order_that_comes_too_late_is_given_back() -> None:
    on_time = coming(bought_plan(), 1)
    assert scope(schedule(standing=on_time), WEEK).jobs == ()
    late = coming(bought_plan(), 1, due=MONDAY)
    found = scope(schedule(standing=late), WEEK)
    assert found.notes == (
        "P1-1 of plan 1: planned anew, as J1 is laid on 2026-11-30, and P1-1 does not come before 2026-11-30",
    )


def test_a_pin_elsewhere_gives_a_job_back_and_a_pin_to_what_it_has_does_not() -> None:
    stands = standing(first_plan(), 1)
    assert scope(schedule(standing=stands, pins=(Pin("J3", "R-2"),)), WEEK).jobs == ()
    found = scope(schedule(standing=stands, pins=(Pin("J3", "R-1"),)), WEEK)
    assert planned(found) == ["J3"]
    assert found.notes == ("R-2 of plan 1: planned anew, as J3 is pinned to R-1",)


def test_pieces_that_are_cut_stay_cut_whatever_is_given_back() -> None:
    pieces = {("J1", "B"): [cut_piece()]}
    found = scope(schedule(pieces=pieces), WEEK)
    assert planned(found) == ["J1", "J2", "J3"]
    assert found.settled == (CutAlready("J1", "B", 1, "B7"),)


def test_a_job_cut_in_full_is_done_with() -> None:
    pieces = {("J1", "A"): [cut_piece(1, 4000, 3000)], ("J1", "B"): [cut_piece(1), cut_piece(2)]}
    assert planned(scope(schedule(pieces=pieces), WEEK)) == ["J2", "J3"]


def test_a_piece_cut_too_small_for_what_is_wanted_now_does_not_count_and_a_larger_one_does() -> None:
    smaller, larger = {("J2", "A"): [cut_piece(1, 4000, 2499)]}, {("J2", "A"): [cut_piece(1, 4000, 2501)]}
    assert "J2" in planned(scope(schedule(pieces=smaller), WEEK))
    assert "J2" not in planned(scope(schedule(pieces=larger), WEEK))


def test_a_roll_that_came_short_is_given_back_with_all_that_hangs_on_it() -> None:
    stands = standing(first_plan(), 1, [replace(ROLL, length_mm=7400), OTHER_ROLL])
    found = scope(schedule(standing=stands), WEEK)
    assert planned(found) == ["J1", "J2"]
    assert found.notes == ("R-1 of plan 1: planned anew, as J2 lacks 1 of A",)


def test_a_job_that_would_mix_batches_is_given_back() -> None:
    pieces = {
        ("J1", "B"): [cut_piece(1, batch="B9"), cut_piece(2, batch="B9")],
        ("J2", "A"): [cut_piece(1, 4000, 2500)],
    }
    stands = standing(first_plan(), 1)
    trimmed = replace(stands[0], cuts=replace(stands[0].cuts, drops=stands[0].cuts.drops[:1]))
    found = scope(schedule(standing=(trimmed,), pieces=pieces), WEEK)
    assert "J1 would mix batches B7 and B9" in found.notes[0]
    any_batch = replace(JOB, batch_rule=BatchRule.ANY)
    assert scope(schedule(any_batch, standing=(trimmed,), pieces=pieces), WEEK).notes == ()


def test_only_what_some_jobs_miss_is_planned_and_nothing_given_back() -> None:
    stands = standing(first_plan(), 1, [replace(ROLL, length_mm=7400), OTHER_ROLL])
    gone = schedule(JOB, SECOND, NEW, standing=stands)
    found = scope(gone, Window(MONDAY, MONDAY), only=["J2"])
    assert planned(found) == ["J2"]
    assert found.freed == found.notes == ()


def test_a_job_whose_strips_are_not_worked_out_is_left_aside() -> None:
    assert planned(scope(schedule(replace(JOB, strips=())), WEEK)) == []
