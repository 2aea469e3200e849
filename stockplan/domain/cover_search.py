"""The cheapest sources for a few pieces, the bounds by which they are found, and what cutting costs.

Sources are tried in the order of a bound on what they can cost at least, and the search ends when that bound is above
the answers in hand: the answers are the cheapest there are, as `small_cuts` reckons.

The bound. A piece of w × l leaves two sorts of rectangles in W × L: those beyond it are at most L − l long, those
beside it at most W − w wide. The worth of a square metre never falls as a leftover grows, so the first are worth at
most what W × (L − l) is worth for its area, the second at most what (W − w) × L is.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator
from itertools import count
from math import gcd, inf, prod
from typing import TypeVar

from stockplan.domain.cover import Take
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, Size, boxes
from stockplan.domain.pieces_cut import SmallCut
from stockplan.domain.request import CostSettings
from stockplan.domain.small_cuts import Cutter
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
        """Give what cuts sources of this width and cost: all lengths of an offer share it, and what it knows."""
        shared = gcd(source.cost.pence, source.cost.area_mm2)
        key = (source.width_mm, UnitCost(source.cost.pence // shared, source.cost.area_mm2 // shared))
        if key not in self._cutters:
            self._cutters[key] = Cutter(*key, self.widest_mm, self.costs)
        return self._cutters[key]

    def worth(self, source: Source, size: Size) -> int:
        """Worth in pence of a loose leftover of a source.

        Parameters
        ----------
        source
            What it is left of.
        size
            Across and along, mm.
        """
        return self.cutter(source).worth(*size)

    def take(self, source: Source, pieces: Pieces) -> Take | None:
        """Cut pieces from a source in the cheapest way; None when they do not fit.

        Parameters
        ----------
        source
            What to cut.
        pieces
            Largest first, see `in_order`.
        """
        key = (source.width_mm, source.length_mm, source.on_core, source.cost, pieces)
        if key not in self._cuts:
            self.spent += work_of(pieces)
            self._cuts[key] = self.cutter(source).cut(pieces, source.length_mm, source.on_core)
        cut = self._cuts[key]
        return None if cut is None else Take(source, pieces, cut)

    def least(self, source: Source, pieces: Pieces) -> float:
        """A bound on what these pieces cost at least from a source; infinite when they do not fit.

        Parameters
        ----------
        source, pieces
            As for `take`.
        """
        width_mm, length_mm = source.width_mm, source.length_mm
        shortest = next((n for w, n in reversed(boxes(pieces)) if w <= width_mm), length_mm + 1)
        if shortest > length_mm:
            return inf
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
        """What a square millimetre beyond, and one beside, a piece of this size is worth at most; a penny over.

        Parameters
        ----------
        source
            What the piece is cut from.
        width, length
            Of the piece, mm.
        """
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
    bounded: Iterable[tuple[float, Found]],
    refine: Callable[[Found], Iterable[tuple[float, Found, bool]]],
    most: int | None = None,
    highest: float = inf,
) -> Iterator[tuple[float, Found]]:
    """Give candidates from the cheapest on, equals in the order given, refining a bound only when its turn has come.

    Parameters
    ----------
    bounded
        Candidates with bounds on what they cost.
    refine
        Replaces a candidate by others with better bounds, or with what they cost exactly (True).
    most
        After so many only what costs no more than the last of them is given; default all.
    highest
        What costs more is not given; default whatever it costs.
    """
    order = count()
    waiting: list[tuple[float, int, int, Found, bool]] = [
        (cost, place, next(order), one, False) for place, (cost, one) in enumerate(bounded)
    ]
    heapq.heapify(waiting)
    given = 0
    while waiting:
        cost, place, _, one, exact = heapq.heappop(waiting)
        if cost > highest:
            return
        if exact:
            yield cost, one
            given += 1
            highest = cost if given == most else highest
            continue
        for better, other, known in refine(one):
            heapq.heappush(waiting, (better, place, next(order), other, known))


class OneSource:
    """Sources that cover the pieces by themselves, bounded first and cut only when their turn has come.

    Parameters
    ----------
    desk, sources, pieces
        What is to be cut from what.
    """

    def __init__(self, desk: Desk, sources: Iterable[Source], pieces: Pieces) -> None:
        self.desk, self.pieces = desk, pieces
        area = sum(width * length for width, length in pieces)
        least_mm = min(width for width, _ in boxes(pieces)), min(length for _, length in boxes(pieces))
        # Whatever is left is worth no more for its area than the whole.
        self.bounded: list[tuple[float, Source | tuple[Source] | Take]] = [
            (one.pence_per_mm2 * area - 1, one)
            for one in sorted(sources, key=lambda one: one.key)
            if one.gives(least_mm)
        ]

    def refine(self, one: Source | tuple[Source] | Take) -> Iterator[tuple[float, Source | tuple[Source] | Take, bool]]:
        """Better what is known of one source."""
        if isinstance(one, Source):
            if (least := self.desk.least(one, self.pieces)) < inf:
                yield least, (one,), False
        elif isinstance(one, tuple):
            take = self.desk.take(one[0], self.pieces)
            if take is not None:
                yield take.cost_pence, take, True


def from_one_source(desk: Desk, sources: Iterable[Source], pieces: Pieces) -> Iterator[Take]:
    """Give every source that covers the pieces by itself, the cheapest first, equals in order of key.

    Parameters
    ----------
    desk
        Of the product.
    sources
        What there is of it.
    pieces
        Largest first, see `in_order`.
    """
    single = OneSource(desk, sources, pieces)
    for _, one in cheapest(single.bounded, single.refine):
        assert isinstance(one, Take)
        yield one
