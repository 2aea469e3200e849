"""A round of programs over loads between two cycles of ruin and recreate.

What every batch was seen to serve is put together anew, with what more is found at its prices (`batch_pricing.py`):
by settling one batch after another (`diving.py`), then by whole-number programs (`recombining.py`), first with what is
bought as it is, then, in weeks that are small enough, with all of it free.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection

from stockplan.cutting.batch_columns import BatchColumn, columns_of
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.beside import Effort, Whole
from stockplan.cutting.budget import Budget
from stockplan.cutting.diving import dive
from stockplan.cutting.first_loads import Told
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recombining import Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed

MOST_COLUMNS, MOST_BOUGHT, MOST_COLUMNS_OF_STOCK = 3_000, 3_000, 1_000
MOST_GROUPS = 80  # beyond this a program that leaves open what is bought brings nothing
PRICING_ROUNDS, MOST_STARTS, MOVES_A_ROUND = 1, 60, 50_000
MOST_NODES = 1_000
SLOWER = 1.5  # a step that the clock cannot cut short is begun if it may take so many times as long as the last
MOST_SECONDS, MOST_SHARE = 8.0, 0.5  # of the clock, at most, for one program; at most, of what is left
UNITS_A_PROGRAM, UNITS_A_NODE, COLUMNS_A_UNIT = 50, 2, 10  # of work
SMALLEST = 1e-6
SHOWN_WITHIN, MOST_SHOWN = 0.003, 3_000  # of the relaxation's value: what loses more is not shown, nor more at once


class Rounds:
    """Rounds of programs over what one ruin and recreate has seen.

    Parameters
    ----------
    recreate
        What has seen it; walks at given prices use its room and chance too.
    budget
        Work and clock.
    show
        Told what was seen that may be of use to a bound; default nobody.

    Attributes
    ----------
    seconds
        How long the last round took by the clock; 0 before the first.
    """

    def __init__(self, recreate: Recreate, budget: Budget, show: Callable[[Told], None] | None = None) -> None:
        self.instance, self._budget, self._show = recreate.instance, budget, show
        self._shown: set[BatchColumn | Pattern] = set()
        self._recombiner = Recombiner(recreate.instance, recreate.seen)
        self._pricing = BatchPricing(recreate)
        self._recreate = recreate
        self._relax_seconds = self.seconds = 0.0

    def learn(self, loads: Collection[BatchColumn], bought: Collection[Pattern]) -> None:
        """Take loads and cuts of what is bought that were found elsewhere into the relaxation."""
        self._shown.update(loads, bought)
        self._recombiner.master.add(loads, bought)

    def run(self, best: Solution) -> Solution:
        """The best answer that gives every batch a load it was seen to serve; none worse than the one given."""
        began = time.monotonic()
        if self._learn(best):
            self._show_seen(best)
            best = self._dived(best)
            if self._relaxed(best):
                best = self._recombined_stock(best)
                if len(self.instance.groups) <= MOST_GROUPS:
                    best = self._recombined(best)
        self.seconds = time.monotonic() - began
        return best

    def _learn(self, best: Solution) -> bool:
        """Take what was seen into the relaxation, and what is found at its prices; False without time for it."""
        for _ in range(PRICING_ROUNDS):
            if not self._relaxed(best):
                return False
            master = self._recombiner.master
            starts = [*columns_of(self.instance, best), *master.columns_within(SMALLEST, MOST_STARTS)]
            starts = list(dict.fromkeys(starts))
            self._pricing.run(starts, master.job_prices(), MOVES_A_ROUND // max(1, len(starts)), self._budget)
        return self._relaxed(best)

    def _show_seen(self, best: Solution) -> None:
        """Show what loses little and was not shown before, nor learnt from where it would be shown."""
        if self._show is None:
            return
        master = self._recombiner.master
        loss = SHOWN_WITHIN * master.value
        loads = [one for one in master.columns_within(loss, MOST_SHOWN) if one not in self._shown]
        bought = [one for one in master.patterns_within(loss, MOST_SHOWN) if one not in self._shown]
        self._shown.update(loads, bought)
        self._show(Told(loads, bought, best))

    def _dived(self, best: Solution) -> Solution:
        """An answer near the relaxation, where that is better."""
        if self._budget.over():
            return best
        found = dive(self._recombiner, self._pricing, self._recreate, best, self._budget)
        return best if found is None else min(best, found, key=lambda answer: answer.rank(self.instance))

    def _relaxed(self, best: Solution) -> bool:
        """Take what was seen into the relaxation and solve it; False where that fails or the clock leaves no time."""
        if self._budget.over(SLOWER * self._relax_seconds):
            return False
        began = time.monotonic()
        solved = self._recombiner.relax(best)
        self._relax_seconds = time.monotonic() - began
        return solved

    def _recombined_stock(self, best: Solution) -> Solution:
        """With what is bought serving the units it serves already."""
        if self._budget.over(SLOWER * self._relax_seconds):
            return best
        whole = self._recombiner.whole_of_stock(best, self._effort(), most_columns=MOST_COLUMNS_OF_STOCK)
        return best if whole is None else self._better(best, whole, MOST_COLUMNS_OF_STOCK)

    def _recombined(self, best: Solution) -> Solution:
        """With what is bought free to change."""
        if self._budget.over(SLOWER * self._relax_seconds):
            return best
        whole = self._recombiner.whole(best, self._effort(), most_columns=MOST_COLUMNS, most_patterns=MOST_BOUGHT)
        return self._better(best, whole, MOST_COLUMNS + MOST_BOUGHT)

    def _effort(self) -> Effort:
        """How long one program over batches may take: by nodes alone where work is limited."""
        limit, seconds, nodes = self._budget.work_limit, self._budget.seconds_left(), MOST_NODES
        if limit is None:
            seconds = min(MOST_SECONDS, MOST_SHARE * seconds)
        else:
            nodes = min(MOST_NODES, max(0, limit - self._budget.work) // UNITS_A_NODE)
        return Effort(seconds, self._budget.over, nodes)

    def _better(self, best: Solution, whole: Whole, columns: int) -> Solution:
        """Count the work of a whole-number program; its answer where that is better."""
        self._budget.spend(UNITS_A_PROGRAM + columns // COLUMNS_A_UNIT + UNITS_A_NODE * whole.nodes)
        self._budget.by_the_clock |= whole.by_the_clock
        if whole.answer is None:
            return best
        return min(best, trimmed(self.instance, whole.answer), key=lambda answer: answer.rank(self.instance))
