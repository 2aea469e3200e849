"""The shape that tapes between corners belong to, and which tape was misread.

Two tapes leave a corner on either side of the line between the corners they start from. All such choices are followed;
what crosses itself is dropped, what was walked the other way round is turned over, and the shape with the fewest
corners turning inward is taken unless more tapes, or the notes, say otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from shapely.geometry import Polygon

from stockplan.domain.survey import SurveySettings
from stockplan.surveying.tapes import CRITICAL, Adjusted, Floats, Tape, adjust

MOST_CORNERS = 12
MOST_SHAPES = 2 ** (MOST_CORNERS - 2)  # every choice, where no tape is to spare
MOST_FOLLOWED = 64  # best first, where further tapes tell good choices from bad
MOST_CHECKED = 8  # adjusted
MOST_LEFT_OUT = 12  # tapes left out in turn, those that stand out most first


@dataclass(frozen=True, slots=True)
class Shape:
    """One way the tapes can be.

    Parameters
    ----------
    adjusted
        Corners and residuals; the first corner at (0, 0), the second on the x axis.
    inward
        Numbers of the corners that turn inward.
    """

    adjusted: Adjusted
    inward: tuple[int, ...]


def longest_ways_round(count: int, tapes: Sequence[Tape], settings: SurveySettings) -> list[tuple[Tape, float]]:
    """Find tapes longer than some other way between the same corners, beyond tolerance; each with that way's length.

    A side longer than the others together, and a diagonal longer than two sides, are such tapes.

    Parameters
    ----------
    count
        How many corners.
    tapes
        Between them.
    settings
        Tolerances.
    """
    found = []
    for number, tape in enumerate(tapes):
        ways = np.full((count, count), np.inf)
        np.fill_diagonal(ways, 0.0)
        for other_number, other in enumerate(tapes):
            if other_number != number:
                shortest = min(ways[other.one, other.other], other.length_mm)
                ways[other.one, other.other] = ways[other.other, other.one] = shortest
        for middle in range(count):  # Floyd and Warshall's shortest ways
            ways = np.minimum(ways, ways[:, middle, None] + ways[None, middle, :])
        way = float(ways[tape.one, tape.other])
        if tape.length_mm > way + 3 * settings.tape_sigma_mm(tape.length_mm):
            found.append((tape, way))
    return found


def loose_corners(count: int, tapes: Sequence[Tape]) -> list[int]:
    """Find the corners that no two tapes tie to corners already fixed, starting from the best pair of corners."""
    return min((_loose_from(count, tapes, base) for base in tapes), key=len, default=list(range(count)))


def _loose_from(count: int, tapes: Sequence[Tape], base: Tape) -> list[int]:
    fixed = {base.one, base.other}
    while True:
        ready = {corner for corner in set(range(count)) - fixed if len(_tied(corner, fixed, tapes)) >= 2}
        if not ready:
            return sorted(set(range(count)) - fixed)
        fixed |= ready


def _tied(corner: int, fixed: set[int], tapes: Sequence[Tape]) -> dict[int, float]:
    """Fixed corners a corner is taped to, with the length."""
    ties: dict[int, float] = {}
    for tape in tapes:
        for here, there in ((tape.one, tape.other), (tape.other, tape.one)):
            if here == corner and there in fixed:
                ties[there] = tape.length_mm
    return ties


def shapes(
    count: int,
    tapes: Sequence[Tape],
    settings: SurveySettings,
    *,
    clockwise: bool,
    inward: tuple[int, ...] | None = None,
) -> list[Shape]:
    """Work out every shape the tapes allow, the best-fitting first, then the one with the fewest corners turned inward.

    Parameters
    ----------
    count
        How many corners; 3 to `MOST_CORNERS`, none of them loose.
    tapes
        See `Tape`.
    settings
        Standard errors.
    clockwise
        Whether the corners were walked clockwise, seen from above.
    inward
        The corners said to turn inward, for which shapes are looked for first; None when nothing is said.
    """
    base = min(tapes, key=lambda tape: (len(_loose_from(count, tapes, tape)), tapes.index(tape)))
    to_spare = len(tapes) > 2 * count - 3
    rough = _rough_shapes(count, tapes, base, MOST_FOLLOWED if to_spare else MOST_SHAPES)
    if not to_spare:
        rough = sorted(filter(_simple, rough), key=lambda start: (_inward(start) != inward, len(_inward(start))))
    found: list[Shape] = []
    for start in rough[:MOST_CHECKED]:
        adjusted = adjust(_walked(start, clockwise), tapes, settings)
        if adjusted is None or not _simple(adjusted.corners) or (_signed_area(adjusted.corners) < 0) != clockwise:
            continue
        if not any(np.allclose(adjusted.corners, other.adjusted.corners, atol=1.0) for other in found):
            found.append(Shape(adjusted, _inward(adjusted.corners)))
    return sorted(found, key=lambda shape: (round(shape.adjusted.misfit, 6), len(shape.inward), shape.inward))


def chosen(found: Sequence[Shape], inward: tuple[int, ...] | None) -> list[Shape]:
    """Pick the shapes that answer best: one, unless more than one does equally well.

    Parameters
    ----------
    found
        From `shapes`.
    inward
        The corners said to turn inward; None when nothing is said.
    """
    fitting = [shape for shape in found if shape.adjusted.fits] or list(found[:1])
    if inward is not None:
        fitting = [shape for shape in fitting if shape.inward == inward]
    if not fitting:
        return []
    fewest = min(len(shape.inward) for shape in fitting)
    return [shape for shape in fitting if len(shape.inward) == fewest]


@dataclass(frozen=True, slots=True)
class Suspect:
    """A tape that may have been misread.

    Parameters
    ----------
    tape
        Which.
    would_be_mm
        What it would read for the others to agree.
    """

    tape: Tape
    would_be_mm: float


def suspects(
    count: int, tapes: Sequence[Tape], settings: SurveySettings, best: Adjusted, *, clockwise: bool
) -> list[Suspect]:
    """Point at the tape without which the others agree, the likeliest first; none when no single one explains it.

    Tapes are left out in turn and the rest worked out afresh, so that a bad tape cannot have led the shape astray.
    Tapes that explain the misfit equally well cannot be told apart and are all returned.

    Parameters
    ----------
    count, tapes, settings, clockwise
        As for `shapes`.
    best
        All tapes together, which do not fit.
    """
    found: list[tuple[float, Suspect]] = []
    most_first = np.argsort(-np.abs(best.standardized), kind="stable")[:MOST_LEFT_OUT]
    for number in most_first.tolist():
        tape = tapes[number]
        rest = [other for index, other in enumerate(tapes) if index != number]
        if best.redundancy[number] == 0 or loose_corners(count, rest):
            continue
        without = shapes(count, rest, settings, clockwise=clockwise)
        if without and without[0].adjusted.fits:
            adjusted = without[0].adjusted
            length = float(np.hypot(*(adjusted.corners[tape.other] - adjusted.corners[tape.one])))
            found.append((adjusted.misfit, Suspect(tape, length)))
    if not found:
        return []
    found.sort(key=lambda pair: pair[0])
    least = found[0][0]
    return [suspect for misfit, suspect in found if misfit <= least + CRITICAL]


def _rough_shapes(count: int, tapes: Sequence[Tape], base: Tape, most: int) -> list[Floats]:
    """Place corner after corner on either side, keeping the choices that fit the other tapes best."""
    begun = np.full((count, 2), np.nan)
    begun[base.one], begun[base.other] = (0.0, 0.0), (base.length_mm, 0.0)
    open_shapes: list[tuple[float, Floats]] = [(0.0, begun)]
    fixed = {base.one, base.other}
    while len(fixed) < count:
        ready = [corner for corner in range(count) if corner not in fixed and len(_tied(corner, fixed, tapes)) >= 2]
        corner = max(ready, key=lambda one: len(_tied(one, fixed, tapes)))
        ties = _tied(corner, fixed, tapes)
        grown: list[tuple[float, Floats]] = []
        for misfit, shape in open_shapes:
            for place in _either_side(shape, ties):
                wrong = sum(float(np.hypot(*(place - shape[one])) - length) ** 2 for one, length in ties.items())
                placed = shape.copy()
                placed[corner] = place
                grown.append((misfit + wrong, placed))
        grown.sort(key=lambda pair: pair[0])
        open_shapes = grown[:1] if len(fixed) == 2 else grown[:most]  # the first choice only mirrors the whole
        fixed.add(corner)
    return [shape for _, shape in open_shapes]


def _either_side(shape: Floats, ties: dict[int, float]) -> list[Floats]:
    """Both places that two of the ties allow: the two that meet most squarely."""
    best: tuple[float, list[Floats]] = (-1.0, [])
    corners = list(ties)
    for position, one in enumerate(corners):
        for other in corners[position + 1 :]:
            between = shape[other] - shape[one]
            apart = max(float(np.hypot(*between)), 1e-6)
            along = (ties[one] ** 2 - ties[other] ** 2 + apart**2) / (2 * apart)
            aside = sqrt(max(ties[one] ** 2 - along**2, 0.0))  # tapes that do not reach each other meet on the line
            square = apart * aside / (ties[one] * ties[other])
            if square > best[0]:
                unit = between / apart
                normal = np.array([-unit[1], unit[0]])
                foot = shape[one] + along * unit
                best = (square, [foot + aside * normal, foot - aside * normal])
    return best[1]


def _walked(shape: Floats, clockwise: bool) -> Floats:
    """Turn a shape over where it was walked the other way round."""
    return shape if (_signed_area(shape) < 0) == clockwise else shape * np.array([1.0, -1.0])


def _signed_area(shape: Floats) -> float:
    x, y = shape[:, 0], shape[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2


def _simple(shape: Floats) -> bool:
    return bool(Polygon(shape).is_valid)


def _inward(shape: Floats) -> tuple[int, ...]:
    before, after = shape - np.roll(shape, 1, axis=0), np.roll(shape, -1, axis=0) - shape
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    side = 1.0 if _signed_area(shape) > 0 else -1.0
    return tuple(int(number) for number in np.flatnonzero(turns * side < 0))
