"""Which widths lanes of a drop may have, and what they add up to: what the pricing recursions know before any price.

A lane wider than its widest piece can pay: width too narrow to keep beside the lane may be worth keeping as part of
what is left at the lane's end. Where worth bends upward between the sizes of its rule (`drop_sets.py`), all lanes of a
best drop but one are as wide as some piece, or so that a sliver or their end is just worth keeping; the one takes what
they leave, but for nothing or what is just worth keeping beside. Else lanes of every width on the grid are tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.grid import Grid
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.recursions import NEVER
from stockplan.cutting.worths import loose_worth
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_WIDTH_MM

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Shape:
    """What recursion D needs to know of one width of source.

    Parameters
    ----------
    rows
        How many rows of K lie within the width, the first, of no lanes, included.
    sides, full, gifts
        For those rows but the first: width left beside, mm, whether it counts as full, and cuts given back, pence.
    takers
        By width kept beside, mm: a row of K and the lane that takes the rest; shape (pairs, 2).
    """

    rows: int
    sides: Floats
    full: NDArray[np.bool_]
    gifts: Floats
    takers: dict[int, Integers]


class Lanes:
    """The lanes that sources of one batch and one unit cost can be ripped into.

    `widths` are those of all lanes, mm, ascending; `valued` the width at which what each leaves is valued. `chain`
    are the places of those that may lie beside others, `chain_points` their widths in points. `sums` are the widths
    that those add up to, in points; `row_of` says by width which row of K is its, -1 where there is none. `trim` is
    what trimming piece t out of lane k brings in slivers, less the cut, and `NEVER` where it does not fit. `calls_for`
    says whether a lane that holds piece t may be as wide as k for its sake: but for one that takes the rest none is as
    wide as no piece of it calls for. `shapes` has a `Shape` for each width of source, mm.

    Parameters
    ----------
    instance
        The problem.
    sources
        At least one.
    types
        Every piece type they may have to make.
    across
        The grid.
    taken
        Let one lane of a drop take what the others leave, instead of trying lanes of every width on the grid.
    """

    def __init__(
        self,
        instance: Instance,
        sources: Sequence[Source],
        types: Sequence[PieceType],
        across: Grid,
        *,
        taken: bool,
    ) -> None:
        self._across = across
        self._types = [self._on_grid(t.width_mm) for t in types]
        self._pieces = sorted(set(self._types))
        self._sources = sorted({s.width_mm for s in sources})
        self._full_from = -(-instance.widest_mm * FULL_WIDTH_PERCENT // 100)
        beside = self._usual() if taken else self._possible()
        self.row_of, self.sums = self._sums_of(beside)
        self.widths = sorted({*beside, *(self._takers() if taken else ())})
        # On a grid that does not carry all widths a lane stands for all up to the next, and is valued as the widest.
        self.valued = [w + (across.step_mm - 1 if across.relaxed else 0) for w in self.widths]
        chain = set(beside)
        self.chain = np.array([k for k, w in enumerate(self.widths) if w in chain], dtype=np.int64)
        self.chain_points = np.array([across.piece(self.widths[k]) for k in self.chain], dtype=np.int64)
        self.trim = self._trim_worths(instance, sources[0], types)
        self.calls_for = self._called_for() if taken else np.ones_like(self.trim, dtype=np.bool_)
        rip = float(instance.costs.rip_pence)
        self.shapes = {w: self._shape(w, rip, taken=taken) for w in self._sources} if types else {}

    def _on_grid(self, width_mm: int) -> int:
        """A width, or where the grid does not carry it the next lower that it does."""
        return self._across.piece(width_mm) * self._across.step_mm if self._across.relaxed else width_mm

    def _possible(self) -> list[int]:
        """Widths a lane may have, mm: those of pieces and whole sources, and all others on the grid."""
        if not self._pieces:
            return []
        narrowest, step = self._pieces[0], self._across.step_mm
        usual = {*self._pieces, *(self._on_grid(w) for w in self._sources if w >= narrowest)}
        return sorted(usual | set(range(-(-narrowest // step) * step, self._sources[-1] + 1, step)))

    def _usual(self) -> list[int]:
        """Widths of lanes beside one that takes the rest: of pieces, or so that a leftover is just worth keeping."""
        usual = {*self._pieces, *(w + LEAST_WIDTH_MM for w in self._pieces), LEAST_WIDTH_MM}
        return sorted(w for w in usual if min(self._pieces, default=0) <= w <= self._sources[-1])

    def _takers(self) -> set[int]:
        """Every width that a lane which takes the rest may have, mm."""
        narrowest = min(self._pieces, default=0)
        rest = {
            self._rest_of(width, u) - kept for width in self._sources for u in self.sums for kept in (0, LEAST_WIDTH_MM)
        }
        return {w for w in rest if w >= narrowest > 0}

    def _rest_of(self, width_mm: int, points: int) -> int:
        """What lanes of so many points leave of a source's width on the grid, mm."""
        return self._on_grid(width_mm) - points * self._across.step_mm

    def _sums_of(self, lanes: Iterable[int]) -> tuple[Integers, list[int]]:
        """The widths that lanes can add up to, in points, and by width its row in K, -1 where they cannot."""
        room = self._across.room(self._sources[-1])
        reached = 1
        for w in {self._across.piece(lane) for lane in lanes}:
            for _ in range(room // w):
                reached |= reached << w
        sums = [u for u in range(room + 1) if reached >> u & 1]
        row_of = np.full(room + 1, -1, dtype=np.int64)
        row_of[sums] = np.arange(len(sums))
        return row_of, sums

    def _trim_worths(self, instance: Instance, source: Source, types: Sequence[PieceType]) -> Floats:
        gain = np.full((len(self.widths), len(types)), NEVER)
        widths, valued = np.array(self.widths), np.array(self.valued)
        for t, piece in enumerate(types):
            wider = np.flatnonzero(widths > self._types[t])
            slivers = valued[wider] - self._types[t]
            worth = loose_worth(instance, source, slivers, np.array([piece.length_mm]))
            gain[wider, t] = worth[:, 0] - float(instance.costs.rip_pence)
            gain[widths == self._types[t], t] = 0.0
        return gain

    def _called_for(self) -> NDArray[np.bool_]:
        """By lane and type: whether it is just as wide, or its sliver beside the piece or its end is worth keeping."""
        wider = np.subtract.outer(np.array(self.widths), np.array(self._types))
        ends = np.array(self.widths)[:, None] == LEAST_WIDTH_MM
        return np.asarray((wider == 0) | (wider == LEAST_WIDTH_MM) | ends)

    def _shape(self, width_mm: int, rip: float, *, taken: bool) -> Shape:
        room = self._across.room(width_mm)
        sums = [u for u in self.sums if u <= room]
        sides = np.array([float(self._across.millimetres(room - u)) for u in sums[1:]])
        narrow = self._across.lost(room, self._pieces[0])
        gifts = np.array([rip if room - u <= narrow else 0.0 for u in sums[1:]])
        lane = {w: k for k, w in enumerate(self.widths)}
        takers = {}
        for kept in (0, LEAST_WIDTH_MM) if taken else ():
            rests = [(row, lane.get(self._rest_of(width_mm, u) - kept)) for row, u in enumerate(sums)]
            found = [(row, k) for row, k in rests if k is not None]
            takers[kept] = np.array(found, dtype=np.int64).reshape(len(found), 2)
        return Shape(len(sums), sides, sides >= self._full_from, gifts, takers)
