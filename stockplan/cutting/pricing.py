"""The pricing problem: the most valuable way to cut a source when each piece type carries a price.

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
every width. The loops are compiled: `recursions.py`.

Lengths and widths live on a `Grid`. Where it does not carry them all, pieces, lanes, drops and sources are rounded down
and leftovers are valued a step larger, so that no real pattern is worth more. A lane of n pieces that ends just where
its drop does then seems to end up to n - 1 steps before it: rests so short need no cut, and so across.

A lane wider than its widest piece can pay: width too narrow to keep beside the lane may be worth keeping as part of
what is left at the lane's end. Where worth bends upward between the sizes of its rule (`drop_sets.py`), all lanes of a
best drop but one are as wide as some piece, or so that a sliver or their end is just worth keeping; the one takes what
they leave, but for nothing or what is just worth keeping beside. Else lanes of every width on the grid are tried.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.grid import Grid
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.recursions import fill_drops, fill_lanes, fill_source, fill_taken, fill_widths, worth_row
from stockplan.cutting.worths import loose_worth, tail_worth
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_WIDTH_MM

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
NEVER = -1e15
SMALLEST_PRICE = 1e-9


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


@dataclass(frozen=True, slots=True)
class Shape:
    """What recursion D needs to know of one width of source.

    Parameters
    ----------
    rows
        How many rows of K lie within the width, the first, of no lanes, included.
    sides, full, gifts
        For those rows but the first: width left beside, mm, whether it counts as full, and cuts given back, pence.
    takers
        By width kept beside, mm: a row of K and the lane that takes the rest; shape (pairs, 2).
    """

    rows: int
    sides: Floats
    full: NDArray[np.bool_]
    gifts: Floats
    takers: dict[int, Integers]


@dataclass(slots=True)
class Tables:
    """The recursions at some prices: A, B and K, and D and F by width of source."""

    any: Floats
    filled: Floats
    widths: Floats
    drops: dict[int, Floats]
    values: dict[tuple[int, bool], Floats]


class Pricer:
    """Prices all sources of one batch and one unit cost.

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
    ) -> None:
        self.instance = instance
        self.sources = tuple(sources)
        self.types = tuple(t for t in types if any(s.makes(t) for s in sources))
        self.along, self.across = along, across
        self._points = max((along.room(s.length_mm) for s in sources), default=0)
        self._crosscut = float(instance.costs.crosscut_pence)
        self._rip = float(instance.costs.rip_pence)
        cost = sources[0].unit_cost
        self._rate = cost.pence / cost.area_mm2 if instance.costs.leftovers_have_worth else 0.0
        self._full_from = -(-instance.widest_mm * FULL_WIDTH_PERCENT // 100)
        self._widths = [self._on_grid(t.width_mm) for t in self.types]
        beside = self._usual_lanes() if taken else self._possible_lanes()
        self._row_of, self._reached = self._sums_of(beside)
        alone = self._takers() if taken else {}
        self._lane_widths = sorted({*beside, *alone})
        # On a grid that does not carry all widths a lane stands for all up to the next, and is valued as the widest.
        self._valued = [w + (across.step_mm - 1 if across.relaxed else 0) for w in self._lane_widths]
        chain = set(beside)
        self._chain = np.array([k for k, w in enumerate(self._lane_widths) if w in chain], dtype=np.int64)
        self._chain_points = np.array([across.piece(self._lane_widths[k]) for k in self._chain], dtype=np.int64)
        self._lengths = np.array([float(along.millimetres(x)) for x in range(self._points + 1)])
        self._tail = {(s.width_mm, s.on_core): tail_worth(instance, s, self._lengths) for s in sources}
        self._trim = self._trim_worths()
        self._short = along.lost(self._points, min((t.length_mm for t in self.types), default=0))
        self._by_width = {w: self._shape(w, taken=taken) for w in {s.width_mm for s in sources}} if self.types else {}
        self._tables: Tables | None = None

    def _on_grid(self, width_mm: int) -> int:
        """A width, or where the grid does not carry it the next lower that it does."""
        return self.across.piece(width_mm) * self.across.step_mm if self.across.relaxed else width_mm

    def _possible_lanes(self) -> list[int]:
        """Widths a lane may have, mm: those of pieces and whole sources, and all others on the grid."""
        pieces = set(self._widths)
        if not pieces:
            return []
        widest, step = max(s.width_mm for s in self.sources), self.across.step_mm
        usual = pieces | {self._on_grid(s.width_mm) for s in self.sources if s.width_mm >= min(pieces)}
        return sorted(usual | set(range(-(-min(pieces) // step) * step, widest + 1, step)))

    def _usual_lanes(self) -> list[int]:
        """Widths of lanes beside one that takes the rest: of pieces, or so that a leftover is just worth keeping."""
        pieces = set(self._widths)
        widest = max(s.width_mm for s in self.sources)
        wider = {w + LEAST_WIDTH_MM for w in pieces} | {LEAST_WIDTH_MM}
        return sorted(w for w in pieces | wider if min(pieces, default=0) <= w <= widest)

    def _takers(self) -> set[int]:
        """Every width that a lane which takes the rest may have, mm."""
        narrowest = min(self._widths, default=0)
        rest = {
            self._rest_of(s.width_mm, u) - kept
            for s in self.sources
            for u in self._reached
            for kept in (0, LEAST_WIDTH_MM)
        }
        return {w for w in rest if w >= narrowest > 0}

    def _rest_of(self, width_mm: int, points: int) -> int:
        """What lanes of so many points leave of a source's width on the grid, mm."""
        return self._on_grid(width_mm) - points * self.across.step_mm

    def _sums_of(self, lanes: Sequence[int]) -> tuple[Integers, list[int]]:
        """The widths that lanes can add up to, in points, and by width its row in K, -1 where they cannot."""
        room = max((self.across.room(s.width_mm) for s in self.sources), default=0)
        reached = 1
        for w in {self.across.piece(lane) for lane in lanes}:
            for _ in range(room // w):
                reached |= reached << w
        sums = [u for u in range(room + 1) if reached >> u & 1]
        row_of = np.full(room + 1, -1, dtype=np.int64)
        row_of[sums] = np.arange(len(sums))
        return row_of, sums

    def _trim_worths(self) -> Floats:
        """What trimming piece t out of lane k brings in slivers, less the cut; NEVER where it does not fit."""
        gain = np.full((len(self._lane_widths), len(self.types)), NEVER)
        widths, valued = np.array(self._lane_widths), np.array(self._valued)
        for t, piece in enumerate(self.types):
            wider = np.flatnonzero(widths > self._widths[t])
            slivers = valued[wider] - self._widths[t]
            worth = loose_worth(self.instance, self.sources[0], slivers, np.array([piece.length_mm]))
            gain[wider, t] = worth[:, 0] - self._rip
            gain[widths == self._widths[t], t] = 0.0
        return gain

    def _shape(self, width_mm: int, *, taken: bool) -> Shape:
        room = self.across.room(width_mm)
        sums = [u for u in self._reached if u <= room]
        sides = np.array([float(self.across.millimetres(room - u)) for u in sums[1:]])
        narrow = self.across.lost(room, min((t.width_mm for t in self.types), default=0))
        gifts = np.array([self._rip if room - u <= narrow else 0.0 for u in sums[1:]])
        lane = {w: k for k, w in enumerate(self._lane_widths)}
        takers = {}
        for kept in (0, LEAST_WIDTH_MM) if taken else ():
            rests = [(row, lane.get(self._rest_of(width_mm, u) - kept)) for row, u in enumerate(sums)]
            found = [(row, k) for row, k in rests if k is not None]
            takers[kept] = np.array(found, dtype=np.int64).reshape(len(found), 2)
        return Shape(len(sums), sides, sides >= self._full_from, gifts, takers)

    def price(self, prices: Mapping[PieceType, float]) -> list[Priced]:
        """Value the best pattern of every source; `pattern` then gives it.

        Parameters
        ----------
        prices
            Pence by piece type; types without a positive price are not cut.
        """
        self._active = [i for i, t in enumerate(self.types) if prices.get(t, 0.0) > SMALLEST_PRICE]
        if not self._active:
            return []
        self._tables = self._fill(np.array([prices[self.types[i]] for i in self._active]))
        priced = []
        for source in self.sources:
            first = self._first_drop(source, self.along.room(source.length_mm))
            if first.size and first.max() > NEVER / 2:
                priced.append(Priced(source, float(first.max())))
        return priced

    def forget(self) -> None:
        """Let go of the tables of the prices last given, which can be large."""
        self._tables = None

    def _fill(self, price: Floats) -> Tables:
        """Recursions A, B and K at these prices of the types in use."""
        by_length: defaultdict[int, list[int]] = defaultdict(list)
        for position, i in enumerate(self._active):
            by_length[self.along.piece(self.types[i].length_mm)].append(position)
        self._steps = np.array(sorted(by_length))
        gain = self._trim[:, self._active] + price - self._crosscut
        self._by_step = [by_length[s] for s in self._steps.tolist()]
        self._gain = gain
        self._step_gain = np.stack([gain[:, alike].max(axis=1) for alike in self._by_step], axis=1)
        lane = np.empty((len(self._lane_widths), self._points + 1))
        for k in range(len(lane)):
            lane[k] = self._empty_lane(k)
        filled = np.empty_like(lane)
        fill_lanes(lane, filled, self._steps, self._step_gain)
        widths = np.zeros((len(self._reached), self._points + 1))
        fill_widths(widths, filled[self._chain], self._rip, self._chain_points, self._row_of)
        return Tables(lane, filled, widths, {}, {})

    def _empty_lane(self, k: int) -> Floats:
        """What a lane is worth with nothing cut of it, by length; of none, the crosscut that it saves."""
        width, row = self._valued[k], np.empty(self._points + 1)
        worth_row(float(width), width >= self._full_from, self._rate, self._lengths, row)
        row[0] = 0.0
        row[: self._short + 1] += self._crosscut
        return row

    def _now(self) -> Tables:
        if self._tables is None:
            raise ValueError("nothing is priced")
        return self._tables

    def _drop_values(self, width_mm: int) -> Floats:
        """Recursion D."""
        tables = self._now()
        if width_mm not in tables.drops:
            shape, best = self._by_width[width_mm], np.full(self._points + 1, NEVER)
            beside = tables.widths[1 : shape.rows]
            fill_drops(best, beside, shape.sides, shape.full, shape.gifts, self._rate, self._lengths)
            for kept, pairs in shape.takers.items():
                side = np.zeros(self._points + 1)  # a lane up to the edge saves its rip
                if kept:
                    worth_row(float(kept), kept >= self._full_from, self._rate, self._lengths, side)
                    side -= self._rip
                fill_taken(best, tables.widths, tables.filled, pairs, side)
            tables.drops[width_mm] = best
        return tables.drops[width_mm]

    def _source_values(self, source: Source) -> Floats:
        """Recursion F, for every length up to the longest source."""
        key, tables = (source.width_mm, source.on_core), self._now()
        if key not in tables.values:
            longest = max(self.along.room(s.length_mm) for s in self.sources if (s.width_mm, s.on_core) == key)
            kept = self._tail[key][: longest + 1].copy()
            kept[0] = 0.0
            kept[: self._short + 1] += self._crosscut
            drops = self._drop_values(source.width_mm)[: longest + 1] - self._crosscut
            useful = np.flatnonzero(drops > NEVER / 2)
            if useful.size:
                fill_source(kept, drops, int(useful[0]))
            tables.values[key] = kept
        return tables.values[key]

    def _first_drop(self, source: Source, room: int) -> Floats:
        """Value of cutting a first drop of each length 1, 2, … off a source, then going on at best."""
        kept = self._source_values(source)
        drops = self._drop_values(source.width_mm)[1 : room + 1] - self._crosscut
        return drops + kept[:room][::-1]

    def pattern(self, source: Source) -> Pattern:
        """The best pattern of a source at the prices last given; on a relaxed grid it need not be real.

        What it costs there is `cost`.

        Raises
        ------
        ValueError
            When nothing is priced, or the tables are forgotten.
        """
        kept = self._source_values(source)
        room = self.along.room(source.length_mm)
        tail = self._tail[source.width_mm, source.on_core]
        drops: list[DropPattern] = []
        while not drops or (room > 0 and kept[room] > self._tail_value(tail, room)):
            first = self._first_drop(source, room)
            length = int(first.argmax()) + 1
            if first[length - 1] < NEVER / 2:
                break
            drops.append(DropPattern(length * self.along.step_mm, self._lanes_of(source, length)))
            room -= length
        return Pattern(source, tuple(drops))

    def cost(self, pattern: Pattern, value: float, prices: Mapping[PieceType, float]) -> float:
        """What a pattern of so much value at some prices costs, pence: on a relaxed grid less than a real one.

        Parameters
        ----------
        pattern
            One that `pattern` gave.
        value, prices
            The prices, pence, and its value at them.
        """
        if not (self.along.relaxed or self.across.relaxed):
            return pattern.cost(self.instance)
        return pattern.source.value_pence - value + sum(prices.get(t, 0.0) * n for t, n in pattern.made().items())

    def _tail_value(self, tail: Floats, room: int) -> float:
        return float(tail[room]) + (self._crosscut if room <= self._short else 0.0)

    def _lanes_of(self, source: Source, length: int) -> tuple[LanePattern, ...]:
        """Trace recursions D and K back for a drop of the given length."""
        tables, shape = self._now(), self._by_width[source.width_mm]
        at = self._lengths[length : length + 1]
        best, row, taker = NEVER, 0, -1
        if shape.rows > 1:
            totals = tables.widths[1 : shape.rows, length] + shape.gifts
            totals += loose_worth(self.instance, source, shape.sides, at)[:, 0]
            row = int(totals.argmax()) + 1
            best = float(totals[row - 1])
        for kept, pairs in shape.takers.items():
            if pairs.size:
                totals = tables.widths[pairs[:, 0], length] + tables.filled[pairs[:, 1], length]
                totals += loose_worth(self.instance, source, np.array([kept]), at)[0] - (self._rip if kept else 0.0)
                n = int(totals.argmax())
                if totals[n] > best:
                    best, row, taker = float(totals[n]), int(pairs[n, 0]), int(pairs[n, 1])
        lanes = [self._lane_pattern(taker, length)] if taker >= 0 else []
        u = self._reached[row]
        while u > 0:
            options = [
                (tables.widths[self._row_of[u - w], length] + tables.filled[k, length], -k)
                for k, w in zip(self._chain.tolist(), self._chain_points.tolist(), strict=True)
                if u >= w and self._row_of[u - w] >= 0
            ]
            k = -max(options)[1]
            lanes.append(self._lane_pattern(k, length))
            u -= self.across.piece(self._lane_widths[k])
        return tuple(sorted(lanes, key=lambda lane: -lane.width_mm))

    def _lane_pattern(self, k: int, length: int) -> LanePattern:
        return LanePattern(self._lane_widths[k], self._pieces_of(k, length))

    def _pieces_of(self, k: int, length: int) -> tuple[PieceType, ...]:
        """Trace recursions A and B back for lane k."""
        tables, pieces = self._now(), list[PieceType]()
        base = self._empty_lane(k)
        while not pieces or (length > 0 and tables.any[k, length] > base[length]):
            fits = int(np.searchsorted(self._steps, length, side="right"))
            if fits == 0:
                break
            step = int((tables.any[k, length - self._steps[:fits]] + self._step_gain[k, :fits]).argmax())
            alike = self._by_step[step]
            pieces.append(self.types[self._active[alike[int(self._gain[k, alike].argmax())]]])
            length -= int(self._steps[step])
        return tuple(sorted(pieces, key=lambda piece: (-piece.length_mm, -piece.width_mm)))
