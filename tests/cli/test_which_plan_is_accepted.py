"""Which plan `accept` takes when no number is typed, and when it must be said."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from builders import ROLL
from stores_with_plans import THIRD, THREE, TODAY, Plan, ok, refused, states
from typed_commands import WEEK, fill, run

from stockplan.domain.jobs import Strip

NEXT_WEEK = replace(THIRD, code="J4", lay_on=date(2026, 12, 7), strips=(Strip("A", 4000, 1000),))
AFTER = ("plan", "--from", "2026-12-07", "--to", "2026-12-07", *TODAY)


def test_which_of_two_plans_is_accepted_must_be_said(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    fill(store, replace(THREE, jobs=(*THREE.jobs, NEXT_WEEK)))
    assert run(*AFTER).exit_code == 0
    fill(store, replace(THREE, supply=(), stock=(*THREE.stock, replace(ROLL, tag="R-9")), jobs=()))
    assert "Take it with: stockplan accept 3\n" in ok("cut", "R-2", "--done", "--spoiled", "J3/A/1", *TODAY)
    wait = "plan 3, 2026-12-01 to 2026-12-01, for J3; plan 2, 2026-12-07 to 2026-12-07, for J4\n"
    assert f"say which plan is accepted, such as stockplan accept 3; these wait: {wait}" in refused("accept", *TODAY)
    assert states(store) == {1: "accepted"}
    ok("accept", "3", *TODAY)
    one = "plan 3 is accepted; say which is accepted; these wait: plan 2, 2026-12-07 to 2026-12-07, for J4\n"
    assert one in refused("accept", *TODAY)
    ok("accept", "2", *TODAY)
    ok("verify")


def test_a_mend_that_was_not_found_is_said_to_cover_nothing_and_does_not_wait(planned: Plan, store: Path) -> None:
    planned(replace(THREE, supply=()))
    ok("accept", *TODAY)
    fill(
        store, replace(THREE, supply=(), jobs=(*THREE.jobs, NEXT_WEEK), stock=(*THREE.stock, replace(ROLL, tag="R-9")))
    )
    ok(*AFTER)
    ok("hold", "R-9", "Q1", "--until", "2099-01-01")
    spoilt = ("--spoiled", "J3/A/1", "--spoiled", "J3/A/2", "--tail", "1")
    assert run("cut", "R-2", "--done", *spoilt, *TODAY).exit_code == 3
    ok("free", "R-9")
    bare = "plan 3, 2026-12-01 to 2026-12-01, for J3, which covers nothing; plan 2, 2026-12-07"
    assert bare in refused("accept", *TODAY)
    ok(*AFTER)
    assert "Plan 4 is accepted." in ok("accept", *TODAY)


def test_a_plan_that_could_not_be_accepted_any_more_does_not_wait(planned: Plan, store: Path) -> None:
    planned()
    fill(store, replace(THREE, jobs=(*THREE.jobs, NEXT_WEEK)))
    ok(*AFTER)
    assert "these wait: plan 2, 2026-12-07 to 2026-12-07, for J4; plan 1, 2026-11-30" in refused("accept", *TODAY)
    ok("measure", "R-2", "4x7")
    assert "Plan 2 is accepted." in ok("accept", *TODAY)


def test_a_plan_made_again_or_passed_or_for_a_job_cancelled_since_does_not_wait(planned: Plan, store: Path) -> None:
    planned()
    ok("plan", "--from", "2026-12-01", "--to", "2026-12-01", *TODAY)
    ok("plan", *WEEK)
    assert "Plan 3 is accepted." in ok("accept", *TODAY)
    fill(store, replace(THREE, jobs=(*THREE.jobs, NEXT_WEEK)))
    ok(*AFTER)
    ok("withdraw", "3")
    ok("plan", *WEEK)
    assert "plan 4, 2026-12-07" in refused("accept", *TODAY)
    assert "Plan 5 is accepted." in ok("accept", "--today", "2026-12-08")
    ok("withdraw", "5")
    ok("plan", *WEEK)
    ok("cancel-job", "J4")
    assert "Plan 6 is accepted." in ok("accept", *TODAY)
