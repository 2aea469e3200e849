"""Kinds of source: sources alike in all but length, and the pieces they can make, sorted into solos and drop sets.

A solo takes a whole drop of its own: it is as wide as the source, or so nearly that nothing fits beside it and what is
left there is worth nothing. Everything else a source makes comes from drop sets (`drop_tables.py`).
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.drop_sets import LENGTHS_OF_THE_RULE, Shelf, TooManyWays
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.domain.stock import CUT_LENGTH_LEAST_MM, CUT_LENGTH_STEP_MM, SupplyForm
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

MOST_NARROW = 20  # types; beyond, their ways in lanes are surely too many
Floats = NDArray[np.float64]
NEVER = 1e15


@dataclass(frozen=True)
class Lengths:
    """The sources of one kind that are one class of the master program: stock of one length, or all that is on offer.

    Parameters
    ----------
    sources
        One stock class, or every length of one supply option.
    opening
        For each number of steps used: what the source costs less what its tail is worth; the cheapest source that holds
        so much. A tail of nothing saves a crosscut.
    which
        For each number of steps used, index in `sources` of that cheapest one.
    stretched
        The same where one drop is made longer until what is left is nothing, or just at a size of the rule of worth.
    """

    sources: tuple[Source, ...]
    opening: Floats
    stretched: Floats
    which: NDArray[np.int64]

    @property
    def copies(self) -> int | None:
        """How many there are; None when unlimited."""
        return self.sources[0].copies


class Kind:
    """Sources of one batch, width, unit cost, core and gate.

    Parameters
    ----------
    instance
        The problem.
    sources
        The sources.
    most
        By piece type: how many may be needed at all.
    step_mm
        A step that divides every length of a piece or source, and those of the rule of worth.

    Raises
    ------
    TooManyWays
        When there are so many narrow types that their ways in lanes are surely too many.
    """

    def __init__(
        self,
        instance: Instance,
        sources: list[Source],
        most: Mapping[PieceType, int],
        step_mm: int,
    ) -> None:
        self.instance, self.sources, self.step = instance, tuple(sources), step_mm
        self.width = sources[0].width_mm
        self.longest = max(s.length_mm for s in sources)
        made = [t for t in sorted(most, key=_size) if any(s.makes(t) for s in sources)]
        narrowest = min((t.width_mm for t in made), default=0)
        self.solos = tuple(t for t in made if self.width - t.width_mm < min(LEAST_WIDTH_MM, max(1, narrowest)))
        self.narrow = tuple(t for t in made if t not in self.solos)
        self.most = {t: most[t] for t in made}
        if len(self.narrow) > MOST_NARROW:
            raise TooManyWays
        self.shelf = Shelf(instance, sources[0])
        self.stretches_far = self._stretches_far()
        self.reach = max(LENGTHS_OF_THE_RULE) if self.stretches_far else LEAST_LENGTH_MM
        if self.shelf.tail(LEAST_LENGTH_MM) <= self.shelf.crosscut or self._is_twice_full_width():
            # A tail is worth no more than the cut it takes, or than it is beside the pieces: a drop may take all of it.
            self.reach = self.longest
        elif self._by_the_metre():
            # Grass bought by the metre costs more than it is worth left over: no drop is longer than rounding makes it,
            # or the least that is sold, where the pieces take less.
            shortest = min((t.length_mm for t in made), default=CUT_LENGTH_LEAST_MM)
            self.reach = max(CUT_LENGTH_STEP_MM, CUT_LENGTH_LEAST_MM - shortest)

    @property
    def batch(self) -> int:
        """Index of the batch."""
        return self.sources[0].batch

    def _by_the_metre(self) -> bool:
        option = self.sources[0].option
        return option is not None and self.instance.supply[option].form is SupplyForm.CUT_LENGTH

    def _is_twice_full_width(self) -> bool:
        """Whether it may be ripped in two that both count as full width, as an offcut of a wider roll of old may be."""
        return self.width >= 2 * self.shelf.full_from and not self._by_the_metre()

    def _stretches_far(self) -> bool:
        """Whether a longer drop might gain more than a tail that is kept loses.

        Steepest gain of leftovers that share the width with at least the narrowest piece, against the flattest loss of
        the tail, both by the metre; see domain.worth.
        """
        if not self.narrow or not self.instance.costs.leftovers_have_worth:
            return False
        if self._is_twice_full_width():
            return True
        longest = min(max(LENGTHS_OF_THE_RULE), self.longest)

        def gain(width: int) -> int:
            worth = self.shelf.worth
            return worth(width, longest) - worth(width, longest - 100) + 2 if longest >= LEAST_LENGTH_MM + 100 else 0

        narrowest = min(t.width_mm for t in self.narrow)
        ends = (LEAST_LENGTH_MM, *LENGTHS_OF_THE_RULE[1:])
        loss = min(self.shelf.tail(end + 100) - self.shelf.tail(end) for end in ends) - 2
        lanes = (narrowest, max(narrowest, LEAST_WIDTH_MM))  # narrower ones leave nothing of worth at their end
        return max(gain(self.width - lane) + gain(lane) for lane in lanes) > loss

    @cached_property
    def lengths(self) -> tuple[Lengths, ...]:
        """The classes of the master program."""
        if self.sources[0].copies is None:
            return (self._class_of(self.sources),)
        return tuple(self._class_of((s,)) for s in self.sources)

    @cached_property
    def _tails(self) -> Floats:
        """Worth of a tail of so many steps; every source has the same, and there may be hundreds of thirty metres."""
        return np.array([float(self.shelf.tail(steps * self.step)) for steps in range(self.longest // self.step + 1)])

    def _class_of(self, sources: tuple[Source, ...]) -> Lengths:
        steps = max(s.length_mm for s in sources) // self.step
        opening, which = np.full(steps + 1, NEVER), np.zeros(steps + 1, dtype=np.int64)
        stretched = np.full(steps + 1, NEVER)
        for number, source in enumerate(sources):
            room = source.length_mm // self.step
            values = source.value_pence - self._tails[room::-1]
            better = values < opening[: room + 1]
            opening[: room + 1][better] = values[better]
            which[: room + 1][better] = number
            for kept in self.tails_at_rule():
                last = (source.length_mm - kept) // self.step
                first = max(0, last - self.reach // self.step + 1)
                if last > 0:
                    part = stretched[first:last]
                    np.minimum(part, source.value_pence - self.shelf.tail(kept), out=part)
        return Lengths(sources, opening, stretched, which)

    def tails_at_rule(self) -> tuple[int, ...]:
        """Lengths of tail that may be best while a drop is longer than any of its options, mm."""
        return (0, *LENGTHS_OF_THE_RULE) if self.stretches_far else (0,)


def _size(piece: PieceType) -> tuple[int, int, list[int], bool]:
    return (piece.width_mm, piece.length_mm, sorted(piece.options), piece.pinned)


def kinds_of(instance: Instance, most_steps: int) -> list[Kind] | None:
    """Every kind of source of a problem; None when it is too large for sets to be listed.

    Parameters
    ----------
    instance
        The problem.
    most_steps
        Most steps that the longest source may have.
    """
    most = most_needed(instance)
    sizes = [s.length_mm for s in instance.sources] + [t.length_mm for t in most]
    step = math.gcd(*sizes, *LENGTHS_OF_THE_RULE)
    if max(sizes, default=0) > most_steps * step:
        return None
    alike: defaultdict[tuple[int, int, float, bool, int | None], list[Source]] = defaultdict(list)
    for s in instance.sources:
        alike[s.batch, s.width_mm, s.unit_cost.pence / s.unit_cost.area_mm2, s.on_core, s.gate].append(s)
    kinds = []
    for sources in alike.values():
        try:
            kind = Kind(instance, sources, most, step)
        except TooManyWays:
            return None
        if kind.most:
            kinds.append(kind)
    return kinds


def most_needed(instance: Instance) -> Counter[PieceType]:
    """By piece type: how many all choices together could need."""
    most: Counter[PieceType] = Counter(instance.fixed)
    for group in instance.groups:
        of_group: dict[PieceType, int] = {}
        for demand in group.demands.values():
            for piece, count in demand.items():
                for way in instance.ways_to_have(piece):
                    of_group[way] = max(count, of_group.get(way, 0))
        for piece, count in of_group.items():
            most[piece] += count * group.units
    return most
