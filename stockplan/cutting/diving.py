"""From the relaxation over whole batches to an answer: loads are settled batch by batch, the largest shares first.

After each step the rest is priced anew, so that batches still open find loads that go with those settled. The
relaxation then hardly rises until every batch of stock has one load (on 150 jobs by 0.1 % or not at all); what is left
is to be bought, and packed by ruin and recreate. The answer is half a percent dearer than the best until a short cool
cycle of ruin and recreate, after which it is often better.

Where a step makes the relaxation too dear it is taken back: of several loads the first is kept, one alone is barred,
and from then on they are settled one by one. On 30 jobs 2 of 27 dives ended there without an answer.

The relaxation is solved as soon as loads are settled and before any are added, so that it goes on from its last basis:
on 375 jobs with sizes of 10 mm a dive takes 17 s of programs, where it took 90. Loads are sought at the prices from
before; those from after were no better.
"""

from __future__ import annotations

import time
from collections import Counter

from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recombining import LEAST_GAIN, Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Load, Solution, trimmed

SETTLED = 0.6  # a load of so large a share is settled
BATCHES_A_STEP = 6  # of so many open ones one is settled in any case
MOST_LOSS = 0.01  # of the cost of the best answer; a relaxation so far above it leads nowhere
MOST_STARTS, MOVES_A_STEP = 60, 15_000
MOST_BARRED = 3  # loads found to lead nowhere in one dive, at most
STEPS, HEAT = 100_000, 0.005  # of ruin and recreate from the answer
UNITS_A_STEP = 10  # of work
SLOWER = 1.5  # as in `rounds.py`
SMALLEST = 1e-6


def dive(
    recombiner: Recombiner, pricing: BatchPricing, recreate: Recreate, best: Solution, budget: Budget
) -> Solution | None:
    """An answer near the relaxation; None where there is no time for it, or it leads nowhere.

    Parameters
    ----------
    recombiner
        Its relaxation is solved, and holds more afterwards.
    pricing
        Finds loads at the prices of each step.
    recreate
        What packs that which is not settled.
    best
        The best answer.
    budget
        Work and clock.
    """
    descent = _Descent(recombiner, pricing, recreate.instance, (1.0 + MOST_LOSS) * best.rank(recreate.instance)[0])
    step_seconds = 0.0
    try:
        while not descent.ended:
            budget.spend(UNITS_A_STEP)
            began = time.monotonic()
            if budget.over(SLOWER * step_seconds) or not descent.go_on(budget):
                return None
            step_seconds = time.monotonic() - began
    finally:
        recombiner.master.unsettle()
    return recreate.run(_packed(recreate, descent.settled), STEPS, budget, HEAT)


class _Descent:
    """Batches of stock settled on one load each, step by step.

    Parameters
    ----------
    recombiner, pricing
        As for `dive`.
    instance
        The problem.
    ceiling
        A relaxation dearer than this, pence, leads nowhere.

    Attributes
    ----------
    settled
        The loads, in the order in which they were settled.
    ended
        Whether no batch is open any more.
    """

    def __init__(self, recombiner: Recombiner, pricing: BatchPricing, instance: Instance, ceiling: float) -> None:
        self._recombiner, self._pricing, self._instance, self._ceiling = recombiner, pricing, instance, ceiling
        self.settled: list[BatchColumn] = []
        self.ended = False
        self._last = 0  # how many were settled last
        self._barred: set[tuple[int, Load]] = set()
        self._one_by_one = False

    def go_on(self, budget: Budget) -> bool:
        """Settle what comes next, or take back what led nowhere; False where there is nothing left to try."""
        master = self._recombiner.master
        prices = self._recombiner.price(self._full())
        if prices is None or master.value > self._ceiling:
            return self._take_back()
        fresh = self._next()
        if not fresh:
            self.ended = True
            return True
        for column in fresh:
            master.settle(column)
        self.settled += fresh
        self._last = len(fresh)
        if not master.solve():  # before loads are added
            return self._take_back()
        within = master.columns_within(SMALLEST, 2 * MOST_STARTS)
        batches = {column.batch for column in self.settled}
        starts = [column for column in within if column.batch not in batches][:MOST_STARTS]
        self._pricing.run(starts, prices.groups, MOVES_A_STEP // max(1, len(starts)), budget)
        self._recombiner.learn(-LEAST_GAIN)
        return True

    def _take_back(self) -> bool:
        """Keep but the first of the loads settled last, or not even that; False where that was done often enough."""
        if not self._last or len(self._barred) == MOST_BARRED:
            return False
        kept = 1 if self._last > 1 else 0
        first = len(self.settled) - self._last
        if not kept:
            self._barred.add(self.settled[first].key)
        for column in self.settled[first + kept :]:
            self._recombiner.master.unsettle(column)
        del self.settled[first + kept :]
        self._last, self._one_by_one = kept, True
        return True

    def _served(self) -> Counter[int]:
        """By group: how many of its units settled loads serve."""
        return Counter(group for column in self.settled for group, _ in column.load)

    def _full(self) -> set[int]:
        return {group for group, units in self._served().items() if units >= self._instance.groups[group].units}

    def _next(self) -> list[BatchColumn]:
        """The loads to settle next, the largest shares first; none where no batch is open."""
        batches, taken = {column.batch for column in self.settled}, self._served()
        still = sorted(
            (-share, column.key, column)
            for share, column in self._recombiner.master.shares()
            if column.batch not in batches
        )
        least = -(-len({column.batch for _, _, column in still}) // BATCHES_A_STEP)
        found: list[BatchColumn] = []
        for share, key, column in still:
            if found and (self._one_by_one or (-share <= SETTLED and len(found) >= least)):
                break
            if column.batch not in batches and key not in self._barred and _fits(self._instance, taken, column):
                found.append(column)
                batches.add(column.batch)
                taken.update(group for group, _ in column.load)
        return found


def _fits(instance: Instance, served: Counter[int], column: BatchColumn) -> bool:
    """Whether no unit that a column serves is served already."""
    mine = Counter(group for group, _ in column.load)
    return all(served[group] + units <= instance.groups[group].units for group, units in mine.items())


def _packed(recreate: Recreate, columns: list[BatchColumn]) -> Solution:
    """An answer of some columns; what they leave is served from anywhere."""
    instance = recreate.instance
    start = _of_columns(instance, columns)
    recreate.load(start)
    for job in sorted(start.short, key=lambda job: (-instance.jobs[job].area_mm2, job)):
        recreate.serve(job)
    return recreate.best()


def _of_columns(instance: Instance, columns: list[BatchColumn]) -> Solution:
    """Just these columns, every job that they do not serve in full left short."""
    patterns: Counter[Pattern] = Counter()
    given: Counter[tuple[int, Choice]] = Counter()
    for column in columns:
        patterns.update(column.patterns)
        given.update(column.load)
    served: Counter[int] = Counter()
    for (group, _), units in given.items():
        served[group] += units
    short = frozenset(group.job for number, group in enumerate(instance.groups) if served[number] < group.units)
    kept = {unit: units for unit, units in given.items() if instance.groups[unit[0]].job not in short}
    return trimmed(instance, Solution(patterns, kept, short))
