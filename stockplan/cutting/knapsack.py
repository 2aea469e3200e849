"""Patterns of one kind of source as a knapsack along its length: the best at given prices, and all good enough.

    T[i, u]  = least reduced cost of solos and drop sets up to the i-th that take exactly u steps of length
             = min( T[i-1, u], min over the i-th one's options (d, r) of T[i-1, u - d] + r )
    T'[i, u] = the same with one drop set stretched, so that what would be left of the source is in its drop

A solo is used at most as often as its piece may be needed, a drop set once; only two drop sets that share a piece can
make more of it than is needed. So the least value is a bound, and `good` walks the table back and leaves those out.
An item whose reduced cost is a crosscut or more is in no best pattern: without it the source has more left, which is
worth no less, unless nothing was left, which saved the last cut. So for the best only items below that are tabled, and
for all within a gap those that lose no more than the gap besides.
Backward walks over the table of a relaxation are as in Baldacci, Christofides and Mingozzi, "An exact algorithm for the
vehicle routing problem based on the set partitioning formulation", Mathematical Programming 115 (2008).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.kinds import NEVER, Kind, Lengths
from stockplan.cutting.links import Charges

Floats = NDArray[np.float64]
Needs = tuple[int, ...]  # how many of each of a kind's solos, then of its narrow types


@dataclass(frozen=True)
class Choices:
    """What may be put on a source of one kind, as arrays with one entry an option.

    Parameters
    ----------
    item
        Number of the solo or drop set, from 1; options of one follow each other.
    steps
        Length taken.
    cost
        Pence for cuts, less worth of leftovers beside.
    stretch
        At most how much cheaper a stretched drop is; minus infinity where there is none.
    needs
        Pieces made: a row an option, a column a type, solos first.
    """

    item: NDArray[np.int64]
    steps: NDArray[np.int64]
    cost: Floats
    stretch: Floats
    needs: NDArray[np.int64]

    @staticmethod
    def of(kind: Kind) -> Choices:
        """List them."""
        types = len(kind.solos) + len(kind.narrow)
        crosscut = float(kind.instance.costs.crosscut_pence)
        rows: list[tuple[int, int, float, float, list[int]]] = []
        item = 0
        for place, piece in enumerate(kind.solos):
            item += 1
            for copies in range(1, kind.most[piece] + 1):
                steps = copies * (piece.length_mm // kind.step)
                if steps * kind.step <= kind.longest:
                    needs = [0] * types
                    needs[place] = copies
                    rows.append((item, steps, copies * crosscut, -np.inf, needs))
        for one in kind.drop_sets:
            counts = list(one.counts)
            most = [kind.most[t] for t in kind.narrow]
            for _ in range(min(m // c for c, m in zip(counts, most, strict=True) if c)):
                item += 1
                rows.extend(
                    (
                        item,
                        length // kind.step,
                        float(cost),
                        -np.inf if stretch is None else float(stretch),
                        [0] * len(kind.solos) + counts,
                    )
                    for length, cost, stretch in one.useful
                )
        items, steps_, costs, stretches, needs_ = zip(*rows, strict=True) if rows else ((), (), (), (), ())
        return Choices(
            np.array(items, dtype=np.int64),
            np.array(steps_, dtype=np.int64),
            np.array(costs, dtype=float),
            np.array(stretches, dtype=float),
            np.array(needs_, dtype=np.int64).reshape(len(rows), types),
        )


class Knapsack:
    """One kind's table at given prices.

    Parameters
    ----------
    kind
        The kind of source.
    choices
        `Choices.of(kind)`.
    """

    def __init__(self, kind: Kind, choices: Choices) -> None:
        self.kind, self.choices = kind, choices
        self.room = kind.longest // kind.step
        self._most = np.array([kind.most[t] for t in (*kind.solos, *kind.narrow)], dtype=np.int64)

    def fill(self, prices: Floats, gap: float = 0.0, most_cells: int | None = None) -> bool:
        """Work out the table.

        Parameters
        ----------
        prices
            Pence for each type, solos first.
        gap
            How far above the least reduced cost patterns may lie that are to be listed, pence; default 0, the best
            alone.
        most_cells
            Cells that the table may have; None sets no limit.

        Returns
        -------
        False when it would have more; then there is none.
        """
        self._keep_useful(prices, gap)
        if most_cells is not None and (self.items + 1) * (self.room + 1) > most_cells:
            return False
        chosen = self._kept
        plain = np.full((self.items + 1, self.room + 1), NEVER)
        plain[0, 0] = 0.0
        stretched = np.full_like(plain, NEVER)
        steps, ends = chosen.steps.tolist(), self._ends.tolist()
        for i in range(1, self.items + 1):
            row, row_before = plain[i], plain[i - 1]
            long, long_before = stretched[i], stretched[i - 1]
            row[:] = row_before
            long[:] = long_before
            for k in range(ends[i - 1], ends[i]):
                d, r = steps[k], self.reduced[k]
                np.minimum(row[d:], row_before[: self.room + 1 - d] + r, out=row[d:])
                np.minimum(long[d:], long_before[: self.room + 1 - d] + r, out=long[d:])
                gain = chosen.stretch[k]
                if gain > -np.inf:
                    np.minimum(long[d:], row_before[: self.room + 1 - d] + (r - gain), out=long[d:])
        self.plain, self.stretched = plain, stretched
        return True

    def _keep_useful(self, prices: Floats, gap: float) -> None:
        """Keep the options that a pattern within the gap may use."""
        every = self.choices
        reduced = every.cost - every.needs @ prices
        useful = np.flatnonzero(reduced - np.maximum(every.stretch, 0.0) < gap + self.kind.shelf.crosscut)
        items, item = np.unique(every.item[useful], return_inverse=True)
        self.items = len(items)
        self.reduced = reduced[useful]
        self._kept = Choices(
            item + 1, every.steps[useful], every.cost[useful], every.stretch[useful], every.needs[useful]
        )
        self._ends = np.searchsorted(self._kept.item, np.arange(1, self.items + 2))

    def least(self, lengths: Lengths) -> float:
        """No pattern on these sources costs less than this, prices of its pieces taken off; 0 for none at all."""
        if not self.items:
            return 0.0
        room = len(lengths.opening)
        plain = (self.plain[-1, 1:room] + lengths.opening[1:]).min(initial=NEVER)
        stretched = (self.stretched[-1, :room] + lengths.stretched).min(initial=NEVER)
        return float(min(0.0, plain, stretched))

    def good(self, lengths: Lengths, most: float, limit: int, charges: Charges | None = None) -> Iterator[Needs]:
        """Pieces of every pattern whose reduced cost may be at most this, the most promising starts first.

        Parameters
        ----------
        lengths
            The sources.
        most
            Reduced cost, the sources' own price taken off; no further above the least than the gap the table is for.
        limit
            Walks end after so many answers.
        charges
            What patterns are charged for the groups they hold pieces of; part of the reduced cost. Default none.
        """
        if not self.items:
            return
        charged = charges or Charges((), {})
        bits = charged.bits(self._kept.needs)
        room = len(lengths.opening)
        found: set[Needs] = set()
        for table, opening, long in (
            (self.plain, lengths.opening, False),
            (self.stretched, lengths.stretched, True),
        ):
            totals = table[-1, :room] + opening
            for used in np.argsort(totals, kind="stable").tolist():
                if totals[used] > most:
                    break
                if used == 0:
                    continue
                for needs in self._walk(used, most - float(opening[used]), long, bits, charged):
                    if needs not in found:
                        found.add(needs)
                        yield needs
                        if len(found) >= limit:
                            return

    def _walk(self, used: int, most: float, long: bool, bits: list[int], charges: Charges) -> Iterator[Needs]:
        """Every choice of items that takes exactly `used` steps at no more than a reduced cost."""
        chosen = self._kept
        nothing = np.zeros(chosen.needs.shape[1], dtype=np.int64)
        stack = [(len(chosen.item), used, 0.0, long, nothing, 0)]
        while stack:
            end, left, spent, to_stretch, made, held = stack.pop()
            if left == 0:
                if not to_stretch:
                    yield tuple(made.tolist())
                continue
            steps = chosen.steps[:end]
            fits = np.flatnonzero(steps <= left)
            before = chosen.item[fits] - 1
            rest = left - steps[fits]
            plain = self.plain[before, rest] + (self.reduced[fits] + spent)
            moves = [(plain, self.reduced[fits], False)]
            if to_stretch:
                later = self.stretched[before, rest] + (self.reduced[fits] + spent)
                now = self.plain[before, rest] + (self.reduced[fits] - chosen.stretch[fits] + spent)
                moves = [(later, self.reduced[fits], True), (now, self.reduced[fits] - chosen.stretch[fits], False)]
            ready = []
            for totals, costs, still in moves:
                for at in np.flatnonzero(totals <= most).tolist():
                    k = int(fits[at])
                    now_held = held | bits[k]
                    if now_held and totals[at] + charges.of(now_held) > most:
                        continue
                    together = made + chosen.needs[k]
                    if (together <= self._most).all():
                        start = int(self._ends[chosen.item[k] - 1])
                        after = (start, int(rest[at]), spent + float(costs[at]), still, together, now_held)
                        ready.append((totals[at], after))
            ready.sort(key=lambda move: -move[0])
            stack.extend(move for _, move in ready)
