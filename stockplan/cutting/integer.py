"""The master program over the patterns in hand, solved in whole numbers."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable, Mapping

from ortools.math_opt.python import mathopt

from stockplan.cutting.instance import Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Solution

PURCHASE_TIE_BREAK = 0.01
SOLVER = mathopt.SolverType.HIGHS


def best_whole(
    instance: Instance,
    patterns: Iterable[Pattern],
    *,
    seconds: float,
    incumbent: Solution | None = None,
    given: Mapping[tuple[int, int], int] | None = None,
    node_limit: int | None = None,
) -> tuple[Solution | None, bool]:
    """The best answer that uses only the given patterns, and whether it is proven so.

    Parameters
    ----------
    instance
        The problem.
    patterns
        Patterns that may be used.
    seconds
        Clock guard.
    incumbent
        An answer to begin from; its patterns are used too.
    given
        Units fixed to batches; groups not named are free.
    """
    model = mathopt.Model()
    short = [model.add_binary_variable() for _ in instance.jobs]
    rows = {t: model.add_linear_constraint(lb=instance.fixed.get(t, 0)) for t in instance.piece_types()}
    classes = {s: model.add_linear_constraint(ub=s.copies) for s in instance.sources if s.copies is not None}
    for job, variable in enumerate(short):
        model.objective.set_linear_coefficient(variable, instance.penalties[job] / 100)
    serve: dict[tuple[int, int], mathopt.Variable] = {}
    for number, group in enumerate(instance.groups):
        row = model.add_linear_constraint(lb=group.units, ub=group.units)
        row.set_coefficient(short[group.job], group.units)
        for batch, demand in group.demands.items():
            fixed = (
                None if given is None else given.get((number, batch), 0 if any(k[0] == number for k in given) else None)
            )
            variable = model.add_integer_variable(
                lb=0 if fixed is None else fixed, ub=group.units if fixed is None else fixed
            )
            serve[number, batch] = variable
            row.set_coefficient(variable, 1)
            for piece, count in demand.items():
                rows[piece].set_coefficient(variable, -count)
    pool = dict.fromkeys(patterns)
    if incumbent is not None:
        pool.update(dict.fromkeys(incumbent.patterns))
    cut: dict[Pattern, mathopt.Variable] = {}
    for pattern in pool:
        variable = model.add_integer_variable(lb=0)
        cut[pattern] = variable
        tie_break = PURCHASE_TIE_BREAK if pattern.source.option is not None else 0.0
        model.objective.set_linear_coefficient(variable, (pattern.cost(instance) + tie_break) / 100)
        for piece, count in pattern.made().items():
            if piece in rows:
                rows[piece].set_coefficient(variable, count)
        if pattern.source in classes:
            classes[pattern.source].set_coefficient(variable, 1)
    hint = mathopt.ModelSolveParameters()
    if incumbent is not None:
        values = {v: float(incumbent.patterns.get(p, 0)) for p, v in cut.items()}
        values |= {v: float(incumbent.given.get(key, 0)) for key, v in serve.items()}
        values |= {v: float(j in incumbent.short) for j, v in enumerate(short)}
        hint.solution_hints.append(mathopt.SolutionHint(variable_values=values))
    parameters = mathopt.SolveParameters(
        time_limit=datetime.timedelta(seconds=max(0.05, seconds)),
        threads=None if SOLVER == mathopt.SolverType.HIGHS else 1,
        relative_gap_tolerance=1e-7,
        absolute_gap_tolerance=0.004,
    )
    if node_limit:
        parameters.node_limit = node_limit
    result = mathopt.solve(model, SOLVER, params=parameters, model_params=hint)
    if not result.has_primal_feasible_solution():
        return None, result.termination.reason == mathopt.TerminationReason.INFEASIBLE
    value = result.variable_values()
    answer = Solution(
        Counter({p: round(value[v]) for p, v in cut.items() if value[v] > 0.5}),
        {key: round(value[v]) for key, v in serve.items() if value[v] > 0.5},
        frozenset(j for j, v in enumerate(short) if value[v] > 0.5),
    )
    return answer, result.termination.reason == mathopt.TerminationReason.OPTIMAL
