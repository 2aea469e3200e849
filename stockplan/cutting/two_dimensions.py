"""Three stages of cutting with nothing of worth left: the best way to cut a sheet when each size carries a price.

    lane    A_k[x]  = best pieces no wider than w_k, together no longer than x, no more of a size than is wanted
    drop    K[u, x] = max over k of A_k[x] + K[u - w_k, x],   K[0, x] = 0
    sheet   F[y]    = max over x of K[W, x] + F[y - x]

(Gilmore and Gomory 1965.) Lengths are sums of lengths of pieces, widths sums of widths (normal patterns, Herz 1972;
Christofides and Whitlock 1977): every x, u and y stands for itself rounded down to the next such sum, so nothing is
lost, whatever the unit. Prices are whole, so `Offer.most` is exact; pieces may repeat from lane to lane, so it is never
below what can be cut. The ways to cut that are offered are real: lanes are filled one after another with what is still
wanted, and where that falls behind, the recursions are run again for the rest of the sheet.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.beam import GUIDES, Beam, Drop, Lane
from stockplan.cutting.covering import MOST_TOGETHER, SCALE, Column, Integers, Offer

FIRST_DROPS = 4  # ways to cut each sheet offered at once, each with another first drop
BEHIND = 0.97  # of what the recursions promise: below this they are run again
FEW_PIECES = 500  # up to so many wanted, a beam search looks for ways to cut that make no more than is wanted
BEAM_WIDTH = 40
BEAM_SHEETS = 4


class Sums:
    """The sums up to some length of copies of some sizes, 0 among them.

    Parameters
    ----------
    sizes
        The sizes.
    most
        The greatest sum of interest.
    """

    def __init__(self, sizes: Sequence[int], most: int) -> None:
        reached, mask = 1, (1 << (most + 1)) - 1
        for size in set(sizes):
            step = size
            while step <= most:
                reached |= (reached << step) & mask
                step *= 2
        self.values = np.array([x for x in range(most + 1) if reached >> x & 1], dtype=np.int64)
        self._less: dict[int, tuple[int, NDArray[np.int64]]] = {}

    def __len__(self) -> int:
        return len(self.values)

    def at(self, size: int) -> int:
        """Number of the greatest sum no greater than a size."""
        return int(np.searchsorted(self.values, size, side="right")) - 1

    def less(self, size: int) -> tuple[int, NDArray[np.int64]]:
        """Number of the first sum that holds a size; for each sum from there on, the number of what it then leaves."""
        if size not in self._less:
            first = int(np.searchsorted(self.values, size))
            self._less[size] = first, np.searchsorted(self.values, self.values[first:] - size, side="right") - 1
        return self._less[size]


@dataclass(frozen=True)
class _Tables:
    """The recursions at some prices, for what was wanted then."""

    widths: list[int]
    lanes: Integers
    drops: Integers


class SheetOracle:
    """Ways to cut sizes off sheets, first across, then along, then across again, trimming what is too wide.

    Parameters
    ----------
    sizes
        Width and length of each size.
    sheets
        Width and length of each source.
    costs
        Of each source.
    """

    def __init__(
        self, sizes: Sequence[tuple[int, int]], sheets: Sequence[tuple[int, int]], costs: Sequence[int]
    ) -> None:
        self.sizes, self.sheets, self._costs = list(sizes), list(sheets), list(costs)
        self._turn = 0
        self._order = sorted(range(len(sizes)), key=lambda i: (sizes[i], i))
        widths, lengths = zip(*sizes, strict=True)
        widest, longest = map(max, zip(*sheets, strict=True))
        self.along, self.across = Sums(lengths, longest), Sums(widths, widest)
        self.cuts: dict[Column, tuple[Drop, ...]] = {}

    @staticmethod
    def cells(sizes: Sequence[tuple[int, int]], sheets: Sequence[tuple[int, int]]) -> int:
        """Work of one run of the recursions, at most: widths times lengths times kinds of lane."""
        widths, lengths = zip(*sizes, strict=True)
        widest, longest = map(max, zip(*sheets, strict=True))
        return int((longest // gcd(*lengths) + 1) * (widest // gcd(*widths) + 1) * len(set(widths)))

    def highest(self, counts: Sequence[int]) -> list[int]:
        """Prices that may be added up, as `Oracle.highest`: so high by area, as pieces repeat until a sheet is full."""
        widest, longest = map(max, zip(*self.sheets, strict=True))
        return [MOST_TOGETHER * width * length // (widest * longest) for width, length in self.sizes]

    def price(self, prices: Integers, counts: Sequence[int]) -> list[Offer]:
        """Ways to cut every sheet, as `Oracle.price`."""
        self._prices = prices.tolist()
        tables = self._tables(counts)
        offers = []
        for source, (width, length) in enumerate(self.sheets):
            drops = tables.drops[self.across.at(width)]
            values = self._values(drops, length)
            room = self.along.at(length)
            first = np.where(drops[: room + 1] > 0, drops[: room + 1] + values[self._left(length, room)], 0)
            best = [int(d) for d in np.argsort(-first, kind="stable")[:FIRST_DROPS] if first[d] > 0]
            columns = dict.fromkeys(self._cut(source, d, tables, values, counts) for d in best)
            if sum(counts) <= FEW_PIECES:
                columns |= dict.fromkeys(self._beamed(source, counts))
            found = sorted(columns, key=lambda c: -sum(self._prices[t] * n for t, n in c.made))
            offers.append(Offer(source, int(values[room]), found))
        return offers

    def _beamed(self, source: int, counts: Sequence[int]) -> list[Column]:
        """Ways to cut a sheet that a beam search finds, guided another way each time."""
        self._turn += 1
        wanted = [count if self._prices[i] > 0 else 0 for i, count in enumerate(counts)]
        worth = [price / SCALE for price in self._prices]
        none = [None] * len(self._costs)
        beam = Beam(self.sizes, wanted, self.sheets, self._costs, none, worth)
        found = beam.sheets(BEAM_WIDTH, self._turn % GUIDES, source, BEAM_SHEETS)
        return [self.keep(source, drops) for _, drops in found]

    def _left(self, length: int, room: int) -> NDArray[np.int64]:
        """For each sum up to `room`, the number of what a length then leaves."""
        return np.searchsorted(self.along.values, length - self.along.values[: room + 1], side="right") - 1

    def _tables(self, counts: Sequence[int]) -> _Tables:
        widths, lanes = self._lanes(counts)
        drops = np.zeros((len(self.across), len(self.along)), dtype=np.int64)
        narrowest = self.across.at(widths[0]) if widths else len(self.across)
        for u in range(narrowest, len(self.across)):
            fits = [k for k, w in enumerate(widths) if w <= self.across.values[u]]
            beside = [self.across.at(int(self.across.values[u]) - widths[k]) for k in fits]
            drops[u] = (lanes[fits] + drops[beside]).max(axis=0)
        return _Tables(widths, lanes, drops)

    def _lanes(self, counts: Sequence[int]) -> tuple[list[int], Integers]:
        """Recursion A: widths of lanes worth having, and what each is worth by length."""
        value = np.zeros(len(self.along), dtype=np.int64)
        widths: list[int] = []
        rows: list[Integers] = []
        for i in self._order:
            width, length = self.sizes[i]
            if self._prices[i] <= 0 or counts[i] <= 0:
                continue
            before = value
            value = self._with_size(value, length, self._prices[i], counts[i])
            if widths and widths[-1] == width:
                rows[-1] = value
            elif not np.array_equal(value, before):
                widths.append(width)
                rows.append(value)
        return widths, np.array(rows, dtype=np.int64).reshape(len(rows), len(self.along))

    def _with_size(self, value: Integers, length: int, price: int, count: int) -> Integers:
        """A lane's values with up to so many of one more size."""
        left, lot = min(count, int(self.along.values[-1]) // length), 1
        while left > 0:
            number = min(lot, left)
            first, before = self.along.less(number * length)
            better = value.copy()
            np.maximum(value[first:], value[before] + number * price, out=better[first:])
            value, left, lot = better, left - number, lot * 2
        return value

    def _values(self, drops: Integers, length: int) -> Integers:
        """Recursion F up to a length."""
        room = self.along.at(length)
        sums = self.along.values[: room + 1]
        values = np.zeros(room + 1, dtype=np.int64)
        useful = np.flatnonzero(drops[: room + 1] > 0)
        # A drop no better than a shorter one is never needed.
        useful = useful[np.diff(np.maximum.accumulate(drops[useful]), prepend=0) > 0]
        for y in range(int(useful[0]) if useful.size else room + 1, room + 1):
            fits = useful[: np.searchsorted(useful, y, side="right")]
            left = np.searchsorted(sums, sums[y] - sums[fits], side="right") - 1
            values[y] = (drops[fits] + values[left]).max()
        return values

    def _cut(self, source: int, first: int, tables: _Tables, values: Integers, counts: Sequence[int]) -> Column:
        """A real way to cut a sheet that begins with a drop of a given length."""
        width, length = self.sheets[source]
        wanted = list(counts)
        drops: list[Drop] = []
        fresh, d = True, first
        while True:
            promised = int(tables.drops[self.across.at(width), d])
            lanes = self._fill(width, int(self.along.values[d]), tables, wanted)
            worth = sum(self._prices[i] for _, pieces in lanes for i in pieces)
            if worth < BEHIND * promised and not fresh:
                # What is wanted has run out under the recursions: again, for what is left of it.
                tables, fresh = self._tables(wanted), True
                values = self._values(tables.drops[self.across.at(width)], length)
            elif not lanes:
                break
            else:
                for _, pieces in lanes:
                    for i in pieces:
                        wanted[i] -= 1
                used = max(sum(self.sizes[i][1] for i in pieces) for _, pieces in lanes)
                drops.append((used, lanes))
                length -= used
                fresh = False
            d = self._next_drop(tables.drops[self.across.at(width)], values, length)
            if d <= 0:
                break
        return self.keep(source, tuple(drops))

    def keep(self, source: int, drops: tuple[Drop, ...]) -> Column:
        """A way to cut as a column; how it is cut is kept in `cuts`."""
        made = Counter(i for _, lanes in drops for _, pieces in lanes for i in pieces)
        column = Column(source, tuple(sorted(made.items())))
        self.cuts.setdefault(column, drops)
        return column

    def _next_drop(self, drops: Integers, values: Integers, length: int) -> int:
        """Number of the best length for the next drop; 0 when none is worth cutting."""
        room = self.along.at(length)
        worth = np.where(drops[: room + 1] > 0, drops[: room + 1] + values[self._left(length, room)], 0)
        return int(worth.argmax())

    def _fill(self, width: int, length: int, tables: _Tables, wanted: list[int]) -> tuple[Lane, ...]:
        """Lanes of a drop, filled with what is wanted: as the recursions have it, then whatever still fits beside."""
        wanted = list(wanted)
        lanes: list[Lane] = []
        left, u, x = width, self.across.at(width), self.along.at(length)
        while True:
            k = self._next_lane(tables, u, x)
            if k is None:
                break
            u = self.across.at(int(self.across.values[u]) - tables.widths[k])
            left -= self._add_lane(lanes, tables.widths[k], length, wanted)
        while left > 0 and self._add_best_lane(lanes, left, length, wanted):
            left = width - sum(w for w, _ in lanes)
        return tuple(lanes)

    def _next_lane(self, tables: _Tables, u: int, x: int) -> int | None:
        options = [
            (int(tables.lanes[k, x] + tables.drops[self.across.at(int(self.across.values[u]) - w), x]), -k)
            for k, w in enumerate(tables.widths)
            if w <= self.across.values[u] and tables.lanes[k, x] > 0
        ]
        return -max(options)[1] if options else None

    def _add_lane(self, lanes: list[Lane], width: int, length: int, wanted: list[int]) -> int:
        """Fill a lane; returns the width it takes, 0 when nothing that is wanted fits."""
        pieces = self._best_pieces(width, length, wanted)
        if not pieces:
            return 0
        for i in pieces:
            wanted[i] -= 1
        taken = max(self.sizes[i][0] for i in pieces)
        lanes.append((taken, pieces))
        return taken

    def _add_best_lane(self, lanes: list[Lane], left: int, length: int, wanted: list[int]) -> bool:
        """Add the lane worth most per width beside those there are."""
        x = self.along.at(length)
        widths, values = self._lanes(wanted)
        options = [(values[k, x] / w, w) for k, w in enumerate(widths) if w <= left and values[k, x] > 0]
        return bool(options) and self._add_lane(lanes, max(options)[1], length, wanted) > 0

    def _best_pieces(self, width: int, length: int, wanted: list[int]) -> tuple[int, ...]:
        """The best pieces for one lane, longest first."""
        value = np.zeros(len(self.along), dtype=np.int64)
        steps: list[tuple[int, Integers]] = []
        for i in self._order:
            if self.sizes[i][0] > width:
                break
            for _ in range(min(wanted[i], length // self.sizes[i][1]) if self._prices[i] > 0 else 0):
                steps.append((i, value))
                value = self._with_size(value, self.sizes[i][1], self._prices[i], 1)
        x, pieces = self.along.at(length), []
        for i, before in reversed(steps):
            if value[x] > before[x]:
                pieces.append(i)
                x = self.along.at(int(self.along.values[x]) - self.sizes[i][1])
            value = before
        return tuple(sorted(pieces, key=lambda i: (-self.sizes[i][1], -self.sizes[i][0], i)))
