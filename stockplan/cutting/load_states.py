"""What one batch can be cut into, as packed whole numbers: every collection of pieces within reach, at its least cost.

Sources are taken one after another; each is given one of the sets of pieces listed for it or left whole. Sets that can
be bought without end are taken in the order of the first type that they hold, the last types first, so that the same
purchases are not gone through in every order.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import TooManyWays
from stockplan.cutting.load_kernels import NONE, enter, extend

MOST_BITS = 62
MOST_STATES = 2_000_000
FIRST_ROOM = 4_096
PAIRS_A_UNIT = 1_000_000  # of work

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Fields:
    """Counts of several things packed into one whole number.

    Parameters
    ----------
    shifts, masks
        Where each count lies.
    single, guards, full
        Bits that stand alone; guards of the others; every count at its most, with the guards.
    """

    shifts: tuple[int, ...]
    masks: Numbers
    single: int
    guards: int
    full: int

    @staticmethod
    def of(most: Sequence[int]) -> Fields:
        """For counts up to these.

        Raises
        ------
        TooManyWays
            When they need more bits than there are.
        """
        at = single = guards = full = 0
        shifts, masks = [], []
        for count in most:
            bits = count.bit_length()
            shifts.append(at)
            masks.append(((1 << bits) - 1) << at)
            full |= count << at
            if count == 1:
                single |= 1 << at
                at += 1
            else:
                guards |= 1 << (at + bits)
                at += bits + 1
        if at > MOST_BITS:
            raise TooManyWays
        return Fields(tuple(shifts), np.array(masks, dtype=np.int64), single, guards, full | guards)

    def code(self, counts: Iterable[tuple[int, int]]) -> int:
        """The code of some counts by place."""
        return sum(count << self.shifts[place] for place, count in counts)


@dataclass
class States:
    """What one batch can make so far; see `load_kernels.py`."""

    codes: Numbers = field(init=False)
    costs: Numbers = field(init=False)
    spent: Floats = field(init=False)
    record: Numbers = field(init=False)
    before: Numbers = field(init=False)
    taken: Numbers = field(init=False)
    table: Numbers = field(init=False)
    sizes: Numbers = field(init=False)

    def __post_init__(self) -> None:
        self.codes, self.costs, self.record = (np.zeros(FIRST_ROOM, dtype=np.int64) for _ in range(3))
        self.spent = np.zeros(FIRST_ROOM)
        self.before, self.taken = (np.full(FIRST_ROOM, NONE, dtype=np.int64) for _ in range(2))
        self.sizes = np.array([1, 1], dtype=np.int64)  # nothing made, by no set
        self._tabled()

    def _tabled(self) -> None:
        self.table = np.full(1 << (2 * len(self.codes)).bit_length(), NONE, dtype=np.int64)
        enter(self.codes, int(self.sizes[0]), self.table)

    def grow(self, by: int) -> None:
        """Make room for so many more states and records.

        Raises
        ------
        TooManyWays
            When there would be too many.
        """
        states, records = self.sizes.tolist()
        if max(states, records) + by > MOST_STATES:
            raise TooManyWays
        if states + by > len(self.codes):
            more = 2 * (states + by) - len(self.codes)
            self.codes, self.costs, self.spent, self.record = (
                np.concatenate([one, np.zeros(more, dtype=one.dtype)])
                for one in (self.codes, self.costs, self.spent, self.record)
            )
            self._tabled()
        if records + by > len(self.before):
            more = 2 * (records + by) - len(self.before)
            empty = np.full(more, NONE, dtype=np.int64)
            self.before, self.taken = np.concatenate([self.before, empty]), np.concatenate([self.taken, empty])

    @property
    def store(self) -> tuple[Numbers, Numbers, Floats, Numbers, Numbers, Numbers, Numbers, Numbers]:
        """As `extend` takes it."""
        mine = (self.codes, self.costs, self.spent, self.record)
        return *mine, self.table, self.before, self.taken, self.sizes

    def sets_of(self, record: int) -> list[int]:
        """Numbers of the sets put on, the last first."""
        found = []
        while record > 0:
            found.append(int(self.taken[record]))
            record = int(self.before[record])
        return found


@dataclass(frozen=True)
class Sets:
    """Sets of pieces listed for one class, those first that take least of the gap.

    Parameters
    ----------
    codes
        Their pieces.
    costs
        In parts of a penny.
    losses
        What each takes of the gap, pence.
    least
        The same with what the groups that it holds pieces of lose at least.
    groups
        Bits of those groups.
    numbers
        Which sets they are.
    """

    codes: Numbers
    costs: Numbers
    losses: Floats
    least: Floats
    groups: Numbers
    numbers: Numbers

    @property
    def arrays(self) -> tuple[Numbers, Numbers, Floats, Floats, Numbers, Numbers]:
        """As the kernel takes them."""
        return self.codes, self.costs, self.losses, self.least, self.groups, self.numbers


class Assembly:
    """One batch, source by source.

    Parameters
    ----------
    fields
        Of its piece types.
    groups
        Masks of fields that belong to one group each.
    slacks
        By bits of those groups: what they take of the gap together at least, pence.
    limit
        The gap, pence.
    budget
        Work and clock.
    """

    def __init__(self, fields: Fields, groups: Numbers, slacks: Floats, limit: float, budget: Budget) -> None:
        self.states = States()
        self._fields, self._groups, self._slacks, self._limit = fields, groups, slacks, limit
        self._budget, self._pairs = budget, 0

    def leave(self, taken: float) -> None:
        """Leave a source whole, which takes so much of the gap."""
        self.states.spent[: self.states.sizes[0]] += taken

    def put_on(self, sets: Sets, taken: float) -> None:
        """Give one source one of some sets, or leave it whole, which takes so much of the gap."""
        begun = self._begun(np.flatnonzero(self.states.spent[: self.states.sizes[0]] <= self._limit))
        self.leave(taken)
        self._extend(begun, sets, ascending=False)

    def buy(self, sets: Sets) -> None:
        """Buy sets, any number of each."""
        states = self.states
        pieces = np.zeros(0, dtype=np.int64)
        size = 0
        while True:
            fresh = states.codes[len(pieces) : states.sizes[0]]
            counts = np.zeros(len(fresh), dtype=np.int64)
            for shift, mask in zip(self._fields.shifts, self._fields.masks, strict=True):
                counts += (fresh & mask) >> shift
            pieces = np.concatenate([pieces, counts])
            if size > pieces.max():
                return
            here = (pieces == size) & (states.spent[: len(pieces)] <= self._limit)
            self._extend(self._begun(np.flatnonzero(here)), sets, ascending=True)
            size += 1

    def _begun(self, which: Numbers) -> tuple[Numbers, Numbers, Floats, Numbers]:
        one = self.states
        return one.codes[which], one.costs[which], one.spent[which], one.record[which]

    def _extend(self, begun: tuple[Numbers, Numbers, Floats, Numbers], sets: Sets, *, ascending: bool) -> None:
        fields, states, start = self._fields, self.states, 0
        shape = (fields.masks, fields.single, fields.full, fields.guards)
        while start < len(begun[0]):
            states.grow(len(sets.codes))
            start, pairs = extend(
                begun,
                start,
                sets.arrays,
                ascending,
                (self._limit, self._slacks, self._groups),
                shape,
                states.store,
            )
            self._pairs += pairs
            self._budget.spend(self._pairs // PAIRS_A_UNIT)
            self._pairs %= PAIRS_A_UNIT
            if self._budget.over():
                raise TooManyWays
