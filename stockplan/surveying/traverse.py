"""A walk round the edge, leg by leg: how far it misses its start, and the miss spread by the compass rule.

The compass (Bowditch) rule: the error is shared among the legs as their lengths. With D the sum of all lengths and
(X, Y) the sum of all legs as vectors, a leg of length d is corrected by (−X·d/D, −Y·d/D). Turns are put right first
where all of them were measured, as their sum must be a full circle: each takes an equal share. Ghilani and Wolf,
Elementary Surveying, chapter on traverse computations (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from stockplan.domain.measured import Misclosure
from stockplan.domain.survey import SurveySettings
from stockplan.domain.units import metres
from stockplan.surveying.curves import Place

FULL_CIRCLE = 360.0


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg of a walk.

    Parameters
    ----------
    length_mm
        Positive.
    turn
        What is turned at its end, degrees, left positive; None on the last leg when it was not measured, and in a walk
        by bearings.
    bearing
        Its own bearing, degrees clockwise from north; None in a walk by turns.
    """

    length_mm: float
    turn: float | None = None
    bearing: float | None = None


@dataclass(frozen=True, slots=True)
class Walked:
    """A walk worked out.

    Parameters
    ----------
    corners
        Adjusted, mm; the first at (0, 0), the first leg along x, or y to the north in a walk by bearings.
    legs
        Adjusted, as vectors, mm.
    misclosure
        Before it was spread.
    """

    corners: tuple[Place, ...]
    legs: tuple[Place, ...]
    misclosure: Misclosure


def walk(legs: Sequence[Leg], settings: SurveySettings) -> Walked:
    """Work out a closed walk and spread its misclosure, whatever it is; `misclosure.allowed` judges it.

    Parameters
    ----------
    legs
        At least three, all by turns or all by bearings.
    settings
        Tolerances.
    """
    turns = [leg.turn for leg in legs]
    total = None if legs[0].bearing is not None or turns[-1] is None else sum(turn or 0.0 for turn in turns)
    missed = None if total is None else total - (FULL_CIRCLE if total > 0 else -FULL_CIRCLE)
    allowed_degrees = settings.allowed_turns_degrees(len(legs))
    spread = missed / len(legs) if missed is not None and abs(missed) <= allowed_degrees else 0.0
    vectors = _vectors(legs, spread)
    perimeter = sum(leg.length_mm for leg in legs)
    x, y = sum(vector[0] for vector in vectors), sum(vector[1] for vector in vectors)
    shares = [leg.length_mm / perimeter for leg in legs]
    adjusted = [(dx - x * share, dy - y * share) for (dx, dy), share in zip(vectors, shares, strict=True)]
    corners: list[Place] = [(0.0, 0.0)]
    for dx, dy in adjusted[:-1]:
        corners.append((corners[-1][0] + dx, corners[-1][1] + dy))
    misclosure = Misclosure(x, y, perimeter, missed, settings.allowed_misclosure_mm(perimeter), allowed_degrees)
    return Walked(tuple(corners), tuple(adjusted), misclosure)


def heading(legs: Sequence[Leg], spread: float = 0.0) -> list[float]:
    """Direction of each leg, degrees anticlockwise from x.

    Parameters
    ----------
    legs
        As for `walk`.
    spread
        Taken off every turn, degrees.
    """
    directions = []
    direction = 0.0
    for leg in legs:
        directions.append(direction if leg.bearing is None else 90.0 - leg.bearing)
        direction += (leg.turn or 0.0) - spread
    return directions


def _vectors(legs: Sequence[Leg], spread: float) -> list[Place]:
    angles = [radians(direction) for direction in heading(legs, spread)]
    return [(leg.length_mm * cos(angle), leg.length_mm * sin(angle)) for leg, angle in zip(legs, angles, strict=True)]


def likely_slips(legs: Sequence[Leg], settings: SurveySettings) -> list[str]:
    """Say which one slip would explain a walk that does not close: a leg misread, or a turn to the other side.

    Parameters
    ----------
    legs
        As for `walk`.
    settings
        A walk mended by one change must close within its tolerance.
    """
    slips = []
    for number, leg in enumerate(legs):
        if leg.turn and number < len(legs) - 1:
            other_way = [*legs[:number], Leg(leg.length_mm, -leg.turn), *legs[number + 1 :]]
            if walk(other_way, settings).misclosure.allowed:
                side = "right" if leg.turn > 0 else "left"
                slips.append(f"the turn after leg {number + 1}, were it to the {side}")
    missed = walk(legs, settings).misclosure
    for number, (leg, direction) in enumerate(zip(legs, heading(legs), strict=True)):
        along = (cos(radians(direction)), sin(radians(direction)))
        too_long = missed.x_mm * along[0] + missed.y_mm * along[1]
        length = leg.length_mm - too_long
        if length > 0:
            mended = [*legs[:number], Leg(length, leg.turn, leg.bearing), *legs[number + 1 :]]
            if walk(mended, settings).misclosure.allowed:
                slips.append(f"leg {number + 1}, were it {metres(round(length))} m")
    return slips


def leg_too_long(legs: Sequence[Leg], settings: SurveySettings) -> int | None:
    """Find the leg that is longer than all others together, beyond tolerance: such legs cannot close.

    Parameters
    ----------
    legs
        In the order walked.
    settings
        Tolerances.
    """
    total = sum(leg.length_mm for leg in legs)
    for number, leg in enumerate(legs):
        if 2 * leg.length_mm > total + settings.allowed_misclosure_mm(total):
            return number
    return None
