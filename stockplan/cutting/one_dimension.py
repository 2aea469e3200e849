"""The best pieces off one length when each size carries a price and no more of a size may be cut than is wanted.

    F_i[x] = max over n <= count_i of F_(i-1)[x - n l_i] + n p_i,   F_0 = 0

Lengths are divided by what divides them all, prices are whole, so the value is exact. Copies of a size are gathered in
lots of 1, 2, 4, …, and each lot taken or left (Martello and Toth, Knapsack Problems, 1990, section 3.4). Besides the
best pieces for a length, the best that are led by each lot are found: column generation wants many at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.covering import MOST_AT_ONCE, MOST_TOGETHER, Column, Integers, Offer


class LengthOracle:
    """Ways to cut sizes off lengths.

    Parameters
    ----------
    sizes
        Lengths wanted.
    lengths
        Lengths to cut from, one each source.
    """

    def __init__(self, sizes: Sequence[int], lengths: Sequence[int]) -> None:
        unit = gcd(*sizes)
        self.sizes = [size // unit for size in sizes]
        self.rooms = [length // unit for length in lengths]

    def highest(self, counts: Sequence[int]) -> list[int]:
        """Prices that may be added up, as `Oracle.highest`: nothing is made more often than it is wanted."""
        return [MOST_TOGETHER // max(1, sum(counts))] * len(counts)

    def price(self, prices: Integers, counts: Sequence[int]) -> list[Offer]:
        """Ways to cut every length, as `Oracle.price`."""
        room = max(self.rooms)
        lots = [(i, n) for i, n in self._lots(counts) if prices[i] > 0]
        value = np.zeros(room + 1, dtype=np.int64)
        took = np.zeros((len(lots), room + 1), dtype=bool)
        led = np.zeros((len(self.rooms), len(lots)), dtype=np.int64)
        for number, (i, count) in enumerate(lots):
            size = count * self.sizes[i]
            better = value[: room + 1 - size] + count * prices[i]
            for source, length in enumerate(self.rooms):
                led[source, number] = better[length - size] if length >= size else 0
            np.greater(better, value[size:], out=took[number, size:])
            np.maximum(better, value[size:], out=value[size:])
        offers = []
        for source, length in enumerate(self.rooms):
            leaders = np.argsort(-led[source], kind="stable")[:MOST_AT_ONCE]
            made = [self._trace(lots, took, int(n), length) for n in leaders if led[source, n] > 0]
            offers.append(Offer(source, int(value[length]), [Column(source, m) for m in dict.fromkeys(made)]))
        return offers

    def _lots(self, counts: Sequence[int]) -> list[tuple[int, int]]:
        """Size and number of copies of each lot."""
        found = []
        for i, (size, count) in enumerate(zip(self.sizes, counts, strict=True)):
            left, lot = min(count, max(self.rooms) // size), 1
            while left > 0:
                found.append((i, min(lot, left)))
                left, lot = left - lot, lot * 2
        return found

    def _trace(
        self, lots: list[tuple[int, int]], took: NDArray[np.bool_], leader: int, room: int
    ) -> tuple[tuple[int, int], ...]:
        """The pieces of the best way that is led by a lot."""
        made: dict[int, int] = {}
        for number in range(leader, -1, -1):
            if number == leader or took[number, room]:
                i, count = lots[number]
                made[i] = made.get(i, 0) + count
                room -= count * self.sizes[i]
        return tuple(sorted(made.items()))
