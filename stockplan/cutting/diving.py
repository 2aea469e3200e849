"""From the relaxation over whole batches to an answer: loads are settled batch by batch, the largest shares first.

After each step the rest is priced anew, so that batches still open find loads that go with those settled. The
relaxation then hardly rises until every batch of stock has one load (on 150 jobs by 0.1 % or not at all); what is left
is to be bought, and packed by ruin and recreate. The answer is half a percent dearer than the best until a short cool
cycle of ruin and recreate, after which it is often better.

The relaxation is solved as soon as loads are settled and before any are added, so that it goes on from its last basis:
on 375 jobs with sizes of 10 mm a dive takes 17 s of programs, where it took 90. Loads are sought at the prices from
before; those from after were no better.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Mapping

from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recombining import LEAST_GAIN, Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed

SETTLED = 0.6  # a load of so large a share is settled
BATCHES_A_STEP = 6  # of so many open ones one is settled in any case
MOST_LOSS = 0.01  # of the cost of the best answer; a relaxation so far above it leads nowhere
MOST_STARTS, MOVES_A_STEP = 60, 15_000
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
    master, settled = recombiner.master, dict[int, BatchColumn]()
    instance = recreate.instance
    ceiling = (1.0 + MOST_LOSS) * best.rank(instance)[0]
    served: Counter[int] = Counter()
    step_seconds = 0.0
    try:
        while True:
            budget.spend(UNITS_A_STEP)
            began = time.monotonic()
            if budget.over(SLOWER * step_seconds):
                return None
            full = {group for group, units in served.items() if units >= instance.groups[group].units}
            prices = recombiner.price(full)
            if prices is None or master.value > ceiling:
                return None
            fresh = _to_settle(instance, master.shares(), settled, served)
            if not fresh:
                break
            for column in fresh:
                settled[column.batch] = column
                served.update(group for group, _ in column.load)
                master.settle(column)
            if not master.solve():  # before loads are added
                return None
            within = master.columns_within(SMALLEST, 2 * MOST_STARTS)
            starts = [column for column in within if column.batch not in settled][:MOST_STARTS]
            pricing.run(starts, prices.groups, MOVES_A_STEP // max(1, len(starts)), budget)
            recombiner.learn(-LEAST_GAIN)
            step_seconds = time.monotonic() - began
    finally:
        master.unsettle()
    return recreate.run(_packed(recreate, list(settled.values())), STEPS, budget, HEAT)


def _to_settle(
    instance: Instance,
    shares: Iterable[tuple[float, BatchColumn]],
    settled: Mapping[int, BatchColumn],
    served: Counter[int],
) -> list[BatchColumn]:
    """The columns to settle next, the largest shares first; none where no batch is open."""
    still = [(-share, column.key, column) for share, column in shares if column.batch not in settled]
    least = -(-len({column.batch for _, _, column in still}) // BATCHES_A_STEP)
    found: dict[int, BatchColumn] = {}
    taken = Counter(served)
    for share, _, column in sorted(still, key=lambda one: one[:2]):
        if -share <= SETTLED and len(found) >= least:
            break
        if column.batch not in found and _fits(instance, taken, column):
            found[column.batch] = column
            taken.update(group for group, _ in column.load)
    return list(found.values())


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
