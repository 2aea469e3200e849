"""Every grid over a small lawn, tried one by one: each start on a grid of 10 mm, each sequence of roll widths.

Written from the rules of laying out alone; it shares nothing with `stockplan/cutting/strips*.py` but the data. The lawn
is laid with the pile along its own y axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from typing import NamedTuple

import shapely

from stockplan.domain.lawn import Lawn
from stockplan.domain.layout import LayoutSettings


class Way(NamedTuple):
    """One way: grass as cut, seams in mm, narrowest strip up to the width pointed out, pieces."""

    area: int
    seams: int
    narrowest: int
    pieces: tuple[tuple[int, int], ...]


def up10(value: float) -> int:
    return 10 * math.ceil(round(value, 6) / 10)


def every_way(lawn: Lawn, rolls: tuple[int, ...], settings: LayoutSettings) -> Iterator[Way]:
    polygon = shapely.Polygon(lawn.edge, lawn.holes)
    left, near, right, far = (round(v) for v in polygon.bounds)
    widest = max(rolls)
    end = widest - settings.selvedge_mm - settings.free_side_mm

    @cache
    def lane(a: int, b: int) -> tuple[tuple[int, int, int], ...] | None:
        """Width, length and what it covers across, of each piece of a lane; None where one is too narrow."""
        inside = shapely.intersection(polygon, shapely.box(a, near - 1, b, far + 1))
        boxes = [p.bounds for p in shapely.get_parts(inside) if p.area > 0]
        one = _pieces([_around(boxes)], a, b)
        each = _pieces(boxes, a, b)
        chosen = one if sum(w * n for w, n, _ in one) <= sum(w * n for w, n, _ in each) else each
        if (a, b) != (left, right) and any(c < settings.least_narrow_mm for _, _, c in chosen):
            return None
        return tuple(chosen)

    def _pieces(boxes, a, b):
        found = []
        for box in boxes:
            x0, y0 = (math.floor(v + 1e-3) for v in box[:2])
            x1, y1 = (math.ceil(v - 1e-3) for v in box[2:])
            sides = settings.free_side_mm if a == left else min(settings.free_side_mm, settings.selvedge_mm + x0 - a)
            sides += settings.free_side_mm if b == right else min(settings.free_side_mm, settings.selvedge_mm + b - x1)
            found.append((up10(x1 - x0 + sides), up10(y1 - y0 + 2 * settings.end_mm), x1 - x0))
        return found

    @cache
    def seam(at: int) -> float:
        found = []
        for x in (at - 0.01, at + 0.01):
            line = shapely.intersection(polygon, shapely.LineString([(x, near - 1), (x, far + 1)]))
            found.append([(p.bounds[1], p.bounds[3]) for p in shapely.get_parts(line)])
        return round(sum(max(0.0, min(b, d) - max(a, c)) for a, b in found[0] for c, d in found[1]))

    def grids(borders: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        if settings.least_narrow_mm <= right - borders[-1] <= end:
            yield (*borders, right)
        for roll in rolls:
            following = borders[-1] + roll - 2 * settings.selvedge_mm
            if following < right:
                yield from grids((*borders, following))

    starts = [(left, left + s) for s in range(10 * math.ceil(settings.least_narrow_mm / 10), end + 1, 10)]
    ways = [grid for start in starts if start[1] < right for grid in grids(start)]
    if right - left <= widest - 2 * settings.free_side_mm:
        ways.append((left, right))
    for borders in ways:
        lanes = [lane(a, b) for a, b in pairwise(borders)]
        if any(one is None for one in lanes):
            continue
        pieces = [piece for one in lanes for piece in one]
        yield Way(
            sum(w * n for w, n, _ in pieces),
            sum(seam(at) for at in borders[1:-1]),
            min(settings.warn_narrow_mm, *(c for _, _, c in pieces), settings.warn_narrow_mm),
            tuple(sorted(((w, n) for w, n, _ in pieces), reverse=True)),
        )


def _around(boxes):
    return min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)


def fit_inside(pieces, others) -> bool:
    """Whether each piece has one of the others to itself that it fits inside; by trying, for a few pieces."""
    if not pieces:
        return True
    (width, length), *rest = pieces
    return any(
        w >= width and n >= length and fit_inside(rest, [*others[:k], *others[k + 1 :]])
        for k, (w, n) in enumerate(others)
    )
