"""The pricing problem with counts: no drop is led by a piece that another drop of the pattern has used up.

`pricing.py` lets pieces repeat without limit, which makes bounds weak where a size is needed once or twice. Here every
piece needed is an item of its own, i = 1, 2, …, in order of width. Each drop has a leader, its last item; all its other
pieces come before the leader. An item leads at most one drop of a pattern, and is in a lane at most once:

    A_i[k, d] = max( A_(i-1)[k, d], A_(i-1)[k, d - l_i] + g(k, i) ),   A_0[k, d] = r(w_k, d)
    K_i[u, d] = max over k of K_i[u - w_k, d] + (A_i[k, d] with at least one piece) - rip
    D_i[d]    = max over k, u of A_(i-1)[k, d - l_i] + g(k, i) - rip + K_(i-1)[u, d] + r(W - w_k - u, d)
    F_i[x]    = max( F_(i-1)[x], max over d of D_i[d] - cross + F_(i-1)[x - d] ),   F_0[x] = tail(x)

Items may still repeat in different lanes and, following, in different drops, so the value is never below that of any
real pattern and bounds stay bounds; they are only stronger. Cuts at ends and edges are given back as in `pricing.py`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.lib.stride_tricks import as_strided

from stockplan.cutting.grid import Grid
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.pricing import NEVER, SMALLEST_PRICE, Floats, Priced, Pricer


class ProperPricer(Pricer):
    """Prices all sources of one batch and one unit cost, each piece counted.

    Parameters
    ----------
    instance, sources, types, along, across, every_width
        As for `Pricer`.
    counts
        How many pieces of each type all choices together can need.
    """

    def __init__(
        self,
        instance: Instance,
        sources: Sequence[Source],
        types: Sequence[PieceType],
        along: Grid,
        across: Grid,
        counts: Mapping[PieceType, int],
        *,
        every_width: bool = True,
    ) -> None:
        super().__init__(instance, sources, types, along, across, every_width=every_width)
        self._counts = counts

    def price(self, prices: Mapping[PieceType, float]) -> list[Priced]:
        """Value the best pattern of every source; `pattern` then gives it."""
        active = [i for i, t in enumerate(self.types) if prices.get(t, 0.0) > SMALLEST_PRICE]
        active.sort(key=lambda i: (self.types[i].width_mm, self.types[i].length_mm, i))
        self._items = [
            i
            for i in active
            for _ in range(min(self._counts.get(self.types[i], 0), self._most_on_a_source(self.types[i])))
        ]
        if not self._items:
            return []
        self._price_of = {i: prices[self.types[i]] for i in active}
        self._prepare()
        self._run([prices[self.types[i]] for i in self._items])
        priced = []
        for source in self.sources:
            values = self._best[source.width_mm, source.on_core]
            value = float(values[self.along.room(source.length_mm)])
            if value > NEVER / 2:
                priced.append(Priced(source, value))
        return priced

    def _most_on_a_source(self, piece: PieceType) -> int:
        return max(
            (s.width_mm // piece.width_mm) * (s.length_mm // piece.length_mm) for s in self.sources if s.makes(piece)
        )

    def _prepare(self) -> None:
        narrowest = min(self.types[i].width_mm for i in self._items)
        self._use = [k for k, w in enumerate(self._lane_widths) if w >= narrowest]
        self._use_points = [self.across.piece(self._lane_widths[k]) for k in self._use]
        room = max(self.across.room(s.width_mm) for s in self.sources)
        self._beside_rows = [n for n, w in enumerate(self._use_points) if 2 * w <= room]
        reached = 1
        for n in self._beside_rows:
            w = self._use_points[n]
            for _ in range(room // w):
                reached |= reached << w
        least = self.across.piece(narrowest)
        self._reached = [u for u in range(room - least + 1) if reached >> u & 1]
        self._row = {u: row for row, u in enumerate(self._reached)}
        self._shapes = sorted({(s.width_mm, s.on_core) for s in self.sources})

    def _run(self, prices: list[float]) -> None:
        """The recursions, item by item, with what is needed to trace patterns back."""
        points = self._points
        lane = self._rest[self._use].copy()
        if self.along.relaxed:
            lane += self._crosscut
        lane[:, 0] = self._crosscut
        filled = np.full_like(lane, NEVER)
        beside = np.full((len(self._reached), points + 1), NEVER)
        beside[0] = 0.0
        self._lane_before: list[Floats] = []
        self._beside_before: list[Floats] = []
        self._led: dict[tuple[int, bool], list[Floats]] = {shape: [] for shape in self._shapes}
        self._before: dict[tuple[int, bool], list[Floats]] = {shape: [] for shape in self._shapes}
        values = {shape: self._tail_values(shape) for shape in self._shapes}
        best = {shape: np.full(points + 1, NEVER) for shape in self._shapes}
        sides: dict[tuple[int, int], Floats] = {}
        for number, i in enumerate(self._items):
            length = self.along.piece(self.types[i].length_mm)
            gain = self._trim[self._use, i] + prices[number] - self._crosscut
            with_item = np.full_like(lane, NEVER)
            with_item[:, length:] = lane[:, : points + 1 - length] + gain[:, None]
            self._lane_before.append(lane)
            self._beside_before.append(beside)
            fits = np.flatnonzero(gain > NEVER / 2)
            for shape in self._shapes:
                drop = self._leader_values(shape[0], with_item, fits, beside, sides)
                self._led[shape].append(drop)
                self._before[shape].append(values[shape])
                added = _convolved(drop - self._crosscut, values[shape], length)
                best[shape] = np.maximum(best[shape], added)
                values[shape] = np.maximum(values[shape], added)
            lane = np.maximum(lane, with_item)
            filled = np.maximum(filled, with_item)
            if any(gain[n] > NEVER / 2 for n in self._beside_rows):
                beside = self._widths_beside(filled)
                sides.clear()
        self._best = best

    def _tail_values(self, shape: tuple[int, bool]) -> Floats:
        kept = self._tail[shape][: self._points + 1].copy()
        if self.along.relaxed:
            kept += self._crosscut
        kept[0] = self._crosscut
        return kept

    def _widths_beside(self, filled: Floats) -> Floats:
        table = np.full((len(self._reached), self._points + 1), NEVER)
        table[0] = 0.0
        ripped = filled - self._rip
        for row, u in enumerate(self._reached[1:], start=1):
            for n in self._beside_rows:
                before = self._row.get(u - self._use_points[n])
                if before is not None:
                    np.maximum(table[row], table[before] + ripped[n], out=table[row])
        return table

    def _best_beside(
        self, width_mm: int, lane_points: int, beside: Floats, sides: dict[tuple[int, int], Floats]
    ) -> Floats:
        """Best use of the width beside a leader's lane, for every drop length."""
        key = (width_mm, lane_points)
        if key not in sides:
            left = self.across.room(width_mm) - lane_points
            rows = [u for u in self._reached if u <= left]
            table = beside[: len(rows)] + self._side_worth(width_mm)[[lane_points + u for u in rows]]
            sides[key] = table.max(axis=0)
        return sides[key]

    def _leader_values(
        self, width_mm: int, with_item: Floats, fits: np.ndarray, beside: Floats, sides: dict[tuple[int, int], Floats]
    ) -> Floats:
        """Recursion D for one leader."""
        room = self.across.room(width_mm)
        drop = np.full(self._points + 1, NEVER)
        for n in fits:
            if self._use_points[n] <= room:
                np.maximum(
                    drop,
                    with_item[n] - self._rip + self._best_beside(width_mm, self._use_points[n], beside, sides),
                    out=drop,
                )
        return drop

    def pattern(self, source: Source) -> Pattern:
        """The best pattern of a source at the prices last given; on a relaxed grid it need not be real."""
        shape = (source.width_mm, source.on_core)
        room = self.along.room(source.length_mm)
        drops: list[DropPattern] = []
        for number in range(len(self._items) - 1, -1, -1):
            before = self._before[shape][number]
            drop = self._led[shape][number][: room + 1] - self._crosscut
            options = drop + before[: room + 1][::-1]
            d = int(options.argmax())
            stay = before[room] if drops else self._best_before(shape, number, room)
            if options[d] > stay + 1e-7 and options[d] > NEVER / 2:
                drops.append(DropPattern(d * self.along.step_mm, self._lanes_led(source, number, d)))
                room -= d
        return Pattern(source, tuple(reversed(drops)))

    def _best_before(self, shape: tuple[int, bool], number: int, room: int) -> float:
        """Best value with at least one drop, led by an earlier item."""
        best = NEVER
        for earlier in range(number):
            drop = self._led[shape][earlier][: room + 1] - self._crosscut
            best = max(best, float((drop + self._before[shape][earlier][: room + 1][::-1]).max()))
        return best

    def _lanes_led(self, source: Source, number: int, d: int) -> tuple[LanePattern, ...]:
        """Trace one drop back: its leader's lane, then the lanes beside it."""
        i = self._items[number]
        length = self.along.piece(self.types[i].length_mm)
        room = self.across.room(source.width_mm)
        beside = self._beside_before[number]
        lane = self._lane_before[number]
        side = self._side_worth(source.width_mm)
        best: tuple[float, int, int] = (NEVER, -1, -1)
        for n, w in enumerate(self._use_points):
            gain = self._trim[self._use[n], i]
            if gain <= NEVER / 2 or w > room:
                continue
            value = gain + lane[n, d - length]
            for row, u in enumerate(self._reached):
                if u + w <= room and value + beside[row, d] + side[w + u, d] > best[0]:
                    best = (value + beside[row, d] + side[w + u, d], n, u)
        _, n, u = best
        pieces = [self.types[i], *self._pieces_in(n, number, d - length)]
        lanes = [self._lane(n, pieces)]
        lanes.extend(self._lanes_beside(number, u, d))
        return tuple(sorted(lanes, key=lambda one: -one.width_mm))

    def _lane(self, n: int, pieces: list[PieceType]) -> LanePattern:
        ordered = sorted(pieces, key=lambda piece: (-piece.length_mm, -piece.width_mm))
        return LanePattern(self._lane_widths[self._use[n]], tuple(ordered))

    def _pieces_in(self, n: int, number: int, length: int) -> list[PieceType]:
        """Trace A back: the items before `number` that fill lane n to a length."""
        pieces = []
        for earlier in range(number - 1, -1, -1):
            before, after = self._lane_before[earlier], self._lane_before[earlier + 1]
            if after[n, length] > before[n, length]:
                i = self._items[earlier]
                pieces.append(self.types[i])
                length -= self.along.piece(self.types[i].length_mm)
        return pieces

    def _lanes_beside(self, number: int, u: int, d: int) -> list[LanePattern]:
        """Trace K back: the lanes that take width u beside the leader's."""
        lanes = []
        table = self._beside_before[number]
        filled = self._filled_before(number, d)
        while u > 0:
            options = [
                (table[self._row[u - self._use_points[n]], d] + filled[n][0], -n)
                for n in self._beside_rows
                if u - self._use_points[n] in self._row
            ]
            n = -max(options)[1]
            lanes.append(self._lane(n, filled[n][1]))
            u -= self._use_points[n]
        return lanes

    def _filled_before(self, number: int, d: int) -> dict[int, tuple[float, list[PieceType]]]:
        """For each lane that may lie beside: its best value with at least one piece of those before, and the pieces."""
        found = {}
        for n in self._beside_rows:
            best: tuple[float, int] = (NEVER, -1)
            for earlier in range(number):
                i = self._items[earlier]
                length = self.along.piece(self.types[i].length_mm)
                gain = self._trim[self._use[n], i]
                if gain > NEVER / 2 and length <= d:
                    value = gain + self._price_of[i] - self._crosscut + self._lane_before[earlier][n, d - length]
                    best = max(best, (float(value), earlier))
            if best[1] >= 0:
                i = self._items[best[1]]
                rest = d - self.along.piece(self.types[i].length_mm)
                found[n] = (best[0], [self.types[i], *self._pieces_in(n, best[1], rest)])
            else:
                found[n] = (NEVER, [])
        return found


def _convolved(drop: Floats, values: Floats, shortest: int) -> Floats:
    """max over d >= shortest of drop[d] + values[x - d], for every x."""
    points = len(values) - 1
    result = np.full(points + 1, NEVER)
    if shortest > points:
        return result
    size = points + 1 - shortest
    padded = np.concatenate([np.full(size, NEVER), values[:size]])
    start = padded[size:]
    stride = start.strides[0]
    before = as_strided(start, (size, size), (stride, -stride))
    result[shortest:] = (before + drop[None, shortest:]).max(axis=1)
    return result
