"""Usable rectangles in an odd-shaped offcut: for every width the greatest length along the pile, and the best of them.

The pile runs along y and nothing is turned. Widths and lengths are whole millimetres rounded down, so that what is
stored is never more than what is there; where a rectangle lies is not rounded. `stockplan/surveying/runs.py` holds the
geometry.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

from shapely import Polygon, box
from shapely.validation import explain_validity

from stockplan.domain.lawn import Ring
from stockplan.domain.units import metres
from stockplan.errors import UnitError
from stockplan.surveying.runs import Corner, Run, runs

Score = Callable[[int, int], int]
MOST_CORNERS = 40


@dataclass(frozen=True, slots=True)
class UsableRectangle:
    """A rectangle inside an outline.

    Parameters
    ----------
    across_mm, along_mm
        Its near left corner, in the coordinates of the outline; within a thousandth of a millimetre.
    width_mm, length_mm
        Whole millimetres; positive.
    """

    across_mm: float
    along_mm: float
    width_mm: int
    length_mm: int


def area(width_mm: int, length_mm: int) -> int:
    """Score a rectangle by its area, mm²."""
    return width_mm * length_mm


class UsableSizes:
    """Every size that a shape has room for.

    Parameters
    ----------
    shape
        A sound polygon, coordinates in mm.
    """

    def __init__(self, shape: Polygon) -> None:
        self._longest = [0] * (floor(shape.bounds[2] - shape.bounds[0]) + 2)
        self._runs: list[tuple[Run, int] | None] = [None] * len(self._longest)
        for run in runs(_corners(shape)):
            self._learn(run)
        for width in range(len(self._longest) - 2, 0, -1):  # what is wider serves as narrower
            if self._longest[width + 1] > self._longest[width]:
                self._longest[width] = self._longest[width + 1]
                self._runs[width] = self._runs[width + 1]

    def _learn(self, run: Run) -> None:
        for (w1, h1), (w2, h2) in pairwise(run.hull()):
            slope = (h2 - h1) / (w2 - w1)
            # In whole numbers over one denominator, since a fraction a millimetre would take too long.
            zero = h1 - slope * w1
            scale = zero.denominator * slope.denominator
            begins, rises = int(zero * scale), int(slope * scale)
            for width in range(max(1, ceil(w1)), min(floor(w2), len(self._longest) - 1) + 1):
                length = (begins + rises * width) // scale
                if length > self._longest[width]:
                    self._longest[width] = length
                    self._runs[width] = run, width

    def longest_mm(self, width_mm: int) -> int:
        """Greatest whole length along the pile of a rectangle so wide, mm; 0 when there is none.

        Parameters
        ----------
        width_mm
            Across the pile; positive.
        """
        return self._longest[width_mm] if width_mm < len(self._longest) else 0

    def best(self, score: Score = area) -> UsableRectangle | None:
        """Find the rectangle of the highest score, the wider of two as good; None when none scores above 0.

        Parameters
        ----------
        score
            Of a width and a length in mm; it never falls as either grows. Default the area.
        """
        sizes = ((width, length) for width, length in enumerate(self._longest) if length)
        highest = max(sizes, key=lambda found: (score(*found), found), default=None)
        return self._placed(*highest) if highest and score(*highest) > 0 else None

    def choices(self) -> list[tuple[int, int]]:
        """Every width and length, mm, that no other has at least as much of in both; the narrowest first."""
        pairs = enumerate(pairwise(self._longest))
        return [(width, length) for width, (length, wider) in pairs if width and length > wider]

    def _placed(self, width_mm: int, length_mm: int) -> UsableRectangle:
        found = self._runs[width_mm]
        assert found is not None
        run, width_there = found
        x, y = run.place(Fraction(width_there))
        return UsableRectangle(round(float(x), 3), round(float(y), 3), width_mm, length_mm)


def usable_sizes(*rings: Ring) -> UsableSizes:
    """Work out every size that a measured shape has room for.

    Parameters
    ----------
    rings
        The outline, then its holes, if any.

    Raises
    ------
    UnitError
        When a ring has fewer than three corners, all together more than `MOST_CORNERS`, or they cross or enclose
        nothing.
    """
    return UsableSizes(_sound(rings))


def apart(score: Score, *rings: Ring, most: int = 3) -> tuple[UsableRectangle, ...]:
    """Take the best rectangle, then the best of what is left, and so on: a good set that need not be the best one.

    Parameters
    ----------
    score
        As for `UsableSizes.best`; what scores 0 is not taken.
    rings
        As for `usable_sizes`.
    most
        How many at most; default 3.

    Raises
    ------
    UnitError
        As for `usable_sizes`.
    """
    left = [_sound(rings)]
    taken: list[UsableRectangle] = []
    while len(taken) < most:
        found = [(best, index) for index, part in enumerate(left) if (best := UsableSizes(part).best(score))]
        if not found:
            break
        best, index = max(found, key=lambda pair: score(pair[0].width_mm, pair[0].length_mm))
        taken.append(best)
        right, end = best.across_mm + best.width_mm, best.along_mm + best.length_mm
        rest = left.pop(index).difference(box(best.across_mm, best.along_mm, right, end))
        left += [part for part in getattr(rest, "geoms", [rest]) if isinstance(part, Polygon) and part.area > 1]
    return tuple(taken)


def _sound(rings: Sequence[Ring]) -> Polygon:
    count = sum(map(len, rings))
    if count > MOST_CORNERS:
        raise UnitError(f"the shape has {count} corners, at most {MOST_CORNERS} are taken; leave out the small ones")
    for ring in rings:
        if len(ring) < 3:
            raise UnitError(f"the shape has {len(ring)} corners; give three or more, in the order walked round it")
    shape = Polygon(rings[0], rings[1:])
    if not shape.is_valid or not shape.area:
        raise UnitError(f"the shape cannot be: {_fault(shape)}; give the corners in the order walked round it")
    return shape


def _fault(shape: Polygon) -> str:
    where = re.search(r"\[(\S+) (\S+)\]", explain_validity(shape)) if shape.area else None
    if where is None:
        return "it encloses nothing"
    across, along = (metres(round(float(part))) for part in where.groups())
    return f"its edges cross or touch at {across} across, {along} along"


def _corners(shape: Polygon) -> list[list[Corner]]:
    rings = (shape.exterior, *shape.interiors)
    return [[(Fraction(x), Fraction(y)) for x, y in ring.coords[:-1]] for ring in rings]
