"""States, orders, receipts and pins as rows, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from builders import build, read_cuts, small_request
from plan_hand import run
from simple_planner import simple_plan
from small_yard import take_in

from stockplan.domain.ledger import received
from stockplan.domain.plan import Plan
from stockplan.domain.plan_state import PlanState
from stockplan.domain.purchase import OrderLine, OrderState
from stockplan.domain.request import Pin
from stockplan.domain.stock import StockForm, StockItem, SupplyForm
from stockplan.store import pin_rows, plan_rows
from stockplan.store.ledger_rows import record
from stockplan.store.repository import read_jobs, store_plan
from stockplan.store.rows import Work
from stockplan.store.session import Store

LINE = OrderLine(
    "P1-2", 1, "new-2", "G30", "Fernholt Mills", SupplyForm.ROLL, 4000, 25_000, 108_000, date(2026, 11, 24),
    date(2026, 11, 27), OrderState.DRAFT,
)  # fmt: skip


def a_plan() -> Plan:
    request = small_request()
    return build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}).plan


@pytest.fixture
def yard(store: Store) -> Store:
    """The small yard, with one plan stored."""
    take_in(store)
    with store.unit_of_work() as work:
        assert store_plan(work, a_plan(), "the file of plan 1") == 1
        work.commit()
    return store


def test_what_has_become_of_a_plan(yard: Store) -> None:
    for state in (PlanState.ACCEPTED, PlanState.DONE, PlanState.DONE):
        with yard.unit_of_work() as work:
            plan_rows.write_state(work, 1, state, "tester")
            work.commit()
        with yard.reading() as session:
            assert plan_rows.read_states(session) == {1: state}
    with yard.reading() as session:
        assert plan_rows.read_spans(session) == [(1, a_plan().window.first, a_plan().window.last)]
        assert plan_rows.read_plan_texts(session, [1, 7]) == {1: "the file of plan 1"}


def test_what_was_written_last_holds_whatever_the_clock_says(yard: Store) -> None:
    for hours, state in enumerate((PlanState.ACCEPTED, PlanState.WITHDRAWN, PlanState.ACCEPTED, PlanState.DONE)):
        with yard.unit_of_work() as work:
            work.at -= timedelta(hours=hours)  # as when it was set back, or is another machine's
            plan_rows.write_state(work, 1, state, "tester")
            work.commit()
        with yard.reading() as session:
            assert plan_rows.read_states(session) == {1: state}


def test_orders_are_read_as_written_in_order_of_number_and_changed(yard: Store) -> None:
    many = [replace(LINE, key=f"P1-{number}", plan_key=f"new-{number}") for number in (10, 2, 9)]
    with yard.unit_of_work() as work:
        plan_rows.write_lines(work, many)
        plan_rows.change_line(work, "P1-9", state=OrderState.ORDERED, arrives_on=date(2026, 12, 1), plan=None)
        plan_rows.write_receipt(work, "R-1", "P1-10")
        work.commit()
    with yard.reading() as session:
        found = plan_rows.read_lines(session)
        assert plan_rows.read_receipts(session) == {"R-1": "P1-10"}
    changed = replace(many[2], state=OrderState.ORDERED, arrives_on=date(2026, 12, 1), plan=None)
    came = "B7"  # of R-1, under which one of them came in
    assert found == [replace(line, batch=came) for line in (many[1], changed, many[0])]


def test_pins_are_written_once_and_taken_out(yard: Store) -> None:
    pins = [Pin("J2", "R-1"), Pin("J1", "R-1"), Pin("J2", "R-1")]
    with yard.unit_of_work() as work:
        pin_rows.write_pins(work, pins, "tester")
        pin_rows.write_pins(work, pins[:1], "tester")
        work.commit()
    with yard.unit_of_work() as work:
        assert pin_rows.read_pins(work.rows) == (Pin("J1", "R-1"), Pin("J2", "R-1"))
        pin_rows.delete_pins(work, pins[:1])
        work.commit()
    with yard.reading() as session:
        assert pin_rows.read_pins(session) == (Pin("J1", "R-1"),)


def test_pins_go_over_to_another_name_once_each(yard: Store) -> None:
    with yard.unit_of_work() as work:
        pin_rows.write_pins(work, [Pin("J1", "P1-1"), Pin("J2", "P1-1"), Pin("J2", "R-9"), Pin("J3", "R-1")], "tester")
        pin_rows.move_pins(work, "P1-1", "R-9")
        work.commit()
    with yard.reading() as session:
        assert pin_rows.read_pins(session) == (Pin("J1", "R-9"), Pin("J2", "R-9"), Pin("J3", "R-1"))


def test_full_widths_weights_and_jobs(yard: Store) -> None:
    with yard.reading() as session:
        assert plan_rows.read_full_widths(session, ["G40", "G30"]) == {"G30": 4000, "G40": 1200}
        assert plan_rows.read_full_widths(session, ["G40"]) == {"G40": 1200}
        assert plan_rows.read_weights(session) == {"G30": 2350, "G40": 2850}
        without_lawns = [replace(job, lawns=(), pile=None) for job in read_jobs(session)]
        assert plan_rows.read_promised(session) == without_lawns
        one = without_lawns[0].code
        assert plan_rows.read_promised(session, [one, "nobody"]) == without_lawns[:1]
        assert read_jobs(session, codes=[one, "nobody"]) == read_jobs(session)[:1]
        assert plan_rows.tags_ever(session, "c") == {"C-114 (wet)"}
        assert plan_rows.read_reserved(session) == {}


def test_lines_know_the_batch_in_which_the_rest_of_their_order_came(yard: Store) -> None:
    suppliers = {"P1-1": "Mill", "P1-2": "Mill", "P1-3": "Mill", "P1-4": "Depot", "P2-1": "Mill"}
    ordered = [replace(LINE, key=key, plan=None, supplier=name) for key, name in suppliers.items()]
    with yard.unit_of_work() as work:
        plan_rows.write_lines(work, [replace(line, state=OrderState.ORDERED) for line in ordered])
        come_in(work, "P1-1", StockItem("R-901", "G30", "B9", StockForm.ROLL, 4000, 25_000, "east", 1100))
        batches = {line.key: line.batch for line in plan_rows.read_lines(work.rows)}
        assert batches == {"P1-1": "B9", "P1-2": "B9", "P1-3": "B9", "P1-4": "", "P2-1": ""}
        come_in(work, "P1-2", StockItem("R-902", "G30", "B10", StockForm.ROLL, 4000, 25_000, "east", 1100))
        assert {line.batch for line in plan_rows.read_lines(work.rows)} == {""}  # not all of it came in one


def come_in(work: Work, key: str, item: StockItem) -> None:
    record(work, [received(item, f"order {key}", None, key)], "tester")
    plan_rows.change_line(work, key, state=OrderState.RECEIVED)
    plan_rows.write_receipt(work, item.tag, key)


@pytest.mark.postgres
@pytest.mark.parametrize("seed", [7])
def test_nothing_is_promised_or_cut_twice_on_a_server(
    postgres_place: str, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    run(postgres_place, seed, 25)
