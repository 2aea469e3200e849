"""Walks round the edge, against published traverses adjusted by the compass rule."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockplan.domain.survey import SurveySettings
from stockplan.surveying.traverse import Leg, leg_too_long, likely_slips, walk

TOLERANCES = SurveySettings()


def bearing(degrees: int, minutes: int = 0, seconds: int = 0) -> float:
    return degrees + minutes / 60 + seconds / 3600


def test_the_running_example_of_a_surveying_text() -> None:
    """Ghilani and Wolf, Elementary Surveying, chapter on traverse computations (from memory); in feet."""
    legs = [
        Leg(647_250, bearing=bearing(126, 55, 17)),
        Leg(203_030, bearing=bearing(178, 18, 58)),
        Leg(720_350, bearing=bearing(15, 31, 54)),
        Leg(610_240, bearing=bearing(284, 35, 20)),
        Leg(285_130, bearing=bearing(206, 9, 41)),
    ]
    walked = walk(legs, TOLERANCES)
    missed = walked.misclosure
    assert (missed.x_mm, missed.y_mm) == (pytest.approx(26, abs=2), pytest.approx(77, abs=2))
    assert missed.linear_mm == pytest.approx(81, abs=2)
    assert missed.one_in == pytest.approx(30_000, rel=0.03)
    adjusted = [(517_444, -388_835), (5_964, -202_949), (192_881, 694_023), (-590_571, 153_689), (-125_718, -255_928)]
    assert np.array(walked.legs) == pytest.approx(np.array(adjusted), abs=1.0)
    assert missed.allowed


def test_a_worked_traverse_of_four_legs() -> None:
    """Lecture notes 'Compass Rule: adjustment of bearing and distance of a closed traverse', to whole millimetres."""
    legs = [
        Leg(80_400, bearing=76.0),
        Leg(46_300, bearing=180.0 - 36),
        Leg(72_800, bearing=180.0 + 61),
        Leg(68_000, bearing=360.0 - 38),
    ]
    walked = walk(legs, TOLERANCES)
    assert (walked.misclosure.y_mm, walked.misclosure.x_mm) == (pytest.approx(285, abs=2), pytest.approx(-311, abs=2))
    assert walked.misclosure.perimeter_mm == 267_500
    latitudes, departures = [19_365.3, -37_506.3, -35_371.6, 53_512.6], [78_105.5, 27_267.8, -63_587.4]
    assert [y for _, y in walked.legs] == pytest.approx(latitudes, abs=0.7)
    assert [x for x, _ in walked.legs][:3] == pytest.approx(departures, abs=0.7)


def test_corrections_are_shared_as_the_lengths() -> None:
    legs = [Leg(6000, 90.0), Leg(4000, 90.0), Leg(6040, 90.0), Leg(4000)]
    walked = walk(legs, TOLERANCES)
    assert (walked.misclosure.x_mm, walked.misclosure.y_mm) == (pytest.approx(-40), pytest.approx(0))
    assert walked.corners == tuple(
        (pytest.approx(x), pytest.approx(y, abs=1e-6))
        for x, y in [
            (0, 0),
            (6000 + 40 * 6000 / 20_040, 0),
            (6000 + 40 * 10_000 / 20_040, 4000),
            (40 * (16_040 / 20_040 - 1), 4000),
        ]
    )
    assert str(walked.misclosure) == "0.040 m in 20.04 m, 1 in 500"


def test_turns_that_come_round_are_put_right_first() -> None:
    legs = [Leg(6000, 91.0), Leg(4000, 91.0), Leg(6000, 91.0), Leg(4000, 91.0)]
    walked = walk(legs, TOLERANCES)
    assert walked.misclosure.turns_degrees == pytest.approx(4.0)
    assert walked.misclosure.allowed  # 2 degrees times the root of 4 turns
    assert np.array(walked.corners) == pytest.approx(np.array([(0, 0), (6000, 0), (6000, 4000), (0, 4000)]), abs=1e-6)
    clockwise = walk([Leg(leg.length_mm, -(leg.turn or 0)) for leg in legs], TOLERANCES)
    assert clockwise.misclosure.turns_degrees == pytest.approx(-4.0)
    too_far = walk([Leg(leg.length_mm, 91.1) for leg in legs], TOLERANCES)
    assert not too_far.misclosure.turns_allowed


L_SHAPE = [Leg(6200, 90.0), Leg(4800, 90.0), Leg(2000, 90.0), Leg(1800, -90.0), Leg(4200, 90.0), Leg(3000)]


def test_a_misread_leg_is_among_the_slips_that_would_explain_it() -> None:
    misread = [*L_SHAPE[:4], Leg(5200, 90.0), L_SHAPE[5]]
    assert not walk(misread, TOLERANCES).misclosure.allowed
    slips = likely_slips(misread, TOLERANCES)
    assert "leg 5, were it 4.20 m" in slips
    assert all("leg 2" not in slip and "turn" not in slip for slip in slips)


def test_a_turn_to_the_wrong_side_is_pointed_at() -> None:
    mirrored = [L_SHAPE[0], Leg(4800, -90.0), *L_SHAPE[2:]]
    assert likely_slips(mirrored, TOLERANCES) == ["the turn after leg 2, were it to the left"]


def test_a_leg_longer_than_all_others_cannot_close() -> None:
    assert leg_too_long([Leg(3000), Leg(4000), Leg(8000)], TOLERANCES) == 2
    assert leg_too_long([Leg(3000), Leg(4000), Leg(7000)], TOLERANCES) is None


def polygons() -> st.SearchStrategy[list[tuple[int, int]]]:
    """Corners by direction from the middle, so that no side crosses another."""
    places = st.lists(
        st.tuples(st.integers(0, 359), st.integers(1500, 15_000)),
        min_size=3,
        max_size=12,
        unique_by=lambda p: p[0] // 5,
    )
    return places.map(
        lambda found: [
            (round(r * math.cos(math.radians(a))), round(r * math.sin(math.radians(a)))) for a, r in sorted(found)
        ]
    )


@settings(max_examples=150, deadline=None)
@given(polygons(), st.booleans(), st.booleans())
def test_a_polygon_walked_gives_itself_back(corners: list[tuple[int, int]], clockwise: bool, bearings: bool) -> None:
    ring = np.array(corners[::-1] if clockwise else corners, dtype=float)
    sides = np.roll(ring, -1, axis=0) - ring
    headings = np.degrees(np.arctan2(sides[:, 1], sides[:, 0]))
    turns = (np.roll(headings, -1) - headings + 180.0) % 360.0 - 180.0
    lengths = np.rint(np.hypot(sides[:, 0], sides[:, 1]))
    if bearings:
        legs = [Leg(d, bearing=round((90 - h) % 360, 3)) for d, h in zip(lengths, headings, strict=True)]
        turned = ring
    else:
        legs = [Leg(d, round(t, 3)) for d, t in zip(lengths, turns, strict=True)]
        angle = math.radians(headings[0])
        turned = ring @ np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    if abs(np.sum(turns)) < 350:  # the middle lies outside, and the corners do not go round it once
        return
    walked = walk(legs, TOLERANCES)
    assert walked.misclosure.allowed
    assert np.array(walked.corners) == pytest.approx(turned - turned[0], abs=5.0)
