"""The best answer that gives every batch one of the loads it was seen to serve, in whole numbers.

First the relaxation over everything seen; what loses more at its prices than lies between it and the answer in hand is
in no better answer, and left out. What remains goes to HiGHS with that answer as a hint. Where what is bought serves
the units that it serves already, the rest is a program of its own, and far easier: on a week of 150 jobs HiGHS is done
with it in 1 to 7 s, while 10 s bring nothing where purchases are open as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import replace

from ortools.math_opt.python import mathopt

from stockplan.cutting.batch_columns import (
    BatchColumn,
    BatchProgram,
    bought_batches,
    columns_of,
)
from stockplan.cutting.batch_master import BatchMaster
from stockplan.cutting.beside import SCALE, TOLERANCE, Effort, Whole, settings, solve_beside
from stockplan.cutting.instance import Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.seen import Seen
from stockplan.cutting.solution import Prices, Solution

LEAST_GAP = 1.0  # pence
LEAST_GAIN = 1.0  # pence
MOST_HELD = 8_000  # loads, and cuts of purchases; beyond, the relaxation takes seconds
MOST_LEARNT, MOST_NEAR = 1_000, 500  # at once: that gain, or lose little
MOST_ROUNDS = 30
NEVER_PAID = 1e15  # pence, for what may not be served


class Recombiner:
    """Keeps the relaxation over what was seen, and solves in whole numbers what of it matters.

    Parameters
    ----------
    instance
        The problem.
    seen
        What was seen.
    """

    def __init__(self, instance: Instance, seen: Seen) -> None:
        self.instance, self._seen = instance, seen
        self.master = BatchMaster(instance)
        self._prices: Prices | None = None

    def learn(self, loss: float = 0.0, most: int = MOST_LEARNT) -> int:
        """Take into the relaxation what was seen and is not in it.

        Parameters
        ----------
        loss
            How many pence less it may lose at the prices last found; default nothing.
        most
            At most so many loads, those that lose least, and half as many cuts of purchases; default `MOST_LEARNT`.

        Returns
        -------
        How much was new.
        """
        loads = self._seen.new_loads(self._prices, loss, most)
        cuts = self._seen.new_purchases(self._prices, loss, most // 2)
        return self.master.add((BatchColumn(*one) for one in loads), cuts)

    def _forget(self) -> None:
        """Keep the half of what is held that loses least at the prices last found; the rest may be told again."""
        master = BatchMaster(self.instance)
        columns = self.master.columns_within(float("inf"), MOST_HELD // 2)
        cuts = self.master.patterns_within(float("inf"), MOST_HELD // 2)
        master.add(columns, cuts, self.master.sets_within(float("inf"), MOST_HELD // 2))
        self.master = master
        self._seen.tell_again()

    def relax(self, incumbent: Solution) -> bool:
        """Solve the relaxation over all that was seen and an answer in hand; False where it cannot be solved.

        What gains at its prices is taken in until nothing does, then what loses less than the gap.
        """
        if self.master.held > MOST_HELD:
            self._forget()
        self.master.add_answer(incumbent)
        if self._prices is None:
            self.learn()
        for _ in range(MOST_ROUNDS):
            if self.price(prices_alone=True) is None:
                return False
            if not self.learn(-LEAST_GAIN):
                break
        self.learn(incumbent.rank(self.instance)[0] - self.master.value, MOST_NEAR)
        return self.master.solve()

    def price(self, settled: Collection[int] = (), *, prices_alone: bool = False) -> Prices | None:
        """Solve the relaxation over what is in it; its prices, which are noted, or None where it cannot be solved.

        Parameters
        ----------
        settled
            Groups that no other load may serve.
        prices_alone
            As for `BatchMaster.solve`.
        """
        if not self.master.solve(prices_alone=prices_alone):
            return None
        prices = self.master.prices()
        groups = [-NEVER_PAID if group in settled else price for group, price in enumerate(prices.groups)]
        self._prices = replace(prices, groups=groups)
        return self._prices

    def whole(
        self,
        incumbent: Solution,
        effort: Effort,
        *,
        most_columns: int,
        most_patterns: int,
    ) -> Whole:
        """The best answer over what lies within the gap between an answer in hand and the relaxation last solved."""
        gap = incumbent.rank(self.instance)[0] - self.master.value
        columns = self.master.columns_within(gap, most_columns)
        patterns = self.master.patterns_within(gap, most_patterns)
        return best_of_batches(self.instance, columns, patterns, incumbent, effort)

    def whole_of_stock(self, incumbent: Solution, effort: Effort, *, most_columns: int) -> Whole | None:
        """The same with what is bought serving the units that it serves already; None where nothing can be gained."""
        bought = bought_batches(self.instance)
        open_units = {group for (group, choice) in incumbent.given if choice.batch not in bought}
        open_units |= {g for g, group in enumerate(self.instance.groups) if group.job in incumbent.short}
        master = BatchMaster(self.instance)
        master.add_answer(incumbent)
        master.add([c for c in self.master.columns() if all(group in open_units for group, _ in c.load)])
        master.hold_bought(incumbent)
        for _ in range(MOST_ROUNDS):
            if not master.solve(prices_alone=True):
                return None
            if not self._learn_for(master, open_units, -LEAST_GAIN):
                break
        gap = incumbent.rank(self.instance)[0] - master.value
        if gap < LEAST_GAP:
            return None
        self._learn_for(master, open_units, gap)
        if not master.solve():
            return None
        columns = master.columns_within(gap, most_columns)
        return best_of_batches(self.instance, columns, [], incumbent, effort, hold_bought=True)

    def _learn_for(self, master: BatchMaster, open_units: set[int], loss: float) -> int:
        """Take loads of some groups that lose less at the prices of another relaxation into both; how many were new."""
        prices = master.prices()
        groups = [price if group in open_units else -NEVER_PAID for group, price in enumerate(prices.groups)]
        found = self._seen.new_loads(Prices(groups, prices.batches), loss, MOST_LEARNT)
        columns = [BatchColumn(*one) for one in found]
        self.master.add(columns)
        return master.add(columns)


def best_of_batches(
    instance: Instance,
    columns: list[BatchColumn],
    patterns: list[Pattern],
    incumbent: Solution,
    effort: Effort,
    *,
    hold_bought: bool = False,
) -> Whole:
    """The best answer of which each stock batch is one of the columns, and what is bought of the patterns.

    Parameters
    ----------
    instance
        The problem.
    columns, patterns
        What may be used, beside what the incumbent is made of.
    incumbent
        An answer in hand, without surplus.
    effort
        How long it may take.
    hold_bought
        Whether what is bought has to serve just the units that it serves in the incumbent; default not.
    """
    program = BatchProgram(instance, whole=True, ceiling=incumbent.rank(instance)[0])
    program.add_answer(incumbent)
    for column in columns:
        program.add_column(column)
    for pattern in patterns:
        program.add_pattern(pattern)
    if hold_bought:
        program.hold_bought(incumbent)
    start = mathopt.ModelSolveParameters(solution_hints=[_hint(program, incumbent)])
    result = solve_beside(program.model, settings(effort), start, effort.should_stop)
    if result is None:
        return Whole(None, 0.0, proven=False, nodes=0, by_the_clock=True)
    nodes = max(1, result.solve_stats.node_count)
    late = result.termination.limit == mathopt.Limit.TIME
    if not result.has_primal_feasible_solution():
        return Whole(None, 0.0, proven=False, nodes=nodes, by_the_clock=late)
    bound = result.termination.objective_bounds.dual_bound * SCALE - TOLERANCE
    proven = result.termination.reason == mathopt.TerminationReason.OPTIMAL
    return Whole(_answer(program, result), bound, proven, nodes, by_the_clock=late)


def _answer(program: BatchProgram, result: mathopt.SolveResult) -> Solution:
    value = result.variable_values()
    patterns = Counter({p: round(value[v]) for p, v in program.patterns.items() if value[v] > 0.5})
    given = Counter({unit: round(value[v]) for unit, v in program.serve.items() if value[v] > 0.5})
    for column, variable in program.columns.values():
        if value[variable] > 0.5:
            patterns.update(column.patterns)
            given.update(column.load)
    return Solution(patterns, dict(given), frozenset(j for j, v in enumerate(program.short) if value[v] > 0.5))


def _hint(program: BatchProgram, incumbent: Solution) -> mathopt.SolutionHint:
    mine = {column.key for column in columns_of(program.instance, incumbent)}
    values = {v: float(key in mine) for key, (_, v) in program.columns.items()}
    values |= {v: float(incumbent.patterns.get(p, 0)) for p, v in program.patterns.items()}
    values |= {v: float(incumbent.given.get(unit, 0)) for unit, v in program.serve.items()}
    values |= {v: float(j in incumbent.short) for j, v in enumerate(program.short)}
    return mathopt.SolutionHint(variable_values=values)
