"""The master program: which patterns to cut, and which batch and layout serve which unit.

    minimise    sum over p of cost_p x_p  +  sum over g, h of seams_gh y_gh  +  sum over j of penalty_j s_j
    subject to  (group g)   sum over h of y_gh + units_g s_job(g)  =  units_g
                (piece t)   sum over p of made_tp x_p - sum over g, h of need_ght y_gh  >=  fixed_t     price p_t >= 0
                (class c)   sum over p cut from c of x_p  <=  copies_c
                x, y >= 0 whole, s in {0, 1}

A choice h is a batch and, for a job that may be laid in several ways, one of its layouts; need_ght are the strips of
that layout cut from that batch, and seams_gh is what its seams cost. One h per job ties its layout to what is cut.
Pieces of no batch (`Mixed` in `instance.py`) have rows of their own, which take from those of what they may be had as.
Patterns are generated as they are needed (Gilmore and Gomory 1961, 1963). The engine is GLOP through MathOpt, kept
between rounds so that each starts from the last basis: 20 rounds on 400 rows took 0.56 s, against 0.89 s for HiGHS and
1.15 s for PDLP. A thousandth of a penny on each purchase makes the plan with fewer purchases win among equals.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from ortools.math_opt.python import mathopt

from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.links import Link
from stockplan.cutting.patterns import Pattern

PURCHASE_TIE_BREAK = 0.001
LEANS = 1e-6  # pieces
TIE_SLACK = 1e-3  # of a source, had for nothing by each row that ties it: of prices that bound alike, the lower are met
ITERATIONS_A_ROW, LEAST_ITERATIONS = 20, 20_000  # of one solution, beyond which the engine has lost its way
NO_REDUCED_COSTS = mathopt.ModelSolveParameters(reduced_costs_filter=mathopt.VariableFilter(filtered_items=()))
SCALE = 100.0  # pence in the unit of the objective: figures near 1 keep the engine precise


class Master:
    """The linear relaxation, with patterns added as they are found.

    Parameters
    ----------
    instance
        The problem.
    patterns
        Patterns to begin with, and what each costs, pence; default none.
    """

    def __init__(self, instance: Instance, patterns: Mapping[Pattern, float] | None = None) -> None:
        self.instance = instance
        self._model = mathopt.Model()
        self._pieces = {
            t: self._model.add_linear_constraint(lb=instance.fixed.get(t, 0)) for t in instance.piece_types()
        }
        self._classes = {
            s: self._model.add_linear_constraint(ub=s.copies) for s in instance.sources if s.copies is not None
        }
        self.columns: dict[Pattern, mathopt.Variable] = {}
        self.given: dict[tuple[int, Choice], mathopt.Variable] = {}
        self._fences: dict[PieceType, tuple[mathopt.Variable, mathopt.Variable]] = {}
        self._ties: dict[Source, dict[Link, mathopt.LinearConstraint]] = {}
        self._add_choices()
        self._result: mathopt.SolveResult
        self.add(patterns or {})
        self._solver = mathopt.IncrementalSolver(self._model, mathopt.SolverType.GLOP)

    def _add_choices(self) -> None:
        model, instance = self._model, self.instance
        self.short = [model.add_variable(lb=0.0, ub=1.0) for _ in instance.jobs]
        rows = self._pieces | {piece: self._anywhere_row(ways) for piece, ways in instance.made_as.items()}
        for job, variable in enumerate(self.short):
            model.objective.set_linear_coefficient(variable, instance.penalties[job] / SCALE)
        for number, group in enumerate(instance.groups):
            row = model.add_linear_constraint(lb=group.units, ub=group.units)
            row.set_coefficient(self.short[group.job], group.units)
            for choice, demand in group.demands.items():
                variable = model.add_variable(lb=0.0, ub=group.units)
                self.given[number, choice] = variable
                if group.cost(choice):
                    model.objective.set_linear_coefficient(variable, group.cost(choice) / SCALE)
                row.set_coefficient(variable, 1)
                for piece, count in demand.items():
                    rows[piece].set_coefficient(variable, -count)

    def _anywhere_row(self, ways: Iterable[PieceType]) -> mathopt.LinearConstraint:
        """A row for a piece that may be had as any of several types, and how many are had as each."""
        row = self._model.add_linear_constraint(lb=0.0)
        for piece in ways:
            variable = self._model.add_variable(lb=0.0)
            row.set_coefficient(variable, 1)
            self._pieces[piece].set_coefficient(variable, -1)
        return row

    def add(self, patterns: Mapping[Pattern, float]) -> int:
        """Add patterns not yet held, of which each costs so many pence; returns how many were new."""
        new = 0
        for pattern, cost in patterns.items():
            if pattern in self.columns:
                continue
            variable = self._model.add_variable(lb=0.0)
            self.columns[pattern] = variable
            tie_break = PURCHASE_TIE_BREAK if pattern.source.option is not None else 0.0
            self._model.objective.set_linear_coefficient(variable, (cost + tie_break) / SCALE)
            for piece, count in pattern.made().items():
                if piece in self._pieces:
                    self._pieces[piece].set_coefficient(variable, count)
            if pattern.source in self._classes:
                self._classes[pattern.source].set_coefficient(variable, 1)
            for link, row in self._ties.get(pattern.source, {}).items():
                if taken := link.taken(pattern.made()):
                    row.set_coefficient(variable, taken)
            new += 1
        return new

    def tie(self, links: Iterable[Link]) -> None:
        """Add rows of `links.py` not yet held."""
        for link in links:
            rows = self._ties.setdefault(link.source, {})
            if link in rows:
                continue
            rows[link] = row = self._model.add_linear_constraint(ub=TIE_SLACK)
            for choice, most in link.given(self.instance).items():
                row.set_coefficient(self.given[link.group, choice], -most)
            for pattern, variable in self.columns.items():
                if pattern.source == link.source and (taken := link.taken(pattern.made())):
                    row.set_coefficient(variable, taken)

    def fence(self, prices: Mapping[PieceType, float], widths: Mapping[PieceType, float]) -> None:
        """Keep the price of each piece near one given: it may be had for so much more, and given away for so much less.

        The value is then neither that of the relaxation nor a bound, unless no fence is leant on.

        Parameters
        ----------
        prices, widths
            Pence, at least 0.
        """
        if not self._fences:
            for piece, row in self._pieces.items():
                had, given = self._model.add_variable(lb=0.0), self._model.add_variable(lb=0.0)
                row.set_coefficient(had, 1)
                row.set_coefficient(given, -1)
                self._fences[piece] = had, given
        for piece, (had, given) in self._fences.items():
            price, width = prices.get(piece, 0.0), widths[piece]
            self._model.objective.set_linear_coefficient(had, (price + width) / SCALE)
            self._model.objective.set_linear_coefficient(given, -max(0.0, price - width) / SCALE)

    def unfenced(self) -> float | None:
        """What the relaxation costs at most, pence: its value with what is held and no fences; None where that fails.

        Solution and prices are left as they were.
        """
        before, pairs = self._result, [variable for pair in self._fences.values() for variable in pair]
        for variable in pairs:
            variable.upper_bound = 0.0
        value = self.value if self.solve() else None
        for variable in pairs:
            variable.upper_bound = math.inf
        self._result = before
        return value

    def leant_on(self) -> set[PieceType]:
        """The pieces whose price would leave its fence."""
        values = self._result.variable_values()
        return {piece for piece, pair in self._fences.items() if sum(values.get(v, 0.0) for v in pair) > LEANS}

    def untied(self, links: Mapping[Source, Iterable[Link]], least: float) -> list[tuple[float, Link]]:
        """Rows not held that the relaxation's solution violates by more than so much, and by how much."""
        values = self._result.variable_values()
        found = []
        for source, taken in self._used(least / 100).items():
            for link in links.get(source, ()):
                if link in self._ties.get(source, {}):
                    continue
                given = link.given(self.instance).items()
                excess = sum(x * link.taken(made) for x, made in taken)
                excess -= sum(values[self.given[link.group, choice]] * most for choice, most in given)
                if excess > least:
                    found.append((excess, link))
        return found

    def _used(self, least: float) -> dict[Source, list[tuple[float, Mapping[PieceType, int]]]]:
        """By class: shares of its patterns in the relaxation's solution, above a least, and what each makes."""
        values = self._result.variable_values()
        found: dict[Source, list[tuple[float, Mapping[PieceType, int]]]] = {}
        for pattern, variable in self.columns.items():
            share = values.get(variable, 0.0)  # what was added since has none
            if share > least:
                found.setdefault(pattern.source, []).append((share, pattern.made()))
        return found

    def solve(self) -> bool:
        """Solve the relaxation; False when it is infeasible."""
        result = self._solve_warm()
        if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            # GLOP now and then ends imprecise or abnormal; the same program is then solved afresh by another engine.
            result = mathopt.solve(self._model, mathopt.SolverType.HIGHS)
            self._solver = mathopt.IncrementalSolver(self._model, mathopt.SolverType.GLOP)
        self._result = result
        return bool(result.termination.reason == mathopt.TerminationReason.OPTIMAL)

    def _solve_warm(self) -> mathopt.SolveResult | None:
        """Solve from the last basis; None when the engine gives up without an answer.

        An abnormal end reaches Python as a status error, which some versions of OR-Tools fail to convert and raise as
        an AttributeError instead.
        """
        # Figures are near 1 as they are; without presolve and scaling a week of 150 jobs takes a third of the time.
        parameters = mathopt.SolveParameters(
            iteration_limit=LEAST_ITERATIONS + ITERATIONS_A_ROW * len(self._pieces),
            presolve=mathopt.Emphasis.OFF,
            scaling=mathopt.Emphasis.OFF,
        )
        try:
            return self._solver.solve(params=parameters, model_params=NO_REDUCED_COSTS)
        except (AttributeError, RuntimeError, ValueError):
            return None

    @property
    def value(self) -> float:
        """Objective of the relaxation last solved, in pence."""
        return float(self._result.objective_value()) * SCALE

    def prices(self) -> dict[PieceType, float]:
        """Dual prices of the piece rows, pence, never negative."""
        duals = self._result.dual_values()
        return {t: max(0.0, duals[row] * SCALE) for t, row in self._pieces.items()}

    def class_prices(self) -> dict[Source, float]:
        """Dual prices of the class rows, pence, never positive."""
        duals = self._result.dual_values()
        return {s: min(0.0, duals[row] * SCALE) for s, row in self._classes.items()}

    def link_prices(self) -> dict[Source, dict[Link, float]]:
        """Dual prices of the rows that tie sources to jobs, pence, never negative, by source."""
        duals = self._result.dual_values()
        return {
            source: {link: max(0.0, -duals[row] * SCALE) for link, row in rows.items()}
            for source, rows in self._ties.items()
        }
