"""The cheapest ways to cut a few pieces from one source, or from several of one batch.

Both are looked for together, in the order of what they can cost at least, so that neither is gone into further than
the other makes worth while.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Iterator, Sequence
from heapq import heapify, heappop, heappush
from itertools import count
from math import inf

from stockplan.domain.cover import Take
from stockplan.domain.cover_search import Desk, OneSource, cheapest
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, with_first


class _Batch:
    """Two sources or more of one batch, and the cheapest ways to share pieces out among them.

    A block is what one source gives. Blocks are bounded first and cut only when their turn has come.
    """

    def __init__(self, desk: Desk, sources: Sequence[Source], pieces: Pieces) -> None:
        self.desk, self.sources, self.pieces = desk, sources, pieces
        self._bounds: dict[Pieces, float] = {}
        self._shares: dict[Pieces, float] = {(): 0.0}
        self._ranked: dict[Pieces, _Ranked] = {}

    def least(self) -> float:
        """A bound on what sharing the pieces out costs at least."""
        blocks = [(self._bound(block) + self._share(rest)) for block, rest in with_first(self.pieces) if rest]
        return min(blocks, default=inf)

    def _bound(self, block: Pieces) -> float:
        if block not in self._bounds:
            self._bounds[block] = min(self.desk.least(source, block) for source in self.sources)
        return self._bounds[block]

    def _share(self, pieces: Pieces) -> float:
        if pieces not in self._shares:
            self._shares[pieces] = min(self._bound(block) + self._share(rest) for block, rest in with_first(pieces))
        return self._shares[pieces]

    def best(self, most: int, below: float) -> list[list[Take]]:
        """The cheapest ways that cost less than so much, of ways that take from the same things the cheapest alone."""
        self._most, self._limit = most, below
        self._best: dict[frozenset[str], tuple[int, list[Take]]] = {}
        self._split(self.pieces, [], 0)
        return [takes for _, takes in sorted(self._best.values(), key=lambda way: way[0])]

    def _keep(self, taken: list[Take], spent: int) -> None:
        """Keep a way that costs less than the limit, which is then what the last of so many costs."""
        things = frozenset(take.source.key for take in taken)
        if things not in self._best or spent < self._best[things][0]:
            self._best[things] = (spent, taken)
        if len(self._best) > self._most:
            del self._best[max(self._best, key=lambda one: self._best[one][0])]
        if len(self._best) == self._most:
            self._limit = min(self._limit, max(cost for cost, _ in self._best.values()))

    def _split(self, pieces: Pieces, taken: list[Take], spent: int) -> None:
        if not pieces:
            self._keep(taken, spent)
            return
        used = {take.source.key for take in taken}
        blocks = [(self._bound(block) + self._share(rest), block, rest) for block, rest in with_first(pieces)]
        for bound, block, rest in sorted(blocks):
            if spent + bound >= self._limit:
                break
            if not taken and not rest:
                continue
            others = spent + self._share(rest)
            for take in self._cheapest(block, others):
                if take.source.key not in used:
                    self._split(rest, [*taken, take], spent + take.cost_pence)

    def _cheapest(self, block: Pieces, others: float) -> Iterator[Take]:
        """Sources for a block, the cheapest first, that with what all others cost are below the limit as it then is."""
        if block not in self._ranked:
            self._ranked[block] = _Ranked(self.desk, self.sources, block)
        ranked, place = self._ranked[block], 0
        while (take := ranked.at(place, self._limit - others)) is not None:
            yield take
            place += 1


class _Ranked:
    """Sources for a block from the cheapest on, each bounded at first and cut only where that may be of use."""

    def __init__(self, desk: Desk, sources: Sequence[Source], block: Pieces) -> None:
        single = OneSource(desk, sources, block)
        self._refine = single.refine
        self._known: list[Take] = []
        self._order = count(len(single.bounded))
        self._waiting: list[tuple[float, int, int, Source | tuple[Source] | Take, bool]] = [
            (cost, place, place, one, False) for place, (cost, one) in enumerate(single.bounded)
        ]
        heapify(self._waiting)

    def at(self, place: int, below: float) -> Take | None:
        """The take in a place, the next of those given before at most; None where it costs no less than a limit."""
        while place == len(self._known):
            if not self._waiting or self._waiting[0][0] >= below:
                return None
            _, first, _, one, exact = heappop(self._waiting)
            if exact:
                assert isinstance(one, Take)
                self._known.append(one)
                break
            for better, other, known in self._refine(one):
                heappush(self._waiting, (better, first, next(self._order), other, known))
        take = self._known[place]
        return take if take.cost_pence < below else None


_Candidate = Source | tuple[Source] | Take | _Batch | list[Take]


class _Several:
    """Batches, each with its cheapest ways of two sources or more.

    Parameters
    ----------
    desk, sources, pieces
        What is to be cut from what.
    most
        How many ways are wanted at most.
    """

    def __init__(self, desk: Desk, sources: Iterable[Source], pieces: Pieces, most: int) -> None:
        self.most = most
        self.known = [inf] * most  # costs that one more way must undercut to be among the cheapest
        self.bounded: list[tuple[float, _Batch | list[Take]]] = []
        self._bounds_told: set[int] = set()
        if len(pieces) < 2:
            return
        kinds = [(size, pieces.count(size), size[0] * size[1]) for size in dict.fromkeys(pieces)]
        batches: dict[str, list[Source]] = {}
        for source in sorted(sources, key=lambda one: one.key):
            if any(source.gives(size) for size, _, _ in kinds):
                batches.setdefault(source.batch, []).append(source)
        for members in batches.values():
            if len(members) > 1:
                # What a thing leaves is worth no more for its area than the whole.
                floors = [
                    min((one.pence_per_mm2 for one in members if one.gives(size)), default=inf) * area * copies
                    for size, copies, area in kinds
                ]
                if (floor := sum(floors) - len(pieces)) < inf:
                    self.bounded.append((floor, _Batch(desk, members, pieces)))

    def refine(self, one: _Batch, below: float) -> Iterator[tuple[float, _Batch | list[Take], bool]]:
        """Better what is known of one batch; ways that cost so much or more are of no interest."""
        if id(one) not in self._bounds_told:
            self._bounds_told.add(id(one))
            if (least := one.least()) < inf:
                yield least, one, False
        else:
            for takes in one.best(self.most, min(below, self.known[-1])):
                cost = sum(take.cost_pence for take in takes)
                self.known = sorted((*self.known, cost))[: self.most]
                yield cost, takes, True


def from_one_batch(
    desk: Desk, sources: Sequence[Source], pieces: Pieces, most: int, highest: float = inf
) -> Iterator[tuple[Take, ...]]:
    """Give the cheapest ways, the cheapest first: one source for all pieces, or several of one batch.

    Of ways that take from the same sources only the cheapest is given.

    Parameters
    ----------
    desk, sources, pieces
        What is to be cut from what.
    most
        How many; and what costs no more than the last of them.
    highest
        What costs more is not given; default whatever it costs.
    """
    single, several = OneSource(desk, sources, pieces), _Several(desk, sources, pieces, most)
    costs: list[int] = []  # of single sources, the lowest first

    def refine(one: _Candidate) -> Iterator[tuple[float, _Candidate, bool]]:
        if isinstance(one, _Batch):
            # One source is preferred to several that cost as much.
            last = costs[most - 1] if len(costs) >= most else inf
            yield from several.refine(one, min(last, highest) + 1)
            return
        assert not isinstance(one, list)
        for cost, other, exact in single.refine(one):
            if isinstance(other, Take):
                insort(costs, other.cost_pence)
            yield cost, other, exact

    bounded: list[tuple[float, _Candidate]] = [*single.bounded, *several.bounded]
    for _, one in cheapest(bounded, refine, most, highest):
        if isinstance(one, Take):
            yield (one,)
        else:
            assert isinstance(one, list)
            yield tuple(one)
