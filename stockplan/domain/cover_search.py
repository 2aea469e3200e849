"""The cheapest sources for a few pieces: one source, several of one batch, or one seam along the pile.

Sources are tried in the order of a bound on what they can cost at least, and the search ends when that bound is above
the answers in hand: the answers are the cheapest there are, as `small_cuts` reckons.

The bound. A piece of w × l leaves two sorts of rectangles in W × L: those beyond it are at most L − l long, those
beside it at most W − w wide. The worth of a square metre never falls as a leftover grows, so the first are worth at
most what W × (L − l) is worth for its area, the second at most what (W − w) × L is.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import count, islice
from math import prod
from typing import TypeVar

from stockplan.domain.cover import Take
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, Size, boxes, with_first
from stockplan.domain.request import CostSettings
from stockplan.domain.small_cuts import Cutter, SmallCut
from stockplan.domain.worth import LEAST_WIDTH_MM, UnitCost

Found = TypeVar("Found")


def work_of(pieces: Pieces) -> int:
    """How much work it is to cut some pieces from one source in the cheapest way, where a single piece counts 3."""
    kinds = [pieces.count(size) for size in dict.fromkeys(pieces)]
    return prod((count + 1) * (count + 2) // 2 for count in kinds)


class Desk:
    """Works out what sources cost, each once.

    Parameters
    ----------
    widest_mm
        Of the product's widest roll.
    costs
        What cuts cost.
    """

    def __init__(self, widest_mm: int, costs: CostSettings) -> None:
        self.widest_mm = widest_mm
        self.costs = costs
        self.spent = 0  # work done so far, in cuts worked out, one of several pieces counting as many times more
        self._cutters: dict[tuple[int, UnitCost], Cutter] = {}
        self._cuts: dict[tuple[int, int, bool, UnitCost, Pieces], SmallCut | None] = {}

    def cutter(self, source: Source) -> Cutter:
        """Give what cuts sources of this width and cost."""
        key = (source.width_mm, source.cost)
        if key not in self._cutters:
            self._cutters[key] = Cutter(source.width_mm, source.cost, self.widest_mm, self.costs)
        return self._cutters[key]

    def worth(self, source: Source, size: Size) -> int:
        """Worth in pence of a loose leftover of a source."""
        return self.cutter(source).worth(*size)

    def take(self, source: Source, pieces: Pieces) -> Take | None:
        """Cut pieces from a source in the cheapest way; None when they do not fit."""
        key = (source.width_mm, source.length_mm, source.on_core, source.cost, pieces)
        if key not in self._cuts:
            self.spent += work_of(pieces)
            self._cuts[key] = self.cutter(source).cut(pieces, source.length_mm, source.on_core)
        cut = self._cuts[key]
        return None if cut is None else Take(source, pieces, cut)

    def least(self, source: Source, pieces: Pieces) -> float:
        """A bound on what these pieces cost at least from a source; infinite when they do not fit."""
        width_mm, length_mm = source.width_mm, source.length_mm
        shortest = next((n for w, n in reversed(boxes(pieces)) if w <= width_mm), length_mm + 1)
        if shortest > length_mm:
            return float("inf")
        left = width_mm * length_mm - sum(w * n for w, n in pieces)
        width, length = pieces[0]
        beyond, beside = self.rates(source, width, length)
        room = width_mm * (length_mm - length) if beyond >= beside else (width_mm - width) * length_mm
        better, worse = max(beyond, beside), min(beyond, beside)
        worth = better * min(left, room) + worse * max(0, left - room)
        if len(pieces) > 1:
            worth = min(worth, self._worth_of_several(source, pieces, shortest, left))
        return source.touch_pence - worth - 1 + self._least_cutting(source, pieces, left)

    def _least_cutting(self, source: Source, pieces: Pieces, left: int) -> int:
        """What cutting some pieces costs at least: every cut makes one part more, and a rest is a part as well."""
        crosscut, rip = self.costs.crosscut_pence, self.costs.rip_pence
        rips = any(width < source.width_mm for width, _ in pieces)
        crosscuts = any(length < source.length_mm for _, length in pieces)
        more = max(0, len(pieces) - (left == 0) - rips - crosscuts)
        return rips * rip + crosscuts * crosscut + more * min(crosscut, rip)

    def rates(self, source: Source, width: int, length: int) -> tuple[float, float]:
        """What a square millimetre beyond, and one beside, a piece of this size is worth at most; a penny over."""
        beyond_mm, beside_mm = source.length_mm - length, source.width_mm - width
        return (
            self._rate(source, source.width_mm, beyond_mm, source.on_core),
            self._rate(source, beside_mm, source.length_mm, False),
        )

    def _rate(self, source: Source, width: int, length: int, on_core: bool) -> float:
        worth = self.cutter(source).worth(width, length, on_core)
        return (worth + 1) / (width * length) if worth else 0.0

    def _worth_of_several(self, source: Source, pieces: Pieces, shortest: int, left: int) -> float:
        """What is left of a source by several pieces is worth at most: the tail at its best, all else as lane or rest.

        The end of a lane of full width might as well be tail; any other lane has a rest or another lane beside it.
        """
        narrowest, widest = min(w for w, _ in pieces), max(w for w, _ in pieces)
        tail_mm = source.length_mm - shortest
        tail = self._rate(source, source.width_mm, tail_mm, source.on_core)
        lane_mm = max(widest, source.width_mm - min(narrowest, LEAST_WIDTH_MM))
        other = self._rate(source, min(lane_mm, source.width_mm), source.length_mm, False)
        room = min(left, source.width_mm * tail_mm)
        return max(tail, other) * room + other * (left - room)


def cheapest(
    bounded: Iterable[tuple[float, Found]], refine: Callable[[Found], Iterable[tuple[float, Found, bool]]]
) -> Iterator[tuple[float, Found]]:
    """Give candidates from the cheapest on, equals in the order given, refining a bound only when its turn has come.

    Parameters
    ----------
    bounded
        Candidates with bounds on what they cost.
    refine
        Replaces a candidate by others with better bounds, or with what they cost exactly (True).
    """
    order = count()
    waiting: list[tuple[float, int, int, Found, bool]] = [
        (cost, place, next(order), one, False) for place, (cost, one) in enumerate(bounded)
    ]
    heapq.heapify(waiting)
    while waiting:
        cost, place, _, one, exact = heapq.heappop(waiting)
        if exact:
            yield cost, one
            continue
        for better, other, known in refine(one):
            heapq.heappush(waiting, (better, place, next(order), other, known))


def from_one_source(desk: Desk, sources: Iterable[Source], pieces: Pieces) -> Iterator[Take]:
    """Give every source that covers the pieces by itself, the cheapest first, equals in order of key."""
    area = sum(width * length for width, length in pieces)
    least_mm = min(width for width, _ in boxes(pieces)), min(length for _, length in boxes(pieces))
    # Whatever is left is worth no more for its area than the whole.
    bounded: list[tuple[float, Source | tuple[Source] | Take]] = [
        (one.pence_per_mm2 * area - 1, one) for one in sorted(sources, key=lambda one: one.key) if one.gives(least_mm)
    ]

    def refine(one: Source | tuple[Source] | Take) -> Iterator[tuple[float, Source | tuple[Source] | Take, bool]]:
        if isinstance(one, Source):
            if (least := desk.least(one, pieces)) < float("inf"):
                yield least, (one,), False
        elif isinstance(one, tuple):
            take = desk.take(one[0], pieces)
            if take is not None:
                yield take.cost_pence, take, True

    for _, one in cheapest(bounded, refine):
        assert isinstance(one, Take)
        yield one


class _Batch:
    """Two sources or more of one batch, and the cheapest ways to share pieces out among them.

    A block is what one source gives. Blocks are bounded first and cut only when their turn has come.
    """

    def __init__(self, desk: Desk, sources: Sequence[Source], pieces: Pieces) -> None:
        self.desk, self.sources, self.pieces = desk, sources, pieces
        self._bounds: dict[Pieces, float] = {}
        self._shares: dict[Pieces, float] = {(): 0.0}
        self._ranked: dict[Pieces, tuple[list[Take], Iterator[Take]]] = {}

    def least(self) -> float:
        """A bound on what sharing the pieces out costs at least."""
        blocks = [(self._bound(block) + self._share(rest)) for block, rest in with_first(self.pieces) if rest]
        return min(blocks, default=float("inf"))

    def _bound(self, block: Pieces) -> float:
        if block not in self._bounds:
            self._bounds[block] = min(self.desk.least(source, block) for source in self.sources)
        return self._bounds[block]

    def _share(self, pieces: Pieces) -> float:
        if pieces not in self._shares:
            self._shares[pieces] = min(self._bound(block) + self._share(rest) for block, rest in with_first(pieces))
        return self._shares[pieces]

    def best(self, below: float) -> list[Take]:
        """The cheapest way that costs less than so much; nothing when there is none."""
        self._best: tuple[float, list[Take]] = (below, [])
        self._split(self.pieces, [], 0)
        return self._best[1]

    def _split(self, pieces: Pieces, taken: list[Take], spent: int) -> None:
        if not pieces:
            if spent < self._best[0]:
                self._best = (spent, taken)
            return
        used = {take.source.key for take in taken}
        blocks = [(self._bound(block) + self._share(rest), block, rest) for block, rest in with_first(pieces)]
        for bound, block, rest in sorted(blocks):
            if spent + bound >= self._best[0]:
                break
            if not taken and not rest:
                continue
            for take in self._cheapest(block):
                if spent + take.cost_pence + self._share(rest) >= self._best[0]:
                    break
                if take.source.key not in used:
                    self._split(rest, [*taken, take], spent + take.cost_pence)

    def _cheapest(self, block: Pieces) -> Iterator[Take]:
        """Sources for a block, the cheapest first, cut as they are asked for."""
        if block not in self._ranked:
            self._ranked[block] = ([], from_one_source(self.desk, self.sources, block))
        known, others = self._ranked[block]
        place = 0
        while True:
            if place == len(known):
                take = next(others, None)
                if take is None:
                    return
                known.append(take)
            yield known[place]
            place += 1


def from_batches(
    desk: Desk, sources: Iterable[Source], pieces: Pieces, most: int, below: float = float("inf")
) -> Iterator[list[Take]]:
    """Give for each of the cheapest batches its cheapest way with two sources or more, the cheapest first.

    Parameters
    ----------
    desk, sources, pieces
        What is to be cut from what.
    most
        How many at most.
    below
        Ways that cost so much or more are of no interest.
    """
    if len(pieces) < 2:
        return
    known = [below] * most  # costs that one more way must undercut to be among the cheapest
    kinds = [(size, pieces.count(size), size[0] * size[1]) for size in dict.fromkeys(pieces)]
    batches: dict[str, list[Source]] = {}
    for source in sorted(sources, key=lambda one: one.key):
        if any(source.gives(size) for size, _, _ in kinds):
            batches.setdefault(source.batch, []).append(source)
    bounded: list[tuple[float, _Batch | list[Take]]] = []
    for members in batches.values():
        if len(members) > 1:
            # What a thing leaves is worth no more for its area than the whole.
            floors = [
                min((one.pence_per_mm2 for one in members if one.gives(size)), default=float("inf")) * area * copies
                for size, copies, area in kinds
            ]
            if (floor := sum(floors) - len(pieces)) < below:
                bounded.append((floor, _Batch(desk, members, pieces)))
    bounds_told: set[int] = set()

    def refine(one: _Batch | list[Take]) -> Iterator[tuple[float, _Batch | list[Take], bool]]:
        assert isinstance(one, _Batch)
        if id(one) not in bounds_told:
            bounds_told.add(id(one))
            if (least := one.least()) < float("inf"):
                yield least, one, False
        elif takes := one.best(known[-1]):
            cost = sum(take.cost_pence for take in takes)
            known[-1] = cost
            known.sort()
            yield cost, takes, True

    for _, one in islice(cheapest(bounded, refine), most):
        assert isinstance(one, list)
        yield one
