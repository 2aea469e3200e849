"""Whole answers to a covering program: its relaxation by column generation, and diving.

Columns are added to the relaxation as they are found to gain (Gilmore and Gomory 1961). Whole answers come from diving:
columns taken at least once in the relaxation are fixed, else the one taken most, and the rest is priced and solved
again (Vanderbeck 2000; Belov and Scheithauer 2002).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

import numpy as np
from ortools.math_opt.python import mathopt

from stockplan.cutting.budget import Budget
from stockplan.cutting.covering import MOST_AT_ONCE, SCALE, Column, Covering, Integers, Oracle, bound_at

SMALLEST_GAIN = SCALE // 10**6
NEARLY_ONE = 0.999
ROUNDS_IN_A_DIVE = 4
NOISE = 0.25  # of what is taken, in choosing the column to fix when diving again


class Relaxation:
    """The linear relaxation over the columns in hand, solved again from the last basis.

    Parameters
    ----------
    problem
        What to cover.
    highest
        By size: no price is higher.
    """

    def __init__(self, problem: Covering, highest: Sequence[int]) -> None:
        self.problem, self._highest = problem, highest
        self._model = mathopt.Model()
        self._rows = [self._model.add_linear_constraint(lb=float(d)) for d in problem.demands]
        self._limits = {
            s: self._model.add_linear_constraint(ub=float(n)) for s, n in enumerate(problem.copies) if n is not None
        }
        dearest = sum(problem.costs) + 1.0
        for row in self._rows:
            missing = self._model.add_variable(lb=0.0)
            row.set_coefficient(missing, 1.0)
            self._model.objective.set_linear_coefficient(missing, 10.0 * dearest)
        self.columns: dict[Column, mathopt.Variable] = {}
        self._solver = mathopt.IncrementalSolver(self._model, mathopt.SolverType.GLOP)

    def add(self, columns: Iterable[Column]) -> int:
        """Add columns not yet held; returns how many were new."""
        before = len(self.columns)
        for column in columns:
            if column in self.columns:
                continue
            variable = self._model.add_variable(lb=0.0)
            self.columns[column] = variable
            self._model.objective.set_linear_coefficient(variable, self.problem.costs[column.source])
            for size, count in column.made:
                self._rows[size].set_coefficient(variable, count)
            if column.source in self._limits:
                self._limits[column.source].set_coefficient(variable, 1.0)
        return len(self.columns) - before

    def ask(self, demands: Sequence[int], used: Counter[int]) -> None:
        """Ask for these demands, with so many copies of each source used up."""
        for row, demand in zip(self._rows, demands, strict=True):
            row.lower_bound = float(demand)
        for source, row in self._limits.items():
            row.upper_bound = float((self.problem.copies[source] or 0) - used[source])

    def move(self, amounts: Sequence[float]) -> None:
        """Move every demand a little from what the problem says."""
        for row, demand, amount in zip(self._rows, self.problem.demands, amounts, strict=True):
            row.lower_bound = demand + amount

    def solve(self) -> float:
        """Solve; returns the value in units of cost."""
        try:
            result = self._solver.solve()
        except (AttributeError, RuntimeError, ValueError):  # see `Master`: how OR-Tools reports an abnormal end varies
            result = None
        if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            result = mathopt.solve(self._model, mathopt.SolverType.HIGHS)
            self._solver = mathopt.IncrementalSolver(self._model, mathopt.SolverType.GLOP)
        self._result = result
        return float(result.objective_value())

    def prices(self) -> Integers:
        """Prices of the sizes, whole, rounded down, at least 0."""
        duals = self._result.dual_values()
        each = zip(self._highest, self._rows, strict=True)
        return np.array([min(most, int(max(0.0, duals[row]) * SCALE)) for most, row in each], dtype=np.int64)

    def limit_prices(self) -> dict[int, int]:
        """What one more copy of a limited source would save, whole, rounded up."""
        duals = self._result.dual_values()
        return {s: ceil(max(0.0, -duals[row]) * SCALE) for s, row in self._limits.items()}

    def taken(self) -> dict[Column, float]:
        """How often each column is taken."""
        values = self._result.variable_values()
        return {column: values[v] for column, v in self.columns.items() if values[v] > 1e-7}


@dataclass
class Rounding:
    """Column generation and diving on one covering problem.

    Parameters
    ----------
    problem, oracle
        What to cover, and what finds columns.
    budget
        Work and clock.
    best
        The best answer; None before there is one.
    bound
        The best bound, in whole units of cost.
    on_better
        Told when there is a better answer or bound.
    finish
        Another way to cover what a dive leaves, given what is wanted, how many copies of each source are used up, and
        the most it may cost; None when it finds none.
    few
        It is tried once no more pieces than this are wanted.
    """

    problem: Covering
    oracle: Oracle
    budget: Budget
    best: Counter[Column] | None = None
    bound: int = 0
    relaxation: Relaxation = field(init=False)
    on_better: Callable[[], None] = lambda: None
    finish: Callable[[Sequence[int], Counter[int], int], Counter[Column] | None] = lambda wanted, used, most: None
    few: int = 0

    def __post_init__(self) -> None:
        self.relaxation = Relaxation(self.problem, self.oracle.highest(self.problem.demands))
        self._value = float("-inf")

    @property
    def slack(self) -> float:
        """How far the bound is above the relaxation as first solved, in units of cost; infinite before it is."""
        return self.bound - self._value

    @property
    def cost(self) -> float:
        """Cost of the best answer, infinite before there is one."""
        return float("inf") if self.best is None else self.problem.cost(self.best)

    @property
    def proven(self) -> bool:
        """Whether no answer can be better."""
        return self.cost <= self.bound

    def offer(self, answer: Counter[Column]) -> None:
        """Keep an answer if it is better."""
        if self.problem.cost(answer) < self.cost:
            self.best = Counter(answer)
            self.on_better()

    def raise_to(self, bound: int) -> None:
        """Keep a bound if it is better."""
        if bound > self.bound:
            self.bound = bound
            self.on_better()

    def relax(self) -> None:
        """Solve the relaxation, adding columns until none gains, the bound cannot rise or the budget is over."""
        self.relaxation.ask(self.problem.demands, Counter())
        while not self.budget.over():
            value = self.relaxation.solve()
            gained, bound = self._price(self.problem.demands)
            self._value = value
            if bound is not None:
                self.raise_to(ceil(bound))
            if not gained or self.proven or (bound is not None and value - float(bound) < 1e-6):
                return

    def price_more(self) -> int:
        """Add columns that gain at the relaxation's prices; returns how many."""
        return self._price(list(self.problem.demands))[0]

    def _price(self, counts: Sequence[int]) -> tuple[int, Fraction | None]:
        """Add columns that gain at the relaxation's prices; the bound only where all demands are asked for."""
        prices, limits = self.relaxation.prices(), self.relaxation.limit_prices()
        offers = self.oracle.price(prices, counts)
        self.budget.spend(1)
        fresh = []
        for offer in offers:
            enough = self.problem.costs[offer.source] * SCALE + limits.get(offer.source, 0) + SMALLEST_GAIN
            gaining = [c for c in offer.columns if sum(int(prices[t]) * n for t, n in c.made) > enough]
            fresh += gaining[:MOST_AT_ONCE]
        bound = None
        if counts is self.problem.demands:
            bound = bound_at(self.problem, prices, offers)
        return self.relaxation.add(fresh), bound

    def dive(self, choice: random.Random | None = None) -> None:
        """Round the relaxation to a whole answer, from the top.

        Parameters
        ----------
        choice
            Varies which column is fixed; None, the default, fixes the one taken most.
        """
        wanted = list(self.problem.demands)
        fixed: Counter[Column] = Counter()
        used: Counter[int] = Counter()
        tried = self.few == 0
        while any(wanted):
            if not tried and sum(wanted) <= self.few:
                rest = self.finish(wanted, used, int(self.cost) - 1 - self.problem.cost(fixed))
                if rest is not None:
                    self.offer(fixed + rest)
                    return
                tried = True
            self.relaxation.ask(wanted, used)
            value = self.relaxation.solve()
            for _ in range(ROUNDS_IN_A_DIVE):
                if self.budget.over():
                    return
                if not self._price(wanted)[0]:
                    break
                value = self.relaxation.solve()
            if self.problem.cost(fixed) + ceil(value - 1e-6) >= self.cost:
                return
            chosen = self._to_fix(wanted, choice)
            if not chosen:
                return
            for column, count in chosen:
                fixed[column] += count
                used[column.source] += count
                for size, number in column.made:
                    wanted[size] = max(0, wanted[size] - number * count)
        self.offer(fixed)

    def _to_fix(self, wanted: list[int], choice: random.Random | None) -> list[tuple[Column, int]]:
        """Columns to fix and how often: all that are taken once or more, else one; none when copies have run out."""
        taken = self.relaxation.taken()
        often = [(c, int(x + 1 - NEARLY_ONE)) for c, x in taken.items() if x >= NEARLY_ONE]
        if often:
            return often
        most: tuple[float, Column] | None = None
        for column, x in taken.items():
            share = _useful(column, wanted) * x
            if choice is not None:
                share *= 1 - NOISE * choice.random()
            if most is None or (share, column) > most:
                most = share, column
        return [] if most is None else [(most[1], 1)]


def _useful(column: Column, wanted: Sequence[int]) -> float:
    """Share of a column's pieces that are still wanted."""
    return sum(min(n, wanted[t]) for t, n in column.made) / sum(n for _, n in column.made)
