"""Tables of every set of pieces that one source can be cut into, at its least cost: what proofs of small weeks work on.

A set is a row, a collection of solos, and a column, a collection of narrow pieces; what prices take off is the sum of a
row's and a column's share, so that all sets are priced at once. The shorter the solos, the more of the narrow
collections, the shortest first, fit beside them. How a set is cut is worked out again for the few that are wanted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.collected import narrow_of, solos_of
from stockplan.cutting.drop_kernels import NEVER, TOO_MANY
from stockplan.cutting.drop_sets import TooManyWays
from stockplan.cutting.drop_tables import DropTables
from stockplan.cutting.instance import PieceType
from stockplan.cutting.kinds import Kind, Lengths
from stockplan.cutting.load_kernels import NONE
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.set_kernels import (
    E_BEFORE,
    E_COST,
    E_OPTION,
    E_USED,
    O_LENGTH,
    O_SET,
    UNKNOWN,
    arrange,
    at_rule,
    stretch,
)

MOST_COLLECTIONS = 1 << 17
FIRST_ENTRIES, MOST_ENTRIES = 200_000, 2_000_000
MOST_SETS = 2_000_000  # of one table
MOST_REMEMBERED = 30_000_000
MOST_SOLOS = 4_000_000  # collections times types
COLLECTIONS_A_SLICE = 2_000
SETS_A_SLICE, PAIRS_A_SLICE = 50, 400_000  # of drop sets; of one with a collection

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Table:
    """Every set that one source of a class can be cut into.

    Parameters
    ----------
    costs
        Pence; infinite for none at all.
    rows, columns
        The solos and the narrow pieces of each.
    first
        By row: the first of its sets, and behind the last row their number.
    """

    costs: Floats
    rows: Numbers
    columns: Numbers
    first: Numbers


class SetTables:
    """Tables of one kind of source, one for each of its classes.

    Parameters
    ----------
    kind
        The kind.
    should_stop
        Asked now and then.
    most
        Most collections of narrow pieces to go through.

    Raises
    ------
    TooManyWays
        When the tables would be too large, or it has to stop.
    """

    def __init__(self, kind: Kind, should_stop: Callable[[], bool], most: int = MOST_COLLECTIONS) -> None:
        self.kind, self._should_stop = kind, should_stop
        self.solos, self.narrow = solos_of(kind, MOST_SOLOS), narrow_of(kind, most)
        self.drops = DropTables(kind, should_stop)
        fields = self.drops.fields
        self._codes = np.zeros(len(self.narrow.needs), dtype=np.int64)
        for place, shift in enumerate(fields.shifts):
            self._codes += self.narrow.needs[:, place] << shift
        self._shape = (fields.masks, fields.single, fields.guards)
        self._starts, self._entries = self._arranged()
        self._shortest = np.full(len(self._codes), NEVER, dtype=np.int64)
        fit = np.flatnonzero(np.diff(self._starts))
        self._shortest[fit] = self._entries[self._starts[fit], E_USED]
        self._order = np.argsort(self._shortest, kind="stable")
        self._rank = np.argsort(self._order, kind="stable")
        self._holding: dict[frozenset[PieceType], tuple[Floats, Floats]] = {}
        self._memory = self._nothing_remembered()
        self.tables = [self._table(lengths) for lengths in kind.lengths]

    @property
    def size(self) -> int:
        """How many sets there are, over all classes."""
        return sum(len(table.costs) for table in self.tables)

    def _arranged(self) -> tuple[Numbers, Numbers]:
        """Ways to cut every collection of narrow pieces in drops."""
        kind, drops = self.kind, self.drops
        self._places = drops.needs @ self.narrow.moves
        alone = np.full(len(self._codes), NONE, dtype=np.int64)
        alone[self._places] = np.arange(len(self._places))
        sets = (drops.first_option, drops.codes, self._places, drops.led, alone)
        limits = (kind.longest, kind.step, kind.instance.costs.crosscut_pence, drops.losses)
        starts = np.zeros(len(self._codes) + 1, dtype=np.int64)
        entries = np.zeros((min(1000 + 4 * len(self._codes), FIRST_ENTRIES), 4), dtype=np.int64)
        starts[1], entries[0] = 1, (0, 0, -1, -1)
        self._options = drops.options.copy()
        begin = 1
        while begin < len(self._codes):
            if self._should_stop() or len(entries) > MOST_ENTRIES:
                raise TooManyWays
            end = min(begin + COLLECTIONS_A_SLICE, len(self._codes))
            arranged = (starts, entries)
            if arrange(self._options, sets, self._codes, limits, self._shape, arranged, (begin, end)) == TOO_MANY:
                entries = np.concatenate([entries, np.zeros_like(entries)])
            else:
                begin = end
        return starts, entries[: starts[-1]].copy()

    def _nothing_remembered(self) -> NDArray[np.int32]:
        drops, kind = self.drops, self.kind
        self._furthest = np.minimum(drops.longest + kind.reach, kind.longest)
        past = int((self._furthest - drops.shortest).max(initial=0)) // kind.step + 1
        if len(drops.codes) * past > MOST_REMEMBERED:
            raise TooManyWays
        # A lane that ends just where its drop does saves a crosscut, which it may not at the furthest length.
        ends = np.minimum(drops.depth, drops.needs.sum(axis=1)) * kind.instance.costs.crosscut_pence
        costs = [drops.cost_at(s, int(length)) for s, length in enumerate(self._furthest)]
        self._least = np.array(costs, dtype=np.int64) - ends
        return np.full((len(drops.codes), past), UNKNOWN, dtype=np.int32)

    def _table(self, lengths: Lengths) -> Table:
        kind, drops = self.kind, self.drops
        longest = max(source.length_mm for source in lengths.sources)
        counts = np.searchsorted(self._shortest[self._order], longest - self.solos.lengths, side="right")
        first = np.concatenate([[0], np.cumsum(counts)])
        if first[-1] > MOST_SETS:
            raise TooManyWays
        costs = np.empty(first[-1], dtype=np.int64)
        solos, arranged = (self.solos.lengths, self.solos.costs), (self._starts, self._entries)
        opening = np.where(lengths.opening < NEVER, lengths.opening, NEVER).astype(np.int64)
        at_rule(solos, arranged, (first, self._order), opening, kind.step, costs)
        sets = (self._places, drops.needs, drops.shortest, self._furthest, self._least)
        most = np.array([kind.most[t] for t in kind.narrow], dtype=np.int64)
        collections = (most, self.narrow.moves, *arranged, *solos)
        room, price, _ = self._rooms(lengths)
        at_once = max(1, min(SETS_A_SLICE, PAIRS_A_SLICE // len(self._codes)))
        for begin in range(0, len(drops.codes), at_once):
            if self._should_stop():
                raise TooManyWays
            rooms = (room, price, kind.step, begin, min(begin + at_once, len(drops.codes)))
            if not stretch(drops.arrays, self._memory, sets, collections, (first, self._rank), rooms, costs):
                raise TooManyWays
        costs[0] = NEVER  # nothing cut at all
        rows = np.repeat(np.arange(len(counts)), counts)
        columns = self._order[np.arange(len(rows)) - first[rows]]
        return Table(np.where(costs < NEVER, costs, np.inf), rows, columns, first)

    def _rooms(self, lengths: Lengths) -> tuple[Numbers, Numbers, list[int]]:
        """Lengths that stretched drops must fill, what a source with a tail behind them costs, and which source."""
        kind = self.kind
        found = sorted(
            (source.length_mm - kept, source.value_pence - kind.shelf.tail(kept), number)
            for number, source in enumerate(lengths.sources)
            for kept in kind.tails_at_rule()
            if source.length_mm > kept
        )
        return (
            np.array([room for room, _, _ in found], dtype=np.int64),
            np.array([price for _, price, _ in found], dtype=np.int64),
            [number for _, _, number in found],
        )

    def worth(self, prices: Mapping[PieceType, float]) -> tuple[Floats, Floats]:
        """By row and by column: what the pieces come to at given prices, pence."""
        kind = self.kind
        solos = self.solos.needs @ np.array([prices.get(t, 0.0) for t in kind.solos])
        return solos, self.narrow.needs @ np.array([prices.get(t, 0.0) for t in kind.narrow])

    def holding(self, types: frozenset[PieceType]) -> tuple[Floats, Floats]:
        """By row and by column: 1 where a collection holds pieces of these types, else 0; remembered."""
        if types not in self._holding:
            kind = self.kind
            solos = [n for n, t in enumerate(kind.solos) if t in types]
            narrow = [n for n, t in enumerate(kind.narrow) if t in types]
            self._holding[types] = (
                (self.solos.needs[:, solos] > 0).any(axis=1).astype(float),
                (self.narrow.needs[:, narrow] > 0).any(axis=1).astype(float),
            )
        return self._holding[types]

    def pieces(self, c: int, number: int) -> tuple[tuple[PieceType, int], ...]:
        """How many of each type a set of a class holds."""
        row, column = self.tables[c].rows[number], self.tables[c].columns[number]
        needs = (*self.solos.needs[row].tolist(), *self.narrow.needs[column].tolist())
        return tuple((t, n) for t, n in zip((*self.kind.solos, *self.kind.narrow), needs, strict=True) if n)

    def number_of(self, c: int, made: Mapping[PieceType, int]) -> int | None:
        """Which set of a class it is; None where it does not fit, or holds more than is needed."""
        kind = self.kind
        if any(count > kind.most.get(t, 0) for t, count in made.items()):
            return None
        solos = np.array([made.get(t, 0) for t in kind.solos], dtype=np.int64)
        rows = np.flatnonzero((self.solos.needs == solos).all(axis=1))
        column = int(np.array([made.get(t, 0) for t in kind.narrow], dtype=np.int64) @ self.narrow.moves)
        first, rank = self.tables[c].first, int(self._rank[column])
        fits = rows.size and rank < first[rows[0] + 1] - first[rows[0]]
        return int(first[rows[0]]) + rank if fits else None

    def pattern(self, c: int, number: int) -> Pattern:
        """How a set is cut at its least cost from a source of a class.

        Parameters
        ----------
        c
            The class.
        number
            Of its table.
        """
        lengths, table = self.kind.lengths[c], self.tables[c]
        row, column = int(table.rows[number]), int(table.columns[number])
        cost = int(table.costs[number]) - int(self.solos.costs[row])
        solo_length = int(self.solos.lengths[row])
        for e in range(int(self._starts[column]), int(self._starts[column + 1])):
            steps = (solo_length + int(self._entries[e, E_USED])) // self.kind.step
            if steps < len(lengths.opening) and int(self._entries[e, E_COST]) + int(lengths.opening[steps]) == cost:
                return self._pattern(int(lengths.which[steps]), lengths, row, self._chain(e))
        return self._stretched(lengths, row, column, cost)

    def _stretched(self, lengths: Lengths, row: int, column: int, cost: int) -> Pattern:
        """How a set is cut for so much without its solos, with one drop stretched."""
        drops, (rooms, prices, sources) = self.drops, self._rooms(lengths)
        solo_length = int(self.solos.lengths[row])
        for s in np.flatnonzero((drops.needs <= self.narrow.needs[column]).all(axis=1)).tolist():
            before = column - int(self._places[s])
            for e in range(int(self._starts[before]), int(self._starts[before + 1])):
                for room, price, source in zip(rooms.tolist(), prices.tolist(), sources, strict=True):
                    length = room - solo_length - int(self._entries[e, E_USED])
                    if not drops.shortest[s] < length <= self._furthest[s]:
                        continue
                    if price + int(self._entries[e, E_COST]) + drops.cost_at(s, length) == cost:
                        return self._pattern(source, lengths, row, [*self._chain(e), (s, length)])
        raise ValueError(f"no way to cut set {row}, {column} for {cost}")

    def _chain(self, entry: int) -> list[tuple[int, int]]:
        """Sets and lengths of the drops of an entry."""
        found = []
        while self._entries[entry, E_BEFORE] >= 0:
            option = self.drops.options[self._entries[entry, E_OPTION]]
            found.append((int(option[O_SET]), int(option[O_LENGTH])))
            entry = int(self._entries[entry, E_BEFORE])
        return found

    def _pattern(self, source: int, lengths: Lengths, row: int, drops: list[tuple[int, int]]) -> Pattern:
        kind = self.kind
        whole: list[DropPattern] = []
        needs = self.solos.needs[row].tolist()
        pieces = [t for t, count in zip(kind.solos, needs, strict=True) for _ in range(count)]
        for width in sorted({t.width_mm for t in pieces}, reverse=True):
            mine = sorted((t for t in pieces if t.width_mm == width), key=lambda t: -t.length_mm)
            if width == kind.width:
                whole.extend(DropPattern(t.length_mm, (LanePattern(width, (t,)),)) for t in mine)
            else:
                lane = LanePattern(width, tuple(mine))
                whole.append(DropPattern(lane.used_mm, (lane,)))
        others = sorted((self.drops.drop(s, length) for s, length in drops), key=lambda drop: -drop.length_mm)
        return Pattern(lengths.sources[source], (*whole, *others))
