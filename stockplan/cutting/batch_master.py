"""The relaxation of the program over whole batches (`batch_columns.py`), with columns added as they are found.

Some of them may be settled: they then are in every answer, whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from ortools.math_opt.python import mathopt

from stockplan.cutting.batch_columns import BatchColumn, BatchProgram
from stockplan.cutting.beside import SCALE
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.set_master import PieceSet
from stockplan.cutting.solution import Load, Prices, Solution

# Without presolve and scaling a week of 150 jobs takes a quarter of the time.
AS_IT_IS = mathopt.SolveParameters(presolve=mathopt.Emphasis.OFF, scaling=mathopt.Emphasis.OFF)
# Where bounds moved and no column came, the last basis has the right prices still: 0.3 s in place of 7 on 375 jobs.
FROM_PRICES = mathopt.SolveParameters(
    presolve=mathopt.Emphasis.OFF, scaling=mathopt.Emphasis.OFF, lp_algorithm=mathopt.LPAlgorithm.DUAL_SIMPLEX
)
LEAST_SHARE = 1e-6
Cut = TypeVar("Cut", Pattern, PieceSet)
NOTHING = mathopt.VariableFilter(filtered_items=())  # what is not asked for need not be read


class BatchMaster:
    """The relaxation, with columns and patterns added as they are found.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self._program = BatchProgram(instance, whole=False)
        self._solver = mathopt.IncrementalSolver(self._program.model, mathopt.SolverType.GLOP)
        self.solved = False
        self._moved = self._grown = False
        self._settled: list[tuple[int, Load]] = []

    def add(
        self,
        columns: Iterable[BatchColumn] = (),
        patterns: Iterable[Pattern] = (),
        sets: Iterable[PieceSet] = (),
    ) -> int:
        """Add columns, and patterns or sets of what is bought; returns how many were new, or cheaper than ones held."""
        new = sum([self._program.add_column(column) for column in columns])
        new += sum([self._program.add_pattern(pattern) for pattern in patterns])
        new += sum([self._program.add_set(one) for one in sets])
        self._grown |= new > 0
        return new

    def fence(self, prices: Mapping[PieceType, float]) -> None:
        """Let pieces of what is bought be had at some prices, pence, so that they are worth no more."""
        self._program.fence(prices)
        self._grown = True

    def leant_on(self) -> list[PieceType]:
        """The pieces that are had so in the relaxation last solved."""
        return [piece for piece, variable in self._program.had.items() if self._had.get(variable, 0.0) > LEAST_SHARE]

    def add_answer(self, answer: Solution) -> None:
        """Add what an answer is made of."""
        self._program.add_answer(answer)
        self._grown = True

    def hold_bought(self, answer: Solution) -> None:
        """What is bought is to serve just the units that it serves in an answer."""
        self._program.hold_bought(answer)

    def solve(self, *, prices_alone: bool = False) -> bool:
        """Solve the relaxation; False when it is infeasible.

        Parameters
        ----------
        prices_alone
            Whether nothing but prices is wanted, not what each column loses; default not.
        """
        wanted = mathopt.ModelSolveParameters(
            variable_values_filter=mathopt.VariableFilter(filtered_items=tuple(self._program.had.values())),
            reduced_costs_filter=NOTHING if prices_alone else mathopt.VariableFilter(),
        )
        result = self._solved(wanted)
        if result is None:
            return False
        self._value = float(result.objective_value()) * SCALE
        self._had = result.variable_values()
        self._duals, self._reduced = result.dual_values(), result.reduced_costs()
        self.solved = True
        return True

    def _solved(self, wanted: mathopt.ModelSolveParameters) -> mathopt.SolveResult | None:
        """What comes of the relaxation, by another engine where the first fails; None when it is infeasible."""
        parameters = FROM_PRICES if self._moved and not self._grown else AS_IT_IS
        self._moved = self._grown = False
        try:
            result = self._solver.solve(params=parameters, model_params=wanted)
        except (AttributeError, RuntimeError, ValueError):  # as in `master.py`
            result = None
        if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            result = mathopt.solve(self._program.model, mathopt.SolverType.HIGHS)
            self._solver = mathopt.IncrementalSolver(self._program.model, mathopt.SolverType.GLOP)
        return result if result.termination.reason == mathopt.TerminationReason.OPTIMAL else None

    def shares(self) -> list[tuple[float, BatchColumn]]:
        """Solve anew, and tell the columns in use, each with its share of its batch; none when it is infeasible."""
        held = self._program.columns
        wanted = mathopt.VariableFilter(filtered_items=tuple(v for _, v in held.values()), skip_zero_values=True)
        result = self._solved(mathopt.ModelSolveParameters(variable_values_filter=wanted))
        if result is None:
            return []
        values = result.variable_values()
        return [(values[v], column) for column, v in held.values() if values.get(v, 0.0) > LEAST_SHARE]

    def settle(self, column: BatchColumn) -> None:
        """A column held is in every answer until `unsettle`."""
        self._program.columns[column.key][1].lower_bound = 1.0
        self._moved = True
        self._settled.append(column.key)

    def unsettle(self, column: BatchColumn | None = None) -> None:
        """A column settled need not be in an answer any more; by default none of them has to."""
        for key in list(self._settled) if column is None else [column.key]:
            self._program.columns[key][1].lower_bound = 0.0
            self._moved = True
            self._settled.remove(key)

    @property
    def value(self) -> float:
        """Objective of the relaxation last solved, pence."""
        return self._value

    @property
    def held(self) -> int:
        """How many columns are held, or cuts of what is bought where these are more."""
        return max(len(self._program.columns), len(self._program.patterns) + len(self._program.sets))

    def columns(self) -> list[BatchColumn]:
        """Every column held."""
        return [column for column, _ in self._program.columns.values()]

    def job_prices(self) -> list[float]:
        """By group: what one unit served is worth, pence."""
        return [self._duals[row] * SCALE for row in self._program.group_rows]

    def prices(self) -> Prices:
        """What everything is worth at the relaxation last solved."""
        return Prices(self.job_prices(), self.batch_prices(), self.piece_prices())

    def batch_prices(self) -> dict[int, float]:
        """By stock batch: the dual of its row, pence; positive only where pieces are fixed."""
        return {b: self._duals[row] * SCALE for b, row in self._program.batch_rows.items()}

    def piece_prices(self) -> dict[PieceType, float]:
        """By piece type of what is bought: pence, never negative."""
        return {t: max(0.0, self._duals[row] * SCALE) for t, row in self._program.piece_rows.items()}

    def class_prices(self) -> dict[Source, float]:
        """By class that is stated piece by piece and of which there is an end: pence, never positive."""
        return {s: min(0.0, self._duals[row] * SCALE) for s, row in self._program.class_rows.items()}

    def columns_within(self, loss: float, most: int) -> list[BatchColumn]:
        """The columns whose reduced cost is at most so many pence, those that lose least first, at most so many.

        Those added since the relaxation was solved count as losing nothing.
        """
        found = [(round(self._reduced.get(v, 0.0) * SCALE, 3), k) for k, (_, v) in self._program.columns.items()]
        return [self._program.columns[key][0] for lost, key in sorted(found)[:most] if lost <= loss]

    def patterns_within(self, loss: float, most: int) -> list[Pattern]:
        """The patterns of what is bought whose reduced cost is at most so many pence, likewise."""
        return self._within(self._program.patterns, loss, most)

    def sets_within(self, loss: float, most: int) -> list[PieceSet]:
        """The sets of what is bought whose reduced cost is at most so many pence, likewise."""
        return self._within(self._program.sets, loss, most)

    def _within(self, held: Mapping[Cut, mathopt.Variable], loss: float, most: int) -> list[Cut]:
        found = [(round(self._reduced.get(v, 0.0) * SCALE, 3), n, cut) for n, (cut, v) in enumerate(held.items())]
        return [cut for lost, _, cut in sorted(found, key=lambda one: one[:2])[:most] if lost <= loss]
