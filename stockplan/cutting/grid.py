"""Whole-number grids for the pricing recursions.

Where every length is a multiple of some step that leaves few enough points, the recursion on that grid is exact, and
so for widths. Where not, what is cut is rounded down and leftovers up, so that no real pattern is worth more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

MOST_LENGTH_POINTS = 3200  # 30 m in centimetres, and a little
MOST_WIDTH_POINTS = 420


@dataclass(frozen=True, slots=True)
class Grid:
    """A grid along one axis.

    Parameters
    ----------
    step_mm
        Distance between points.
    exact
        Whether everything that matters lies on it.
    """

    step_mm: int
    exact: bool

    @property
    def relaxed(self) -> bool:
        """Whether values on it may exceed what is real."""
        return not self.exact

    def piece(self, size_mm: int) -> int:
        """Points a piece takes, at least 1: nothing that is sold or laid is smaller than a step."""
        return max(1, size_mm // self.step_mm)

    def room(self, size_mm: int) -> int:
        """Points a source offers."""
        return size_mm // self.step_mm

    def millimetres(self, points: int) -> int:
        """Size of a leftover of so many points."""
        return points * self.step_mm + (self.step_mm - 1 if self.relaxed else 0)

    def lost(self, points: int, smallest_mm: int) -> int:
        """How many points pieces side by side may seem to leave of so many that they really fill, by rounding.

        Parameters
        ----------
        points
            What they fill.
        smallest_mm
            The smallest of them.
        """
        return max(0, points // self.piece(smallest_mm) - 1) if self.relaxed else 0


def choose_step(sizes_mm: Iterable[int], most_points: int) -> tuple[int, bool]:
    """Step of the grid that carries the given sizes, and whether it is exact.

    Parameters
    ----------
    sizes_mm
        Everything that ought to lie on the grid; it spans the largest.
    most_points
        As many points as are affordable; a finer grid is given up for the finest round one that fits.
    """
    sizes = list(sizes_mm)
    exact, largest = math.gcd(*sizes) or 1, max(sizes)
    if largest <= exact * most_points:
        return exact, True
    for step in (5, 10, 20, 25, 50, 100):
        if largest <= step * most_points:
            return step, False
    return -(-largest // most_points), False
