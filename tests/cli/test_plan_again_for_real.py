"""Planning again, mends, pins and orders on their way with the planner itself, on a yard that is reckoned by hand.

Cheapest for the three jobs is R-1, of 10 m, for J2 and J3, and R-2, of 8 m, for J1.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL, small_request
from typed_commands import WEEK, fill, run

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.request import PlanRequest

pytestmark = pytest.mark.slow
SECOND = Job("J2", "Alder Close", "G30", MONDAY + timedelta(days=1), "road", BatchRule.ONE, (Strip("A", 4000, 2500),))
THIRD = Job("J3", "Birch End", "G30", MONDAY + timedelta(days=3), "road", BatchRule.ONE, (Strip("A", 4000, 2000, 2),))
THREE = small_request(JOB, SECOND, THIRD)
TODAY = ("--today", "2026-11-23")
QUICK = ("--seconds", "2")


def ok(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result.output


def planned(store: Path, request: PlanRequest, *options: str) -> dict[str, Any]:
    fill(store, request)
    ok("plan", *WEEK, *QUICK, *options)
    return last_plan()


def last_plan() -> dict[str, Any]:
    plan: dict[str, Any] = json.loads(run("show", "--json", "-").stdout)
    return plan


def sources(plan: dict[str, Any], job: str) -> set[str]:
    return {piece["source"] for piece in plan["pieces"] if piece["job"] == job}


def test_spoiled_pieces_are_mended_from_the_batch_of_their_job_and_all_is_cut_in_the_end(store: Path) -> None:
    plan = planned(store, THREE)
    assert [sources(plan, job) for job in ("J1", "J2", "J3")] == [{"R-2"}, {"R-1"}, {"R-1"}]
    ok("accept", *TODAY)
    said = ok("cut", "R-1", "--done", "--spoiled", "J3/A/1", *TODAY)
    (tail,) = re.findall(r"^Write (\S+) on the part roll of 4.00 × 3.50 m", said, re.M)
    assert f"  J3 A, 4.00 × 2.00 m: from {tail}, 4.00 × 3.50 m, batch B7" in said
    # 14 m² of batch B7 at 10.00 and 0.90; what is left is 6 m² at 0.75 + 0.15/4; one crosscut
    assert f"Cheapest mend found, {126.00 - 47.25 + 2.00:.2f} GBP net, as plan 2" in said
    assert last_plan()["cut_already"] == [{"job": "J3", "strip": "A", "count": 1, "batch": "B7"}]
    ok("accept", *TODAY)
    assert "J3 is cut in full." in ok("cut", tail, "--done")
    said = ok("cut", "R-2", "--done", "--spoiled", "J1/B/2", *TODAY)
    assert re.search(r"J1 B, 1.50 × 2.00 m: from P-\S+, .* batch B8", said)
    ok("accept", *TODAY)
    (one,) = {used["source"] for used in last_plan()["stock_used"]}
    assert "J1 is cut in full." in ok("cut", one, "--done")
    assert "J1, J2, J3 are cut" in run("plan", *WEEK).stderr
    ok("verify")


def test_a_job_begun_in_one_batch_is_left_short_rather_than_mixed(store: Path) -> None:
    planned(store, replace(THREE, jobs=(JOB,), supply=(), stock=(ROLL, replace(OTHER_ROLL, length_mm=5000))))
    ok("accept", *TODAY)
    result = run("cut", "R-2", "--done", "--spoiled", "J1/A/1", *TODAY)
    assert result.exit_code == 3
    assert "No mend for J1 A" in result.output
    assert "stockplan plan --from 2026-11-30 --to 2026-11-30" in result.output
    again = run("plan", *WEEK, *QUICK)
    assert again.exit_code == 3
    assert last_plan()["pieces"] == []


def test_a_pin_holds_with_the_planner_itself(store: Path) -> None:
    planned(store, THREE)
    ok("plan", *WEEK, *QUICK, "--pin", "J2=R-2")
    assert sources(last_plan(), "J2") == {"R-2"}
    assert last_plan()["pins"] == [{"job": "J2", "source": "R-2"}]


def test_planning_again_with_nothing_changed_changes_nothing(store: Path) -> None:
    planned(store, THREE)
    ok("accept", *TODAY)
    again = run("plan", *WEEK, *QUICK, "--again")
    assert again.exit_code == 0
    assert "Nothing is planned differently from plan 1." in again.stderr


def test_what_is_ordered_is_used_when_planning_again_and_only_for_jobs_laid_after_it_comes(store: Path) -> None:
    planned(store, replace(THREE, stock=()))
    ok("accept", *TODAY)
    keys = [order["order"] for order in json.loads(ok("orders", "--json", *TODAY))["orders"]]
    ok("order", *keys, *TODAY)
    ok("plan", *WEEK, *QUICK, "--again")
    assert last_plan()["orders"] == []
    assert {used["source"] for used in last_plan()["stock_used"]} == set(keys)
    ok("order", *keys, "--promised", "2026-12-01", *TODAY)
    ok("plan", *WEEK, *QUICK)
    assert {piece["job"] for piece in last_plan()["pieces"] if piece["source"] in keys} <= {"J3"}
    assert sources(last_plan(), "J1")


def test_a_job_that_is_begun_keeps_its_grass_when_a_larger_one_comes_in_and_all_is_planned_again(store: Path) -> None:
    begun = replace(JOB, strips=(Strip("A", 4000, 7900), Strip("B", 4000, 3000)))
    same_batch = replace(THREE, jobs=(begun,), supply=(), stock=(ROLL, replace(OTHER_ROLL, batch=ROLL.batch)))
    planned(store, same_batch)
    ok("accept", *TODAY)
    ok("cut", "R-2", "--done", *TODAY)
    larger = replace(SECOND, strips=(Strip("A", 4000, 4000, 2),))
    fill(store, replace(same_batch, jobs=(begun, larger), stock=()))
    assert run("plan", *WEEK, *QUICK, "--again").exit_code == 3
    assert [short["job"] for short in last_plan()["short"]] == ["J2"]
    ok("accept", *TODAY)
