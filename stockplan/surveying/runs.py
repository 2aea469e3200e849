"""How long a rectangle of a given width can be inside an outline, for every width: exact, slanted edges and holes too.

Verticals through every corner cut the outline into trapezoids, each between two edges. A rectangle whose sides lie in
trapezoids S and T (the same, or reached from one another to the right) covers those between from side to side. With x₁
and x₂ its sides, u and l the upper and lower edge of a trapezoid, and U, L the least top and greatest bottom of the
passages between S and T, its greatest length is

    h(x₁, x₂) = min(U, u_S(x₁), u_T(x₂)) − max(L, l_S(x₁), l_T(x₂)),

concave and made of planes. Its greatest value for a width w = x₂ − x₁ is therefore the upper hull of the points (w, h)
at the corners of those planes. All of it is worked in fractions: nothing is rounded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise

Corner = tuple[Fraction, Fraction]
Line = tuple[Fraction, Fraction]  # y = first + second · x
Fold = tuple[Fraction, Fraction, Fraction]  # a·x₁ + b·x₂ = c


@dataclass(frozen=True, slots=True)
class Trapezoid:
    """The part of an outline between two verticals and two edges.

    Parameters
    ----------
    left, right
        Where the verticals stand.
    lower, upper
        The edges.
    """

    left: Fraction
    right: Fraction
    lower: Line
    upper: Line


@dataclass(frozen=True, slots=True)
class Run:
    """A trapezoid, one at its right or itself, and what the passages between leave free.

    Parameters
    ----------
    first, last
        Where a rectangle's left and right side lie.
    top, bottom
        Of the passages, or of the trapezoid where it is the only one.
    """

    first: Trapezoid
    last: Trapezoid
    top: Fraction
    bottom: Fraction

    def length(self, x1: Fraction, x2: Fraction) -> Fraction:
        """Greatest length of a rectangle with these sides; negative when there is none."""
        first, last = self.first, self.last
        top = min(self.top, at(first.upper, x1), at(last.upper, x2))
        return top - max(self.bottom, at(first.lower, x1), at(last.lower, x2))

    def hull(self) -> list[tuple[Fraction, Fraction]]:
        """Corners of the greatest length as a function of width, by ascending width."""
        points = {(x2 - x1, self.length(x1, x2)) for x1, x2 in self._corners()}
        hull: list[tuple[Fraction, Fraction]] = []
        for point in sorted(points):
            while hull and hull[-1][0] == point[0]:
                hull.pop()
            while len(hull) > 1 and _below(hull[-2], hull[-1], point):
                hull.pop()
            hull.append(point)
        return hull

    def place(self, width: Fraction) -> tuple[Fraction, Fraction]:
        """Near corner of the longest rectangle of a width, the leftmost where several are as long.

        Parameters
        ----------
        width
            One that the run has room for.
        """
        first, last = self.first, self.last
        low, high = max(first.left, last.left - width), min(first.right, last.right - width)
        # Along the line x₂ = x₁ + w the length bends where it meets a fold.
        bends = ((c - b * width) / (a + b) for a, b, c in self._folds() if a + b)
        x1 = max(sorted({low, high, *(x for x in bends if low < x < high)}), key=lambda x: self.length(x, x + width))
        return x1, max(self.bottom, at(first.lower, x1), at(last.lower, x1 + width))

    def _folds(self) -> list[Fold]:
        first, last, zero, one = self.first, self.last, Fraction(0), Fraction(1)
        folds = [(one, zero, first.left), (one, zero, first.right), (zero, one, last.left), (zero, one, last.right)]
        for flat, near, far in ((self.top, first.upper, last.upper), (self.bottom, first.lower, last.lower)):
            folds.append((near[1], zero, flat - near[0]))
            folds.append((zero, far[1], flat - far[0]))
            folds.append((near[1], -far[1], far[0] - near[0]))
        return [fold for fold in folds if fold[0] or fold[1]]

    def _corners(self) -> Iterator[Corner]:
        first, last = self.first, self.last
        for (a, b, c), (d, e, f) in combinations(self._folds(), 2):
            if determinant := a * e - b * d:
                x1, x2 = (c * e - b * f) / determinant, (a * f - c * d) / determinant
                if first.left <= x1 <= first.right and last.left <= x2 <= last.right:
                    yield x1, x2


def at(line: Line, x: Fraction) -> Fraction:
    """Height of a line at x."""
    return line[0] + line[1] * x


def runs(rings: Sequence[Sequence[Corner]]) -> Iterator[Run]:
    """Find every run of an outline.

    Parameters
    ----------
    rings
        The outline and its holes, each walked once round; they neither cross nor overlap.
    """
    trapezoids = _trapezoids(rings)
    beginning: defaultdict[Fraction, list[Trapezoid]] = defaultdict(list)
    for trapezoid in trapezoids:
        beginning[trapezoid.left].append(trapezoid)
    for first in trapezoids:
        ends = [(at(first.lower, x), at(first.upper, x)) for x in (first.left, first.right)]
        yield Run(first, first, max(top for _, top in ends), min(bottom for bottom, _ in ends))
        waiting = [(first, ends[1][1], ends[1][0])]
        while waiting:
            reached, top, bottom = waiting.pop()
            x = reached.right
            for further in beginning[x]:
                free_top = min(top, at(reached.upper, x), at(further.upper, x))
                free_bottom = max(bottom, at(reached.lower, x), at(further.lower, x))
                if free_top > free_bottom:
                    yield Run(first, further, free_top, free_bottom)
                    waiting.append((further, free_top, free_bottom))


def _trapezoids(rings: Sequence[Sequence[Corner]]) -> list[Trapezoid]:
    sides = [(min(pair), max(pair)) for ring in rings for pair in zip(ring, [*ring[1:], ring[0]], strict=True)]
    verticals = sorted({x for ring in rings for x, _ in ring})
    found = []
    for left, right in pairwise(verticals):
        lines = []
        for (x1, y1), (x2, y2) in sides:
            if x1 <= left and right <= x2:
                slope = (y2 - y1) / (x2 - x1)
                lines.append((y1 - slope * x1, slope))
        lines.sort(key=lambda line: at(line, (left + right) / 2))
        # Going up, edges lead into the outline and out of it by turns.
        found += [Trapezoid(left, right, *pair) for pair in zip(lines[::2], lines[1::2], strict=True)]
    return found


def _below(one: Corner, middle: Corner, other: Corner) -> bool:
    """Whether the middle point lies on or below the line between its neighbours."""
    rise = (middle[1] - one[1]) * (other[0] - one[0])
    return rise <= (other[1] - one[1]) * (middle[0] - one[0])
