"""Whole plans on sheets of one size, piece by piece, many half-made plans side by side: a beam search.

A half-made plan ends in a sheet under way: drops that are done, then a drop whose lanes are done but for the last. The
next piece goes to the end of that lane, or begins a lane, a drop or a sheet. Within a lane pieces come in order of
width, widest first, so the first fixes the lane's width. Of all plans with so many pieces placed those are kept that
waste least of what they have passed over; `GUIDES` says how that is weighed against the size of the pieces placed, as
small ones waste less at first and more in the end. Plans that have placed the same pieces compete with each other: only
the best `ALIKE` stay. A plan that has wasted more than the sheets aimed at can spare is dropped.

The branching and the guides are those of Fontan and Libralesso ("An anytime tree search algorithm for two-dimensional
two- and three-staged guillotine packing problems", 2020); a layer of the search is one batch of array operations.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]
Lane = tuple[int, tuple[int, ...]]
Drop = tuple[int, tuple[Lane, ...]]
LANE_ON, NEW_LANE, NEW_DROP, NEW_SHEET = range(4)
GUIDES = 3
ALIKE = 2
MOST_CHILDREN = 1_500_000  # of one layer, for memory


@dataclass
class _Front:
    """Half-made plans of one layer, an entry each: where the sheet under way stands, and what is left to place."""

    sheets: Integers  # before the one under way
    start: Integers  # of the drop under way, along
    length: Integers  # of the drop under way
    across: Integers  # taken by the lanes of the drop that are done
    width: Integers  # of the lane under way
    used: Integers  # of the lane under way, along
    last: Integers  # type of the last piece
    area: Integers  # of the pieces placed
    left: Integers  # by plan and type: how many are still to be placed

    @classmethod
    def empty(cls, demands: Sequence[int]) -> _Front:
        """No piece placed."""
        none = np.zeros(1, dtype=np.int64)
        left = np.array([demands], dtype=np.int64)
        return cls(none, none, none, none, none, none, none, none, left)


class Beam:
    """The search.

    Parameters
    ----------
    sizes
        Width and length of each size.
    demands
        How many of each.
    sheet
        Width and length.
    """

    def __init__(self, sizes: Sequence[tuple[int, int]], demands: Sequence[int], sheet: tuple[int, int]) -> None:
        self._order = sorted(range(len(sizes)), key=lambda i: (-sizes[i][0], -sizes[i][1], i))
        self._widths = np.array([sizes[i][0] for i in self._order], dtype=np.int64)
        self._lengths = np.array([sizes[i][1] for i in self._order], dtype=np.int64)
        self._areas = self._widths * self._lengths
        self._demands = [demands[i] for i in self._order]
        self._sheet = sheet
        self._marks = np.random.default_rng(0).integers(1, 2**62, len(sizes), dtype=np.int64)
        self.pieces = sum(demands)

    def run(self, width: int, guide: int, most: int, over: Callable[[], bool]) -> list[tuple[Drop, ...]] | None:
        """A plan that takes at most so many sheets; None when the search meets none.

        Parameters
        ----------
        width
            How many half-made plans are kept.
        guide
            Which of the `GUIDES`.
        most
            Most sheets.
        over
            Asked at each layer; True ends the search.
        """
        width = min(width, max(1, MOST_CHILDREN // (4 * len(self._order))))
        spare = most * self._sheet[0] * self._sheet[1] - int(self._areas @ np.array(self._demands))
        front = _Front.empty(self._demands)
        steps: list[tuple[Integers, Integers, Integers]] = []
        for placed in range(self.pieces):
            if over():
                return None
            parents, types, kinds, guides = self._children(front, placed, guide, most, spare)
            if not len(parents):
                return None
            kept = self._best(front, parents, types, guides, width)
            parents, types, kinds = parents[kept], types[kept], kinds[kept]
            steps.append((parents, types, kinds))
            front = self._after(front, parents, types, kinds)
        return self._traced(steps)

    def _children(
        self, front: _Front, placed: int, guide: int, most: int, spare: int
    ) -> tuple[Integers, Integers, Integers, NDArray[np.float64]]:
        """Every way to place one more piece, and its guide."""
        wide, long = self._sheet
        wanted = front.left > 0
        room = (long - front.start)[:, None]
        ways = [np.zeros(0, dtype=bool)] * 4
        if placed:
            types = np.arange(len(self._order))
            lane_end = front.used[:, None] + self._lengths
            ways[LANE_ON] = wanted & (types >= front.last[:, None]) & (lane_end <= room)
            beside = (wide - front.across - front.width)[:, None]
            ways[NEW_LANE] = wanted & (self._widths <= beside) & (self._lengths <= room)
            ways[NEW_DROP] = wanted & (self._lengths <= room - front.length[:, None])
            ways[NEW_SHEET] = wanted & (front.sheets + 1 < most)[:, None]
        else:
            ways[NEW_SHEET] = wanted
        found = []
        for kind, way in enumerate(ways):
            parents, types = np.nonzero(way) if way.size else (np.zeros(0, dtype=np.int64),) * 2
            passed, area = self._passed(front, parents, types, kind)
            fine = passed - area <= spare
            found.append((parents[fine], types[fine], np.full(int(fine.sum()), kind), passed[fine], area[fine]))
        parents, types, kinds, passed, area = (np.concatenate(parts) for parts in zip(*found, strict=True))
        wasted = (passed - area) / passed
        mean = area / (placed + 1)
        guides = (wasted, wasted / mean, (0.1 + wasted) / mean)[guide]
        return parents, types, kinds, guides

    def _passed(self, front: _Front, parents: Integers, types: Integers, kind: int) -> tuple[Integers, Integers]:
        """Area passed over and area of pieces once a piece is placed."""
        wide, long = self._sheet
        length, width = self._lengths[types], self._widths[types]
        full = front.sheets[parents] * wide * long
        if kind == NEW_SHEET:
            begun = front.area[parents] > 0
            passed = full + begun * wide * long + width * length
        elif kind == NEW_DROP:
            passed = full + (front.start[parents] + front.length[parents]) * wide + width * length
        elif kind == NEW_LANE:
            across = front.across[parents] + front.width[parents]
            passed = full + front.start[parents] * wide + width * length
            passed += np.maximum(front.length[parents], length) * across
        else:
            used = front.used[parents] + length
            passed = full + front.start[parents] * wide + used * front.width[parents]
            passed += np.maximum(front.length[parents], used) * front.across[parents]
        return passed, front.area[parents] + self._areas[types]

    def _best(
        self, front: _Front, parents: Integers, types: Integers, guides: NDArray[np.float64], width: int
    ) -> Integers:
        """Numbers of the children to keep."""
        many = 3 * width
        chosen = np.argpartition(guides, many)[:many] if len(guides) > many else np.arange(len(guides))
        # The same pieces are left: as many of each, whatever the plan. Marks are added with wrapping, which is no harm.
        alike = (front.left @ self._marks)[parents[chosen]] - self._marks[types[chosen]]
        order = np.lexsort((chosen, guides[chosen], alike))
        chosen, alike = chosen[order], alike[order]
        again = np.zeros(len(chosen), dtype=bool)
        again[ALIKE:] = alike[ALIKE:] == alike[:-ALIKE] if len(chosen) > ALIKE else False
        chosen = chosen[~again]
        order = np.lexsort((chosen, guides[chosen]))
        return chosen[order][:width]

    def _after(self, front: _Front, parents: Integers, types: Integers, kinds: Integers) -> _Front:
        """The next layer."""
        length, width = self._lengths[types], self._widths[types]
        on, lane, drop = kinds == LANE_ON, kinds == NEW_LANE, kinds == NEW_DROP
        same_drop = on | lane
        used = np.where(on, front.used[parents] + length, length)
        begun = front.area[parents] > 0
        left = front.left[parents].copy()
        left[np.arange(len(parents)), types] -= 1
        return _Front(
            sheets=front.sheets[parents] + ((kinds == NEW_SHEET) & begun),
            start=np.where(
                same_drop, front.start[parents], np.where(drop, front.start[parents] + front.length[parents], 0)
            ),
            length=np.where(same_drop, np.maximum(front.length[parents], used), length),
            across=np.where(on, front.across[parents], np.where(lane, front.across[parents] + front.width[parents], 0)),
            width=np.where(on, front.width[parents], width),
            used=used,
            last=types,
            area=front.area[parents] + self._areas[types],
            left=left,
        )

    def _traced(self, steps: list[tuple[Integers, Integers, Integers]]) -> list[tuple[Drop, ...]]:
        """The best plan of the last layer, sheet by sheet."""
        path: list[tuple[int, int]] = []
        at = 0
        for parents, types, kinds in reversed(steps):
            path.append((int(types[at]), int(kinds[at])))
            at = int(parents[at])
        sheets: list[list[list[list[int]]]] = []
        for place, kind in reversed(path):
            if kind == NEW_SHEET:
                sheets.append([])
            if kind in (NEW_SHEET, NEW_DROP):
                sheets[-1].append([])
            if kind != LANE_ON:
                sheets[-1][-1].append([])
            sheets[-1][-1][-1].append(place)
        return [tuple(self._drop(lanes) for lanes in drops) for drops in sheets]

    def _drop(self, lanes: list[list[int]]) -> Drop:
        length = max(int(self._lengths[lane].sum()) for lane in lanes)
        return length, tuple((int(self._widths[lane[0]]), tuple(self._order[p] for p in lane)) for lane in lanes)
