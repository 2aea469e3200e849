"""What the best way to cut a source is worth when each piece type carries a price.

Three nested recursions, one for each stage of cutting (Gilmore and Gomory, "Multistage cutting stock problems of two
and more dimensions", Operations Research 13, 1965, extended by values of leftovers and by trimming):

    lane    A[k, d]  = max( r(w_k, d), max over t with w_t <= w_k of A[k, d - l_t] + p_t + trim(k, t) - cross )
            B[k, d]  = the same with at least one piece
    drop    K[u, d]  = max over k of K[u - w_k, d] + B[k, d] - rip,   K[0, d] = 0
            D[d]     = max( max over u < W of K[u, d] + r(W - u, d), K[W, d] + rip )
    source  F[x]     = max( tail(x), max over d <= x of D[d] - cross + F[x - d] )

with r the worth of a loose leftover, tail that of what stays on the source, p the piece prices. Cuts at the very end of
a lane or source, or at a drop's edge, are no cuts: A[k, 0] = F[0] = cross and the + rip in D give them back. Pieces
repeat without limit. One run values every length of source of the same grass; the recursions on lanes and drops serve
every width. The loops are compiled: `recursions.py`. How that best is cut, `pricing.py` finds by going back.

Lengths and widths live on a `Grid`. Where it does not carry them all, pieces, lanes, drops and sources are rounded down
and leftovers are valued a step larger, so that no real pattern is worth more. A lane of n pieces that ends just where
its drop does then seems to end up to n - 1 steps before it: rests so short need no cut, and so across.

Which widths w_k lanes may have, and what they add up to, says `lane_widths.py`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.grid import Grid
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.lane_widths import Lanes
from stockplan.cutting.patterns import DropPattern
from stockplan.cutting.recursions import (
    NEVER,
    empty_lanes,
    fill_drops,
    fill_lanes,
    fill_source,
    fill_taken,
    fill_widths,
    worth_row,
)
from stockplan.cutting.worths import tail_worth
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_WIDTH_MM

Floats = NDArray[np.float64]
SMALLEST_PRICE = 1e-9
STEEPEST = 1.2  # what a leftover gains by length, at most, as a share of what its grass cost


@dataclass(frozen=True, slots=True)
class Priced:
    """The best pattern of one source class at given prices.

    Parameters
    ----------
    source
        The source class.
    value
        Prices of its pieces and worth of its leftovers, less its cuts, in pence; the source's own value is not in it.
    """

    source: Source
    value: float


class Room:
    """Memory for tables, taken and given back: some megabytes of new memory take as long to come by as to fill."""

    def __init__(self) -> None:
        self._free: list[Floats] = []

    def taken(self, size: int) -> Floats:
        """So many numbers at least, of any value."""
        held = self._free.pop() if self._free else np.empty(0)
        return held if held.size >= size else np.empty(size)

    def given_back(self, memory: Floats) -> None:
        """Take memory back that nobody reads any more."""
        self._free.append(memory)


@dataclass(slots=True)
class Tables:
    """The recursions at some prices: A, B and K, and D and F by width of source; drops traced back so far.

    `memory` is what A, B and K lie in.
    """

    memory: Floats
    any: Floats
    filled: Floats
    widths: Floats
    drops: dict[int, Floats]
    values: dict[tuple[int, bool], Floats]
    traced: dict[tuple[int, int], DropPattern]


class Valuing:
    """Values all sources of one batch and one unit cost.

    Parameters
    ----------
    instance
        The problem.
    sources
        Source classes alike in batch, unit cost and supply option.
    types
        Every piece type these sources may have to make.
    along, across
        The grids.
    taken
        Let one lane of a drop take what the others leave, instead of trying lanes of every width on the grid; default
        not. For grids across that hold the width from which a leftover is kept, where worth bends upward.
    room
        Memory for tables, shared with others that the same thread prices; default its own.
    """

    def __init__(
        self,
        instance: Instance,
        sources: Sequence[Source],
        types: Sequence[PieceType],
        along: Grid,
        across: Grid,
        *,
        taken: bool = False,
        room: Room | None = None,
    ) -> None:
        self.instance = instance
        self._room = Room() if room is None else room
        self.sources = tuple(sources)
        mine = (t for t in types if any(s.makes(t) for s in sources))
        self.types = tuple(sorted(mine, key=lambda t: along.piece(t.length_mm)))
        self.along, self.across = along, across
        of_type = np.array([along.piece(t.length_mm) for t in self.types], dtype=np.int64)
        self._steps, self._starts = np.unique(of_type, return_index=True)
        self._points = max((along.room(s.length_mm) for s in sources), default=0)
        self._crosscut = float(instance.costs.crosscut_pence)
        self._rip = float(instance.costs.rip_pence)
        cost = sources[0].unit_cost
        self.rate = cost.pence / cost.area_mm2 if instance.costs.leftovers_have_worth else 0.0
        full_from = -(-instance.widest_mm * FULL_WIDTH_PERCENT // 100)
        self.lanes = Lanes(instance, self.sources, self.types, across, taken=taken)
        self._valued = np.array(self.lanes.valued, dtype=float)
        self._full = self._valued >= full_from
        self._kept_full = full_from <= LEAST_WIDTH_MM
        self._short = along.lost(self._points, min((t.length_mm for t in self.types), default=0))
        self._margin = self._crosscut + 2.0
        if along.relaxed:  # two rests may be short where one is not, and each is valued a step longer
            self._margin += self._crosscut + STEEPEST * self.rate * along.step_mm * max(s.width_mm for s in sources)
        self.lengths = np.array([float(along.millimetres(x)) for x in range(self._points + 1)])
        # Prices of cut lengths are rounded, so that grass of one costs a little more than of another: the most counts.
        cheapest_first = sorted(sources, key=lambda s: s.unit_cost.pence / s.unit_cost.area_mm2)
        self._tail = {(s.width_mm, s.on_core): tail_worth(instance, s, self.lengths) for s in cheapest_first}
        self._kept: dict[int, Floats] = {}
        self._tables: Tables | None = None

    def price(self, prices: Mapping[PieceType, float]) -> list[Priced]:
        """Value the best pattern of every source.

        Parameters
        ----------
        prices
            Pence by piece type; types without a positive price are not cut.
        """
        asked = np.array([prices.get(t, 0.0) for t in self.types])
        if not (asked > SMALLEST_PRICE).any():
            return []
        self._tables = self._fill(np.where(asked > SMALLEST_PRICE, asked, NEVER))
        priced = []
        for source in self.sources:
            first = self._first_drop(source, self.along.room(source.length_mm))
            if first.size and first.max() > NEVER / 2:
                priced.append(Priced(source, float(first.max())))
        return priced

    def forget(self) -> None:
        """Let go of the tables of the prices last given, which can be large."""
        if self._tables is not None:
            self._room.given_back(self._tables.memory)
        self._tables = None

    def _fill(self, price: Floats) -> Tables:
        """Recursions A, B and K at these prices, `NEVER` where a type is not to be cut."""
        self._gain = self.lanes.trim + (price - self._crosscut)
        self._step_gain = np.maximum.reduceat(self._gain, self._starts, axis=1)
        self.forget()
        rows, sums, columns = len(self.lanes.widths), len(self.lanes.sums), self._points + 1
        memory = self._room.taken((2 * rows + sums) * columns)
        both = memory[: 2 * rows * columns].reshape(2, rows, columns)
        lane, filled = both[0], both[1]
        widths = memory[2 * rows * columns : (2 * rows + sums) * columns].reshape(sums, columns)
        widths[0] = 0.0
        self._fill_empty(lane)
        fill_lanes(lane, filled, self._steps, self._step_gain, self._margin)
        fill_widths(widths, filled, self.lanes.chain, self.lanes.chain_points, self._rip, self.lanes.row_of)
        return Tables(memory, lane, filled, widths, {}, {}, {})

    def _now(self) -> Tables:
        if self._tables is None:
            raise ValueError("nothing is priced")
        return self._tables

    def _drop_values(self, width_mm: int) -> Floats:
        """Recursion D."""
        tables = self._now()
        if width_mm not in tables.drops:
            shape, best = self.lanes.shapes[width_mm], np.full(self._points + 1, NEVER)
            beside = tables.widths[1 : shape.rows]
            fill_drops(best, beside, shape.sides, shape.full, shape.gifts, self.rate, self.lengths)
            for kept, pairs in shape.takers.items():
                fill_taken(best, tables.widths, tables.filled, pairs, self.beside(kept))
            tables.drops[width_mm] = best
        return tables.drops[width_mm]

    def beside(self, kept_mm: int) -> Floats:
        """What is kept beside a lane that takes the rest is worth, by length, less its rip."""
        if kept_mm not in self._kept:
            self._kept[kept_mm] = np.zeros(self._points + 1)
            if kept_mm:
                worth_row(float(kept_mm), self._kept_full, self.rate, self.lengths, self._kept[kept_mm])
                self._kept[kept_mm] -= self._rip
        return self._kept[kept_mm]

    def tail_values(self, source: Source) -> Floats:
        """What a tail of every length up to a source's own is worth, pence; one of nothing saves the crosscut."""
        return self._tail_up_to((source.width_mm, source.on_core), self.along.room(source.length_mm))

    def _tail_up_to(self, key: tuple[int, bool], points: int) -> Floats:
        kept = self._tail[key][: points + 1].copy()
        kept[0] = 0.0
        kept[: self._short + 1] += self._crosscut
        return kept

    def empty_values(self, points: int) -> Floats:
        """What lanes of every width and length are worth with nothing cut of them, pence, up to a length in points."""
        lane = np.empty((len(self.lanes.widths), points + 1))
        self._fill_empty(lane)
        return lane

    def _fill_empty(self, lane: Floats) -> None:
        empty_lanes(lane, self._valued, self._full, self.rate, self.lengths[: lane.shape[1]])
        lane[:, 0] = 0.0  # of nothing left only the crosscut that it saves
        lane[:, : self._short + 1] += self._crosscut

    def _source_values(self, source: Source) -> Floats:
        """Recursion F, for every length up to the longest source."""
        key, tables = (source.width_mm, source.on_core), self._now()
        if key not in tables.values:
            longest = max(self.along.room(s.length_mm) for s in self.sources if (s.width_mm, s.on_core) == key)
            kept = self._tail_up_to(key, longest)
            drops = self._drop_values(source.width_mm)[: longest + 1] - self._crosscut
            useful = np.flatnonzero(drops > NEVER / 2)
            if useful.size:
                fill_source(kept, drops, int(useful[0]), self._margin)
            tables.values[key] = kept
        return tables.values[key]

    def _first_drop(self, source: Source, room: int) -> Floats:
        """Value of cutting a first drop of each length 1, 2, … off a source, then going on at best."""
        kept = self._source_values(source)
        drops = self._drop_values(source.width_mm)[1 : room + 1] - self._crosscut
        return drops + kept[:room][::-1]
