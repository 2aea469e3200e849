"""Whole-number grids for the pricing recursions.

Where every length is a multiple of some step that leaves few enough points, the recursion on that grid is exact, and
so for widths. Where not, two recursions bracket the truth: one rounds pieces down and leftovers up, whose value no
real pattern exceeds (for bounds); one rounds pieces up and sources down, whose every pattern is real (for plans).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

MOST_LENGTH_POINTS = 2600  # 25 m in centimetres, and a little
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
    optimistic
        How to round when it does not: pieces down and leftovers up, or the other way.
    """

    step_mm: int
    exact: bool
    optimistic: bool = False

    @property
    def relaxed(self) -> bool:
        """Whether values on it may exceed what is real."""
        return self.optimistic and not self.exact

    def piece(self, size_mm: int) -> int:
        """Points a piece takes, at least 1: nothing that is sold or laid is smaller than a step."""
        return max(1, size_mm // self.step_mm if self.relaxed else -(-size_mm // self.step_mm))

    def room(self, size_mm: int) -> int:
        """Points a source offers."""
        return size_mm // self.step_mm

    def millimetres(self, points: int) -> int:
        """Size of a leftover of so many points."""
        return points * self.step_mm + (self.step_mm - 1 if self.relaxed else 0)


def choose_step(sizes_mm: Iterable[int], largest_mm: int, most_points: int) -> tuple[int, bool]:
    """Step of the grid that carries the given sizes, and whether it is exact.

    Parameters
    ----------
    sizes_mm
        Everything that ought to lie on the grid.
    largest_mm
        What it must span.
    most_points
        As many points as are affordable; a finer grid is given up for the finest round one that fits.
    """
    exact = math.gcd(*sizes_mm) or 1
    if largest_mm <= exact * most_points:
        return exact, True
    for step in (5, 10, 20, 25, 50, 100):
        if largest_mm <= step * most_points:
            return step, False
    return -(-largest_mm // most_points), False
