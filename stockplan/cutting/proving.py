"""Proofs that a plan is the best there is, from the cheapest sets of pieces on.

What costs no more than so much above the relaxation's bound is gone through whole: either the best plan of it is the
best there is, or none of it is a plan at all, and the bound is so much higher. First little is allowed, so that few
sets are listed; then more by steps, until the cost of the plan in hand is reached. A step mostly takes longer than all
before. Where one is too much, half of it is tried.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from stockplan.cutting.batch_loads import Purse
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import TooManyWays
from stockplan.cutting.exact import Exact, Listed
from stockplan.cutting.instance import Instance
from stockplan.cutting.load_search import LoadSearch
from stockplan.cutting.solution import Solution

FIRST_LISTED, MORE_LISTED = 4_000, 1.5  # sets in the first step, and how many times as many in the next
SPARE = 1.0  # pence, for rounding
HOPELESS = 0.95  # of an allowance that was too much: worth another try below it
LEAST_STEP = 0.05  # of the gap, that a step must bring


class Proof:
    """A proof for one problem, which goes on from where it was left when a better plan is in hand.

    Parameters
    ----------
    instance
        The problem.
    exact
        The relaxation over sets of pieces, with its bound.
    """

    def __init__(self, instance: Instance, exact: Exact) -> None:
        self.instance, self._exact = instance, exact
        self._cleared, self._too_much = 0.0, math.inf

    def run(self, best: Solution, budget: Budget, hear: Callable[[Solution | None, float], None]) -> None:
        """Look for better plans until there are none, it is too much, or the budget is over.

        Parameters
        ----------
        best
            The plan in hand.
        budget
            Work and clock.
        hear
            Told every better plan, and every better bound.
        """
        ceiling = best.rank(self.instance)[0]
        whole = most = ceiling - self._exact.bound
        listed = self._exact.listed(most + SPARE, budget)
        while listed is None and most > LEAST_STEP * whole and not budget.over():
            most /= 2
            listed = self._exact.listed(most + SPARE, budget)
        if listed is None:
            return
        losses = np.sort(np.concatenate([np.zeros(0), *(one.losses for one in listed)]))
        size = FIRST_LISTED
        while min(whole, most) > self._cleared and not budget.over():
            allowed = min(whole, most, float(losses[size]) - SPARE if size < len(losses) else math.inf)
            size = int(size * MORE_LISTED)
            if allowed <= self._cleared:
                continue
            if allowed >= HOPELESS * self._too_much:
                allowed = (self._cleared + self._too_much) / 2
                if allowed < self._cleared + LEAST_STEP * whole:
                    return
            try:
                answer = self._cheapest(listed, allowed, ceiling, budget)
            except TooManyWays:
                self._too_much = allowed
                continue
            self._cleared = allowed
            if answer is not None:
                ceiling = min(ceiling, answer.rank(self.instance)[0])
                whole = ceiling - self._exact.bound
            hear(answer, min(self._exact.bound + allowed, float(ceiling)))

    def _cheapest(self, listed: list[Listed], allowed: float, ceiling: int, budget: Budget) -> Solution | None:
        """The best plan that costs no more above the bound than this, if there is any."""
        purse = Purse(allowed + SPARE, self._exact.floors(), self._exact.slacks())
        some = [one.within(allowed + SPARE) for one in listed]
        return LoadSearch(self.instance, some, purse, budget).best(ceiling)
