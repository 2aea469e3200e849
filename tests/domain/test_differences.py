"""What is different between two plans, in plain words."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from builders import build, read_cuts
from standing_yard import ALL_OF_J1, THREE, bought_plan, coming, first_plan, lines, standing

from stockplan.domain.differences import Picture, differences, picture, picture_of_standing
from stockplan.domain.plan import Plan, Shortfall

NEW_ROLL = "a new roll of G30, 4.00 × 25.00 m from Fernlea Mills"


def other_plan() -> Plan:
    """R-2 for J1, R-1 for J3, J2 short."""
    return build(
        THREE,
        {
            "R-1": read_cuts(THREE, "2000: J3.A1", "2000: J3.A2"),
            "R-2": read_cuts(THREE, *ALL_OF_J1),
        },
        short=[Shortfall("J2", "A", 1, "nothing left")],
    ).plan


def test_the_same_plan_differs_in_nothing() -> None:
    assert differences(picture(first_plan()), picture(first_plan())) == []
    assert differences(picture(bought_plan()), picture(bought_plan())) == []


def test_jobs_from_elsewhere_and_leftovers() -> None:
    assert differences(picture(first_plan()), picture(other_plan())) == [
        "J1: from R-2; was from R-1",
        "J2: short now; was from R-1",
        "J3: from R-1; was from R-2",
        "no longer left over: part roll of G30, 4.00 × 2.50 m",
        "left over now: part roll of G30, 4.00 × 3.00 m",
        "no longer left over: part roll of G30, 4.00 × 4.00 m",
        "left over now: part roll of G30, 4.00 × 6.00 m",
    ]


def test_other_sizes_from_the_same_source_are_told() -> None:
    longer = replace(THREE.jobs[2], strips=(replace(THREE.jobs[2].strips[0], length_mm=2100),))
    request = replace(THREE, jobs=(*THREE.jobs[:2], longer))
    cuts = {
        "R-1": read_cuts(request, *ALL_OF_J1, "2500: J2.A1"),
        "R-2": read_cuts(request, "2100: J3.A1", "2100: J3.A2"),
    }
    assert differences(picture_of_standing(standing(first_plan(), 1), {}), picture(build(request, cuts).plan)) == [
        "J3: from R-2 as before, but cut to 2 × (4.00 × 2.10); was 2 × (4.00 × 2.00)",
        "left over now: part roll of G30, 4.00 × 3.80 m",
        "no longer left over: part roll of G30, 4.00 × 4.00 m",
    ]


def test_orders_are_told_by_what_is_bought() -> None:
    lines = differences(picture(first_plan()), picture(bought_plan()))
    assert lines[0] == f"J1: from {NEW_ROLL}; was from R-1"
    assert f"ordered now: {NEW_ROLL}" in lines
    assert f"no longer ordered: {NEW_ROLL}" in differences(picture(bought_plan()), picture(first_plan()))


def test_what_stood_to_be_cut_is_compared_by_what_it_is_now() -> None:
    stands = standing(first_plan(), 1)
    assert differences(picture_of_standing(stands, {}), picture(first_plan())) == []
    came = coming(bought_plan(), 1)
    (line,) = lines(bought_plan(), 1)
    assert differences(picture_of_standing(came, {line.key: line}), picture(bought_plan())) == []
    ordered = picture_of_standing(came, {})
    assert ordered.orders == {}
    assert all(set(counts) == {"P1-1"} for counts in ordered.sources.values())


def test_of_a_job_that_is_begun_only_what_comes_beside_is_told() -> None:
    rest = Picture(sources={"J1": Counter({"R-2": 1})})
    assert differences(picture_of_standing((), {}, begun=["J1"]), rest) == ["J1: now also from R-2"]
    assert differences(picture_of_standing((), {}), rest) == ["J1: from R-2; was not planned"]
    assert differences(picture_of_standing((), {}, short=["J1"]), rest) == ["J1: from R-2; was short"]


def test_a_job_that_is_new_one_that_is_gone_and_one_no_longer_short() -> None:
    lines = differences(picture(other_plan()), picture(first_plan()))
    assert "J2: from R-1; was short" in lines
    assert differences(Picture(), picture(first_plan()))[0] == "J1: from R-1; was not planned"
    assert differences(picture(first_plan()), Picture())[0] == "J1: no longer planned; was from R-1"


def test_a_job_that_was_short_and_is_not_asked_for_now_is_not_told_as_no_longer_planned() -> None:
    assert differences(Picture(short=frozenset({"J1"})), Picture()) == []


def test_several_orders_and_pieces_are_counted() -> None:
    before = Picture(sources={"J1": Counter({"R-1": 2, "R-2": 1})})
    after = Picture(sources={"J1": Counter({"R-1": 1, "R-2": 2})})
    assert differences(before, after) == ["J1: 1 piece from R-1 instead of 2, 2 pieces from R-2 instead of 1"]
    twice = replace(after, orders=Counter({"a new roll": 2}))
    assert differences(after, twice) == ["ordered now: 2 × a new roll"]
