"""How far measurements may disagree before somebody has to measure again, and what can be wrong with an outline."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt


@dataclass(frozen=True, slots=True)
class SurveySettings:
    """Tolerances of measuring in; every default is common practice, the firm's to set.

    Parameters
    ----------
    misclosure_least_mm
        A walk round the edge may miss its start by this much whatever its length; default 50, half of what is trimmed
        at the ends of a strip.
    misclosure_one_in
        Or by one part in so many of its length, where that is more; default 200, tapes and corners judged by eye.
    turn_error_degrees
        How far one turn may be out; over n turns this times the square root of n; default 2.
    tape_error_mm
        Standard error of one tape, whatever its length; default 10.
    tape_error_mm_per_m
        And for every metre of it, both together as the root of the sum of squares; default 2, sag and soft ends.
    curve_gap_mm
        How far the straight pieces that stand for a curve may lie off it; default 5.
    large_lawn_m2
        A lawn larger than this is asked about again: feet may have been read as metres; default 500.
    """

    misclosure_least_mm: int = 50
    misclosure_one_in: int = 200
    turn_error_degrees: int = 2
    tape_error_mm: int = 10
    tape_error_mm_per_m: int = 2
    curve_gap_mm: int = 5
    large_lawn_m2: int = 500

    def allowed_misclosure_mm(self, perimeter_mm: float) -> float:
        """How far a walk of this length may miss its start, mm."""
        return max(self.misclosure_least_mm, perimeter_mm / self.misclosure_one_in)

    def allowed_turns_degrees(self, turns: int) -> float:
        """How far so many turns together may miss a full circle, degrees."""
        return self.turn_error_degrees * sqrt(turns)

    def tape_sigma_mm(self, length_mm: float) -> float:
        """Standard error of a tape of this length, mm."""
        return hypot(self.tape_error_mm, self.tape_error_mm_per_m * length_mm / 1000)


@dataclass(frozen=True, slots=True)
class OutlineFault:
    """One fault of an outline.

    Parameters
    ----------
    what, found, right
        What is wrong, where and how, and what would be right.
    ring
        0 for the edge, 1 for the first hole, and so on.
    corner
        The corner concerned, counted from 0; None for the ring as a whole.
    """

    what: str
    found: str
    right: str
    ring: int
    corner: int | None = None

    def __str__(self) -> str:
        return f"{self.what}, found {self.found}, would be right: {self.right}"
