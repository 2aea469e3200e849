"""Tape notes: each form, each statement, and every fault at once by line."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point as Spot
from shapely.geometry import Polygon

from stockplan.domain.lawn import EdgeNote, LawnPlace, Point
from stockplan.domain.measured import Measured
from stockplan.domain.pile import parse_pile
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults, UnitError
from stockplan.surveying.lengths import Unit, read_length
from stockplan.surveying.reading import read_file, read_typed
from stockplan.surveying.tape_notes import read_tape_notes

SETTINGS = SurveySettings()


def read(text: str) -> Measured:
    return read_tape_notes(text, "notes", SETTINGS)


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(SurveyFaults) as caught:
        read(text)
    return caught.value.faults


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


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("rectangle 6 x 4", "notes:1: lengths without a unit, found no units stated"),
        ("units yd\nrectangle 6 x 4", "notes:1: a unit nobody knows, found 'yd', would be right: m, mm or ft"),
        ("units m\nrectangle 20ft x 4", "notes:2: a side cannot be read, found '20ft', would be right: state feet as"),
        ("units m\nrectangle 6 by 4", "notes:2: not a size, found '6 by 4'"),
        ("units m\nrectangle 6 x 0", "notes:2: a side is nothing, found '0'"),
        ("units m\nrectangle 6 x 4000000mm", "notes:2: a side is over a kilometre"),
        ("units m", "notes: no outline, found none of its forms"),
        ("units m\nrectangle 6 x 4\nrectangle 6 x 4", "notes:3: a second outline, found one in line 2 already"),
        ("units m\nunits m\nrectangle 6 x 4", "notes:2: units said twice"),
        ("units m\nrectangle 6 x 4\nhello", "notes:3: a line nobody knows, found 'hello', would be right: a line that"),
        ("units m\nrectangle 6 x 4\n4.8 left", "notes:3: a line nobody knows, found '4.8 left', would be right: a li"),
        ("units m\nwalk\n6 lft\n4 left\n5", "notes:3: a leg without the turn at its end, found 'lft', taken as a name"),
        ("units m\nrectangle 6 x 4 again", "notes:2: words that say nothing here, found 'again'"),
        ("units m\nrectangle 6 x 4\nside 5 house", "notes:3: no such side, found '5', would be right: a side's number"),
        ("units m\nrectangle 6 x 4\nside 2", "notes:3: a side of which nothing is said"),
        ("units m\nrectangle 6 x 4\nround 5 radius 1", "notes:3: no such corner, or one rounded already, found '5'"),
        ("units m\nrectangle 6 x 4\nround 1 radius 5", "notes:3: a corner that cannot be rounded"),
        ("units m\nrectangle 6 x 4\nplace rear", "notes:3: a place nobody knows, found 'rear'"),
        ("units m\nrectangle 6 x 4\npile hither", "notes:3: pile 'hither' cannot be read"),
        ("units m\nrectangle 6 x 4\nfirst side bears 360", "notes:3: the bearing too large, found '360'"),
        ("units m\nrectangle 6 x 4\nhole circle radius 0.5", "notes:3: a hole without a place"),
        ("units m\nrectangle 6 x 4\nhole baseline 3 at 1 left 1", "notes:3: a hole of no known form, found 'baseline'"),
        ("units m\nrectangle 6 x 4\nhole circle radius 0.5 at 9 left 1", "notes:3: a hole outside the lawn"),
        ("units m\nrectangle 6 x 4\nhole circle radius 0.5 from 1 1, 2 1", "notes:3: two tapes that do not meet"),
        ("units m\nrectangle 6 x 4\nhole circle radius 0.5 from 1 3.7, 3 3.7", "notes:3: two tapes that do not say wh"),
        ("units m\nrectangle 6 x 4\nhole circle radius 0.5 from 1 2, 9 2", "notes:3: a corner nobody named, found '9'"),
        ("units m\ncircle 3", "notes:2: a circle without a size"),
        ("units m\ncircle radius 0.005", "notes:2: a circle too small to draw"),
        ("units m\nwalk\n6 left\n4", "notes:2: a walk too short to enclose anything, found 2 legs"),
        ("units m\nwalk\n6 left\n4\n5 left\n3", "notes:4: a leg without the turn at its end"),
        ("units m\nwalk\n6 left\n4 bearing 3\n5 left\n3", "notes:4: turns and bearings mixed in one walk, found a bea"),
        ("units m\nwalk\n6 bearing 3\n4 bearing 90\n5", "notes:5: a leg without its bearing"),
        ("units m\nwalk\n6 left 200\n4 left\n5", "notes:3: the turn too large, found '200'"),
        ("units m\nwalk\n3 left\n4 left\n9", "notes:5: legs that cannot close, found leg 3 of 9.00 m, would be right:"),
        ("units m\nwalk\n6 left\n4 left\n6 left\n5", "notes:2: a walk that misses its start, found 1.000 m in 21.00 m"),
        ("units m\nwalk\n6 left 95\n4 left 95\n6 left\n4 left", "notes:2: turns that do not come round, found +10.0 d"),
        ("units m\nplot A B C", "notes:2: a plot that may be its own mirror image"),
        ("units m\nplot A B clockwise", "notes:2: corners of a plot, found 2"),
        ("units m\nplot A B side clockwise", "notes:2: a corner's name, found 'side'"),
        ("units m\nplot A B C clockwise\nA B 3\nB C 4\nB E 5", "notes:5: a corner nobody named, found 'E'"),
        ("units m\nplot A B C clockwise\nA B 3\nB C 4", "notes:2: tapes that leave corners loose, found 2 tapes; loos"),
        ("units m\nplot A B C clockwise\nA B 3\nB C 4\nC A 8", "notes:5: a tape longer than the way round, found C–A "),
        ("units m\ninward A\nrectangle 6 x 4", "notes:2: inward outside a plot"),
        ("units m\nbaseline 8", "notes:2: a baseline without offsets"),
        ("units m\nbaseline 8\n2 1.5", "notes:3: an offset without a side"),
        ("units m\nbaseline 8\n2 left 1.5\n1 left 2", "notes:4: offsets out of order"),
        ("units m\nbaseline 8\n9 left 1.5", "notes:3: an offset beyond the baseline"),
        ("units m\nbaseline 8 house\n4 left 1.5\n4 right 2", "notes:2: a baseline that is no edge"),
        ("units m\ncorners\n0 0\n6 0\n0 4\n6 4", "notes:2: an edge that crosses itself, found side 2 meets side 4 at"),
        ("units m\n" + "#\n" * 10_000, "notes: notes too long, found 10001 lines, would be right: at most 10000"),
        (f"units m\nrectangle 6 x 4\nlawn {'x' * 41}", "notes:3: a lawn's name, found 'xxx"),
        (f"units m\nrectangle 6 x 4\nside 2 {'x' * 41}", "notes:3: a name too long, found 'xxx"),
        ("units m\nrectangle 6 x 4\nunseen from", "notes:3: a lawn's name missing, found the end of the line"),
        ("units m\nrectangle 6 x 4\nfirst side bears north", "notes:3: the bearing missing, found 'north', would be "),
        ("units m\nrectangle 6 x 4\nhole circle radius 0.5 from 1 1", "notes:3: a corner missing, found 'hole"),
        (
            "units m\nrectangle 6 x 4\nhole rectangle 1 x 1 at 1 left 1 heading 30",
            "notes:3: a heading without a side, found '30', would be right: heading left or right, and degrees",
        ),
        (
            "units m\nwalk\n6 left\n4 left\n6 left\n4\nhole walk at 1 left 1\n1 bearing 0\n1 bearing 90\n1 bearing 180\n1 bearing 270",
            "notes:7: a hole walked by bearings in a lawn that is not",
        ),
        (
            "units m\nwalk\n6 bearing 90\n4 bearing 0\n6 bearing 270\n4 bearing 180\nfirst side bears 90",
            "notes: the first side's bearing given twice, found 90 degrees",
        ),
        ("units m\ncircle radius 3\nfirst side bears 90", "notes: a first side's bearing without a first side, found"),
        (
            "units m\nplot A B C D clockwise\nA B 6\nB C 4\nC D 6\nD A 4\nA C 8\nB D 7.21",
            "notes:2: tapes that do not agree, found A–C off by 0.272 m, and others with it, would be right: one tape",
        ),
        (
            "units m\nplot A B C D E clockwise\nA B 5\nB C 5\nC D 5\nD E 5\nE A 5\nA C 9\n"
            "B D 7\nC E 9.5\nA D 8.9\nB E 8",
            "notes:2: tapes that do not agree, found A–D off by 0.631 m, and others with it, would be right: tapes",
        ),
    ],
)  # fmt: skip
def test_each_fault_by_line(text: str, expected: str) -> None:
    found = faults(text)
    assert len(found) == 1
    assert found[0].startswith(expected)


def test_every_fault_at_once() -> None:
    found = faults("rectangle 6 x 4\nside 7 house\nround 9 radius 1\nhole circle radius 0.5 at 9 left 1\nplace rear\n")
    assert [fault.partition(", found")[0] for fault in found] == [
        "notes:1: lengths without a unit",
        "notes:2: no such side",
        "notes:3: no such corner, or one rounded already",
        "notes:5: a place nobody knows",
    ]
    unread = faults("units m\nwalk\n6,2 left\nx left\n4 left\n")
    assert [fault.partition(", found")[0] for fault in unread] == [
        "notes:3: the leg cannot be read",
        "notes:4: the leg cannot be read",
    ]


def test_everything_said_of_diagonals_is_told_at_once() -> None:
    sides = "units m\nplot A B C D clockwise\nA B 6\nB C 4\nC D 6\nD A 4\n"
    assert [fault.partition(", would")[0] for fault in faults(f"{sides}A C 7.21 path\nB D 7.21, no seam\n")] == [
        "notes:2: something said of a diagonal, found 'path' on A–C",
        "notes:2: something said of a diagonal, found 'no seam' on B–D",
    ]
    assert read(f"{sides}A C 7.21\nB D 7.21\n").lawn.area_mm2 == pytest.approx(24_000_000, abs=10_000)


def test_a_leg_that_goes_straight_on_is_a_corner_without_a_turn() -> None:
    lawn = read("units m\nwalk\n3 straight\n3 left\n4 left\n6 left\n4\n").lawn
    assert lawn.edge[:3] == (Point(0, 0), Point(3000, 0), Point(6000, 0))


def test_a_misread_tape_is_named_with_what_it_would_be() -> None:
    # a regular hexagon of 5 m with all its diagonals
    corners = [(5 * math.cos(math.pi / 3 * k), 5 * math.sin(math.pi / 3 * k)) for k in range(6)]
    lines = [
        f"{'ABCDEF'[i]} {'ABCDEF'[j]} {math.dist(corners[i], corners[j]):.2f}"
        for i in range(6)
        for j in range(i + 1, 6)
    ]
    lines[3] = "A E 9.66"  # 8.66 misread by a metre
    (found,) = faults("units m\nplot A B C D E F anticlockwise\n" + "\n".join(lines))
    assert found.startswith(
        "notes:6: a tape that was misread, found A–E of 9.66 m, would be right: about 8.66 m, where all"
    )


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
