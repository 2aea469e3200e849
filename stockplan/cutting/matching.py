"""Which enquiries to cover from which offcuts: the choice that gains most, as a whole-number program.

    maximise  Σ_p g_p x_p   subject to   Σ_{p uses offcut o} x_p ≤ 1,   Σ_{p covers enquiry e} x_p ≤ 1,   x_p ∈ {0, 1}

over pairings p of one offcut with the enquiries it covers together. To find a gain g_p exactly takes some work, a bound
on it little. So first the relaxation 0 ≤ x_p ≤ 1 is solved with bounds, the gains of the pairings most likely to be
used are worked out, and so on until every gain it uses is exact; it then has value z and prices y for the rows. The
best whole choice among pairings known exactly has value v ≤ z. A pairing whose gain is less than its rows' prices by
more than z − v is in no choice better than v (reduced cost fixing); all others are worked out, and the best whole
choice among everything known exactly is the answer.
"""

from __future__ import annotations

import heapq
import time
from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence

from stockplan.domain.enquiries import Matched, Pairing, Pairings

SECONDS = 20.0
AT_ONCE = 400  # gains worked out before the relaxation is solved again: about as long as solving it takes
_SMALL = 1e-6


def match(pairings: Pairings, seconds: float = SECONDS) -> Matched:
    """Choose the pairings that gain most together.

    Parameters
    ----------
    pairings
        Everything possible.
    seconds
        Clock guard; default 20. Beyond it the answer is sound, but not proven best.
    """
    deadline = time.monotonic() + seconds
    known = list(pairings.bounded())
    in_time = True
    while in_time:
        in_time = time.monotonic() < deadline
        value, prices, used = relaxed(known)
        if all(known[place].take is not None for place in used):
            break
        rough = [(_reduced(one, prices), place) for place, one in enumerate(known) if one.take is None]
        for _, place in heapq.nlargest(AT_ONCE, rough):
            known[place] = pairings.exact(known[place])
    chosen, _ = best_choice(_exact(known), max(0.1, deadline - time.monotonic()))
    slack = value - sum(one.gain_pence for one in chosen)
    for place, one in enumerate(known):
        in_time = in_time and time.monotonic() < deadline
        if in_time and one.take is None and _reduced(one, prices) > -slack - 1:
            known[place] = pairings.exact(one)
    chosen, best = best_choice(_exact(known), max(0.1, deadline - time.monotonic()))
    found = sorted(chosen, key=lambda one: (-one.gain_pence, one.enquiries))
    return Matched(tuple(pairings.enquiries), tuple(pairings.worths), tuple(found), best and in_time)


def _exact(pairings: Sequence[Pairing]) -> list[Pairing]:
    return [one for one in pairings if one.take is not None]


def _rows(pairing: Pairing) -> list[Hashable]:
    """What a pairing uses up: its offcut, and its enquiries."""
    return [("offcut", pairing.source.key), *(("enquiry", place) for place in pairing.enquiries)]


def _reduced(pairing: Pairing, prices: Mapping[Hashable, float]) -> float:
    """What a pairing gains over the prices of what it uses up."""
    return pairing.gain_pence - sum(prices[row] for row in _rows(pairing))


def _by_row(pairings: Sequence[Pairing]) -> dict[Hashable, list[int]]:
    rows: defaultdict[Hashable, list[int]] = defaultdict(list)
    for place, one in enumerate(pairings):
        for row in _rows(one):
            rows[row].append(place)
    return rows


def relaxed(pairings: Sequence[Pairing]) -> tuple[float, dict[Hashable, float], list[int]]:
    """Solve the relaxation; give its value, the prices of its rows, and the places of the pairings it uses.

    Parameters
    ----------
    pairings
        Everything possible, with gains or bounds on them.
    """
    from ortools.linear_solver import pywraplp  # noqa: PLC0415 - slow to import

    solver = pywraplp.Solver.CreateSolver("GLOP")
    taken = [solver.NumVar(0, solver.infinity(), "") for _ in pairings]
    rows = {}
    for row, places in _by_row(pairings).items():
        rows[row] = solver.Constraint(0, 1)
        for place in places:
            rows[row].SetCoefficient(taken[place], 1)
    for variable, one in zip(taken, pairings, strict=True):
        solver.Objective().SetCoefficient(variable, max(0, one.gain_pence))
    solver.Objective().SetMaximization()
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        raise RuntimeError("the relaxation of the matching could not be solved")
    prices = {row: max(0.0, constraint.dual_value()) for row, constraint in rows.items()}
    # Any prices bound the value; these sums hold even where the solver's last digits do not.
    over = max((max(0, one.gain_pence) - sum(prices[row] for row in _rows(one)) for one in pairings), default=0.0)
    value = sum(prices.values()) + max(0.0, over) * len(rows)
    return value, prices, [place for place, variable in enumerate(taken) if variable.solution_value() > _SMALL]


def best_choice(pairings: Sequence[Pairing], seconds: float = SECONDS) -> tuple[list[Pairing], bool]:
    """Give pairings that gain most together, and whether that is proven; the same each time.

    Parameters
    ----------
    pairings
        Everything possible, gains exact.
    seconds
        Clock guard; default 20.
    """
    from ortools.sat.python import cp_model  # noqa: PLC0415 - slow to import

    useful = [one for one in pairings if one.gain_pence > 0]
    if not useful:
        return [], True
    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in useful]
    for places in _by_row(useful).values():
        model.add_at_most_one(taken[place] for place in places)
    model.maximize(sum(one.gain_pence * variable for one, variable in zip(useful, taken, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    found = [_one_by_one(useful)]
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        found.insert(0, [one for one, variable in zip(useful, taken, strict=True) if solver.boolean_value(variable)])
    return max(found, key=lambda chosen: sum(one.gain_pence for one in chosen)), status == cp_model.OPTIMAL


def _one_by_one(pairings: Sequence[Pairing]) -> list[Pairing]:
    """Take pairings one after the other, what gains most first, for want of time to weigh them together."""
    used: set[Hashable] = set()
    chosen = []
    for one in sorted(pairings, key=lambda one: (-one.gain_pence, one.enquiries, one.source.key)):
        rows = _rows(one)
        if used.isdisjoint(rows):
            used.update(rows)
            chosen.append(one)
    return chosen
