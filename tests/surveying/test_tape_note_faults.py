"""What tape notes are refused for: every fault at once, by line."""

from __future__ import annotations

import math

import pytest
from taped import faults, read


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("rectangle 6 x 4", "notes:1: lengths without a unit, found no units stated"),
        ("units yd\nrectangle 6 x 4", "notes:1: a unit nobody knows, found 'yd', would be right: m, mm or ft"),
        ("units m\nrectangle 20ft x 4", "notes:2: a side cannot be read, found '20ft', would be right: state feet as"),
        (f"units mm\nrectangle {'9' * 5000} x 4000", "notes:2: a side cannot be read, found '9999"),
        (f"units ft\nrectangle {'9' * 400} x 4", "notes:2: a side cannot be read, found '9999"),
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
            "units m\nwalk\n6 left\n4 left\n6 left\n4\n"
            "hole walk at 1 left 1\n1 bearing 0\n1 bearing 90\n1 bearing 180\n1 bearing 270",
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
