"""Drop sets as arrays: the ways to lay each set of narrow pieces in lanes, and the lengths of a drop that can be best.

The mathematics is in `drop_sets.py`, the loops are compiled in `drop_kernels.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.drop_kernels import (
    AREA,
    CROSSCUT,
    FULL_WIDTH,
    HAS_WORTH,
    L_COUNT,
    L_PIECES,
    L_USED,
    L_WIDTH,
    MOST_FRONT,
    ON_CORE,
    PENCE,
    RIP,
    STEP,
    TOO_MANY,
    WIDTH,
    Drops,
    least_loss,
)
from stockplan.cutting.drop_set_kernels import cost_at, every_way, settle
from stockplan.cutting.drop_sets import Lanes, TooManyWays, every_lane
from stockplan.cutting.kinds import Kind
from stockplan.cutting.load_kernels import NONE, lowest_field
from stockplan.cutting.load_states import Fields
from stockplan.cutting.patterns import DropPattern, LanePattern

MOST_LANES = 20_000
MOST_WAYS = 1_000_000
WAYS_A_SLICE = 5_000

Numbers = NDArray[np.int64]


class DropTables:
    """The drop sets of one kind of source.

    Parameters
    ----------
    kind
        The kind.
    should_stop
        Asked now and then.

    Raises
    ------
    TooManyWays
        When there are too many, or it has to stop.
    """

    def __init__(self, kind: Kind, should_stop: Callable[[], bool]) -> None:
        self.kind, self._should_stop = kind, should_stop
        most = [kind.most[t] for t in kind.narrow]
        self.fields = Fields.of(most)
        self._types = np.array([[t.width_mm for t in kind.narrow], [t.length_mm for t in kind.narrow]], dtype=np.int64)
        self.depth = max(1, min(sum(most), kind.width // min((t.width_mm for t in kind.narrow), default=kind.width)))
        self._lay(most)
        self._settle()
        self._known: dict[tuple[int, int], DropPattern] = {}

    @property
    def arrays(self) -> tuple[Drops, Numbers, Numbers]:
        """Drops, ways and each set's first way, as the kernels take them."""
        return (self._ground, self._types, self._lanes, self.losses), self._ways, self._starts

    @cached_property
    def _ground(self) -> Numbers:
        kind, costs = self.kind, self.kind.instance.costs
        source = kind.sources[0]
        ground = np.zeros(9, dtype=np.int64)
        ground[WIDTH], ground[FULL_WIDTH], ground[ON_CORE] = kind.width, kind.shelf.full_from, source.on_core
        ground[HAS_WORTH] = costs.leftovers_have_worth
        ground[PENCE], ground[AREA] = source.unit_cost.pence, source.unit_cost.area_mm2
        ground[CROSSCUT], ground[RIP] = costs.crosscut_pence, costs.rip_pence
        ground[STEP] = kind.step
        return ground

    def _lay(self, most: list[int]) -> None:
        """Every lane, every way to lay lanes side by side, and the sets they hold, by the first type of each."""
        kind, fields = self.kind, self.fields
        lanes = every_lane(kind.narrow, most, kind.longest, kind.width, MOST_LANES)
        pieces = max((len(lane.pieces) for lane in lanes), default=0)
        place = {t: n for n, t in enumerate(kind.narrow)}
        self._lanes = np.full((len(lanes), L_PIECES + pieces), NONE, dtype=np.int64)
        for row, lane in zip(self._lanes, lanes, strict=True):
            row[L_WIDTH], row[L_USED], row[L_COUNT] = lane.width, lane.used, len(lane.pieces)
            row[L_PIECES : L_PIECES + len(lane.pieces)] = [place[t] for t in lane.pieces]
        codes = np.array([fields.code(enumerate(lane.counts)) for lane in lanes], dtype=np.int64)
        ways, way_sets, set_codes = self._every_way(codes)
        leaders = np.array([lowest_field(code, fields.masks) for code in set_codes.tolist()], dtype=np.int64)
        order = np.lexsort((set_codes, leaders))
        self.codes = set_codes[order]
        self.led = np.searchsorted(leaders[order], np.arange(len(kind.narrow) + 1))
        number = np.empty(len(order), dtype=np.int64)
        number[order] = np.arange(len(order))
        by_set = np.argsort(number[way_sets], kind="stable")
        self._ways = ways[by_set]
        self._starts = np.searchsorted(number[way_sets][by_set], np.arange(len(order) + 1))
        needs = [(self.codes & mask) >> shift for mask, shift in zip(fields.masks, fields.shifts, strict=True)]
        # Always by rows: what is compiled for them by columns would be compiled once more for a single column.
        self.needs = np.ascontiguousarray(np.array(needs, dtype=np.int64).T.reshape(len(order), len(kind.narrow)))

    def _every_way(self, codes: Numbers) -> tuple[Numbers, Numbers, Numbers]:
        shape = (self.kind.width, self.fields.single, self.fields.full, self.fields.guards)
        size = 4_096
        while size <= MOST_WAYS:
            if self._should_stop():
                break
            ways, way_sets = np.empty((size, self.depth), dtype=np.int64), np.empty(size, dtype=np.int64)
            set_codes, table = np.empty(size, dtype=np.int64), np.full(2 * size, NONE, dtype=np.int64)
            count, sets = every_way(self._lanes, codes, shape, ways, way_sets, set_codes, table)
            if count != TOO_MANY:
                return ways[:count], way_sets[:count], set_codes[:sets]
            size *= 4
        raise TooManyWays

    def _settle(self) -> None:
        """The lengths of every set that can be best."""
        found: list[Numbers] = []
        most = int(np.diff(self._starts).max(initial=0))
        room = np.empty((4, most * (3 * self.depth + 4)), dtype=np.int64)
        space = np.empty((2, MOST_FRONT, 2), dtype=np.int64)
        begin = 0
        while begin < len(self.codes):
            if self._should_stop():
                raise TooManyWays
            end = int(np.searchsorted(self._starts, self._starts[begin] + WAYS_A_SLICE, side="right")) - 1
            end = min(max(end, begin + 1), len(self.codes))
            starts = self._starts[begin : end + 1]
            options = np.empty(((starts[-1] - starts[0]) * (3 * self.depth + 4), 3), dtype=np.int64)
            total = settle(self.arrays[0], self._ways, starts, self.kind.longest, room, space, options)
            if total == TOO_MANY:
                raise TooManyWays
            options[:total, 0] += begin
            found.append(options[:total].copy())
            begin = end
        self.options = np.concatenate(found) if found else np.empty((0, 3), dtype=np.int64)
        self.first_option = np.searchsorted(self.options[:, 0], np.arange(len(self.codes) + 1))
        self.shortest = self.options[self.first_option[:-1], 1]
        self.longest = self.options[self.first_option[1:] - 1, 1]

    @cached_property
    def losses(self) -> Numbers:
        """By steps of length: at least how much a tail loses by being so much shorter, pence; see `least_loss`."""
        ground, step = self._ground, self.kind.step
        return np.array([least_loss(ground, n * step) for n in range(self.kind.longest // step + 1)], dtype=np.int64)

    def cost_at(self, s: int, length: int) -> int:
        """Least cost of a drop of a set at one length, pence."""
        space = np.empty((2, MOST_FRONT, 2), dtype=np.int64)
        cost = cost_at(self.arrays[0], self._ways, int(self._starts[s]), int(self._starts[s + 1]), length, space)
        if cost == TOO_MANY:
            raise TooManyWays
        return cost

    def drop(self, s: int, length: int) -> DropPattern:
        """The cheapest drop of a set at one length, remembered."""
        if (s, length) not in self._known:
            space = np.empty((2, MOST_FRONT, 2), dtype=np.int64)
            ways = range(int(self._starts[s]), int(self._starts[s + 1]))
            way = min(ways, key=lambda w: cost_at(self.arrays[0], self._ways, w, w + 1, length, space))
            rows = [self._lanes[lane] for lane in self._ways[way].tolist() if lane != NONE]
            pieces = [tuple(self.kind.narrow[p] for p in row[L_PIECES : L_PIECES + row[L_COUNT]]) for row in rows]
            lanes = Lanes(tuple(int(r[L_WIDTH]) for r in rows), tuple(int(r[L_USED]) for r in rows), tuple(pieces))
            _, widths = self.kind.shelf.best(lanes, length)
            self._known[s, length] = DropPattern(length, tuple(map(LanePattern, widths, pieces)))
        return self._known[s, length]
