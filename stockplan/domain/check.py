"""The independent checker: judges a plan against what was asked, one function a rule, every violation at once.

It shares no code with the planner. What it takes from elsewhere is the data of the domain and `worth`, the definition
of what grass is worth. A malformed plan is not an error here: whatever is wrong with it is a violation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from stockplan.domain import check_geometry, check_money, check_picked, check_pins, check_rules
from stockplan.domain.check_facts import Facts, Rule, Violation, gather
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest

__all__ = ["RULES", "Rule", "Violation", "check"]

RULES: dict[Rule, Callable[[Facts], Iterable[Violation]]] = {
    Rule.COVERAGE: check_rules.coverage,
    Rule.SIZE: check_rules.size_and_direction,
    Rule.PLACEMENT: check_geometry.placement,
    Rule.THROUGH_CUTS: check_geometry.through_cuts,
    Rule.BATCH: check_rules.batch,
    Rule.PRODUCT: check_rules.product,
    Rule.ORDERS: check_money.orders,
    Rule.LEFTOVERS: check_money.leftovers,
    Rule.AREA: check_geometry.area,
    Rule.MONEY: check_money.money_adds_up,
    Rule.BOUND: check_money.bound,
    Rule.WINDOW: check_rules.window,
    Rule.PINS: check_pins.pins,
    Rule.CUT_ALREADY: check_pins.cut_already,
    Rule.LAYOUT: check_picked.layouts,
}


def check(request: PlanRequest, plan: Plan) -> tuple[Violation, ...]:
    """Return every violation of every rule, in the order of `RULES`; none means the plan is sound.

    Parameters
    ----------
    request
        What was asked; taken to be well formed.
    plan
        The answer under suspicion.
    """
    facts = gather(request, plan)
    return tuple(violation for rule in RULES.values() for violation in rule(facts))
