"""The master program over given patterns, solved in whole numbers by HiGHS: what proofs are compared with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from ortools.math_opt.python import mathopt

from stockplan.cutting.beside import PURCHASE_TIE_BREAK, SCALE, TOLERANCE, Effort, Whole, settings, solve_beside
from stockplan.cutting.instance import Choice, Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Solution


@dataclass(frozen=True)
class _Program:
    """The program and its variables."""

    model: mathopt.Model
    cut: dict[Pattern, mathopt.Variable]
    serve: dict[tuple[int, Choice], mathopt.Variable]
    short: list[mathopt.Variable]


def best_whole(
    instance: Instance,
    patterns: Mapping[Pattern, int],
    incumbent: Solution,
    effort: Effort,
) -> Whole:
    """The best answer that uses only the given patterns.

    Parameters
    ----------
    instance
        The problem.
    patterns
        Patterns that may be used, with the cost of each, pence.
    incumbent
        An answer in hand.
    effort
        How long it may take.
    """
    ceiling = incumbent.rank(instance)[0]
    program = _program(instance, {**patterns, **{p: p.cost(instance) for p in incumbent.patterns}}, ceiling)
    parameters = settings(effort)
    start = mathopt.ModelSolveParameters()
    start.solution_hints.append(_hint(program, incumbent))
    result = solve_beside(program.model, parameters, start, effort.should_stop)
    if result is None:
        return Whole(None, 0.0, proven=False, nodes=0, by_the_clock=True)
    reason, nodes = result.termination.reason, max(1, result.solve_stats.node_count)
    late = result.termination.limit == mathopt.Limit.TIME
    if not result.has_primal_feasible_solution():
        return Whole(None, 0.0, proven=False, nodes=nodes, by_the_clock=late)
    bound = result.termination.objective_bounds.dual_bound * SCALE - TOLERANCE
    proven = reason == mathopt.TerminationReason.OPTIMAL
    return Whole(_answer(program, result), bound, proven, nodes, by_the_clock=late)


def _answer(program: _Program, result: mathopt.SolveResult) -> Solution:
    value = result.variable_values()
    return Solution(
        Counter({p: round(value[v]) for p, v in program.cut.items() if value[v] > 0.5}),
        {key: round(value[v]) for key, v in program.serve.items() if value[v] > 0.5},
        frozenset(j for j, v in enumerate(program.short) if value[v] > 0.5),
    )


def _program(instance: Instance, patterns: Mapping[Pattern, int], ceiling: int) -> _Program:
    """State the program at the head of `master.py` in whole numbers; no job short whose penalty exceeds the ceiling."""
    model = mathopt.Model()
    rows = {t: model.add_linear_constraint(lb=instance.fixed.get(t, 0)) for t in instance.piece_types()}
    classes = {s: model.add_linear_constraint(ub=s.copies) for s in instance.sources if s.copies is not None}
    short = [model.add_integer_variable(lb=0, ub=float(penalty <= ceiling)) for penalty in instance.penalties]
    for job, variable in enumerate(short):
        if instance.penalties[job] <= ceiling:
            model.objective.set_linear_coefficient(variable, instance.penalties[job] / SCALE)
    serve: dict[tuple[int, Choice], mathopt.Variable] = {}
    for number, group in enumerate(instance.groups):
        row = model.add_linear_constraint(lb=group.units, ub=group.units)
        row.set_coefficient(short[group.job], group.units)
        for choice, demand in group.demands.items():
            variable = model.add_integer_variable(lb=0, ub=group.units)
            serve[number, choice] = variable
            if group.cost(choice):
                model.objective.set_linear_coefficient(variable, group.cost(choice) / SCALE)
            row.set_coefficient(variable, 1)
            for piece, count in demand.items():
                rows[piece].set_coefficient(variable, -count)
    cut: dict[Pattern, mathopt.Variable] = {}
    for pattern, cost in patterns.items():
        copies = pattern.source.copies
        variable = model.add_integer_variable(lb=0, ub=float("inf") if copies is None else copies)
        cut[pattern] = variable
        tie_break = PURCHASE_TIE_BREAK if pattern.source.option is not None else 0.0
        model.objective.set_linear_coefficient(variable, (cost + tie_break) / SCALE)
        for piece, count in pattern.made().items():
            rows[piece].set_coefficient(variable, count)
        if copies is not None:
            classes[pattern.source].set_coefficient(variable, 1)
    return _Program(model, cut, serve, short)


def _hint(program: _Program, incumbent: Solution) -> mathopt.SolutionHint:
    values = {v: float(incumbent.patterns.get(p, 0)) for p, v in program.cut.items()}
    values |= {v: float(incumbent.given.get(key, 0)) for key, v in program.serve.items()}
    values |= {v: float(j in incumbent.short) for j, v in enumerate(program.short)}
    return mathopt.SolutionHint(variable_values=values)
