"""What was settled before a plan is made: trivially right, wrong, right again. Each cut is drawn above its test.

The yard is that of `test_check.py`: R-1 of batch B7, R-2 of batch B8, and job J1, which wants A once and B twice.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from builders import JOB, MONDAY, OTHER_ROLL, ROLL, Case, build, new_order, read_cuts, small_request

from stockplan.domain.check import Rule, check
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import Shortfall
from stockplan.domain.request import CutAlready, Pin

ALL_OF_J1 = ("3000: J1.A1", "2000: J1.B1 | J1.B2")


def broken(case: Case) -> set[str]:
    return {violation.rule for violation in check(case.request, case.plan)}


def said(case: Case) -> str:
    return "\n".join(str(violation) for violation in check(case.request, case.plan))


# --- pins -----------------------------------------------------------------------------------------------------------


def cut_from(source: str, *pins: Pin) -> Case:
    request = small_request(pins=pins)
    return build(request, {source: read_cuts(request, *ALL_OF_J1)})


#   | J1 A1 | J1 B1 B2 |   and a pin says R-1
def test_a_pin_that_is_kept_is_sound() -> None:
    assert broken(cut_from("R-1", Pin("J1", "R-1"))) == set()


#   | J1 A1 | J1 B1 B2 |   and a pin says R-1
def test_a_pin_is_broken_when_the_job_is_cut_from_something_else() -> None:
    case = cut_from("R-2", Pin("J1", "R-1"))
    assert broken(case) == {Rule.PINS}
    assert "J1 A no. 1 on R-2: is pinned to R-1" in said(case)


#   | J1 A1 | J1 B1 B2 |   and two pins say
def test_pins_are_right_again_when_one_of_several_is_kept_or_the_job_is_short() -> None:
    assert broken(cut_from("R-2", Pin("J1", "R-1"), Pin("J1", "R-2"))) == set()
    request = small_request(pins=(Pin("J1", "R-1"),))
    short = [Shortfall("J1", "A", 1, "R-1 is too short"), Shortfall("J1", "B", 2, "the job waits")]
    assert broken(build(request, {}, short=short)) == set()


# --- cut already ----------------------------------------------------------------------------------------------------

B1_CUT = CutAlready("J1", "B", 1, "B7")


#   | J1 A1 | B2 / |   and B1 lies ready, batch B7
def test_the_rest_of_a_job_in_the_batch_it_was_begun_in_is_sound() -> None:
    request = small_request(cut_already=(B1_CUT,))
    assert broken(build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B2")})) == set()


#   | J1 A1 | B1 B2 |   and B1 lies ready
def test_a_copy_that_is_cut_already_must_not_be_cut_again() -> None:
    request = small_request(cut_already=(B1_CUT,))
    case = build(request, {"R-1": read_cuts(request, *ALL_OF_J1)})
    assert broken(case) == {Rule.CUT_ALREADY}
    assert "J1 B no. 1 on R-1: copies 1 to 1 are cut already" in said(case)


#   | J1 A1 | B2 / |   and B1 lies ready, batch B7, not B8
def test_the_rest_of_a_job_must_not_come_from_another_batch_nor_from_an_order() -> None:
    request = small_request(cut_already=(B1_CUT,))
    case = build(request, {"R-2": read_cuts(request, "3000: J1.A1", "2000: J1.B2")})
    assert broken(case) == {Rule.CUT_ALREADY}
    assert "the job was begun in batch B7" in said(case)
    bought = build(request, {"new-1": read_cuts(request, "3000: J1.A1", "2000: J1.B2")}, orders=[new_order()])
    assert broken(bought) == {Rule.CUT_ALREADY}


def test_a_batch_called_as_an_order_s_is_not_the_order_s() -> None:
    request = small_request(cut_already=(replace(B1_CUT, batch="new"),))
    case = build(request, {"new-1": read_cuts(request, "3000: J1.A1", "2000: J1.B2")}, orders=[new_order()])
    assert broken(case) == {Rule.CUT_ALREADY}


def test_right_again_where_any_batch_will_do_or_the_rest_is_short() -> None:
    request = small_request(replace(JOB, batch_rule=BatchRule.ANY), cut_already=(B1_CUT,))
    assert broken(build(request, {"R-2": read_cuts(request, "3000: J1.A1", "2000: J1.B2")})) == set()
    request = small_request(cut_already=(B1_CUT,))
    short = [Shortfall("J1", "A", 1, "no B7"), Shortfall("J1", "B", 1, "no B7")]
    assert broken(build(request, {}, short=short)) == set()


def test_every_copy_still_to_be_cut_is_wanted_and_none_that_was_cut_is_short() -> None:
    request = small_request(cut_already=(B1_CUT,))
    assert broken(build(request, {"R-1": read_cuts(request, "3000: J1.A1")})) == {Rule.COVERAGE}
    short = [Shortfall("J1", "A", 1, "no B7"), Shortfall("J1", "B", 2, "no B7")]
    assert broken(build(request, {}, short=short)) == {Rule.COVERAGE}


def test_a_strip_cut_in_full_is_neither_cut_nor_short() -> None:
    request = small_request(cut_already=(replace(B1_CUT, count=2),))
    assert broken(build(request, {"R-1": read_cuts(request, "3000: J1.A1")})) == set()


# --- what is on its way ---------------------------------------------------------------------------------------------


def on_its_way(days_before: int) -> Case:
    coming = replace(ROLL, tag="P3-1", batch="new (plan 3)", arrives_on=MONDAY - timedelta(days=days_before))
    request = small_request(stock=(coming, OTHER_ROLL))
    return build(request, {"P3-1": read_cuts(request, *ALL_OF_J1)})


def test_what_comes_the_day_before_may_be_cut_and_what_comes_on_the_day_may_not() -> None:
    assert broken(on_its_way(1)) == set()
    case = on_its_way(0)
    assert broken(case) == {Rule.ORDERS}
    assert f"P3-1: arrives on {MONDAY}; J1 is laid on {MONDAY}" in said(case)
