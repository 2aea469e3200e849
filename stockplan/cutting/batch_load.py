"""The best load of a batch at given prices of units: looked for among sets of pieces in a purse widened by steps.

No load better than what the relaxation of the batch promises (`batch_relaxation.py`) less a purse uses a set that takes
more than the purse. On weeks of 30 jobs the best load lies 0 to 50 pounds below the relaxation, and a few thousand sets
lie as near; the best load among them is found by `load_tries.py`.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from typing import NamedTuple

import numpy as np

from stockplan.cutting.batch_relaxation import BatchRelaxation, choice_costs, unit_prices
from stockplan.cutting.budget import Budget
from stockplan.cutting.charged_sets import in_order
from stockplan.cutting.instance import Source
from stockplan.cutting.links import rebates
from stockplan.cutting.load_tries import Load, Sets, Tie, Unit, Way, best_loads
from stockplan.cutting.set_patterns import Made

FIRST_PURSE, PURSES_WIDER, LEAST_WIDER = 1000.0, 2.0, 200.0  # pence; than the last one at most, and at least by so much
LEAST_SECONDS = 0.1  # that tell how fast time grows
TIMES_AS_LONG = 2.0  # as the last purse the next may take


def _widest(before: tuple[float, float], last: tuple[float, float]) -> float:
    """The purse that may take `TIMES_AS_LONG` as the last one: time grows with purses as it did, by the like factor.

    Parameters
    ----------
    before, last
        Two purses, pence, and the seconds each took.
    """
    if min(before[1], last[1]) < LEAST_SECONDS or last[1] <= before[1]:
        return math.inf
    return last[0] + (last[0] - before[0]) * math.log(TIMES_AS_LONG) / math.log(last[1] / before[1])


class Effort(NamedTuple):
    """Steps of one search for the best loads, and how many of them are wanted, at most."""

    steps: int
    loads: int


STEPS_A_SECOND = 6_000_000  # of a search for loads
OF_BOUND = Effort(steps=100_000_000, loads=5)
OF_TRY = Effort(steps=10_000_000, loads=30)


class BatchLoad:
    """The best load of a batch, looked for in a purse that is widened by steps.

    Parameters
    ----------
    relaxation
        The batch, with a bound.
    known
        What a load in hand is worth, pence.
    effort
        How far to go; default `OF_BOUND`.
    """

    def __init__(self, relaxation: BatchRelaxation, known: float, effort: Effort | None = None) -> None:
        self._of, self.known, self._effort = relaxation, known, OF_BOUND if effort is None else effort
        self.most = max(relaxation.most, known)
        self.loads: list[Load] = []
        self._within: list[Sets] = []

    def worth(self, load: Load) -> float:
        """What a load found is worth, pence."""
        return self._of.most - load.taken

    def cut(self, load: Load) -> list[tuple[Source, Made]]:
        """The sets of pieces that a load found is cut of."""
        copies = [ground.source for ground in self._of.grounds for _ in range(ground.source.copies or 0)]
        found = []
        for source, sets, number in zip(copies, self._within, load.sets, strict=True):
            if number >= 0:
                pieces = Counter(sets.types[place] for place in sets.pieces[number, : sets.sizes[number]].tolist())
                found.append((source, in_order(pieces)))
        return found

    def run(self, budget: Budget) -> None:
        """Widen the purse until a best load is in it, hardly more can be gone through, or the budget is over.

        `most` is then more than any load is worth; `loads` are better than the known one, the best first.
        """
        # Seams of a lawn, a unit that needs no pieces, may be all that a batch with nothing to cut serves.
        whole, units = self._of.most - self.known, self._units() if self._of.grounds else []
        purse, seconds, done, too_much, widest = FIRST_PURSE, 0.0, (0.0, 0.0), math.inf, math.inf
        while whole > 0.0 and units and not budget.over(TIMES_AS_LONG * seconds):
            began = time.monotonic()
            purse = min(purse, whole)
            through = self._gone_through(purse, units, budget)
            seconds = time.monotonic() - began
            if through:
                widest, done = _widest(done, (purse, seconds)), (purse, seconds)
            else:
                too_much = purse
            if self.loads or done[0] >= whole or too_much - done[0] < LEAST_WIDER:
                return
            wider = max(min(PURSES_WIDER * done[0], widest), done[0] + LEAST_WIDER)
            purse = min(wider, (done[0] + too_much) / 2)

    def _gone_through(self, purse: float, units: list[Unit], budget: Budget) -> bool:
        """Look for the best loads in a purse; False where that is too much."""
        budget.spend(1)
        sources = self._sources(purse, budget.seconds_left())
        if sources is None:
            return False
        steps = min(self._effort.steps, STEPS_A_SECOND * (1.0 + budget.seconds_left()))
        loads = best_loads(sources, units, purse, int(steps), self._effort.loads)
        if loads is None:
            return False
        self.loads, self._within = loads, sources
        self.most = self._of.most - (loads[0].taken if loads else purse)
        return True

    def _sources(self, purse: float, seconds: float) -> list[Sets] | None:
        """Every source with what it may be cut into for so much; None where there are too many for so many seconds."""
        of = self._of
        found = []
        for ground, value, charged in zip(of.grounds, of.values, of.charged, strict=True):
            gain = max(0.0, value - ground.source.value_pence)
            least = ground.source.value_pence + gain - purse
            listed = of.listed(charged, least, seconds)
            if listed is None:
                return None
            losses = np.maximum(0.0, ground.source.value_pence + gain - listed.values)
            sets = Sets(ground.types, listed.pieces, listed.sizes, losses, gain, self._ties(ground.source))
            found.extend([sets] * (ground.source.copies or 0))
        return found

    def _ties(self, source: Source) -> tuple[Tie, ...]:
        """What `_units` gave for the rows of a source, taken back where `Charged` charged nothing for it."""
        first = np.cumsum([0, *(group.units for group in self._of.instance.groups)])
        rows = self._of.rows.get(source, {})
        ties = [Tie(int(first[link.group]), link.types, pence) for link, pence in rows.items() if pence > 0.0]
        return tuple(sorted(ties, key=lambda tie: -tie.pence))

    def _units(self) -> list[Unit]:
        of = self._of
        costs = choice_costs(of.instance, of.prices, rebates(of.instance, of.rows))
        units = []
        for group, own, price in zip(of.instance.groups, costs, unit_prices(of.instance), strict=True):
            least = min(price, *own)
            ways = (Way(cost - least, demand) for cost, demand in zip(own, group.demands.values(), strict=True))
            units.extend([Unit(price - least, tuple(ways))] * group.units)
        return units
