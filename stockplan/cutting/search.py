"""The search for one product's plan: first answers, bound, improvement, proof.

The foreman's plan is the first answer. Ruin and recreate improves it for a share of the work; column generation then
gives the bound; ruin and recreate goes on from the best answer, with a whole-number master over all patterns seen
between cycles, until the bound is met or the work is spent.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from stockplan.cutting.budget import Budget
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.generation import Generator, Pricers
from stockplan.cutting.instance import Instance
from stockplan.cutting.integer import best_whole
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed

CYCLES = 12
MOST_BOUND_ROWS = 3000


@dataclass(frozen=True)
class Found:
    """What the search found.

    Parameters
    ----------
    best
        The best answer.
    foreman
        The foreman's.
    bound
        Lower bound in pence, penalties included.
    proven
        Whether no answer is better.
    """

    best: Solution
    foreman: Solution
    bound: float
    proven: bool


class Search:
    """One product's search.

    Parameters
    ----------
    instance
        The problem.
    seed
        Seed of every random choice.
    budget
        Work and clock.
    report
        Told the phase, the best answer and the bound now and then.
    """

    def __init__(
        self, instance: Instance, seed: int, budget: Budget, report: Callable[[str, Solution, float], None]
    ) -> None:
        self.instance, self.budget, self._report = instance, budget, report
        self.recreate = Recreate(instance, seed)
        self.foreman = trimmed(instance, foreman_plan(instance))
        self.best = self.foreman
        self.bound = 0.0
        self.patterns: dict[Pattern, None] = dict.fromkeys(self.foreman.patterns)

    def run(self) -> Found:
        """Search until the bound is met, the work is spent or the budget is over."""
        self._tell("first plan")
        jobs = max(1, len(self.instance.jobs))
        steps = max(300, min(20_000, 150 * jobs))
        self._improve(steps, 0.02)
        self._bound()
        for cycle in range(CYCLES):
            if self.proven or self.budget.over():
                break
            self._improve(steps, 0.02 if cycle % 2 else 0.005)
            self._combine()
        else:
            self.budget.ended_by = "work limit"
        if self.proven:
            self.budget.ended_by = "proof"
        return Found(self.best, self.foreman, self.bound, self.proven)

    @property
    def proven(self) -> bool:
        """Whether the best answer meets the bound, to the penny."""
        cost, _ = self.best.rank(self.instance)
        return math.ceil(self.bound - 1e-6) >= cost

    def _improve(self, steps: int, heat: float) -> None:
        self._offer(self.recreate.run(self.best, steps, self.budget, heat))
        self._tell("improving")

    def _bound(self) -> None:
        """The relaxation's bound, as far as the budget goes."""
        if self.budget.over():
            return
        pricers = Pricers(self.instance)
        master = Master(self.instance, self.patterns)
        generator = Generator(master, pricers, self.budget)

        def on_round(value: float, bound: float) -> None:
            self.bound = max(self.bound, bound)
            self._tell("bound")

        generator.run(tolerance=1e-5, on_round=on_round)
        self.bound = max(self.bound, generator.bound)
        self.patterns.update(dict.fromkeys(master.columns))

    def _combine(self) -> None:
        """The best answer over all patterns seen."""
        if self.budget.over():
            return
        seconds = min(5.0, self.budget.seconds_left())
        answer, _ = best_whole(self.instance, self.patterns, seconds=seconds, incumbent=self.best)
        if answer is not None:
            self._offer(trimmed(self.instance, answer))
        self._tell("combining")

    def _offer(self, answer: Solution) -> None:
        self.patterns.update(dict.fromkeys(answer.patterns))
        if answer.rank(self.instance) < self.best.rank(self.instance):
            self.best = answer

    def _tell(self, phase: str) -> None:
        self._report(phase, self.best, self.bound)
