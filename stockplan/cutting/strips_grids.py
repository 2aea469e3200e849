"""Grids of lanes over one lawn: every start that can matter, every sequence of widths, and the few worth laying out.

All lanes but the outermost are laid at the full width of a roll; the outermost two share what is left, and where the
grid starts says how. A start can matter where a border meets a corner of the lawn, on either side of any lane, and
where a strip's cut width changes by a step; so starts are tried at every step of 10 mm, counted from both sides of the
lawn, and beside every corner. Lawns with many corners (curves) do without the latter, since the steps are as close;
where such a lawn also turns back on itself or has wide beds the steps are 40 mm, for the sake of time.
Sequences of widths are tried from the fewest lanes on, at most `MOST_SEQUENCES`, since every lane more is one more seam
along the whole lawn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from stockplan.cutting.strips_cut import Grass, Lane, cut_length, cut_width, joined_parts
from stockplan.cutting.strips_fit import fits_inside
from stockplan.cutting.strips_measure import REFUSED, LaneMeasure, Whole
from stockplan.cutting.strips_outline import Outline, Part
from stockplan.domain.layout import CUT_STEP_MM, LayoutSettings

MOST_SEQUENCES = 48
MANY_CORNERS = 40
COARSE_STEP_MM = 40
SEAM_STEP_MM = 100  # seams are compared in tenths of a metre, which is finer than tape is cut
MOST_RIVALS = 40  # grids compared piece by piece with one pick
MOST_PICKS = 12  # grids laid out in full for one lawn and one direction
FAR_APART = 1 << 30  # more millimetres than any lawn has

Borders = tuple[int, ...]


@dataclass(frozen=True)
class Family:
    """Grids with one sequence of full lanes, by their start.

    Parameters
    ----------
    borders
        A row for each start: the borders of its lanes, from the left edge of the lawn to the right.
    area, seam
        Grass as cut in mm², `REFUSED` where a rule is broken, and seams in mm.
    narrowest
        How much its narrowest strip covers across, mm, never more than the width that is pointed out.
    """

    borders: Whole
    area: Whole
    seam: Whole
    narrowest: Whole


class Grids:
    """Grids over one outline.

    Parameters
    ----------
    outline
        The lawn, turned.
    grass
        What strips are cut from.
    settings
        How strips are laid out.
    """

    def __init__(self, outline: Outline, grass: Grass, settings: LayoutSettings) -> None:
        self.outline, self.grass, self.settings = outline, grass, settings
        self.left, self.right = outline.left_mm, outline.right_mm
        widest = max(grass.rolls)
        self.beside = settings.selvedge_mm + settings.free_side_mm  # what an outermost lane loses of its roll
        self.end_lane = widest - self.beside
        self.only_lane = widest - 2 * settings.free_side_mm
        self.least = max(1, settings.least_narrow_mm)
        covers = [roll - 2 * settings.selvedge_mm for roll in grass.rolls]
        self.full_lanes = [lane for lane in covers if lane >= self.least]

    @cached_property
    def best(self) -> dict[Borders, None]:
        """Grids that no other beats in area, seam and narrowest strip at once."""
        return dict.fromkeys(_best(self.families)) if self.families else {}

    @cached_property
    def families(self) -> list[Family]:
        """Every grid tried, by sequence of full lanes; sequences that break a rule at every start are left out."""
        rows = list(self._rows())
        if not rows:
            return []
        keys = np.unique(np.concatenate([self._keys(r).ravel() for r in rows]))
        lanes = np.stack([keys // FAR_APART, keys % FAR_APART], axis=1) + self.left
        area, narrow = LaneMeasure(self.outline, self.grass, self.settings).measure(lanes)
        places = np.unique(np.concatenate([r[:, 1:-1].ravel() for r in rows]))
        seams = np.round(self.outline.seams(places.astype(np.float64))).astype(np.int64)
        near = np.zeros(len(places), dtype=bool)
        for start, end in self.outline.kept_clear(self.settings.no_seam_distance_mm):
            near |= (start < places) & (places < end)
        found = []
        for borders in rows:
            of_lane = np.searchsorted(keys, self._keys(borders))
            of_place = np.searchsorted(places, borders[:, 1:-1])
            each = area[of_lane]
            refused = (each >= REFUSED).any(axis=1) | near[of_place].any(axis=1)
            total = np.where(refused, REFUSED, np.where(each >= REFUSED, 0, each).sum(axis=1))
            found.append(Family(borders, total, seams[of_place].sum(axis=1), narrow[of_lane].min(axis=1)))
        return [family for family in found if (family.area < REFUSED).any()]

    def _keys(self, borders: Whole) -> Whole:
        """One number for each lane of each grid."""
        from_left = borders - self.left
        return np.asarray(from_left[:, :-1] * FAR_APART + from_left[:, 1:])

    def _rows(self) -> Iterator[Whole]:
        """Borders of every grid, one array for each number and sequence of full lanes."""
        extent = self.right - self.left
        if extent <= self.only_lane:
            yield np.array([[self.left, self.right]], dtype=np.int64)
        for sequence in self._sequences(extent):
            ahead = np.concatenate([[0], np.cumsum(np.array(sequence, dtype=np.int64))]).astype(np.int64)
            total = int(ahead[-1])
            first = max(self.left + self.least, self.right - total - self.end_lane)
            last = min(self.left + self.end_lane, self.right - total - self.least)
            if first > last:
                continue
            starts = self._starts(first, last, ahead)
            lanes = starts[:, None] + ahead
            ends = np.full((len(starts), 1), self.left), np.full((len(starts), 1), self.right)
            yield np.hstack([ends[0], lanes, ends[1]])

    def _starts(self, first: int, last: int, ahead: Whole) -> Whole:
        """Places of the first border that can matter, `ahead` saying where the others lie behind it."""
        total = int(ahead[-1])
        many = len(self.outline.across) > MANY_CORNERS and not self.outline.plain
        step = COARSE_STEP_MM if many else CUT_STEP_MM
        steps = np.arange(0, last - first + 2 * step, step)
        offset = -self.beside % CUT_STEP_MM
        found = [
            np.array([first, last]),
            self.left + offset + (first - self.left) // CUT_STEP_MM * CUT_STEP_MM + steps,
            self.right - total - offset - (self.right - total - last) // CUT_STEP_MM * CUT_STEP_MM - steps,
        ]
        corners = self.outline.across
        if len(corners) <= MANY_CORNERS:
            beside = np.unique(np.concatenate([np.floor(corners), np.ceil(corners)])).astype(np.int64)
            found.append((beside[:, None] - ahead).ravel())
        starts = np.unique(np.concatenate(found))
        return starts[(first <= starts) & (starts <= last)]

    def _sequences(self, extent: int) -> list[tuple[int, ...]]:
        """Sequences of full lanes that leave the outermost two something to cover, the shortest first."""
        low, high = extent - 2 * self.end_lane, extent - 2 * self.least
        nets = self.full_lanes
        found: list[tuple[int, ...]] = []
        if not nets or high < 0:
            return [()] if low <= 0 <= high else []
        for count in range(high // min(nets) + 1):
            if count * max(nets) >= low:
                for sequence in _chosen(nets, count, low, high):
                    found.append(sequence)
                    if len(found) == MOST_SEQUENCES:
                        return found
        return found

    def picks(self) -> list[Borders]:
        """The grids worth laying out in full.

        Those that no other beats in area, seam and narrowest strip at once, and, as far as there is room, those whose
        outermost strip takes the whole width of a roll or of something in the yard: between two such starts cut sizes
        change evenly, one strip gaining what its neighbour loses.
        """
        families = self.families
        if not families:
            return []
        found = dict.fromkeys(self.best)
        price = self.grass.pence_per_m2 or 1
        rate = self.settings.seam_pence_per_m
        others: list[tuple[int, Borders]] = []
        for family in families:
            cost = np.where(family.area < REFUSED, family.area // 1000 * price + family.seam * rate, REFUSED)
            for at in self._meeting(family):
                if cost[at] < REFUSED:
                    others.append((int(cost[at]), _borders(family, at)))
        for _, borders in sorted(others):
            if len(found) >= MOST_PICKS:
                break
            found[borders] = None
        for borders in self.best:
            found.update(dict.fromkeys(self._halved(borders)))
        return list(found)

    def bettered(self, borders: Borders) -> Borders:
        """The grid that takes least grass among those that dominate this one, or itself.

        Widths are compared first, as no piece fits inside a narrower one; of what is left the pieces are.
        """
        if borders in self.best:
            return borders
        mine = self._pieces(borders)
        area = sum(width * length for width, length in mine)
        seam = int(np.round(self.outline.seams(np.array(borders[1:-1], dtype=np.float64))).sum()) if borders[2:] else 0
        widths = sorted((width for width, _ in mine), reverse=True)
        at_least = -(-seam // SEAM_STEP_MM) * SEAM_STEP_MM
        rivals: list[tuple[int, Borders]] = []
        for family in self.families:
            lanes = family.borders.shape[1] - 1
            if lanes > len(mine) and self.outline.plain:
                continue
            fits = (family.area < area) & (family.seam <= at_least)
            if self.outline.plain:
                lane = -np.sort(-np.diff(family.borders[fits], axis=1), axis=1)
                # What a lane covers is narrower than what is cut for it, by the same at both ends of the comparison.
                limit = np.array(widths[:lanes]) - 2 * min(self.settings.selvedge_mm, self.settings.free_side_mm)
                where = np.flatnonzero(fits)[(lane <= limit).all(axis=1)]
            else:
                where = np.flatnonzero(fits)
            rivals.extend((int(family.area[at]), _borders(family, at)) for at in where.tolist())
        narrow = self._narrowest(borders)
        nearest = [rival for _, rival in sorted(rivals)[:MOST_RIVALS]]
        self.outline.prepare([lane for rival in nearest for lane in pairwise(rival)])
        for rival in nearest:
            if fits_inside(self._pieces(rival), mine) and self._narrowest(rival) >= narrow:
                return rival
        return borders

    def _pieces(self, borders: Borders) -> list[tuple[int, int]]:
        """Sizes as cut, head seams aside."""
        return [(cut_width(p, n, self.settings), cut_length(p, self.settings)) for n, p in self._parts(borders)]

    def _narrowest(self, borders: Borders) -> int:
        covers = [part.across_to - part.across_from for _, part in self._parts(borders)]
        return min([self.settings.warn_narrow_mm, *covers])

    def _parts(self, borders: Borders) -> Iterator[tuple[Lane, Part]]:
        for start, end in pairwise(borders):
            lane = Lane(start, end, start == self.left, end == self.right)
            for part in joined_parts(self.outline.parts(start, end), lane, self.settings):
                yield lane, part

    def _meeting(self, family: Family) -> list[int]:
        """Starts at which an outermost strip takes a whole width."""
        if family.borders.shape[1] < 3:
            return [0]
        widths = np.array([*self.grass.rolls, *self.grass.odd_widths()], dtype=np.int64) - self.beside
        left = np.flatnonzero(np.isin(family.borders[:, 1] - self.left, widths))
        right = np.flatnonzero(np.isin(self.right - family.borders[:, -2], widths))
        return sorted({*left.tolist(), *right.tolist()})

    def _halved(self, borders: Borders) -> Iterator[Borders]:
        """The same grid with an outermost lane in two, where something in the yard is wide enough for a half alone."""
        if len(borders) < 3:
            return
        for at, more in ((0, 1), (len(borders) - 2, 1)):
            start, end = borders[at], borders[at + more]
            half = -(-(end - start) // 2)
            whole, part = end - start + self.beside, half + self.beside
            room = any(part <= width < whole for width in self.grass.odd_widths())
            if room and end - start - half >= self.least:
                yield (*borders[: at + 1], start + half, *borders[at + 1 :])


def _chosen(nets: list[int], count: int, low: int, high: int) -> Iterator[tuple[int, ...]]:
    """Sequences of so many full lanes that take from `low` to `high` together."""
    if count == 0:
        if low <= 0 <= high:
            yield ()
        return
    for net in nets:
        if net + (count - 1) * min(nets) <= high and net + (count - 1) * max(nets) >= low:
            for rest in _chosen(nets, count - 1, low - net, high - net):
                yield (net, *rest)


def _best(families: list[Family]) -> Iterator[Borders]:
    """Grids that no other beats in area, seam and narrowest strip at once; among equals the most uneven outermost."""
    area = np.concatenate([f.area for f in families])
    seam = -(-np.concatenate([f.seam for f in families]) // SEAM_STEP_MM)
    narrow = np.concatenate([f.narrowest for f in families])
    outermost = [f.borders[:, [1, -1]] - f.borders[:, [0, -2]] for f in families]
    uneven = np.concatenate([np.abs(o[:, 0] - o[:, 1]) for o in outermost])
    begins = np.cumsum([0, *(len(f.area) for f in families)])
    order = np.lexsort([-uneven, -narrow, seam, area])
    order = order[area[order] < REFUSED]
    while len(order):
        first = order[0]
        number = int(np.searchsorted(begins, first, side="right")) - 1
        yield _borders(families[number], int(first - begins[number]))
        order = order[(seam[order] < seam[first]) | (narrow[order] > narrow[first])]


def _borders(family: Family, at: int) -> Borders:
    return tuple(int(b) for b in family.borders[at])
