"""What listing sets of pieces needs to know of a class of stock before any price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.drops_led import Floats, Numbers
from stockplan.cutting.instance import PieceType, Source
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.recursions import worth_row
from stockplan.cutting.source_kernels import least_losses

# Of tables, about. With sizes of 10 mm they are then made in a tenth of the time, and led by them listing takes a third
# of it. A first pass over M 5, 38 and 41 takes 13.5, 2.8 and 2.2 s of processor at 50 mm, 9.5, 2.5 and 2.1 at 90, 11.7
# on M 5 at 100, since what steps promise too much has to be gone through; over M 3, whose sizes are of 50 mm, 5.6 s at
# 50 mm and 3.7 at 100.
STEP_MM = 90


class Ends(NamedTuple):
    """How drops may end across, and what lies beside by step and by point: see `drops_led.Drop`."""

    ends: Numbers
    worth: Floats
    exact: Floats


class Ground:
    """What listing needs to know of a class of stock before any price.

    Parameters
    ----------
    pricer
        Its recursions.
    most
        By piece type: how many may be needed at all.
    source
        Which of the sources of its recursions; default the only one.
    step
        Points of the grid in a step of the tables that tell what pieces are worth at most; at least 1, the default, and
        no more than the shortest piece has.

    Attributes
    ----------
    first, reach, steps
        By step its first and its last point; by point its step.
    empties, tails
        By step: what a lane of so much with nothing cut of it, and a tail, are worth at most.
    """

    def __init__(
        self, pricer: Pricer, most: Mapping[PieceType, int], source: Source | None = None, step: int = 1
    ) -> None:
        self.pricer = pricer
        if source is None:
            (source,) = pricer.sources
        self.source = source
        self.types = pricer.types
        self.points = pricer.along.room(self.source.length_mm)
        self.lengths = np.array([pricer.along.piece(t.length_mm) for t in self.types], dtype=np.int64)
        self.steps = np.arange(self.points + 1) // step
        self.reach = np.minimum(np.arange(self.points // step + 1) * step + step - 1, self.points)
        self.lengths_in_steps = self.lengths // step
        self.most = np.array([most[t] for t in self.types], dtype=np.int64)
        self.cuts = np.array([float(pricer.instance.costs.rip_pence), float(pricer.instance.costs.crosscut_pence)])
        self.tail = pricer.tail_values(self.source)
        self.losses = np.empty_like(self.tail)
        least_losses(self.tail, self.losses)
        self.empty = pricer.empty_values(self.points)
        self.first = np.arange(len(self.reach)) * step
        # What is left beside pieces whose lengths were rounded down may be so many points less than it seems; and
        # nothing at all, which saves a cut, may be worth more than a little.
        less = (step - 1) * (self.points // max(1, int(self.lengths.min(initial=self.points))))
        self.tails: Floats = self._most(self.tail[None], less)[0]
        self.empties = self._most(self.empty, less)
        self.least_losses = np.empty_like(self.tails)
        least_losses(self.tails, self.least_losses)

    @classmethod
    def in_steps(cls, pricer: Pricer, most: Mapping[PieceType, int], source: Source | None = None) -> Ground:
        """The same with tables in steps where the grid is fine: soon made, and what they promise a little too much."""
        shortest = min((pricer.along.piece(t.length_mm) for t in pricer.types), default=1)
        return cls(pricer, most, source, max(1, min(round(STEP_MM / pricer.along.step_mm), shortest)))

    def _most(self, values: Floats, less: int) -> Floats:
        """By row and step: the most from so many points before the step to its last point."""
        if less == 0 and len(self.reach) == values.shape[1]:
            return values
        ends = np.stack([np.maximum(self.first - less, 0), self.reach + 1], axis=1)
        behind = np.pad(values, ((0, 0), (0, 1)), mode="edge")  # no range begins there
        return np.ascontiguousarray(np.maximum.reduceat(behind, ends.ravel(), axis=1)[:, ::2])

    @cached_property
    def ways_to_lay(self) -> list[list[dict[int, int]]]:
        """By job that may be laid in several ways, by way: how many it needs of each type that it alone needs."""
        groups, fixed = self.pricer.instance.groups, self.pricer.instance.fixed
        users = Counter(t for group in groups for t in {t for demand in group.demands.values() for t in demand})
        found = []
        for group in groups:
            needed = {t for demand in group.demands.values() for t in demand}
            own = [n for n, t in enumerate(self.types) if t in needed and users[t] == 1 and not fixed.get(t)]
            if group.units == 1 and group.several_layouts and own:
                needs = [{n: demand.get(self.types[n], 0) for n in own} for demand in group.demands.values()]
                found.append([way for way in needs if any(way.values())])
        return found

    @cached_property
    def apart(self) -> NDArray[np.bool_]:
        """By type and type: whether they are of two layouts of one job; of no types where no two are."""
        if not self.ways_to_lay:
            return np.zeros((0, 0), dtype=np.bool_)
        found = np.zeros((len(self.types), len(self.types)), dtype=np.bool_)
        for ways in self.ways_to_lay:
            own = list(ways[0])
            is_needed = np.array([[n > 0 for n in way.values()] for way in ways], dtype=np.int64)
            found[np.ix_(own, own)] = is_needed.T @ is_needed == 0
        return found

    def laid_one_way(self, needs: NDArray[np.int8]) -> NDArray[np.bool_]:
        """Of sets, by how many of each type they hold: whether no job has pieces of two of its layouts."""
        fine = np.ones(len(needs), dtype=np.bool_)
        for ways in self.ways_to_lay:
            mine = needs[:, list(ways[0])]
            fits = np.zeros(len(needs), dtype=np.bool_)
            for way in ways:
                fits |= (mine <= list(way.values())).all(axis=1)
            fine &= fits
        return fine

    @cached_property
    def nearly_empty(self) -> Floats:
        """By lane and length: the most that a lane is worth with nothing cut of it, if up to a step shorter, pence."""
        found = self.empty.copy()
        for shorter in range(1, int(self.reach[0]) + 1):
            np.maximum(found[:, shorter:], self.empty[:, :-shorter], out=found[:, shorter:])
        return found

    @cached_property
    def ends(self) -> Ends:
        """What lies beside lanes that add up to so much: what is left, or a lane that takes the rest."""
        pricer, lanes = self.pricer, self.pricer.lanes
        shape = lanes.shapes[self.source.width_mm]
        ends, worths = [], []
        for row in range(1, shape.rows):
            worth = np.empty(self.points + 1)
            worth_row(shape.sides[row - 1], shape.full[row - 1], pricer.rate, pricer.lengths[: self.points + 1], worth)
            ends.append((row, -1))
            worths.append(worth + shape.gifts[row - 1])
        for kept, pairs in shape.takers.items():
            ends.extend((row, lane) for row, lane in pairs.tolist())
            worths.extend([pricer.beside(kept)[: self.points + 1]] * len(pairs))
        found = np.array(ends, dtype=np.int64).reshape(len(ends), 2)
        exact = np.array(worths).reshape(len(ends), self.points + 1)
        return Ends(found, self._most(exact, 0), exact)
