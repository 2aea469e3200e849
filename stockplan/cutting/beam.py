"""Whole plans, piece by piece, many half-made plans side by side: a beam search.

A half-made plan ends in a sheet under way: drops that are done, then a drop whose lanes are done but for the last. The
next piece goes to the end of that lane, or begins a lane, a drop or a sheet. Within a lane pieces come in order of
width, widest first, so the first fixes the lane's width. Of all plans with so many pieces placed those are kept that
waste least of what they have passed over, at cost; `GUIDES` says how that is weighed against the size of the pieces
placed, as small ones waste less at first and more in the end. Plans that have placed the same pieces compete with each
other: only the best `ALIKE` stay. A plan that has wasted more than the cost aimed at can spare is dropped.

The branching and the guides are those of Fontan and Libralesso ("An anytime tree search algorithm for two-dimensional
two- and three-staged guillotine packing problems", 2020); a layer of the search is one batch of array operations.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]
Lane = tuple[int, tuple[int, ...]]
Drop = tuple[int, tuple[Lane, ...]]
LANE_ON, NEW_LANE, NEW_DROP, NEW_SHEET = range(4)  # and from there on a new sheet of each source
GUIDES = 3
ALIKE = 2
SHAKEN = 0.2  # with a guide so shaken one published instance was solved in half a minute that never was without
MOST_CHILDREN = 1_500_000  # of one layer, for memory


@dataclass
class _Front:
    """Half-made plans of one layer, an entry each: where the sheet under way stands, and what is left to place."""

    spent: Integers  # on sheets that are done
    sheet: Integers  # number of the source of the one under way; -1 before the first
    start: Integers  # of the drop under way, along
    length: Integers  # of the drop under way
    across: Integers  # taken by the lanes of the drop that are done
    width: Integers  # of the lane under way
    used: Integers  # of the lane under way, along
    last: Integers  # type of the last piece
    worth: Floats  # of the pieces placed
    left: Integers  # by plan and type: how many are still to be placed
    copies: Integers  # by plan and source: how many are still to be had

    @classmethod
    def empty(cls, demands: Sequence[int], copies: Sequence[int]) -> _Front:
        """No piece placed."""
        none = np.zeros(1, dtype=np.int64)
        left, had = np.array([demands], dtype=np.int64), np.array([copies], dtype=np.int64)
        return cls(none, none - 1, none, none, none, none, none, none, np.zeros(1), left, had)


class Beam:
    """The search.

    Parameters
    ----------
    sizes
        Width and length of each size.
    demands
        How many of each.
    sheets
        Width and length of each source.
    costs
        Of each source, whole.
    copies
        Of each source; None when without end.
    worth
        Of a piece of each size, in the unit of cost. Default its area, at the cost of the cheapest source: what a plan
        has passed over beyond that is wasted.
    """

    def __init__(
        self,
        sizes: Sequence[tuple[int, int]],
        demands: Sequence[int],
        sheets: Sequence[tuple[int, int]],
        costs: Sequence[int],
        copies: Sequence[int | None],
        worth: Sequence[float] | None = None,
    ) -> None:
        self._order = sorted(range(len(sizes)), key=lambda i: (-sizes[i][0], -sizes[i][1], i))
        self._widths = np.array([sizes[i][0] for i in self._order], dtype=np.int64)
        self._lengths = np.array([sizes[i][1] for i in self._order], dtype=np.int64)
        self._areas = self._widths * self._lengths
        self._demands = [demands[i] for i in self._order]
        self._wide, self._long = (np.array(side, dtype=np.int64) for side in zip(*sheets, strict=True))
        self._costs = np.array(costs, dtype=np.int64)
        self._rates = self._costs / (self._wide * self._long)
        self._worth = self._areas * self._rates.min() if worth is None else np.array([worth[i] for i in self._order])
        self._as_wide = self._widths <= self._wide[:, None]
        self._as_long = self._lengths <= self._long[:, None]
        self._copies = [sum(demands) if n is None else n for n in copies]
        self._marks = np.random.default_rng(0).integers(1, 2**62, len(sizes), dtype=np.int64)
        self._shake: np.random.Generator | None = None
        self.pieces = sum(demands)

    def run(
        self, width: int, guide: int, most: int, over: Callable[[], bool], seed: int | None = None
    ) -> list[tuple[int, tuple[Drop, ...]]] | None:
        """A plan that costs at most so much, as sources and how they are cut; None when the search meets none.

        Parameters
        ----------
        width
            How many half-made plans are kept.
        guide
            Which of the `GUIDES`.
        most
            Most it may cost.
        over
            Asked at each layer; True ends the search.
        seed
            Shakes the guide by up to `SHAKEN`, each seed another way; default None, not at all.
        """
        width = min(width, max(1, MOST_CHILDREN // ((NEW_SHEET + len(self._costs)) * len(self._order))))
        self._shake = None if seed is None else np.random.default_rng(seed)
        spare = most - float(self._worth @ np.array(self._demands))
        front = _Front.empty(self._demands, self._copies)
        steps: list[tuple[Integers, Integers, Integers]] = []
        for placed in range(self.pieces):
            if over():
                return None
            front_or_none = self._step(front, placed, width, guide, most, spare, steps)
            if front_or_none is None:
                return None
            front = front_or_none
        return self._traced(steps, 0)

    def sheets(
        self, width: int, guide: int, source: int, number: int, of_a_count: int = 1
    ) -> list[tuple[float, tuple[Drop, ...]]]:
        """Ways to cut one sheet with pieces worth much, the best first.

        Parameters
        ----------
        width, guide
            As for `run`.
        source
            Number of the source.
        number
            At most how many.
        of_a_count
            At most how many of one count of pieces; default one.
        """
        width = min(width, max(1, MOST_CHILDREN // ((NEW_SHEET + 1) * len(self._order))))
        copies = [int(s == source) for s in range(len(self._costs))]
        front = _Front.empty(self._demands, copies)
        steps: list[tuple[Integers, Integers, Integers]] = []
        best: list[tuple[float, int, int]] = []
        for placed in range(self.pieces):
            following = self._step(front, placed, width, guide, int(self._costs[source]), np.inf, steps)
            if following is None:
                break
            front = following
            dear = np.argsort(-front.worth, kind="stable")[:of_a_count]
            best += [(float(front.worth[at]), placed, int(at)) for at in dear]
        best.sort(reverse=True)
        return [(worth, self._traced(steps[: last + 1], at)[0][1]) for worth, last, at in best[:number]]

    def _step(
        self,
        front: _Front,
        placed: int,
        width: int,
        guide: int,
        most: int,
        spare: float,
        steps: list[tuple[Integers, Integers, Integers]],
    ) -> _Front | None:
        """The next layer, noted in `steps`; None when no piece can be placed."""
        parents, types, kinds, guides = self._children(front, placed, guide, most, spare)
        if not len(parents):
            return None
        kept = self._best(front, parents, types, guides, width)
        parents, types, kinds = parents[kept], types[kept], kinds[kept]
        steps.append((parents, types, kinds))
        return self._after(front, parents, types, kinds)

    def _children(
        self, front: _Front, placed: int, guide: int, most: int, spare: float
    ) -> tuple[Integers, Integers, Integers, Floats]:
        """Every way to place one more piece, and its guide."""
        wanted = front.left > 0
        ways: list[NDArray[np.bool_]] = []
        if placed:
            room = (self._long[front.sheet] - front.start)[:, None]
            lane_end = front.used[:, None] + self._lengths
            beside = (self._wide[front.sheet] - front.across - front.width)[:, None]
            ways.append(wanted & (np.arange(len(self._order)) >= front.last[:, None]) & (lane_end <= room))
            ways.append(wanted & (self._widths <= beside) & (self._lengths <= room))
            ways.append(wanted & (self._lengths <= room - front.length[:, None]) & self._as_wide[front.sheet])
        else:
            ways += [np.zeros((1, len(self._order)), dtype=bool)] * NEW_SHEET
        spent = front.spent + np.where(front.sheet >= 0, self._costs[front.sheet], 0)
        for source, cost in enumerate(self._costs):
            had = (front.copies[:, source] > 0) & (spent + cost <= most)
            ways.append(wanted & had[:, None] & self._as_wide[source] & self._as_long[source])
        found = []
        for kind, way in enumerate(ways):
            parents, types = np.nonzero(way)
            passed = self._passed(front, spent, parents, types, kind)
            worth = front.worth[parents] + self._worth[types]
            fine = passed - worth <= spare + 1e-9
            found.append((parents[fine], types[fine], np.full(int(fine.sum()), kind), passed[fine], worth[fine]))
        parents, types, kinds, passed, worth = (np.concatenate(parts) for parts in zip(*found, strict=True))
        wasted = (passed - worth) / passed
        mean = np.maximum(worth, 1e-12) / (placed + 1)
        guides = (wasted, wasted / mean, (0.1 + wasted) / mean)[guide]
        if self._shake is not None:
            guides *= 1 + SHAKEN * self._shake.random(len(guides))
        return parents, types, kinds, guides

    def _passed(self, front: _Front, spent: Integers, parents: Integers, types: Integers, kind: int) -> Floats:
        """What is passed over once a piece is placed, at cost."""
        length, piece = self._lengths[types], self._areas[types]
        if kind >= NEW_SHEET:
            return np.asarray(spent[parents] + self._rates[kind - NEW_SHEET] * piece)
        sheet = front.sheet[parents]
        done = front.start[parents] * self._wide[sheet]
        if kind == NEW_DROP:
            begun = done + front.length[parents] * self._wide[sheet] + piece
        elif kind == NEW_LANE:
            across = front.across[parents] + front.width[parents]
            begun = done + np.maximum(front.length[parents], length) * across + piece
        else:
            used = front.used[parents] + length
            begun = done + np.maximum(front.length[parents], used) * front.across[parents]
            begun += used * front.width[parents]
        return np.asarray(front.spent[parents] + self._rates[sheet] * begun)

    def _best(self, front: _Front, parents: Integers, types: Integers, guides: Floats, width: int) -> Integers:
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
        on, lane, drop, new = kinds == LANE_ON, kinds == NEW_LANE, kinds == NEW_DROP, kinds >= NEW_SHEET
        sheet = front.sheet[parents]
        same_drop = on | lane
        used = np.where(on, front.used[parents] + length, length)
        left, copies = front.left[parents], front.copies[parents]
        left[np.arange(len(parents)), types] -= 1
        copies[np.flatnonzero(new), kinds[new] - NEW_SHEET] -= 1
        return _Front(
            spent=front.spent[parents] + np.where(new & (sheet >= 0), self._costs[sheet], 0),
            sheet=np.where(new, kinds - NEW_SHEET, sheet),
            start=np.where(
                same_drop, front.start[parents], np.where(drop, front.start[parents] + front.length[parents], 0)
            ),
            length=np.where(same_drop, np.maximum(front.length[parents], used), length),
            across=np.where(on, front.across[parents], np.where(lane, front.across[parents] + front.width[parents], 0)),
            width=np.where(on, front.width[parents], width),
            used=used,
            last=types,
            worth=front.worth[parents] + self._worth[types],
            left=left,
            copies=copies,
        )

    def _traced(self, steps: list[tuple[Integers, Integers, Integers]], at: int) -> list[tuple[int, tuple[Drop, ...]]]:
        """A plan of the last layer, sheet by sheet."""
        path: list[tuple[int, int]] = []
        for parents, types, kinds in reversed(steps):
            path.append((int(types[at]), int(kinds[at])))
            at = int(parents[at])
        sheets: list[tuple[int, list[list[list[int]]]]] = []
        for place, kind in reversed(path):
            if kind >= NEW_SHEET:
                sheets.append((kind - NEW_SHEET, []))
            drops = sheets[-1][1]
            if kind >= NEW_DROP:
                drops.append([])
            if kind >= NEW_LANE:
                drops[-1].append([])
            drops[-1][-1].append(place)
        return [(source, tuple(self._drop(lanes) for lanes in drops)) for source, drops in sheets]

    def _drop(self, lanes: list[list[int]]) -> Drop:
        length = max(int(self._lengths[lane].sum()) for lane in lanes)
        return length, tuple((int(self._widths[lane[0]]), tuple(self._order[p] for p in lane)) for lane in lanes)
