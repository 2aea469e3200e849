"""Which units a batch has served as a whole in some answer tried, and how cheaply: what ruin and recreate remembers.

Most trial answers are worse than the best, but each of their batches may be better than the best's: put together anew
(`recombining.py`) they make answers that no single trial came near. What is bought hardly ever serves the same units
twice; of it the cuts of single purchases are kept, from trials that were taken up.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable

from stockplan.cutting.instance import Choice, Instance
from stockplan.cutting.packing import Drop, Opened

Unit = tuple[int, Choice]
Load = tuple[Unit, ...]  # the units a batch serves, in order, each as often as it is served
Cut = tuple[int, tuple[Drop, ...]]  # a source's number and its drops

MOST_LOADS = 1_000  # of one batch
MOST_PURCHASES = 20_000


def with_unit(load: Load, unit: Unit) -> Load:
    """A load with one unit more."""
    more = list(load)
    insort(more, unit)
    return tuple(more)


def without_unit(load: Load, unit: Unit) -> Load:
    """A load with one unit less; it must hold it."""
    at = bisect_left(load, unit)
    return load[:at] + load[at + 1 :]


class Seen:
    """The cheapest way seen to serve each load of each stock batch, and the purchases seen; the oldest are forgotten.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.loads: list[dict[Load, tuple[int, tuple[Cut, ...]]]] = [{} for _ in instance.batches]
        self.purchases: dict[Cut, int] = {}
        self._bought = {source.batch for source in instance.sources if source.copies is None}

    def note(self, batch: int, load: Load, opened: tuple[Opened, ...]) -> None:
        """Remember what a batch serves in a trial answer."""
        if batch in self._bought or not opened:
            return
        cost = sum([one.cost for one in opened])
        loads = self.loads[batch]
        known = loads.get(load)
        if known is not None and known[0] <= cost:
            return
        if known is None and len(loads) >= MOST_LOADS:
            del loads[next(iter(loads))]
        loads[load] = (cost, tuple([(one.source, one.drops) for one in opened]))

    def note_taken(self, batch: int, opened: Iterable[Opened]) -> None:
        """Remember the purchases of an answer taken up."""
        if batch not in self._bought:
            return
        for one in opened:
            key = (one.source, one.drops)
            if key not in self.purchases:
                if len(self.purchases) >= MOST_PURCHASES:
                    del self.purchases[next(iter(self.purchases))]
                self.purchases[key] = one.cost
