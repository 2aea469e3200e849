"""Whole plans, piece by piece, many half-made plans side by side: a beam search.

A half-made plan ends in a sheet under way: drops that are done, then a drop whose lanes are done but for the last. The
next piece goes to the end of that lane, or begins a lane, a drop or a sheet. Within a lane pieces come in order of
width, widest first, so the first fixes the lane's width. Of all plans with so many pieces placed those are kept that
waste least of what they have passed over, at cost; `GUIDES` says how that is weighed against the size of the pieces
placed, as small ones waste less at first and more in the end. Plans that have placed the same pieces compete with each
other: only the best one or few stay. A plan that has wasted more than the cost aimed at can spare is dropped.

The branching and the guides are those of Fontan and Libralesso ("An anytime tree search algorithm for two-dimensional
two- and three-staged guillotine packing problems", 2020). A layer of the search is compiled: `beam_kernels.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from stockplan.cutting.beam_kernels import (
    FACTS,
    KIND,
    NEW_DROP,
    NEW_LANE,
    NEW_SHEET,
    PARENT,
    SHEET,
    TYPE,
    Floats,
    Front,
    Numbers,
    children,
    keep_best,
    place,
)

Lane = tuple[int, tuple[int, ...]]
Drop = tuple[int, tuple[Lane, ...]]
GUIDES = 3
SHAKEN = 0.2  # with a guide so shaken one published instance was solved in half a minute that never was without
ROOM = 3  # times as many children as plans are kept are held, before those that have the same pieces left are thinned


@dataclass
class _Layers:
    """Room for two layers of so many half-made plans, the steps that led to them, and chance."""

    width: int
    types: int
    sources: int
    alike: int
    count: int = 1
    steps: list[Numbers] = field(default_factory=list)
    chance: Numbers = field(default_factory=lambda: np.zeros(1, dtype=np.int64))

    def __post_init__(self) -> None:
        self.front, self._other = self._empty(), self._empty()
        room = 2 * ROOM * self.width
        self.found = np.empty(room), np.empty((room, 3), dtype=np.int64)
        self.chosen = np.empty(self.width, dtype=np.int64)

    def _empty(self) -> Front:
        rows = np.zeros((self.width, FACTS), dtype=np.int64)
        left = np.zeros((self.width, self.types), dtype=np.int64)
        copies = np.zeros((self.width, self.sources), dtype=np.int64)
        return rows, np.zeros(self.width), left, copies, np.zeros(self.width, dtype=np.int64)

    def begin(self, demands: Numbers, copies: Numbers) -> None:
        """No piece placed."""
        self.front[0][0, SHEET] = -1
        self.front[2][0], self.front[3][0] = demands, copies

    @property
    def worths(self) -> Floats:
        """What the pieces of each plan of this layer are worth."""
        return self.front[1][: self.count]

    def turn(self) -> Front:
        """The layer before becomes room for the next."""
        self.front, self._other = self._other, self.front
        return self._other


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
        self._demands = np.array([demands[i] for i in self._order], dtype=np.int64)
        sides = np.array([*zip(*sheets, strict=True)], dtype=np.int64)
        self._costs = np.array(costs, dtype=np.int64)
        rates = self._costs / (sides[0] * sides[1])
        areas = self._widths * self._lengths
        self._worth = areas * rates.min() if worth is None else np.array([float(worth[i]) for i in self._order])
        self._ground = np.stack([self._widths, self._lengths]), sides, self._costs, rates, self._worth
        self._copies = np.array([sum(demands) if n is None else n for n in copies], dtype=np.int64)
        self._marks = np.random.default_rng(0).integers(1, 2**62, len(sizes), dtype=np.int64)
        self.pieces = sum(demands)

    def run(
        self, width: int, guide: int, most: int, over: Callable[[], bool], seed: int | None = None, *, alike: int = 1
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
        alike
            How many that have placed the same pieces are kept; default one, which is best where many plans are.
        """
        layers = self._layers(width, self._copies, alike)
        if seed is not None:
            layers.chance[0] = seed
        spare = most - float(self._worth @ self._demands)
        for placed in range(self.pieces):
            if over() or not self._step(layers, (placed, guide, most, spare), SHAKEN if seed is not None else 0.0):
                return None
        return self._traced(layers.steps, 0)

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
        layers = self._layers(width, np.array([s == source for s in range(len(self._costs))], dtype=np.int64), 1)
        best: list[tuple[float, int, int]] = []
        for placed in range(self.pieces):
            if not self._step(layers, (placed, guide, int(self._costs[source]), np.inf)):
                break
            dear = np.argsort(-layers.worths, kind="stable")[:of_a_count]
            best += [(float(layers.worths[at]), placed, int(at)) for at in dear]
        best.sort(reverse=True)
        return [(worth, self._traced(layers.steps[: last + 1], at)[0][1]) for worth, last, at in best[:number]]

    def _layers(self, width: int, copies: Numbers, alike: int) -> _Layers:
        layers = _Layers(width, len(self._order), len(self._costs), alike)
        layers.begin(self._demands, copies)
        return layers

    def _step(self, layers: _Layers, aim: tuple[int, int, int, float], shaken: float = 0.0) -> bool:
        """Go on to the next layer; False when no piece can be placed."""
        found = children(self._ground, layers.front, layers.count, aim, (shaken, layers.chance), layers.found)
        count = keep_best(layers.front, self._marks, layers.found, found, (layers.width, layers.alike), layers.chosen)
        if count == 0:
            return False
        chosen = layers.chosen[:count]
        before = layers.turn()
        place(self._ground, self._marks, before, layers.found[1], chosen, layers.front)
        layers.steps.append(layers.found[1][chosen])
        layers.count = count
        return True

    def _traced(self, steps: list[Numbers], at: int) -> list[tuple[int, tuple[Drop, ...]]]:
        """A plan of the last layer, sheet by sheet."""
        path: list[tuple[int, int]] = []
        for step in reversed(steps):
            path.append((int(step[at, TYPE]), int(step[at, KIND])))
            at = int(step[at, PARENT])
        sheets: list[tuple[int, list[list[list[int]]]]] = []
        for piece, kind in reversed(path):
            if kind >= NEW_SHEET:
                sheets.append((kind - NEW_SHEET, []))
            drops = sheets[-1][1]
            if kind >= NEW_DROP:
                drops.append([])
            if kind >= NEW_LANE:
                drops[-1].append([])
            drops[-1][-1].append(piece)
        return [(source, tuple(self._drop(lanes) for lanes in drops)) for source, drops in sheets]

    def _drop(self, lanes: list[list[int]]) -> Drop:
        length = max(int(self._lengths[lane].sum()) for lane in lanes)
        return length, tuple((int(self._widths[lane[0]]), tuple(self._order[p] for p in lane)) for lane in lanes)
