"""The cheapest way to cut exactly these pieces from one source of a kind: sets of pieces as columns, at their true cost."""

from __future__ import annotations

from dataclasses import dataclass

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


class PieceSets:
    """Costs of sets of pieces on one kind of source, remembered.

    Parameters
    ----------
    kind
        The kind of source.
    """

    def __init__(self, kind: Kind) -> None:
        self.kind = kind
        self._led_by: list[list[DropSet]] = [[] for _ in kind.narrow]
        for one in kind.drop_sets:
            self._led_by[next(i for i, c in enumerate(one.counts) if c)].append(one)
        nothing = (0,) * len(kind.narrow)
        self._arranged: dict[Narrow, tuple[Arrangement, ...]] = {nothing: (Arrangement(0, 0, ()),)}
        self._longer: dict[Narrow, list[tuple[int, DropSet, Arrangement]]] = {}
        self._sorted: dict[tuple[Source, ...], tuple[Source, ...]] = {}

    def arrangements(self, narrow: Narrow) -> tuple[Arrangement, ...]:
        """Ways to cut narrow pieces in drops at lengths of the rule, the longer the cheaper; none longer than a source."""
        if narrow not in self._arranged:
            leader = next(i for i, c in enumerate(narrow) if c)
            found = [
                Arrangement(before.used_mm + length, before.cost + cost, (*before.drops, (one, length)))
                for one in self._led_by[leader]
                if all(map(int.__le__, one.counts, narrow))
                for before in self.arrangements(tuple(map(int.__sub__, narrow, one.counts)))
                for length, cost in one.options
                if before.used_mm + length <= self.kind.longest
            ]
            found.sort(key=lambda a: (a.used_mm, a.cost, len(a.drops)))
            best: list[Arrangement] = []
            for one_way in found:
                if not best or one_way.cost < best[-1].cost:
                    best.append(one_way)
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
        stretchable = self._stretchable(narrow) if any(narrow) else []
        for source in self._by_value(lengths) if stretchable else ():
            if best is not None and base + source.value_pence + stretchable[0][0] >= best.cost + kind.most_tail:
                break
            for kept in kind.tails_at_rule():
                opening = base + source.value_pence - kind.shelf.tail(kept)
                room = source.length_mm - kept - length
                for least, one, before in stretchable:
                    if best is not None and opening + least >= best.cost:
                        break
                    stretched = room - before.used_mm
                    if one.least_mm < stretched <= one.options[-1][0] + kind.reach:
                        cost = one.cost_at(stretched)
                        if cost is not None and (best is None or opening + before.cost + cost < best.cost):
                            drops = (*before.drops, (one, stretched))
                            best = Cheapest(opening + before.cost + cost, source, drops)
        return best

    def _by_value(self, lengths: Lengths) -> tuple[Source, ...]:
        if lengths.sources not in self._sorted:
            self._sorted[lengths.sources] = tuple(sorted(lengths.sources, key=lambda s: (s.value_pence, s.length_mm)))
        return self._sorted[lengths.sources]

    def _stretchable(self, narrow: Narrow) -> list[tuple[int, DropSet, Arrangement]]:
        """Every way to have one drop longer than its options, with a cost no length of it beats; the cheapest first."""
        if narrow not in self._longer:
            found = []
            for one in (one for led in self._led_by for one in led):
                saved = [stretch for _, _, stretch in one.useful if stretch is not None]
                if saved and all(map(int.__le__, one.counts, narrow)):
                    cheapest = one.cost_at(self.kind.longest)
                    least = min(one.options[-1][1], one.options[-1][1] if cheapest is None else cheapest)
                    others = self.arrangements(tuple(map(int.__sub__, narrow, one.counts)))
                    found.extend((before.cost + least, one, before) for before in others)
            self._longer[narrow] = sorted(found, key=lambda entry: entry[0])
        return self._longer[narrow]

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
