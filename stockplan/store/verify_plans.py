"""Checking the life of plans: reservations, order lines and what came in for them against each other."""

from __future__ import annotations

from sqlalchemy.orm import Session

from stockplan.domain.plan_state import IN_FORCE, PlanState
from stockplan.domain.purchase import OrderState
from stockplan.store.plan_rows import read_lines, read_receipts, read_reserved, read_spans, read_states


def verify_plans(session: Session) -> list[str]:
    """Check that promises about stock and orders belong to plans that are in force.

    Returns
    -------
    list of str
        Every fault found, as sentences; empty when all is well.
    """
    states = {number: PlanState.PROPOSED for number, _, _ in read_spans(session)} | read_states(session)
    lines = {line.key: line for line in read_lines(session)}
    receipts = read_receipts(session)
    faults = []
    for tag, plan in read_reserved(session).items():
        if states.get(plan) not in IN_FORCE:
            faults.append(
                f"{tag} is reserved for plan {plan}, which is {states.get(plan, 'not there')}; "
                f"free it with: stockplan withdraw {plan}"
            )
    for line in lines.values():
        if line.coming and line.plan is not None and states.get(line.plan) not in IN_FORCE:
            faults.append(f"order {line.key} is for plan {line.plan}, which is {states.get(line.plan, 'not there')}")
        if line.state is OrderState.DRAFT and line.plan is None:
            faults.append(f"order {line.key} is drafted for no plan")
    for tag, key in receipts.items():
        if lines[key].state is not OrderState.RECEIVED:
            faults.append(f"{tag} came in for order {key}, which is {lines[key].state}")
    came = set(receipts.values())
    faults += [
        f"order {key} has come in under no tag"
        for key, line in lines.items()
        if line.state is OrderState.RECEIVED and key not in came
    ]
    return faults
