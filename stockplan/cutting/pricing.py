"""The pricing problem: the most valuable ways to cut a source when each piece type carries a price.

Traced back from the recursions of `valuing.py` by `backtracing.py`. Drops are kept, since good patterns share most of
theirs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property

import numpy as np

from stockplan.cutting.backtracing import Beside, Integers, Pieces, Widths, lanes_of, lengths_of_drops, pieces_of
from stockplan.cutting.instance import PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.recursions import NEVER
from stockplan.cutting.valuing import Valuing

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
        """The drops of the best way to cut a length left of a source."""
        kept, drops, found = self._source_values(source), self._drop_values(source.width_mm), self._room_for_drops
        tail = self._tail[source.width_mm, source.on_core]
        count = lengths_of_drops(kept, tail, drops, room, self._short, self._crosscut, found)
        return [self._drop(source, length) for length in found[:count].tolist()]

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

    def _lanes_of(self, source: Source, length: int) -> tuple[LanePattern, ...]:
        """The lanes of the best drop of a length in points."""
        tables, pieces = self._now(), self._pieces()
        beside = self._beside(source.width_mm, length)
        lanes = []
        for k in lanes_of(tables.widths, tables.filled, length, self._widths, beside, pieces).tolist():
            types = [self.types[n] for n in pieces_of(tables.any, k, length, pieces).tolist()]
            types.sort(key=lambda piece: (-piece.length_mm, -piece.width_mm))
            lanes.append(LanePattern(self.lanes.widths[k], tuple(types)))
        return tuple(sorted(lanes, key=lambda lane: -lane.width_mm))

    @cached_property
    def _room_for_drops(self) -> Integers:
        return np.empty(self._points + 1, np.int64)

    @cached_property
    def _widths(self) -> Widths:
        lanes = self.lanes
        points = np.array([self.across.piece(width) for width in lanes.widths], dtype=np.int64)
        return Widths(lanes.chain, lanes.chain_points, points, np.array(lanes.sums, dtype=np.int64), lanes.row_of)

    @cached_property
    def _pairs(self) -> dict[int, Integers]:
        """By width of source, mm: lanes that take the rest, whatever is kept beside them."""
        none = np.empty((0, 2), np.int64)
        return {width: np.concatenate([none, *shape.takers.values()]) for width, shape in self.lanes.shapes.items()}

    def _beside(self, width_mm: int, length: int) -> Beside:
        shape = self.lanes.shapes[width_mm]
        kept = [np.full(len(pairs), self.beside(kept_mm)[length]) for kept_mm, pairs in shape.takers.items()]
        return Beside(shape.sides, shape.full, shape.gifts, self._pairs[width_mm], np.concatenate([np.empty(0), *kept]))

    def _pieces(self) -> Pieces:
        return Pieces(
            self._gain,
            self._step_gain,
            self._steps,
            self._starts,
            self._valued,
            self._full,
            self.lengths,
            self.rate,
            self._crosscut,
            self._short,
        )
