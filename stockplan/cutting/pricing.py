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
every width. Lengths and widths live on a `Grid`; on an optimistic one that is not exact, every cut that might be saved
is given back, so that the value is never below that of any real pattern.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import as_strided
from numpy.typing import NDArray

from stockplan.cutting.grid import Grid
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.worths import loose_worth, tail_worth

Floats = NDArray[np.float64]
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
    every_width
        Try lanes of every width on the grid, or only of those of pieces and of whole sources; default the former.
    """

    def __init__(
        self,
        instance: Instance,
        sources: Sequence[Source],
        types: Sequence[PieceType],
        along: Grid,
        across: Grid,
        *,
        every_width: bool = True,
    ) -> None:
        self.instance = instance
        self.sources = tuple(sources)
        self.types = tuple(t for t in types if any(s.makes(t) for s in sources))
        self.along, self.across = along, across
        self._points = max((along.room(s.length_mm) for s in sources), default=0)
        self._crosscut = float(instance.costs.crosscut_pence)
        self._rip = float(instance.costs.rip_pence)
        self._lane_widths = self._possible_lanes(every_width)
        self._valued = self._valued_widths()
        lengths = np.array([along.millimetres(x) for x in range(self._points + 1)])
        self._lengths = lengths
        self._rest = loose_worth(instance, sources[0], np.array(self._valued), lengths)
        self._rest[:, 0] = 0.0
        self._side: dict[int, Floats] = {}
        self._tail = {(s.width_mm, s.on_core): tail_worth(instance, s, lengths) for s in sources}
        self._trim = self._trim_worths()

    @property
    def points(self) -> int:
        """Points of the length grid."""
        return self._points

    @property
    def shapes(self) -> int:
        """How many kinds of source there are, by width and core."""
        return len(self._tail)

    def _possible_lanes(self, every_width: bool) -> list[int]:
        """Widths a lane may have, mm.

        A lane wider than its widest piece can pay: width too narrow to keep beside the lane may be worth keeping as
        part of what is left at the lane's end. Mostly it does not, and the widths of pieces and whole sources will do
        for finding patterns; for bounds every width on the grid is tried.
        """
        pieces = {t.width_mm for t in self.types}
        if not pieces:
            return []
        widest, step = max(s.width_mm for s in self.sources), self.across.step_mm
        usual = pieces | {s.width_mm for s in self.sources if s.width_mm >= min(pieces)}
        return (
            sorted(usual | set(range(-(-min(pieces) // step) * step, widest + 1, step)))
            if every_width
            else sorted(usual)
        )

    def _valued_widths(self) -> list[int]:
        """For each lane, the width at which what it leaves is valued.

        On an optimistic grid that is not exact a lane stands for all widths up to the next and is valued as the widest
        of them, so that no real pattern is worth more.
        """
        if not self.across.relaxed:
            return self._lane_widths
        return [following - 1 for following in self._lane_widths[1:]] + self._lane_widths[-1:]

    def _trim_worths(self) -> Floats:
        """What trimming piece t out of lane k brings in slivers, less the cut; NEVER where it does not fit."""
        gain = np.full((len(self._lane_widths), len(self.types)), NEVER)
        widths, valued = np.array(self._lane_widths), np.array(self._valued)
        for t, piece in enumerate(self.types):
            wider = np.flatnonzero(widths > piece.width_mm)
            slivers = valued[wider] - piece.width_mm
            worth = loose_worth(self.instance, self.sources[0], slivers, np.array([piece.length_mm]))
            gain[wider, t] = worth[:, 0] - self._rip
            gain[widths == piece.width_mm, t] = 0.0
        return gain

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
        self._price = np.array([prices[self.types[i]] for i in self._active])
        self._fill_lanes()
        self._fill_widths()
        self._drops: dict[int, Floats] = {}
        self._values: dict[tuple[int, bool], Floats] = {}
        priced = []
        for source in self.sources:
            room = self.along.room(source.length_mm)
            kept = self._source_values(source)
            first = self._first_drop(source, room, kept)
            if first.size and first.max() > NEVER / 2:
                priced.append(Priced(source, float(first.max())))
        return priced

    def _fill_lanes(self) -> None:
        """Recursions A and B for every lane width in use."""
        points = self._points
        narrowest = min(self.types[i].width_mm for i in self._active)
        in_use = [w for w in self._lane_widths if w >= narrowest]
        self._lanes = [self._lane_widths.index(w) for w in in_use]
        self._lane_points = [self.across.piece(w) for w in in_use]
        by_length: defaultdict[int, list[int]] = defaultdict(list)
        for position, i in enumerate(self._active):
            by_length[self.along.piece(self.types[i].length_mm)].append(position)
        self._steps = np.array(sorted(by_length))
        gain = self._trim[np.ix_(self._lanes, self._active)] + self._price - self._crosscut
        self._step_gain = np.stack([gain[:, by_length[s]].max(axis=1) for s in self._steps], axis=1)
        self._step_type = [[by_length[s][j] for j in gain[:, by_length[s]].argmax(axis=1)] for s in self._steps]
        lane = self._rest[self._lanes].copy()
        lane[:, 0] = self._crosscut
        if self.along.relaxed:
            lane += self._crosscut
            lane[:, 0] = self._crosscut
        filled = np.full((len(self._lanes), points + 1), NEVER)
        shortest = int(self._steps[0])
        for begin in range(shortest, points + 1, shortest):
            # Within a block as long as the shortest piece no entry depends on another of the block.
            end = min(begin + shortest, points + 1)
            block = filled[:, begin:end]
            for step, gain_of_step in zip(self._steps.tolist(), self._step_gain.T, strict=True):
                first = max(begin, step)
                if first >= end:
                    break
                part = block[:, first - begin :]
                np.maximum(part, lane[:, first - step : end - step] + gain_of_step[:, None], out=part)
            np.maximum(lane[:, begin:end], block, out=lane[:, begin:end])
        self._lane_any, self._lane_filled = lane, filled

    def _fill_widths(self) -> None:
        """Recursion K over every width that lanes can add up to."""
        room = max(self.across.room(s.width_mm) for s in self.sources)
        reached = 1
        for w in self._lane_points:
            for _ in range(room // max(w, 1)):
                reached |= reached << w
        self._reached = [u for u in range(room + 1) if reached >> u & 1]
        self._row = {u: row for row, u in enumerate(self._reached)}
        table = np.full((len(self._reached), self._points + 1), NEVER)
        table[0] = 0.0
        filled = self._lane_filled - self._rip
        for row, u in enumerate(self._reached[1:], start=1):
            for k, w in enumerate(self._lane_points):
                before = self._row.get(u - w)
                if before is not None:
                    np.maximum(table[row], table[before] + filled[k], out=table[row])
        self._widths = table

    def _side_worth(self, width_mm: int) -> Floats:
        """Worth of what is left beside the lanes, for every width they may add up to, in a source of this width."""
        if width_mm not in self._side:
            room = self.across.room(width_mm)
            left = np.array([self.across.millimetres(room - u) for u in range(room + 1)])
            table = loose_worth(self.instance, self.sources[0], left, self._lengths)
            if not self.across.relaxed:
                table[room] = self._rip
            else:
                table += self._rip
            self._side[width_mm] = table
        return self._side[width_mm]

    def _drop_values(self, width_mm: int) -> Floats:
        """Recursion D."""
        if width_mm not in self._drops:
            room = self.across.room(width_mm)
            rows = [u for u in self._reached[1:] if u <= room]
            if not rows:
                self._drops[width_mm] = np.full(self._points + 1, NEVER)
            else:
                table = self._widths[1 : len(rows) + 1] + self._side_worth(width_mm)[rows]
                self._drops[width_mm] = table.max(axis=0)
        return self._drops[width_mm]

    def _source_values(self, source: Source) -> Floats:
        """Recursion F, for every length up to the longest source."""
        key = (source.width_mm, source.on_core)
        if key not in self._values:
            longest = max(self.along.room(s.length_mm) for s in self.sources if (s.width_mm, s.on_core) == key)
            kept = self._tail[key][: longest + 1].copy()
            kept[0] = 0.0
            if self.along.relaxed:
                kept += self._crosscut
            kept[0] = self._crosscut
            drops = self._drop_values(source.width_mm)[: longest + 1] - self._crosscut
            useful = np.flatnonzero(drops > NEVER / 2)
            shortest = int(useful[0]) if useful.size else longest + 1
            # before[x, i] is F[x - shortest - i], read from a copy padded so that no index is negative.
            padded = np.concatenate([np.full(longest + 1, NEVER), kept])
            for begin in range(shortest, longest + 1, shortest):
                end = min(begin + shortest, longest + 1)
                newest = padded[longest + 1 + begin - shortest :]
                count = end - shortest
                before = as_strided(newest, (end - begin, count), (newest.strides[0], -newest.strides[0]))
                best = (before + drops[shortest : shortest + count]).max(axis=1)
                np.maximum(kept[begin:end], best, out=kept[begin:end])
                padded[longest + 1 + begin : longest + 1 + end] = kept[begin:end]
            self._values[key] = kept
        return self._values[key]

    def _first_drop(self, source: Source, room: int, kept: Floats) -> Floats:
        """Value of cutting a first drop of each length 1, 2, … off a source, then going on at best."""
        drops = self._drop_values(source.width_mm)[1 : room + 1] - self._crosscut
        return drops + kept[:room][::-1]

    def pattern(self, source: Source) -> Pattern:
        """The best pattern of a source at the prices last given; on a relaxed grid it need not be real."""
        kept = self._source_values(source)
        room = self.along.room(source.length_mm)
        tail = self._tail[source.width_mm, source.on_core]
        drops: list[DropPattern] = []
        while not drops or (room > 0 and kept[room] > self._tail_value(tail, room)):
            first = self._first_drop(source, room, kept)
            length = int(first.argmax()) + 1
            if first[length - 1] < NEVER / 2:
                break
            drops.append(DropPattern(length * self.along.step_mm, self._lanes_of(source, length)))
            room -= length
        return Pattern(source, tuple(drops))

    def _tail_value(self, tail: Floats, room: int) -> float:
        return float(tail[room]) + (self._crosscut if self.along.relaxed else 0.0)

    def _lanes_of(self, source: Source, length: int) -> tuple[LanePattern, ...]:
        """Trace recursions D and K back for a drop of the given length."""
        room = self.across.room(source.width_mm)
        rows = [u for u in self._reached[1:] if u <= room]
        u = rows[
            int((self._widths[1 : len(rows) + 1, length] + self._side_worth(source.width_mm)[rows, length]).argmax())
        ]
        lanes = []
        while u > 0:
            options = [
                (self._widths[self._row[u - w], length] + self._lane_filled[k, length], -k)
                for k, w in enumerate(self._lane_points)
                if u - w in self._row
            ]
            k = -max(options)[1]
            lanes.append(LanePattern(self._lane_widths[self._lanes[k]], self._pieces_of(k, length)))
            u -= self._lane_points[k]
        return tuple(sorted(lanes, key=lambda lane: -lane.width_mm))

    def _pieces_of(self, k: int, length: int) -> tuple[PieceType, ...]:
        """Trace recursions A and B back for lane k."""
        pieces: list[PieceType] = []
        base = self._rest[self._lanes[k]]
        while not pieces or (length > 0 and self._lane_any[k, length] > self._tail_value(base, length)):
            fits = int(np.searchsorted(self._steps, length, side="right"))
            if fits == 0:
                break
            step = int((self._lane_any[k, length - self._steps[:fits]] + self._step_gain[k, :fits]).argmax())
            pieces.append(self.types[self._active[self._step_type[step][k]]])
            length -= int(self._steps[step])
        return tuple(sorted(pieces, key=lambda piece: (-piece.length_mm, -piece.width_mm)))
