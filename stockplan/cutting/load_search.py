"""The best answer of which every batch serves one load, cut into listed sets of pieces, found by sums.

    R_b(M)  = least cost of cutting just the pieces M from batch b, source by source:
              R_c(M) = min over sets s listed for source c, or none, of cost_s + R_c-1(M - s)
    D_b(U)  = least cost of serving just the units U from batches up to b
            = min over loads S of b of R_b(pieces of S) + seams of S + D_b-1(U - S)

What a better plan may cost above the relaxation's bound is a purse: every set takes its reduced cost from it, every
source left whole its class's price, and every unit what its choice costs more than its cheapest. What would take more
than there is, is left out, as in the relaxation's own list (`exact.py`). Rows of `links.py` charge the sets of a whole
answer no more than they give back to its jobs, so what is taken is no more than what the answer costs above the bound.
On weeks of eight jobs this takes 0.01 to 3 s where HiGHS, whose relaxation serves jobs in shares, needs 0.2 to 60 s.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from stockplan.cutting.batch_loads import COST_UNIT, BatchLoads, Loads, Purse, Stated, Unit
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import TooManyWays
from stockplan.cutting.exact import Listed
from stockplan.cutting.instance import Instance
from stockplan.cutting.kinds import most_needed
from stockplan.cutting.load_kernels import NEVER, NONE, combine
from stockplan.cutting.load_states import Fields, Numbers
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Solution

MOST_SERVED = 2_000_000  # ways to serve some of all units
MOST_PAIRS = 300_000_000  # of those and the loads of one batch
SPARE = 0.5  # pence, for rounding of prices


class LoadSearch:
    """One such search.

    Parameters
    ----------
    instance
        The problem.
    listed
        Every set of pieces that a better plan may use.
    purse
        See `Purse`.
    budget
        Work and clock.

    Raises
    ------
    TooManyWays
        When the problem is too large.
    """

    def __init__(self, instance: Instance, listed: Sequence[Listed], purse: Purse, budget: Budget) -> None:
        self.instance, self._listed, self._budget = instance, listed, budget
        self._left = purse.gap + SPARE
        self._units = Fields.of([group.units for group in instance.groups])
        self._steps = [1]
        for group in instance.groups:
            self._steps.append(self._steps[-1] * (group.units + 1))
        if self._steps[-1] > MOST_SERVED:
            raise TooManyWays
        self._stated = Stated(instance, purse, most_needed(instance), self._units, tuple(self._steps), budget)
        self._of_batch: list[list[tuple[int, Listed]]] = [[] for _ in instance.batches]
        first = 0
        for one in listed:
            self._of_batch[one.source.batch].append((first, one))
            first += len(one.numbers)

    def best(self, ceiling: int) -> Solution | None:
        """The best answer; None when none takes no more than there is in the purse.

        Parameters
        ----------
        ceiling
            Cost of the answer in hand, pence: no job is left short whose penalty is above it.

        Raises
        ------
        TooManyWays
            When there are too many ways, or the budget ends first.
        """
        found: list[Loads] = []
        sizes = [sum(len(one.numbers) for _, one in mine) for mine in self._of_batch]
        for batch in sorted(range(len(sizes)), key=sizes.__getitem__):
            loads = BatchLoads(self._stated, batch, self._of_batch[batch]).loads(self._left)
            if not loads.costs.size:
                return None
            self._left -= loads.taken
            found.append(loads)
        return self._put_together(found, ceiling)

    def _put_together(self, found: list[Loads], ceiling: int) -> Solution | None:
        """The cheapest way to serve every unit once."""
        short = self._left_short(ceiling)
        stages = [one.stage for one in found] + [stage for _, stage in short]
        digits = np.zeros(1, dtype=np.int64)
        for shift, group in zip(self._units.shifts, self.instance.groups, strict=True):
            digits = np.concatenate([digits + (units << shift) for units in range(group.units + 1)])
        if len(digits) * max(len(costs) for _, _, costs in stages) > MOST_PAIRS:
            raise TooManyWays
        best = np.full(len(digits), NEVER, dtype=np.int64)
        best[0] = 0
        choices: list[Numbers] = []
        shape = (self._units.single, self._units.full, self._units.guards)
        for stage in stages:
            after, chosen = np.full(len(digits), NEVER, dtype=np.int64), np.full(len(digits), NONE, dtype=np.int64)
            combine(best, digits, shape, stage, after, chosen)
            best = after
            choices.append(chosen)
            if self._budget.over():
                raise TooManyWays
        if best[-1] >= NEVER:
            return None
        at, loads = len(digits) - 1, []
        for chosen, (_, steps, _) in zip(reversed(choices), reversed(stages), strict=True):
            loads.append(int(chosen[at]))
            at -= int(steps[loads[-1]])
        loads.reverse()
        missed = [job for (job, _), load in zip(short, loads[len(found) :], strict=True) if load]
        return self._answer(list(zip(found, loads, strict=False)), missed)

    def _left_short(self, ceiling: int) -> list[tuple[int, tuple[Numbers, Numbers, Numbers]]]:
        """By job that may be left short: that it is not, or that all its units are."""
        found = []
        for job, penalty in enumerate(self.instance.penalties):
            mine = [(g, group.units) for g, group in enumerate(self.instance.groups) if group.job == job]
            if penalty <= ceiling and mine:
                digits, steps, costs = np.zeros((3, 2), dtype=np.int64)
                digits[1] = self._units.code(mine)
                steps[1] = sum(units * self._steps[g] for g, units in mine)
                costs[1] = penalty * COST_UNIT
                found.append((job, (digits, steps, costs)))
        return found

    def _answer(self, loads: list[tuple[Loads, int]], short: list[int]) -> Solution:
        patterns: Counter[Pattern] = Counter()
        given: dict[Unit, int] = {}
        for one, load in loads:
            patterns.update(map(self._pattern, one.states.sets_of(int(one.records[load]))))
            given |= one.units(load)
        return Solution(patterns, given, frozenset(short))

    def _pattern(self, number: int) -> Pattern:
        for one in self._listed:
            if number < len(one.numbers):
                return one.pattern(number)
            number -= len(one.numbers)
        raise IndexError(number)
