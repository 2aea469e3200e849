"""Promises that belong to no plan in force, and orders that contradict what came in, are found out."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from small_yard import take_in
from sqlalchemy import text

from stockplan.domain.plan_state import PlanState
from stockplan.domain.purchase import OrderLine, OrderState
from stockplan.domain.stock import SupplyForm
from stockplan.store import plan_rows
from stockplan.store.rows import inserting
from stockplan.store.session import Store
from stockplan.store.verify_plans import verify_plans

DAY = date(2026, 11, 30)
LINE = OrderLine(
    "P1-1", 1, "new-1", "G30", "Fernholt Mills", SupplyForm.ROLL, 4000, 25_000, 108_000, DAY, DAY, OrderState.DRAFT
)


@pytest.fixture
def accepted(store: Store) -> Store:
    """A small yard, and plan 1, which is accepted and has one draft."""
    take_in(store)
    values = {
        "number": 1, "made_at": datetime(2026, 11, 26, tzinfo=UTC), "window_first": DAY, "window_last": DAY,
        "today": DAY, "net_cost_pence": 0, "lower_bound_pence": 0, "plan_json": "{}",
    }  # fmt: skip
    with store.unit_of_work() as work:
        work.rows.run(inserting("stored_plan", values), values)
        plan_rows.write_state(work, 1, PlanState.ACCEPTED, "tester")
        plan_rows.write_lines(work, [LINE])
        work.commit()
    return store


def faults_after(store: Store, *statements: str) -> list[str]:
    with store.unit_of_work() as work:
        for statement in statements:
            work.session.execute(text(statement))
        work.commit()
    with store.reading() as session:
        return verify_plans(session)


RESERVED = "UPDATE stock_item SET plan = 1 WHERE tag = 'R-1'"
WITHDRAWN = "UPDATE plan_state SET state = 'withdrawn'"
RECEIPT = "INSERT INTO order_receipt (tag, order_key) VALUES ('R-1', 'P1-1')"


def test_what_an_accepted_plan_has_reserved_and_drafted_is_in_order(accepted: Store) -> None:
    assert faults_after(accepted) == []
    assert faults_after(accepted, RESERVED) == []
    assert faults_after(accepted, "UPDATE plan_state SET state = 'done'") == []
    assert faults_after(accepted, "UPDATE order_line SET state = 'received'", RECEIPT) == []


@pytest.mark.parametrize(
    ("statements", "fault"),
    [
        ((RESERVED, WITHDRAWN), "R-1 is reserved for plan 1, which is withdrawn; free it with: stockplan withdraw 1"),
        ((RESERVED, "DELETE FROM plan_state"), "R-1 is reserved for plan 1, which is proposed"),
        ((WITHDRAWN,), "order P1-1 is for plan 1, which is withdrawn"),
        (("UPDATE order_line SET plan = NULL",), "order P1-1 is drafted for no plan"),
        ((RECEIPT,), "R-1 came in for order P1-1, which is draft"),
        (("UPDATE order_line SET state = 'received'",), "order P1-1 has come in under no tag"),
    ],
)
def test_what_contradicts_the_life_of_plans_is_found(accepted: Store, statements: tuple[str, ...], fault: str) -> None:
    assert any(fault in found for found in faults_after(accepted, *statements))
