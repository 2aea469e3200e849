"""The program over whole batches: what each batch serves, cut in the cheapest way known.

    minimise    sum over k of cost_k z_k  +  sum over p of cost_p x_p  +  sum over g, h of seams_gh y_gh  +  penalties
    subject to  (group g)  sum over k of units_gk z_k + sum over h of y_gh + units_g s_job(g)  =  units_g
                (batch b)  sum over k of b of z_k  <=  1, exactly 1 where pieces of it are fixed
                (piece t)  sum over p of made_tp x_p - sum over g, h of need_ght y_gh  >=  fixed_t
                (class c)  sum over p cut from c of x_p  <=  copies_c
                z, x, y >= 0 whole, s in {0, 1}

A column k is a batch, its load (units by group and choice) and patterns that make just that. What is bought hardly ever
serves the same units twice, so that the batch `new` is stated piece by piece as at the head of `master.py`: there
alone are x, y and rows of pieces and classes. So are units that need no pieces. Dantzig and Wolfe's reformulation,
with batches as the blocks (Operations Research 8, 1960).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from ortools.math_opt.python import mathopt

from stockplan.cutting.beside import PURCHASE_TIE_BREAK, SCALE
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Load, Prices, Solution


@dataclass(frozen=True)
class BatchColumn:
    """What one batch serves, and how it is cut.

    Parameters
    ----------
    batch
        Index of the batch.
    load
        The units it serves, each as often as it serves it, in order; none that need no pieces.
    patterns
        One for each source touched; they make what the load needs, and what is fixed.
    cost
        Net cost of the patterns, pence.
    """

    batch: int
    load: Load
    patterns: tuple[Pattern, ...]
    cost: int

    @property
    def key(self) -> tuple[int, Load]:
        """Batch and load."""
        return self.batch, self.load


def bought_batches(instance: Instance) -> frozenset[int]:
    """The batches stated piece by piece: what is bought."""
    return frozenset(source.batch for source in instance.sources if source.copies is None)


def columns_of(instance: Instance, answer: Solution) -> list[BatchColumn]:
    """What each stock batch serves in an answer, without surplus."""
    bought = bought_batches(instance)
    patterns: dict[int, list[Pattern]] = {}
    for pattern in sorted(answer.patterns.elements(), key=lambda p: (p.source.tags, p.text())):
        patterns.setdefault(pattern.source.batch, []).append(pattern)
    loads: dict[int, list[tuple[int, Choice]]] = {}
    for (group, choice), units in sorted(answer.given.items()):
        loads.setdefault(choice.batch, []).extend([(group, choice)] * units)
    return [
        BatchColumn(b, loaded(instance, loads.get(b, ())), tuple(cut), sum(p.cost(instance) for p in cut))
        for b, cut in sorted(patterns.items())
        if b not in bought
    ]


def loaded(instance: Instance, units: Iterable[tuple[int, Choice]]) -> Load:
    """Units of a batch in order, without those that need no pieces."""
    return tuple(sorted(unit for unit in units if instance.groups[unit[0]].demands[unit[1]]))


class BatchProgram:
    """The program's rows, and columns as they are added; in shares or in whole numbers.

    Parameters
    ----------
    instance
        The problem.
    whole
        Whether in whole numbers.
    ceiling
        No job may be left short whose penalty is above it, pence; default none.
    """

    def __init__(self, instance: Instance, *, whole: bool, ceiling: float = float("inf")) -> None:
        self.instance, self._whole = instance, whole
        self.model = mathopt.Model()
        self.bought = bought_batches(instance)
        add = self.model.add_linear_constraint
        fixed = {piece.batch for piece, count in instance.fixed.items() if count}
        self.batch_rows = {
            b: add(lb=float(b in fixed), ub=1.0) for b in range(len(instance.batches)) if b not in self.bought
        }
        self.piece_rows = {
            t: add(lb=instance.fixed.get(t, 0)) for t in instance.piece_types() if t.batch in self.bought
        }
        self.class_rows = {
            s: add(ub=s.copies) for s in instance.sources if s.batch in self.bought and s.copies is not None
        }
        self.short = [self._variable(float(penalty <= ceiling)) for penalty in instance.penalties]
        for variable, penalty in zip(self.short, instance.penalties, strict=True):
            if penalty <= ceiling:
                self.model.objective.set_linear_coefficient(variable, penalty / SCALE)
        self.group_rows = [add(lb=group.units, ub=group.units) for group in instance.groups]
        self.serve: dict[tuple[int, Choice], mathopt.Variable] = {}
        self.columns: dict[tuple[int, Load], tuple[BatchColumn, mathopt.Variable]] = {}
        self.patterns: dict[Pattern, mathopt.Variable] = {}
        for number in range(len(instance.groups)):
            self._state_group(number)

    def _variable(self, most: float) -> mathopt.Variable:
        # In shares the rows alone bound everything: a bound of a variable's own would keep its price out of theirs.
        return self.model.add_variable(
            lb=0.0, ub=most if self._whole or not most else float("inf"), is_integer=self._whole
        )

    def _state_group(self, number: int) -> None:
        """How a group's units may be left short, or served without a column."""
        group, row = self.instance.groups[number], self.group_rows[number]
        row.set_coefficient(self.short[group.job], group.units)
        for choice, demand in group.demands.items():
            if demand and choice.batch not in self.bought:
                continue
            variable = self._variable(group.units)
            self.serve[number, choice] = variable
            self.model.objective.set_linear_coefficient(variable, group.cost(choice) / SCALE)
            row.set_coefficient(variable, 1)
            for piece, count in demand.items():
                self.piece_rows[piece].set_coefficient(variable, -count)

    def add_column(self, column: BatchColumn) -> bool:
        """Add a column, or make one of its load cheaper; False where one as cheap is held."""
        known = self.columns.get(column.key)
        if known is not None and known[0].cost <= column.cost:
            return False
        units = Counter(group for group, _ in column.load)
        seams = sum(self.instance.groups[group].cost(choice) for group, choice in column.load)
        if known is None:
            variable = self._variable(1.0)
            self.batch_rows[column.batch].set_coefficient(variable, 1)
            for group, count in units.items():
                self.group_rows[group].set_coefficient(variable, count)
        else:
            variable = known[1]
        self.model.objective.set_linear_coefficient(variable, (column.cost + seams) / SCALE)
        self.columns[column.key] = (column, variable)
        return True

    def add_pattern(self, pattern: Pattern) -> bool:
        """Add a pattern of a batch stated piece by piece; False where it is held."""
        if pattern in self.patterns:
            return False
        copies = pattern.source.copies
        variable = self._variable(float("inf") if copies is None else copies)
        tie_break = PURCHASE_TIE_BREAK if pattern.source.option is not None else 0.0
        self.model.objective.set_linear_coefficient(variable, (pattern.cost(self.instance) + tie_break) / SCALE)
        for piece, count in pattern.made().items():
            if piece in self.piece_rows:
                self.piece_rows[piece].set_coefficient(variable, count)
        if copies is not None:
            self.class_rows[pattern.source].set_coefficient(variable, 1)
        self.patterns[pattern] = variable
        return True

    def hold_bought(self, answer: Solution) -> None:
        """What is bought is to serve just the units that it serves in an answer."""
        for unit, variable in self.serve.items():
            if unit[1].batch in self.bought:
                variable.lower_bound = variable.upper_bound = answer.given.get(unit, 0)

    def add_answer(self, answer: Solution) -> None:
        """Add what an answer is made of."""
        for column in columns_of(self.instance, answer):
            self.add_column(column)
        for pattern in answer.patterns:
            if pattern.source.batch in self.bought:
                self.add_pattern(pattern)


LEAST_SHARE = 1e-6
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
        self._settled: list[tuple[int, Load]] = []

    def add(self, columns: Iterable[BatchColumn] = (), patterns: Iterable[Pattern] = ()) -> int:
        """Add columns, and patterns of what is bought; returns how many were new, or cheaper than ones held."""
        new = sum([self._program.add_column(column) for column in columns])
        return new + sum([self._program.add_pattern(pattern) for pattern in patterns])

    def add_answer(self, answer: Solution) -> None:
        """Add what an answer is made of."""
        self._program.add_answer(answer)

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
            variable_values_filter=NOTHING, reduced_costs_filter=NOTHING if prices_alone else mathopt.VariableFilter()
        )
        try:
            result = self._solver.solve(model_params=wanted)
        except (AttributeError, RuntimeError, ValueError):  # as in `master.py`
            result = None
        if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            result = mathopt.solve(self._program.model, mathopt.SolverType.HIGHS)
            self._solver = mathopt.IncrementalSolver(self._program.model, mathopt.SolverType.GLOP)
        if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            return False
        self._value = float(result.objective_value()) * SCALE
        self._duals, self._reduced = result.dual_values(), result.reduced_costs()
        self.solved = True
        return True

    def shares(self) -> list[tuple[float, BatchColumn]]:
        """Solve anew, and tell the columns in use, each with its share of its batch."""
        held = self._program.columns
        wanted = mathopt.VariableFilter(filtered_items=tuple(v for _, v in held.values()), skip_zero_values=True)
        result = self._solver.solve(model_params=mathopt.ModelSolveParameters(variable_values_filter=wanted))
        if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            return []
        values = result.variable_values()
        return [(values[v], column) for column, v in held.values() if values.get(v, 0.0) > LEAST_SHARE]

    def settle(self, column: BatchColumn) -> None:
        """A column held is in every answer until `unsettle`."""
        self._program.columns[column.key][1].lower_bound = 1.0
        self._settled.append(column.key)

    def unsettle(self) -> None:
        """No column has to be in an answer any more."""
        for key in self._settled:
            self._program.columns[key][1].lower_bound = 0.0
        self._settled.clear()

    @property
    def value(self) -> float:
        """Objective of the relaxation last solved, pence."""
        return self._value

    @property
    def held(self) -> int:
        """How many columns are held, or patterns where these are more."""
        return max(len(self._program.columns), len(self._program.patterns))

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
        held = self._program.patterns
        found = [(round(self._reduced.get(v, 0.0) * SCALE, 3), number, p) for number, (p, v) in enumerate(held.items())]
        return [pattern for lost, _, pattern in sorted(found, key=lambda one: one[:2])[:most] if lost <= loss]
