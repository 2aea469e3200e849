"""A lawn's outline seen along the pile: what of it lies in a lane, and how long a seam would be.

Everything is in the turned frame of `stockplan/domain/layout.py`: x is across, y along. Two ways to the same answer.
The quick one serves many lanes at once where the outline meets every line of a lane along the pile in one stretch: the
ends of its part are then reached at its two borders or at a corner between them, and a hole that does not span the lane
cannot part it. Everywhere else shapely cuts the outline with the lane.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from stockplan.domain.lawn import Lawn, Ring
from stockplan.domain.layout import turned

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Whole = NDArray[np.int64]

DECIMALS = 4  # of a millimetre; turning leaves noise far below
SLIVER_MM = 0.002  # what is thinner comes of rounding alone
FAR = 1e12


class Part(NamedTuple):
    """A part of the lawn within one lane: the rectangle around it, whole millimetres outwards."""

    across_from: int
    across_to: int
    along_from: int
    along_to: int


class CrossSection(NamedTuple):
    """The outline on lines along the pile: furthest and nearest points just right and just left of each line."""

    high_right: Floats
    low_right: Floats
    high_left: Floats
    low_left: Floats


class Outline:
    """A lawn turned so that the pile leans towards growing y.

    Parameters
    ----------
    lawn
        The lawn.
    bearing
        Which way the pile leans, degrees clockwise from the lawn's own y axis.
    """

    def __init__(self, lawn: Lawn, bearing: float) -> None:
        self.lawn, self.bearing = lawn, bearing
        edge = _ring(lawn.edge, bearing)
        holes = [_ring(hole, bearing) for hole in lawn.holes]
        self.polygon = shapely.Polygon(edge, holes)
        self.corners = edge
        self.across = np.unique(np.concatenate([edge, *holes])[:, 0])
        self.left_mm, self.right_mm = down(float(edge[:, 0].min())), up(float(edge[:, 0].max()))
        self.near_mm, self.far_mm = down(float(edge[:, 1].min())), up(float(edge[:, 1].max()))
        self._outer = _sloping(edge)
        self._all = np.concatenate([self._outer, *(_sloping(hole) for hole in holes)])
        self._holes = [(float(h[:, 0].min()), float(h[:, 0].max()), _is_convex(h)) for h in holes]
        self._stations = np.unique(edge[:, 0])
        self._broken_before, self._parted_before = self._breaks()
        self.plain = not self._broken_before[-1]
        self._parts: dict[tuple[int, int], tuple[Part, ...]] = {}
        self._stretches: dict[int, list[tuple[int, int]]] = {}

    def _breaks(self) -> tuple[Whole, Whole]:
        """How often, up to each corner across, lines along the pile meet the outline in more than one stretch.

        That is between corners; and at how many corners the stretches on either side do not touch. Holes do not count.
        """
        middles = (self._stations[1:] + self._stations[:-1]) / 2
        left, right = self._outer[:, 0], self._outer[:, 2]
        crossings = (left <= middles[:, None]) & (middles[:, None] < right)
        broken = crossings.sum(axis=1) != 2
        at = self.cross_section(self._stations[1:-1])
        parted = (at.high_left <= at.low_right) | (at.high_right <= at.low_left)
        return np.concatenate([[0], np.cumsum(broken)]), np.concatenate([[0, 0], np.cumsum(parted)])

    def cross_section(self, at: Floats) -> CrossSection:
        """Extremes of the outline on lines along the pile; -inf and inf where there is no grass on that side."""
        x1, y1, x2, y2 = self._outer.T
        lines = at[:, None]
        y = y1 + (lines - x1) * ((y2 - y1) / (x2 - x1))
        right, left = (x1 <= lines) & (lines < x2), (x1 < lines) & (lines <= x2)
        return CrossSection(
            np.where(right, y, -np.inf).max(axis=1),
            np.where(right, y, np.inf).min(axis=1),
            np.where(left, y, -np.inf).max(axis=1),
            np.where(left, y, np.inf).min(axis=1),
        )

    def corner_extremes(self, start: Floats, end: Floats) -> tuple[Floats, Floats]:
        """Furthest and nearest corner strictly between two lines along the pile, lane by lane."""
        x, y = self.corners.T
        inside = (x > start[:, None]) & (x < end[:, None])
        return np.where(inside, y, -np.inf).max(axis=1), np.where(inside, y, np.inf).min(axis=1)

    def whole(self, start: Floats, end: Floats) -> Bools:
        """Whether what lies in a lane certainly hangs together, so that the quick way gives it."""
        last_one = len(self._stations) - 2
        first_gap = np.clip(np.searchsorted(self._stations, start, side="right") - 1, 0, last_one)
        last_gap = np.clip(np.searchsorted(self._stations, end, side="left") - 1, 0, last_one)
        sure: Bools = self._broken_before[last_gap + 1] == self._broken_before[first_gap]
        sure &= self._parted_before[last_gap + 1] == self._parted_before[first_gap + 1]
        for first, last, convex in self._holes:
            sure &= ~((first <= start) & (end <= last))
            if not convex:
                sure &= ~(((first < start) & (start < last)) | ((first < end) & (end < last)))
        return sure

    def seams(self, at: Floats) -> Floats:
        """Length of the seam on each line along the pile, its ends in whole mm: where there is grass on both sides."""
        x1, y1, x2, y2 = self._all.T
        lines = at[:, None]
        y = y1 + (lines - x1) * ((y2 - y1) / (x2 - x1))
        ys = np.hstack([np.where((x1 <= lines) & (lines < x2), y, FAR), np.where((x1 < lines) & (lines <= x2), y, FAR)])
        order = np.argsort(ys, axis=1, kind="stable")
        ys = np.round(np.take_along_axis(ys, order, axis=1))
        of_right = order < len(x1)
        inside_right = np.cumsum(of_right, axis=1) % 2 == 1
        inside_left = np.cumsum(~of_right, axis=1) % 2 == 1
        both = inside_right[:, :-1] & inside_left[:, :-1] & (ys[:, 1:] < FAR)
        return np.asarray(np.where(both, np.diff(ys, axis=1), 0.0).sum(axis=1))

    def seam_stretches(self, at: int) -> list[tuple[int, int]]:
        """Where along one line there is grass on both sides, from the near end, whole millimetres."""
        if at in self._stretches:
            return self._stretches[at]
        x1, y1, x2, y2 = self._all.T
        y = y1 + (at - x1) * ((y2 - y1) / (x2 - x1))
        right = np.sort(y[(x1 <= at) & (at < x2)]).reshape(-1, 2)
        left = np.sort(y[(x1 < at) & (at <= x2)]).reshape(-1, 2)
        found: list[tuple[int, int]] = []
        for a, b in right.tolist():
            for c, d in left.tolist():
                start, end = round(max(a, c)), round(min(b, d))
                if start >= end:
                    continue
                if found and found[-1][1] >= start:
                    found[-1] = (found[-1][0], max(found[-1][1], end))
                else:
                    found.append((start, end))
        self._stretches[at] = found
        return found

    def prepare(self, lanes: Sequence[tuple[int, int]]) -> None:
        """Work out the parts of many lanes at once."""
        wanted = sorted(set(lanes) - self._parts.keys())
        if not wanted:
            return
        borders = np.array(wanted, dtype=np.float64)
        sure = self.whole(borders[:, 0], borders[:, 1])
        if sure.any():
            low, high = self.runs(borders[sure])
            for lane, near, far in zip(np.flatnonzero(sure).tolist(), low.tolist(), high.tolist(), strict=True):
                self._parts[wanted[lane]] = (Part(*wanted[lane], near, far),)
        fresh = [lane for lane, quick in zip(wanted, sure.tolist(), strict=True) if not quick]
        if fresh:
            self._cut_out(fresh)

    def runs(self, lanes: Floats) -> tuple[Whole, Whole]:
        """Near and far end of what lies in lanes where it hangs together, the quick way."""
        places = np.unique(lanes)
        section = self.cross_section(places)
        start, end = np.searchsorted(places, lanes[:, 0]), np.searchsorted(places, lanes[:, 1])
        corner = self.corner_extremes(lanes[:, 0], lanes[:, 1])
        high = np.maximum(np.maximum(section.high_right[start], section.high_left[end]), corner[0])
        low = np.minimum(np.minimum(section.low_right[start], section.low_left[end]), corner[1])
        noise = SLIVER_MM / 2
        return np.floor(low + noise).astype(np.int64), np.ceil(high - noise).astype(np.int64)

    def _cut_out(self, fresh: list[tuple[int, int]]) -> None:
        """Cut the outline with lanes."""
        borders = np.array(fresh, dtype=np.float64)
        boxes = shapely.box(borders[:, 0], self.near_mm - 1.0, borders[:, 1], self.far_mm + 1.0)
        cut = shapely.intersection(self.polygon, boxes)
        pieces, of_lane = shapely.get_parts(cut, return_index=True)
        # A part that touches the border in a line comes inside a collection.
        pieces, inner = shapely.get_parts(pieces, return_index=True)
        of_lane = of_lane[inner]
        bounds = shapely.bounds(pieces)
        found: list[list[Part]] = [[] for _ in fresh]
        for lane, (x0, y0, x1, y1) in zip(of_lane.tolist(), bounds.tolist(), strict=True):
            if x1 - x0 > SLIVER_MM and y1 - y0 > SLIVER_MM:
                found[lane].append(Part(down(x0), up(x1), down(y0), up(y1)))
        for lane, parts in zip(fresh, found, strict=True):
            self._parts[lane] = tuple(sorted(parts, key=lambda p: (p.along_from, p.across_from)))

    def parts(self, start: int, end: int) -> tuple[Part, ...]:
        """The parts of the lawn in a lane, each in one piece, from the near end."""
        if (start, end) not in self._parts:
            self.prepare([(start, end)])
        return self._parts[start, end]

    def within(self, part: Part, start: int, end: int) -> Part | None:
        """What a part needs across between two places along the pile; None where there is no lawn between them."""
        cut = shapely.intersection(self.polygon, shapely.box(part.across_from, start, part.across_to, end))
        # Where the lawn beyond a side only touches it, a line comes inside a collection.
        x0, y0, x1, y1 = shapely.bounds(shapely.get_parts(shapely.get_parts(cut))).T
        wide = (x1 - x0 > SLIVER_MM) & (y1 - y0 > SLIVER_MM)
        if not wide.any():
            return None
        return Part(down(float(x0[wide].min())), up(float(x1[wide].max())), start, end)

    def kept_clear(self, distance_mm: int) -> list[tuple[float, float]]:
        """Stretches across in which a seam along the pile would come too near an edge that is to be free of seams."""
        found = []
        for number in self.lawn.no_seam_edges():
            line = shapely.LineString(_ring(self.lawn.side(number), self.bearing))
            near = shapely.intersection(self.polygon, shapely.buffer(line, distance_mm / OUTWARD, quad_segs=QUADRANT))
            for x0, _, x1, _ in shapely.bounds(shapely.get_parts(near)).tolist():
                found.append((x0, x1))
        return found

    def distance_to_clear_edges(self, x0: float, y0: float, x1: float, y1: float) -> float:
        """How near a straight seam comes to the nearest edge that is to be free of seams, mm."""
        if not self.lawn.no_seam_edges():
            return FAR
        seam = shapely.LineString([(x0, y0), (x1, y1)])
        sides = [_ring(self.lawn.side(number), self.bearing) for number in self.lawn.no_seam_edges()]
        return min(float(shapely.distance(seam, shapely.LineString(side))) for side in sides)


QUADRANT = 16  # a quarter circle as this many chords
OUTWARD = float(np.cos(np.pi / (4 * QUADRANT)))  # chords lie inside their circle by this factor at most


def down(value: float) -> int:
    """The whole millimetre at or below, noise aside."""
    return int(np.floor(value + SLIVER_MM / 2))


def up(value: float) -> int:
    """The whole millimetre at or above, noise aside."""
    return int(np.ceil(value - SLIVER_MM / 2))


def _ring(ring: Ring, bearing: float) -> Floats:
    corners = [turned(p.x_mm, p.y_mm, bearing) for p in ring]
    return np.array([(round(x, DECIMALS), round(y, DECIMALS)) for x, y in corners], dtype=np.float64)


def _sloping(ring: Floats) -> Floats:
    """Edges that are not along the pile, as x1, y1, x2, y2 from left to right."""
    edges = np.hstack([ring, np.roll(ring, -1, axis=0)])
    edges = edges[edges[:, 0] != edges[:, 2]]
    return np.asarray(np.where((edges[:, 0] < edges[:, 2])[:, None], edges, edges[:, [2, 3, 0, 1]]))


def _is_convex(ring: Floats) -> bool:
    side = np.roll(ring, -1, axis=0) - ring
    after = np.roll(side, -1, axis=0)
    turns = side[:, 0] * after[:, 1] - side[:, 1] * after[:, 0]
    return bool((turns >= 0).all() or (turns <= 0).all())
