"""The pricing problem: the most valuable ways to cut a source when each piece type carries a price.

Traced back from the recursions of `valuing.py`, in the letters used there: F gives the drops of a source, D and K the
lanes of a drop, A and B the pieces of a lane. Drops are kept, since good patterns share most of theirs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from stockplan.cutting.instance import PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.recursions import NEVER, empty_lanes
from stockplan.cutting.valuing import Floats, Valuing

POINTS_A_PATTERN = 100  # of the length grid, for one pattern more to be looked into at a time
# Pieces in all patterns looked into at a time, which may hold the same: mostly some hundred, but of 0.1 × 0.1 m a roll
# holds 10,000, and with no end of it one look took ten seconds.
MOST_TRACED = 50_000


class Pricer(Valuing):
    """Prices all sources of one batch and one unit cost: `price` values them, `pattern` and `patterns` cut them."""

    @property
    def usual(self) -> int:
        """How many patterns of a source are worth looking into at the same prices: more where pricing takes longer."""
        return max(1, self._points // POINTS_A_PATTERN)

    def pattern(self, source: Source) -> Pattern:
        """The best pattern of a source at the prices last given; on a relaxed grid it need not be real.

        What it costs there is `cost`.

        Raises
        ------
        ValueError
            When nothing is priced, or the tables are forgotten.
        """
        (found,) = self.patterns(source, -math.inf, 1)
        return found[0]

    def patterns(self, source: Source, least: float, most: int) -> list[tuple[Pattern, float]]:
        """Good patterns of a source, each of other pieces, and what they are worth, the best first.

        For each length of a first drop there is one, and as many are looked into as `MOST_TRACED` allows.

        Parameters
        ----------
        source
            One that was priced at the prices last given.
        least
            What one must be worth more than, pence.
        most
            How many, at most; at least 1.

        Raises
        ------
        ValueError
            When nothing is priced, or the tables are forgotten.
        """
        room = self.along.room(source.length_mm)
        first = self._first_drop(source, room)
        worth_more = np.flatnonzero(first > max(least, NEVER / 2))
        found: dict[frozenset[tuple[PieceType, int]], tuple[Pattern, float]] = {}
        traced = 0
        for place in worth_more[np.argsort(-first[worth_more], kind="stable")].tolist():
            drops = self._drop(source, place + 1), *self._drops_of(source, room - place - 1)
            pattern = Pattern(source, drops)
            made = pattern.made()
            found.setdefault(frozenset(made.items()), (pattern, float(first[place])))
            traced += made.total()
            if len(found) == most or traced > MOST_TRACED:
                break
        return list(found.values())

    def _drops_of(self, source: Source, room: int) -> list[DropPattern]:
        """Trace recursion F back from a length left of a source."""
        kept, tail = self._source_values(source), self._tail[source.width_mm, source.on_core]
        drops: list[DropPattern] = []
        while room > 0 and kept[room] > self._tail_value(tail, room):
            first = self._first_drop(source, room)
            length = int(first.argmax()) + 1
            if first[length - 1] < NEVER / 2:
                break
            drops.append(self._drop(source, length))
            room -= length
        return drops

    def _drop(self, source: Source, length: int) -> DropPattern:
        traced, key = self._now().traced, (source.width_mm, length)
        if key not in traced:
            traced[key] = DropPattern(length * self.along.step_mm, self._lanes_of(source, length))
        return traced[key]

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
        tables, shape = self._now(), self.lanes.shapes[source.width_mm]
        at = self.lengths[length : length + 1]
        best, row, taker = NEVER, 0, -1
        if shape.rows > 1:
            totals = tables.widths[1 : shape.rows, length] + shape.gifts
            beside = np.empty((totals.size, 1))
            empty_lanes(beside, shape.sides, shape.full, self.rate, at)
            totals += beside[:, 0]
            row = int(totals.argmax()) + 1
            best = float(totals[row - 1])
        for kept, pairs in shape.takers.items():
            if pairs.size:
                totals = tables.widths[pairs[:, 0], length] + tables.filled[pairs[:, 1], length]
                totals += self.beside(kept)[length]
                n = int(totals.argmax())
                if totals[n] > best:
                    best, row, taker = float(totals[n]), int(pairs[n, 0]), int(pairs[n, 1])
        lanes = [self._lane_pattern(taker, length)] if taker >= 0 else []
        u = self.lanes.sums[row]
        while u > 0:
            within = int(np.searchsorted(self.lanes.chain_points, u, side="right"))
            before, mine = self.lanes.row_of[u - self.lanes.chain_points[:within]], self.lanes.chain[:within]
            reached = np.flatnonzero(before >= 0)
            totals = tables.widths[before[reached], length] + tables.filled[mine[reached], length]
            k = int(mine[reached[int(totals.argmax())]])
            lanes.append(self._lane_pattern(k, length))
            u -= self.across.piece(self.lanes.widths[k])
        return tuple(sorted(lanes, key=lambda lane: -lane.width_mm))

    def _lane_pattern(self, k: int, length: int) -> LanePattern:
        return LanePattern(self.lanes.widths[k], self._pieces_of(k, length))

    def _pieces_of(self, k: int, length: int) -> tuple[PieceType, ...]:
        """Trace recursions A and B back for lane k."""
        tables, pieces = self._now(), list[PieceType]()
        while not pieces or (length > 0 and tables.any[k, length] > self._empty(k, length)):
            fits = int(np.searchsorted(self._steps, length, side="right"))
            if fits == 0:
                break
            step = int((tables.any[k, length - self._steps[:fits]] + self._step_gain[k, :fits]).argmax())
            start = int(self._starts[step])
            stop = int(self._starts[step + 1]) if step + 1 < self._starts.size else len(self.types)
            pieces.append(self.types[start + int(self._gain[k, start:stop].argmax())])
            length -= int(self._steps[step])
        return tuple(sorted(pieces, key=lambda piece: (-piece.length_mm, -piece.width_mm)))

    def _empty(self, k: int, length: int) -> float:
        """Worth of the rest of a lane with nothing more cut of it."""
        worth = np.empty((1, 1))
        lengths = self.lengths[length : length + 1]
        empty_lanes(worth, self._valued[k : k + 1], self._full[k : k + 1], self.rate, lengths)
        return float(worth[0, 0]) + (self._crosscut if length <= self._short else 0.0)
