"""The checker's own geometry of laid lawns: turning, areas within rectangles, lawn along a line, distances.

Polygons are cut with a rectangle side by side (Sutherland and Hodgman, "Reentrant polygon clipping", Communications of
the ACM 17, 1974): where an outline turns back on itself the result runs along the rectangle to and fro, which leaves
its area right.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from stockplan.domain.lawn import Lawn, Ring

Corner = tuple[float, float]
Outline = list[list[Corner]]
Stretch = tuple[float, float]

BESIDE_MM = 0.01  # how far to either side of a line one looks for lawn


def turned_outline(lawn: Lawn, bearing: float) -> Outline:
    """Edge and holes, turned so that the pile leans along the second coordinate."""
    turn = cmath.exp(1j * math.radians(bearing))
    return [_turned(ring, turn) for ring in (lawn.edge, *lawn.holes)]


def turned_side(lawn: Lawn, number: int, bearing: float) -> tuple[Corner, Corner]:
    """One edge of the outline, turned."""
    start, end = _turned(lawn.side(number), cmath.exp(1j * math.radians(bearing)))
    return start, end


def _turned(ring: Ring, turn: complex) -> list[Corner]:
    points = [complex(p.x_mm, p.y_mm) * turn for p in ring]
    return [(p.real, p.imag) for p in points]


def area(ring: Sequence[Corner]) -> float:
    """Area enclosed by a ring, mm², whichever way round it goes and however far from the origin it lies."""
    if not ring:
        return 0.0
    x, y = ring[0]
    near = [(a - x, b - y) for a, b in ring]
    following = [*near[1:], *near[:1]]
    return abs(math.fsum(a[0] * b[1] - b[0] * a[1] for a, b in zip(near, following, strict=True))) / 2


def area_within(outline: Outline, across: Stretch, along: Stretch) -> float:
    """Area of a lawn inside a rectangle, holes left out, mm².

    Parameters
    ----------
    outline
        Of the lawn.
    across, along
        From where to where the rectangle reaches, mm.
    """
    parts = [area(_cut(_cut(ring, 0, across), 1, along)) for ring in outline]
    return parts[0] - math.fsum(parts[1:])


def _cut(ring: Sequence[Corner], axis: int, between: Stretch) -> list[Corner]:
    low, high = between
    return _half(_half(ring, axis, low, 1.0), axis, high, -1.0)


def _half(ring: Sequence[Corner], axis: int, limit: float, sign: float) -> list[Corner]:
    """What of a ring lies beyond a limit (sign 1) or before it (sign -1)."""
    found: list[Corner] = []
    for number, b in enumerate(ring):
        a = ring[number - 1]
        inside_a, inside_b = sign * (a[axis] - limit) >= 0, sign * (b[axis] - limit) >= 0
        if inside_a != inside_b:
            share = (limit - a[axis]) / (b[axis] - a[axis])
            other = a[1 - axis] + share * (b[1 - axis] - a[1 - axis])
            found.append((limit, other) if axis == 0 else (other, limit))
        if inside_b:
            found.append(b)
    return found


def lawn_on_both_sides(outline: Outline, axis: int, at: float, beside_mm: float = BESIDE_MM) -> list[Stretch]:
    """Stretches of a line with lawn on both its sides: where two strips meet there is a seam.

    Parameters
    ----------
    outline
        The lawn, turned.
    axis
        0 for a line along the pile at a place across, 1 for a line across it at a place along.
    at
        The place, mm.
    beside_mm
        How far from the line there must be lawn.
    """
    before, after = _inside(outline, axis, at - beside_mm), _inside(outline, axis, at + beside_mm)
    found = []
    for a, b in before:
        for c, d in after:
            if min(b, d) > max(a, c):
                found.append((max(a, c), min(b, d)))
    return sorted(found)


def longest_outside(some: Sequence[Stretch], others: Sequence[Stretch]) -> float:
    """How long the longest stretch is that lies in some stretches and in none of the others, mm."""
    longest = 0.0
    for start, end in some:
        reached = start
        for a, b in sorted(others):
            if b > reached:
                longest = max(longest, min(a, end) - reached)
                reached = b
        longest = max(longest, end - reached)
    return longest


def _inside(outline: Outline, axis: int, at: float) -> list[Stretch]:
    crossings = []
    for ring in outline:
        for number, b in enumerate(ring):
            a = ring[number - 1]
            if (a[axis] <= at) != (b[axis] <= at):
                share = (at - a[axis]) / (b[axis] - a[axis])
                crossings.append(a[1 - axis] + share * (b[1 - axis] - a[1 - axis]))
    crossings.sort()
    return list(zip(crossings[::2], crossings[1::2], strict=True))


def distance(one: tuple[Corner, Corner], other: tuple[Corner, Corner]) -> float:
    """Shortest distance between two straight lines with ends, mm."""
    if _cross(one, other):
        return 0.0
    ends = [_to_line(point, other) for point in one] + [_to_line(point, one) for point in other]
    return min(ends)


def _cross(one: tuple[Corner, Corner], other: tuple[Corner, Corner]) -> bool:
    def side(line: tuple[Corner, Corner], p: Corner) -> float:
        (ax, ay), (bx, by) = line
        return (bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax)

    return side(one, other[0]) * side(one, other[1]) < 0 and side(other, one[0]) * side(other, one[1]) < 0


def _to_line(point: Corner, line: tuple[Corner, Corner]) -> float:
    (ax, ay), (bx, by) = line
    length = (bx - ax) ** 2 + (by - ay) ** 2
    along = ((point[0] - ax) * (bx - ax) + (point[1] - ay) * (by - ay)) / length if length else 0.0
    share = max(0.0, min(1.0, along))
    return math.hypot(point[0] - ax - share * (bx - ax), point[1] - ay - share * (by - ay))
