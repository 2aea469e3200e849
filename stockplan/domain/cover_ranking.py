"""Ways to share pieces out, of which only bounds are known at first, told from the cheapest on."""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import product

from stockplan.domain.cover import Move
from stockplan.domain.cover_pool import INFINITE


@dataclass(frozen=True, slots=True)
class Block:
    """What one thing gives, at what cost more than without it.

    Parameters
    ----------
    cost_pence
        What it costs.
    move
        How the thing is then cut, and for whom.
    thing
        Number of the thing, which can be cut only once; None for a purchase.
    """

    cost_pence: int
    move: Move
    thing: int | None = None


@dataclass(frozen=True, slots=True)
class Share:
    """A way to cut some pieces from things of one batch."""

    cost_pence: int
    blocks: tuple[Block, ...]

    def things(self) -> set[int]:
        """Numbers of what can be cut only once."""
        return {block.thing for block in self.blocks if block.thing is not None}


class BatchRanking:
    """Batches, the cheapest first.

    Parameters
    ----------
    bounded
        A bound for each batch.
    """

    def __init__(self, bounded: Iterable[tuple[float, str]]) -> None:
        self._waiting: list[tuple[float, str, Share | None]] = [(*one, None) for one in bounded if one[0] < INFINITE]
        heapify(self._waiting)
        self.known: list[tuple[str, Share]] = []

    def more(self, below: float, worked_out: Callable[[str], tuple[Share | None, bool]]) -> bool:
        """Find the next batch, if it may cost less than so much; say whether there is one.

        Parameters
        ----------
        below
            What costs as much is of no interest.
        worked_out
            Gives what a batch costs, and whether that is its last word; if not, it is asked again another time.
        """
        while self._waiting and self._waiting[0][0] < below:
            floor, batch, share = heappop(self._waiting)
            if share is not None:
                self.known.append((batch, share))
                return True
            found, final = worked_out(batch)
            if not final:
                heappush(self._waiting, (floor, batch, None))
                return False
            if found is not None:
                heappush(self._waiting, (found.cost_pence, batch, found))
        return False


class ThingRanking:
    """What things take for some pieces, the cheapest first.

    Parameters
    ----------
    bounded
        Bounds in order, each with the number of a thing.
    worked_out
        Says what a thing takes; None when it does not give the pieces.
    """

    def __init__(self, bounded: Sequence[tuple[float, int]], worked_out: Callable[[int], Block | None]) -> None:
        self._bounded = bounded
        self._worked_out = worked_out
        self._place = 0
        self._known: list[Block] = []  # in order of cost

    def below(self, limit: Callable[[], float], beside: float) -> Iterator[Block]:
        """Give those that cost less than a limit, asked for anew each time, less what else is spent.

        Parameters
        ----------
        limit
            Gives the limit as it is by now, pence.
        beside
            What else is spent, pence.
        """
        given = 0
        while True:
            # A thing is next when no other can still turn out cheaper.
            while self._place < len(self._bounded):
                floor, number = self._bounded[self._place]
                if floor >= limit() - beside or (given < len(self._known) and self._known[given].cost_pence <= floor):
                    break
                self._place += 1
                if found := self._worked_out(number):
                    insort(self._known, found, lo=given, key=lambda one: one.cost_pence)
            if given == len(self._known) or self._known[given].cost_pence >= limit() - beside:
                return
            given += 1
            yield self._known[given - 1]


def apart(ways: Sequence[Sequence[Share]]) -> tuple[int, tuple[Share, ...]] | None:
    """Choose a way for each group so that no thing is cut for two of them, at the least cost; None when none is so.

    Parameters
    ----------
    ways
        For each group its ways.
    """
    best: tuple[int, tuple[Share, ...]] | None = None
    for chosen in product(*ways):
        cost = sum(one.cost_pence for one in chosen)
        if best is not None and cost >= best[0]:
            continue
        things = [one.things() for one in chosen]
        if sum(map(len, things)) == len(set().union(*things)):
            best = (cost, chosen)
    return best
