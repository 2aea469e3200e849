"""Quoting as typed: with the plan without the job made anew or taken from the store, and the pages written."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from builders import JOB, MONDAY, small_request
from schemas import published, validator
from simple_planner import simple_plan
from typed_commands import WEEK, fill, run

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.stock import StockForm, StockItem

LATER = Job("J2", "Alder Close", "G30", MONDAY + timedelta(days=1), "road", BatchRule.ONE, (Strip("A", 4000, 2500),))
ASKED = ("--product", "G30", "--today", "2026-11-23", "--lay-on", "2026-12-01")


class Watched:
    """The simple planner, and every list of jobs that this process asked it to plan."""

    def __init__(self) -> None:
        self.asked: list[list[str]] = []

    def __call__(self, request: PlanRequest, limits: SearchLimits, *others: object) -> Plan:
        self.asked.append([job.code for job in request.jobs])
        return simple_plan(request, limits, None, None)


@pytest.fixture
def planner(store: Path, monkeypatch: pytest.MonkeyPatch) -> Watched:
    watched = Watched()
    monkeypatch.setattr("stockplan.cutting.plan_cuts", watched, raising=False)
    fill(store, small_request(JOB, LATER))
    return watched


def document(*arguments: str) -> dict[str, object]:
    result = run("quote", *arguments, "--json")
    assert result.exit_code == 0, result.output
    found: dict[str, object] = json.loads(result.stdout)
    validator(published("quote")).validate(found)
    return found


def test_a_quote_tells_an_interval_beside_the_rule_of_thumb(planner: Watched) -> None:
    found = document("4x2", *ASKED)
    cost, rule = found["true_cost"], found["rule_of_thumb"]
    assert isinstance(cost, dict)
    assert isinstance(rule, dict)
    assert 0 <= cost["least"] <= cost["likely"] <= cost["most"]
    assert rule == {"area_m2": 8.0, "price_per_m2": 11.0, "wastage_percent": 10, "cost": 96.8}
    assert planner.asked == [["J1", "J2", "quote"]], "the plan without it is made in a process beside"


def test_the_plan_without_it_is_taken_from_the_store_while_it_answers_the_same(planner: Watched, store: Path) -> None:
    run("plan", *WEEK)
    stored = json.loads(run("show", "--json", "-").stdout)
    planner.asked.clear()
    found = document("4x2", *ASKED)
    assert found["without_job"]["cost"] == stored["totals"]["net_cost"]  # type: ignore[index]
    assert found["window"] == {"from": "2026-11-30", "to": "2026-12-04", "other_jobs": 2}
    assert planner.asked == [["J1", "J2", "quote"]]


def test_what_accepted_plans_leave_over_is_no_part_of_it_and_that_is_said(planner: Watched) -> None:
    left_alone = "what plans have reserved is left alone, with what they leave over"
    run("plan", *WEEK)
    assert left_alone not in run("quote", "4x2", *ASKED).stdout
    assert run("accept", "--today", "2026-11-23").exit_code == 0
    assert left_alone in run("quote", "4x2", *ASKED).stdout


def test_wastage_and_price_are_the_firms(planner: Watched) -> None:
    assert run("settings", "wastage_percent", "15").exit_code == 0
    rule = document("4x2", *ASKED, "--price", "20")["rule_of_thumb"]
    assert rule == {"area_m2": 8.0, "price_per_m2": 20.0, "wastage_percent": 15, "cost": 184.0}


def test_pages_are_written_and_the_customers_holds_no_cost(planner: Watched, tmp_path: Path) -> None:
    page, customer = tmp_path / "firm.html", tmp_path / "customer.html"
    result = run(
        "quote", "4x2", *ASKED, "--page", str(page), "--customer", str(customer), "--name", "Q-7", "--site", "3 Elm Row"
    )
    assert result.exit_code == 0, result.output
    figures = [line.split()[-1] for line in result.stdout.splitlines() if line.startswith(("true cost", "best plan"))]
    assert len(figures) == 5
    assert all(figure in page.read_text() for figure in figures)
    assert not [figure for figure in figures if figure in customer.read_text()]
    assert "Annex to quote Q-7" in customer.read_text()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("4x2", "--name", "J1"), "there is a job J1 already"),
        (("4x2", "--to", "2026-11-30"), "outside the days from 2026-11-23 to 2026-11-30"),
        (("4x2", "--product", "G3"), "the store knows no product G3"),
        (("5x3", "4x26"), "size 5.00 x 3.00 is wider than any grass there is, 4.00 m"),
        (("5x3", "4x26"), "size 4.00 x 26.00 is longer than any grass there is, 25.00 m"),
        (("4x2", "--price", "x"), "amount 'x' cannot be read"),
    ],
)
def test_what_cannot_be_quoted_is_refused(planner: Watched, arguments: tuple[str, ...], words: str) -> None:
    result = run("quote", *ASKED, *arguments)
    assert result.exit_code == 1
    assert words in result.stderr


def test_files_that_cannot_be_written_are_told_beside_everything_else(planner: Watched, tmp_path: Path) -> None:
    page, customer = tmp_path / "away" / "firm.html", tmp_path / "gone" / "customer.html"
    refused = run("quote", "7x2", *ASKED, "--product", "NO", "--page", str(page), "--customer", str(customer))
    assert refused.exit_code == 1
    for words in (f"{page.parent} is not there", f"{customer.parent} is not there", "size '7x2'", "no product NO;"):
        assert words in refused.stderr
    same = run("quote", "4x2", *ASKED, "--page", str(tmp_path / "q.html"), "--customer", str(tmp_path / "q.html"))
    assert (same.exit_code, planner.asked) == (2, [])


def test_a_job_that_nothing_covers_in_time_has_no_cost(planner: Watched, store: Path) -> None:
    result = run("quote", "2@4x12", "--product", "G30", "--today", "2026-11-23", "--lay-on", "2026-11-24")
    assert result.exit_code == 0, result.output
    assert "What it costs cannot be told: with it quote is not covered in time" in result.stdout


def test_asking_writes_nothing(planner: Watched, store: Path) -> None:
    before = store.read_bytes()
    document("4x2", *ASKED)
    assert store.read_bytes() == before


def test_the_only_job_is_quoted_without_a_second_plan(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    watched = Watched()
    monkeypatch.setattr("stockplan.cutting.plan_cuts", watched, raising=False)
    fill(store, replace(small_request(), jobs=()))
    found = document("4x2", *ASKED)
    assert found["without_job"] == {"cost": 0.0, "lower_bound": 0.0, "short": []}
    assert watched.asked == [["quote"]]


@pytest.mark.parametrize("unsound", [1, 2], ids=["without the job", "with the job"])
def test_an_unsound_plan_is_not_quoted_from(planner: Watched, monkeypatch: pytest.MonkeyPatch, unsound: int) -> None:
    def careless(request: PlanRequest, *others: object) -> Plan:
        plan = planner(request, SearchLimits())
        if len(request.jobs) != unsound + 1:
            return plan
        return replace(plan, products=tuple(replace(one, net_cost_pence=1) for one in plan.products))

    monkeypatch.setattr("stockplan.cutting.plan_cuts", careless, raising=False)
    result = run("quote", "4x2", *ASKED)
    assert result.exit_code == 1
    assert "failed its check" in result.stderr
    assert "money adds up" in result.stderr


@pytest.mark.slow
def test_a_lawn_is_quoted_with_seams_waste_take_off_and_drawing(store: Path, tmp_path: Path) -> None:
    """With the real planner."""
    fill(store, small_request(JOB, LATER))
    customer = tmp_path / "customer.html"
    found = document("--lawn", "6.2 x 4.8", *ASKED, "--customer", str(customer), "--seconds", "1")
    assert found["areas"]["lawn_m2"] == 29.76  # type: ignore[index]
    assert found["seams"]["count"] >= 1  # type: ignore[index]
    assert {one["material"] for one in found["take_off"]} >= {"joining tape", "infill sand"}  # type: ignore[attr-defined]
    assert "<svg" in customer.read_text()
    assert "scale 1:" not in customer.read_text(), "the page changes the drawing's size"
    assert not re.search(r"cost|price|GBP|pence", customer.read_text(), re.IGNORECASE)


@pytest.mark.slow
def test_the_drawing_points_out_narrow_strips_by_the_firms_own_setting(store: Path, tmp_path: Path) -> None:
    """With the real planner."""
    fill(store, small_request(JOB, LATER))
    customer = tmp_path / "customer.html"
    asked = ("--lawn", "5.5 x 5.2", *ASKED, "--customer", str(customer), "--seconds", "1")
    document(*asked)
    assert "is narrow" not in customer.read_text()
    assert run("settings", "warn_narrow_mm", "2000").exit_code == 0
    document(*asked)
    assert re.search(r"is narrow: covers 1\.\d", customer.read_text())


def test_a_held_thing_that_the_plan_would_have_cut_and_a_wet_one_that_it_cuts_are_told(store: Path) -> None:
    """With the real planner; the held offcut is the very size, the wet one a little larger."""
    fits = StockItem("K-1", "G30", "B7", StockForm.OFFCUT, 2000, 3000, "C3", 1000)
    request = small_request()
    fill(store, replace(request, jobs=(), stock=(*request.stock, fits, replace(fits, tag="K-2", width_mm=2200))))
    assert run("hold", "K-1", "Q-7", "--until", "2099-01-31").exit_code == 0
    assert run("condition", "K-2", "wet").exit_code == 0
    result = run("quote", "2x3", *ASKED, "--name", "Q-7", "--seconds", "1")
    assert "Cut, in the best plan known: 1 piece from K-2." in result.stdout
    assert "G30: would have taken held K-1 (quote Q-7, until Sat 31 Jan 2099); to let a plan have it" in result.stderr
    assert "by the record they are not sound: K-2 (wet)" in result.stderr
