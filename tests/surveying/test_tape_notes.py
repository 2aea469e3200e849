"""Tape notes: each form, and each statement."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point as Spot
from shapely.geometry import Polygon
from taped import SETTINGS, faults, read

from stockplan.domain.lawn import EdgeNote, LawnPlace, Point
from stockplan.domain.measured import Measured
from stockplan.domain.pile import parse_pile
from stockplan.errors import SurveyFaults, UnitError
from stockplan.surveying.lengths import Unit, read_length
from stockplan.surveying.reading import read_file, read_typed

WALK = """units m
walk
6.20 left   house
4.80 left
2.00 left   path, no seam
1.80 right
4.20 left
3.00
"""


def test_a_walk_with_holes_and_everything_that_can_be_said() -> None:
    measured = read(
        WALK
        + "lawn back\nplace back\nfirst side bears 120\npile from house\nunseen from front\nside 6 fence # later\n"
        + "hole circle diameter 0.80 at 1.5 left 1.2\nhole rectangle 1.2 x 0.8 at 5.8 left 4.3 heading left 180\n"
    )
    lawn = measured.lawn
    assert lawn.edge == tuple(
        Point(*p) for p in [(0, 0), (6200, 0), (6200, 4800), (4200, 4800), (4200, 3000), (0, 3000)]
    )
    assert lawn.notes == (EdgeNote(0, "house"), EdgeNote(2, "path", no_seam=True), EdgeNote(5, "fence"))
    assert (lawn.label, lawn.place, lawn.y_bearing) == ("back", LawnPlace.BACK, 30.0)
    assert (lawn.pile, lawn.cannot_be_seen_with) == (parse_pile("from house"), ("front",))
    tree, bed = lawn.holes
    assert Spot(1500, 1200).buffer(402).contains(Polygon(tree))
    assert set(bed) == {Point(5800, 4300), Point(4600, 4300), Point(4600, 3500), Point(5800, 3500)}
    assert measured.misclosure is not None
    assert measured.misclosure.linear_mm == pytest.approx(0, abs=1e-6)


def test_a_walk_by_bearings_has_north_up() -> None:
    lawn = read("units m\nwalk\n6 bearing 90\n4 bearing 0\n6 bearing 270\n4 bearing 180\nside 1 house\n").lawn
    assert lawn.edge == (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
    assert lawn.y_bearing == 0.0


def test_a_misclosure_is_spread_and_the_first_side_stays_along_x() -> None:
    measured = read(WALK.replace("4.20 left", "4.25 left"))
    assert measured.misclosure is not None
    assert measured.misclosure.linear_mm == pytest.approx(50)
    assert [y for _, y in measured.lawn.edge[:2]] == [0, 0]


PLOT = """units m
plot A B C D clockwise
A B 6.00 house
BC 4.00
c-d 6.00
D A 4.00   fence
A C 7.211
B D 7.211
"""


def test_a_plot_walked_clockwise_lies_on_the_right() -> None:
    measured = read(PLOT + "hole circle radius 0.3 from A 2.0, B 4.472\nround C radius 1.0\n")
    lawn = measured.lawn
    assert lawn.edge[:2] == (Point(0, 0), Point(6000, 0))
    assert lawn.edge[-1] == Point(0, -4000)
    assert len(lawn.edge) > 5
    assert (lawn.named("house"), lawn.named("fence")) == ((0,), (len(lawn.edge) - 1,))
    assert [result.name for result in measured.tapes] == ["A–B", "B–C", "C–D", "D–A", "A–C", "B–D"]
    assert all(abs(result.residual_mm) < 1 for result in measured.tapes)
    x, y = Polygon(lawn.holes[0]).centroid.coords[0]
    assert math.hypot(x, y) == pytest.approx(2000, abs=2)
    assert math.hypot(x - 6000, y) == pytest.approx(4472, abs=2)
    assert y < 0


def test_a_baseline_is_the_first_side_whichever_hand_the_offsets_lie_on() -> None:
    left = read("units m\nbaseline 8 house\n0 left 2\n2 left 2.6\n4 left 3\n6 left 2.6\n8 left 2\n")
    right = read("units m\nbaseline 8 house\n0 right 2\n2 right 2.6\n4 right 3\n6 right 2.6\n8 right 2\n")
    assert left.areas == right.areas
    assert left.areas is not None
    assert left.lawn.area_mm2 == left.areas.trapezoidal_mm2 == 20_400_000
    assert left.areas.simpson_mm2 == pytest.approx(2 / 3 * (4 + 4 * 5.2 + 2 * 3) * 1e6)
    assert left.lawn.side(left.lawn.named("house")[0]) == (Point(0, 0), Point(8000, 0))
    assert right.lawn.side(right.lawn.named("house")[0]) == (Point(8000, 0), Point(0, 0))
    both = read("units m\nbaseline 8\n0 left 1\n4 left 2\n8 left 1\n4 right 1.5\n")
    assert both.areas is not None
    assert both.lawn.area_mm2 == both.areas.trapezoidal_mm2 == 12_000_000 + 6_000_000


def test_corners_by_coordinates_and_a_circle() -> None:
    lawn = read("units mm\ncorners\n0 0 house\n6000 -500\n6000 4000\nfirst side bears 0\n").lawn
    assert lawn.edge == (Point(0, 0), Point(6000, -500), Point(6000, 4000))
    assert lawn.y_bearing == pytest.approx(270 - math.degrees(math.atan2(500, 6000)), abs=1e-3)
    round_one = read(
        "units m\ncircle radius 2.5\nhole circle radius 0.3 at 0.5 right 1\nhole corners\n-1 0\n-0.5 0\n-1 1\n"
    ).lawn
    assert Polygon(round_one.edge).contains(Spot(0, 0).buffer(2499))
    assert Polygon(round_one.holes[0]).centroid.coords[0] == (pytest.approx(500, abs=1), pytest.approx(-1000, abs=1))
    assert round_one.holes[1][0] == Point(-1000, 0)


def test_a_hole_walked_round_or_taped() -> None:
    walked = read(WALK + "hole walk at 1 left 1 heading left 90\n1 right\n0.5 right\n1 right\n0.5\n").lawn
    assert walked.holes[0] == (Point(1000, 1000), Point(1000, 2000), Point(1500, 2000), Point(1500, 1000))
    taped = read(WALK + "hole plot P Q R anticlockwise at 1 left 1\nP Q 1\nQ R 1\nR P 1.414\n").lawn
    assert [Point(round(x, -1), round(y, -1)) for x, y in taped.holes[0]] == [(1000, 1000), (2000, 1000), (2000, 2000)]


def test_typed_sizes_and_notes() -> None:
    assert read_typed("6.2 x 4.8", SETTINGS)[0].lawn.edge[2] == Point(6200, 4800)
    assert read_typed("20ft × 15'6\"", SETTINGS)[0].lawn.edge[2] == Point(6096, 4724)
    (one,) = read_typed("6.2x4.8; side 1 house; place front; hole circle radius 0.4 at 3 left 2", SETTINGS)
    assert (one.lawn.named("house"), one.lawn.place, len(one.lawn.holes)) == ((0,), LawnPlace.FRONT, 1)
    (walked,) = read_typed("walk; 6 left; 4 left; 6 left; 4", SETTINGS)
    assert walked.lawn.area_mm2 == 24_000_000


@pytest.mark.parametrize("size", ["20ft x 3", "3 x 20'", "20 × 15 ft", "20FTX3"])
def test_a_typed_size_with_feet_at_one_side_only_is_refused(size: str) -> None:
    with pytest.raises(SurveyFaults) as caught:
        read_typed(f"{size}; place nowhere", SETTINGS)
    mixed, other = caught.value.faults
    right = "both in feet, such as 20ft x 15ft, or in metres"
    assert mixed == f"typed:1: feet at one side only, found '{size}', would be right: {right}"
    assert other.startswith("typed:2: ")
    with pytest.raises(SurveyFaults, match="feet at one side only"):
        read_typed(size, SETTINGS)


def test_a_length_and_its_unit_in_several_words_are_one_length() -> None:
    feet = (
        "units ft\nplot A B C D clockwise\nA B 20' 6\" house\nB C 15 ft 6 in\nC D 20ft 6in\nD A 15'6\"\nA C 25'8.4\"\n"
    )
    lawn = read(feet).lawn
    assert lawn.area_mm2 == pytest.approx(20.5 * 15.5 * 304.8**2, rel=1e-3)
    assert lawn.named("house") == (0,)
    assert read("units ft\nwalk\n20' 6\" left\n15' left\n20.5 left\n15'\n").lawn.perimeter_mm == 21640
    assert read("units m\nwalk\n6.2 m left wall\n480 cm left\n6.2 left\n4.8 m\n").lawn.area_mm2 == 29_760_000
    assert read_typed("20' 6\" x 15 ft 3 in", SETTINGS)[0].lawn.edge[2] == Point(6248, 4648)
    assert read_typed("6.2 m x 4800 mm", SETTINGS)[0].lawn.edge[2] == Point(6200, 4800)
    assert read("units m\nrectangle 6 x 4\nside 1 12 Oak Road\nside 2 2nd gate").lawn.named("12 oak road") == (0,)


@pytest.mark.parametrize("rest", ['6 1/2" house', "6", '6½"', "80", "1.3 house"])
def test_the_rest_of_a_length_is_not_taken_for_a_side_s_name(rest: str) -> None:
    with pytest.raises(SurveyFaults, match=f"notes:3: a number where a side's name may stand, found '{rest}"):
        read(f"units ft\nplot A B C clockwise\nA B 20' {rest}\nB C 15\nC A 25\n")


def test_a_leg_that_goes_straight_on_is_a_corner_without_a_turn() -> None:
    lawn = read("units m\nwalk\n3 straight\n3 left\n4 left\n6 left\n4\n").lawn
    assert lawn.edge[:3] == (Point(0, 0), Point(3000, 0), Point(6000, 0))


def test_what_more_than_one_shape_fits_is_said_or_asked() -> None:
    arrow = "units m\nplot A B C D anticlockwise\nA B 6\nB C 3.808\nC D 5.148\nD A 6\nB D 8.485\n"
    kite = read(arrow)
    assert "also fit a shape with turned inward C" in kite.said[0]
    assert "no tape" in kite.said[1]
    inward = read(arrow + "inward C\n").lawn
    assert inward.area_mm2 < kite.lawn.area_mm2
    (found,) = faults(arrow + "inward B\n")
    assert found.startswith("notes:2: no shape that turns inward where it is said to, found inward B")


@pytest.mark.parametrize(
    ("text", "unit", "length"),
    [
        ("3.6", "m", 3600),
        ("360cm", "m", 3600),
        ("3600", "mm", 3600),
        ("20", "ft", 6096),
        ("20'6\"", "ft", 6248),
        ("6in", "ft", 152),
    ],
)
def test_lengths_in_the_unit_stated(text: str, unit: str, length: int) -> None:
    assert read_length(text, Unit(unit)) == length


@pytest.mark.parametrize(
    ("text", "unit"), [("20ft", "m"), ("3.6", "mm"), ("20'13\"", "ft"), ("3.6m", "ft"), ("20 6", "ft"), ("", "m")]
)
def test_lengths_that_are_none_in_that_unit(text: str, unit: str) -> None:
    with pytest.raises(UnitError):
        read_length(text, Unit(unit))


VOCABULARY = [
    *("units", "m", "ft", "walk", "plot", "A", "B", "C", "A-B", "clockwise", "baseline", "circle", "radius", "corners"),
    *("hole", "at", "from", "left", "right", "heading", "6.2", "4", "0", "-1", "x", "side", "1", "round", "inward"),
    *("bears", "first", "90", "no", "seam", "rectangle", "6x4", "#", "bearing", "straight", "é", "\x07", "place"),
    *("back", "pile", "open", "unseen"),
]


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(st.sampled_from(VOCABULARY), max_size=7), max_size=9))
def test_whatever_is_typed_is_a_lawn_or_a_list_of_faults(words: list[list[str]]) -> None:
    found = outcome("\n".join(" ".join(line) for line in words))
    if isinstance(found, Measured):
        assert Polygon(found.lawn.edge, found.lawn.holes).is_valid
    else:
        assert found
        assert all(fault.isprintable() and "would be right" in fault for fault in found)


def outcome(text: str) -> Measured | tuple[str, ...]:
    try:
        return read_file("notes.txt", text.encode(), SETTINGS)[0]
    except SurveyFaults as caught:
        return caught.faults
