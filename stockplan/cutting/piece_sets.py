"""The cheapest way to cut exactly these pieces from one source of a kind: sets of pieces at their true cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.drop_sets import DropSet
from stockplan.cutting.instance import Source
from stockplan.cutting.kinds import Kind, Lengths
from stockplan.cutting.knapsack import Needs
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern

Narrow = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Drops for a set of narrow pieces: the length they take together, their cost, and each set with its length."""

    used_mm: int
    cost: int
    drops: tuple[tuple[DropSet, int], ...]


@dataclass(frozen=True, slots=True)
class Cheapest:
    """The cheapest way to cut a set of pieces from one of some sources."""

    cost: int
    source: Source
    drops: tuple[tuple[DropSet, int], ...]


def _counts(sets: Sequence[DropSet], types: int) -> NDArray[np.int64]:
    """Pieces of each set: a row a set, a column a narrow type."""
    return np.array([one.counts for one in sets], dtype=np.int64).reshape(len(sets), types)


class _Shapes:
    """Drop sets that may be stretched, as arrays: pieces, and how long a drop and what goes beside it can be.

    Parameters
    ----------
    kind
        The kind of source.
    """

    def __init__(self, kind: Kind) -> None:
        self.sets = [one for one in kind.drop_sets if any(stretch is not None for _, _, stretch in one.useful)]
        self.counts = np.array([one.counts for one in self.sets], dtype=np.int64).reshape(
            len(self.sets), len(kind.narrow)
        )
        self.areas = np.array([t.width_mm * t.length_mm for t in kind.narrow], dtype=np.int64)
        extra = max((one.options[-1][0] - one.least_mm for one in kind.drop_sets), default=0)
        self.longest = np.array([t.length_mm + extra for t in kind.narrow], dtype=np.int64)
        self.least = np.array([one.least_mm for one in self.sets], dtype=np.int64)
        self.furthest = np.array([one.options[-1][0] + kind.reach for one in self.sets], dtype=np.int64)
        self.area = self.counts @ self.areas
        self.most = self.counts @ self.longest
        self._within: dict[Narrow, NDArray[np.int64]] = {}

    def within(self, narrow: Narrow) -> NDArray[np.int64]:
        """Numbers of the sets whose pieces are among these."""
        if narrow not in self._within:
            fits = (self.counts <= np.array(narrow, dtype=np.int64)).all(axis=1)
            self._within[narrow] = np.flatnonzero(fits)
        return self._within[narrow]


class PieceSets:
    """Costs of sets of pieces on one kind of source, remembered.

    Parameters
    ----------
    kind
        The kind of source.
    """

    def __init__(self, kind: Kind) -> None:
        self.kind = kind
        led_by: list[list[DropSet]] = [[] for _ in kind.narrow]
        for one in kind.drop_sets:
            led_by[next(i for i, c in enumerate(one.counts) if c)].append(one)
        self._led_by = [(led, _counts(led, len(kind.narrow))) for led in led_by]
        nothing = (0,) * len(kind.narrow)
        self._arranged: dict[Narrow, tuple[Arrangement, ...]] = {nothing: (Arrangement(0, 0, ()),)}
        self._shapes = _Shapes(kind)

    def arrangements(self, narrow: Narrow) -> tuple[Arrangement, ...]:
        """Ways to cut narrow pieces in drops at lengths of the rule, the longer the cheaper."""
        if narrow not in self._arranged:
            leader = next(i for i, c in enumerate(narrow) if c)
            led, counts = self._led_by[leader]
            fits = np.flatnonzero((counts <= np.array(narrow, dtype=np.int64)).all(axis=1)).tolist()
            found = [
                Arrangement(before.used_mm + length, before.cost + cost, (*before.drops, (one, length)))
                for one in map(led.__getitem__, fits)
                for before in self.arrangements(tuple(map(int.__sub__, narrow, one.counts)))
                for length, cost in one.options
                if before.used_mm + length <= self.kind.longest
            ]
            found.sort(key=lambda a: (a.used_mm, a.cost, len(a.drops)))
            best: list[Arrangement] = []
            # A longer way may end just where the source does, which saves a crosscut.
            least = found[0].cost + self.kind.instance.costs.crosscut_pence if found else 0
            for one_way in found:
                if not best or (one_way.used_mm > best[-1].used_mm and one_way.cost < least):
                    best.append(one_way)
                    least = min(least, one_way.cost + self.kind.instance.costs.crosscut_pence)
            self._arranged[narrow] = tuple(best)
        return self._arranged[narrow]

    def cheapest(self, needs: Needs, lengths: Lengths) -> Cheapest | None:
        """The cheapest way to cut exactly these pieces; None when they do not fit.

        Parameters
        ----------
        needs
            How many of each type, solos first.
        lengths
            The sources to choose from.
        """
        kind, costs = self.kind, self.kind.instance.costs
        solos, narrow = needs[: len(kind.solos)], needs[len(kind.solos) :]
        length = sum(n * t.length_mm for n, t in zip(solos, kind.solos, strict=True))
        widths = {t.width_mm for n, t in zip(solos, kind.solos, strict=True) if n and t.width_mm < kind.width}
        base = sum(solos) * costs.crosscut_pence + len(widths) * costs.rip_pence
        best: Cheapest | None = None
        for way in self.arrangements(narrow):
            steps = (length + way.used_mm) // kind.step
            if steps < len(lengths.opening) and (total := base + way.cost + int(lengths.opening[steps])) < (
                best.cost if best else total + 1
            ):
                best = Cheapest(total, lengths.sources[int(lengths.which[steps])], way.drops)
        return self._stretched(narrow, length, base, lengths, best)

    def _stretched(
        self, narrow: Narrow, length: int, base: int, lengths: Lengths, best: Cheapest | None
    ) -> Cheapest | None:
        """The cheapest way where one drop is longer than its options, if that beats the best so far."""
        shapes = self._shapes
        mine = shapes.within(narrow)
        if not mine.size:
            return best
        counts = np.array(narrow, dtype=np.int64)
        shortest = shapes.least[mine] + -(-(counts @ shapes.areas - shapes.area[mine]) // self.kind.width)
        longest = shapes.furthest[mine] + counts @ shapes.longest - shapes.most[mine]
        for source in lengths.sources:
            for kept in self.kind.tails_at_rule():
                room = source.length_mm - kept - length
                opening = base + source.value_pence - self.kind.shelf.tail(kept)
                for place in mine[(shortest < room) & (room <= longest)].tolist():
                    best = self._with_stretched(shapes.sets[place], narrow, room, opening, source, best)
        return best

    def _with_stretched(
        self, one: DropSet, narrow: Narrow, room: int, opening: int, source: Source, best: Cheapest | None
    ) -> Cheapest | None:
        for before in self.arrangements(tuple(map(int.__sub__, narrow, one.counts))):
            stretched = room - before.used_mm
            if not one.least_mm < stretched <= one.options[-1][0] + self.kind.reach:
                continue
            cost = one.cost_at(stretched)
            if cost is not None and (best is None or opening + before.cost + cost < best.cost):
                best = Cheapest(opening + before.cost + cost, source, (*before.drops, (one, stretched)))
        return best

    def pattern(self, needs: Needs, cheapest: Cheapest) -> Pattern:
        """The pattern of a set of pieces cut at its cheapest."""
        kind = self.kind
        solo_drops: list[DropPattern] = []
        by_width: dict[int, list[int]] = {}
        for place, count in enumerate(needs[: len(kind.solos)]):
            by_width.setdefault(kind.solos[place].width_mm, []).extend([place] * count)
        for width, places in sorted(by_width.items(), reverse=True):
            pieces = tuple(kind.solos[p] for p in sorted(places, key=lambda p: -kind.solos[p].length_mm))
            if width == kind.width:
                solo_drops.extend(DropPattern(t.length_mm, (LanePattern(width, (t,)),)) for t in pieces)
            elif pieces:
                lane = LanePattern(width, pieces)
                solo_drops.append(DropPattern(lane.used_mm, (lane,)))
        drops = [one.drop_at(length) for one, length in cheapest.drops]
        drops.sort(key=lambda d: -d.length_mm)
        return Pattern(cheapest.source, (*solo_drops, *drops))
