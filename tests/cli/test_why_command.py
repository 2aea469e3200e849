"""Asking why: of the last plan, of an accepted one, of what is not in it, and after something has changed."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL, small_request
from click.testing import Result
from typed_commands import WEEK, fill, run

from stockplan.domain.jobs import Strip
from stockplan.domain.stock import StockForm

SECOND = replace(JOB, code="J2", lay_on=MONDAY + timedelta(days=1), strips=(Strip("A", 4000, 4000),))
TODAY = ("--today", "2026-11-23")


@pytest.fixture
def planned(store: Path) -> Path:
    """J1 fits on the cheaper of two part rolls; J2 is wider than anything."""
    stock = (
        replace(ROLL, tag="P-1", batch="B1", form=StockForm.PART_ROLL, length_mm=6000),
        replace(ROLL, tag="P-2", batch="B2", form=StockForm.PART_ROLL, length_mm=9000),
    )
    jobs = (
        replace(JOB, strips=(Strip("A", 4000, 6000),)),
        replace(JOB, code="J2", strips=(Strip("A", 5000, 3000),)),
    )
    fill(store, replace(small_request(*jobs, stock=stock), supply=()))
    assert run("plan", *WEEK, "--seconds", "5").exit_code == 3
    return store


def told(result: Result) -> str:
    assert result.exit_code == 0, result.stderr
    return result.stdout


def test_a_job_its_source_and_a_job_left_short_are_told(planned: Path) -> None:
    assert told(run("why", "J1", "--seconds", "2")).splitlines() == [
        f"J1, laid Mon {MONDAY.day} Nov, is cut from P-1, batch B1, in plan 1.",
        "From another batch, and what the whole plan of its grass then costs:",
        "  B2: exactly 2.00 more; J1 from P-2",
    ]
    assert "anything bought in its place: exactly 2.00 more; J1 from P-2" in told(run("why", "P-1", "--seconds", "2"))
    short = told(run("why", "J2", "--seconds", "2"))
    assert "nothing is that wide across the pile" in short
    assert "another product, or a supplier who sells this size" in short


def test_the_plan_itself_says_so_too(planned: Path) -> None:
    shown = told(run("show"))
    assert "instead from B2: at most 2.00 more" in shown
    record = json.loads(told(run("why", "J1", "--seconds", "2", "--json")))
    assert (record["plan"], record["ground"], record["otherwise"][0]["most_extra_cost"]) == (1, "cheapest", 2.0)


def test_an_accepted_plan_can_be_asked_as_long_as_nothing_has_changed(planned: Path) -> None:
    assert run("accept", "1", "--today", "2026-11-23").exit_code == 0
    assert "B2: exactly 2.00 more" in told(run("why", "J1", "--plan", "1", "--seconds", "2"))
    assert run("measure", "P-2", "4.00x8.00", "--why", "cut by hand").exit_code == 0
    refused = run("why", "J1", "--seconds", "2")
    assert refused.exit_code == 1
    assert "what plan 1 was made from has changed since" in refused.stderr
    assert "stockplan show 1" in refused.stderr


def test_where_the_last_plan_says_nothing_of_it_the_last_one_that_does_is_asked(planned: Path) -> None:
    later = replace(JOB, code="J3", lay_on=MONDAY + timedelta(days=20), strips=(Strip("A", 1000, 1000),))
    fill(planned, replace(small_request(later), supply=()))
    days = ("--from", str(later.lay_on), "--to", str(later.lay_on), "--today", "2026-11-23", "--seconds", "1")
    assert run("plan", *days).exit_code == 0
    assert "in plan 2" in told(run("why", "J3", "--seconds", "1"))
    refused = run("why", "J1", "--plan", "2")
    assert "plan 2 neither serves, cuts nor orders J1; it does: J3" in refused.stderr
    assert "plan 1" in run("why", "J1", "--seconds", "1").output


def test_a_mend_can_be_asked_beside_what_other_plans_are_still_to_cut(store: Path) -> None:
    lengths = (replace(ROLL, length_mm=5200), replace(OTHER_ROLL, length_mm=4100))
    spare = replace(OTHER_ROLL, tag="R-3", batch="B9", length_mm=4400)
    same_day = replace(SECOND, lay_on=MONDAY)
    fill(store, replace(small_request(JOB, same_day, stock=(*lengths, spare)), supply=()))
    assert run("plan", *WEEK, "--seconds", "5").exit_code == 0
    assert run("accept", *TODAY).exit_code == 0
    assert run("cut", "R-2", "--done", "--spoiled", "J2/A", *TODAY).exit_code == 0
    for _ in ("proposed", "accepted"):
        assert "J2, laid Mon 30 Nov, is cut from R-3, batch B9, in plan 2." in told(run("why", "J2", "--seconds", "1"))
        run("accept", *TODAY)
    assert run("plans", "--json").stdout.count('"accepted"') == 2


def test_an_order_on_its_way_is_asked_of_the_plan_that_cuts_it_and_never_taken_for_another(store: Path) -> None:
    first = replace(JOB, strips=(Strip("A", 4000, 3000),))
    fill(store, replace(small_request(first), stock=()))
    assert run("plan", *WEEK, "--seconds", "5").exit_code == 0
    assert run("accept", *TODAY).exit_code == 0
    assert "in plan 1." in told(run("why", "P1-1", "--seconds", "1"))
    assert run("order", "P1-1", *TODAY).exit_code == 0
    fill(store, replace(small_request(first, SECOND), stock=()))
    assert run("plan", *WEEK, "--again", "--pin", "J1=P1-1", "--seconds", "5").exit_code == 0
    assert "new-1 serves" in told(run("why", "new-1", "--seconds", "1"))
    for number in ((), ("--plan", "2")):
        assert told(run("why", "P1-1", "--seconds", "1", *number)).startswith("P1-1 serves J1 in plan 2.")
    refused = run("why", "P3-1", "--plan", "2")
    assert "plan 2 neither serves, cuts nor orders P3-1; it does: " in refused.stderr


def test_what_is_not_in_the_plan_is_refused_with_what_is(planned: Path) -> None:
    refused = run("why", "J7")
    assert refused.exit_code == 1
    assert "plan 1 neither serves, cuts nor orders J7; it does: J1, J2, P-1" in refused.stderr
    assert run("why", "j2").stderr.endswith("nor orders j2; perhaps J2 is meant\n")
    missing = run("why", "J1", "--plan", "4")
    assert missing.exit_code == 1
    assert "there is no plan 4" in missing.stderr


def test_without_a_plan_there_is_nothing_to_ask(store: Path) -> None:
    fill(store, small_request())
    assert run("why", "J1").exit_code == 1
