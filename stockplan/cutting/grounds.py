"""What listing sets of pieces needs to know of a class of stock before any price."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import NamedTuple

import numpy as np

from stockplan.cutting.drops_led import Floats, Numbers
from stockplan.cutting.instance import PieceType, Source
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.recursions import worth_row
from stockplan.cutting.source_kernels import least_losses


class Ends(NamedTuple):
    """How drops may end across: see `drops_led.Drop`."""

    ends: Numbers
    worth: Floats


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
    """

    def __init__(self, pricer: Pricer, most: Mapping[PieceType, int], source: Source | None = None) -> None:
        self.pricer = pricer
        if source is None:
            (source,) = pricer.sources
        self.source = source
        self.types = pricer.types
        self.points = pricer.along.room(self.source.length_mm)
        self.lengths = np.array([pricer.along.piece(t.length_mm) for t in self.types], dtype=np.int64)
        self.most = np.array([most[t] for t in self.types], dtype=np.int64)
        self.cuts = np.array([float(pricer.instance.costs.rip_pence), float(pricer.instance.costs.crosscut_pence)])
        self.tail = pricer.tail_values(self.source)
        self.losses = np.empty_like(self.tail)
        least_losses(self.tail, self.losses)
        self.empty = pricer.empty_values(self.points)

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
        return Ends(found, np.array(worths).reshape(len(ends), self.points + 1))
