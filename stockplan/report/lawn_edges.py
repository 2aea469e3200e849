"""What is written beside the edges of a lawn: name, length, and that a seam must keep away.

A curve that was measured as many short edges gets one label for its whole length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.domain.lawn import Lawn, twice_area
from stockplan.report.lawn_drawing_parts import Spot
from stockplan.report.words import printable

CURVE_EDGE_MM = 1200  # an edge of a curve is no longer
CURVE_TURN_DEGREES = 40.0  # and turns no more than this from the one before
CURVE_EDGES = 3
LONGEST_NAME = 18


@dataclass(frozen=True, slots=True)
class EdgeLabel:
    """One edge, or one curve of several, with what is written beside it.

    Parameters
    ----------
    lines
        Its name, if it has one, and its length in metres to the centimetre.
    middle
        On the lawn, mm.
    outward
        Which way is out, y upwards; of length 1.
    length_mm
        How long it is drawn, from end to end.
    """

    lines: tuple[str, ...]
    middle: tuple[float, float]
    outward: Spot
    length_mm: float


def edge_labels(lawn: Lawn) -> list[EdgeLabel]:
    """Labels of all edges, longest first, so that the longest have the best places."""
    runs = _runs(lawn)
    labels = [_label(lawn, run) for run in runs]
    return sorted(labels, key=lambda label: -label.length_mm)


def _runs(lawn: Lawn) -> list[list[int]]:
    """Numbers of edges that are labelled together."""
    count = len(lawn.edge)
    breaks = [number for number in range(count) if not _goes_on(lawn, number)]
    first = breaks[0] if breaks else 0
    runs: list[list[int]] = []
    for step in range(count):
        number = (first + step) % count
        if step > 0 and _goes_on(lawn, number):
            runs[-1].append(number)
        else:
            runs.append([number])
    return [part for run in runs for part in ([run] if len(run) >= CURVE_EDGES else [[one] for one in run])]


def _goes_on(lawn: Lawn, number: int) -> bool:
    """Whether an edge continues the curve of the edge before it."""
    before = (number - 1) % len(lawn.edge)
    turn = math.degrees(abs(math.remainder(_angle(lawn, number) - _angle(lawn, before), math.tau)))
    short = max(_length(lawn, before), _length(lawn, number)) <= CURVE_EDGE_MM
    return short and turn <= CURVE_TURN_DEGREES and _note(lawn, before) == _note(lawn, number)


def _angle(lawn: Lawn, number: int) -> float:
    a, b = lawn.side(number)
    return math.atan2(b.y_mm - a.y_mm, b.x_mm - a.x_mm)


def _length(lawn: Lawn, number: int) -> float:
    return math.dist(*lawn.side(number))


def _note(lawn: Lawn, number: int) -> tuple[str, bool]:
    found = next((note for note in lawn.notes if note.number == number), None)
    return (found.name, found.no_seam) if found else ("", False)


def _label(lawn: Lawn, run: Sequence[int]) -> EdgeLabel:
    name, no_seam = _note(lawn, run[0])
    length = sum(_length(lawn, number) for number in run)
    words = f"{'curve ' if len(run) > 1 else ''}{length / 1000:.2f}{', no seam' if no_seam else ''}"
    name = printable(name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "…")
    a, b = lawn.side(run[len(run) // 2])
    around = 1 if twice_area(lawn.edge) > 0 else -1
    angle = math.atan2(b.y_mm - a.y_mm, b.x_mm - a.x_mm) - around * math.pi / 2
    return EdgeLabel(
        lines=(name, words) if name else (words,),
        middle=((a.x_mm + b.x_mm) / 2, (a.y_mm + b.y_mm) / 2),
        outward=Spot(math.cos(angle), math.sin(angle)),
        length_mm=math.dist(a, b) if len(run) == 1 else length / 2,
    )
