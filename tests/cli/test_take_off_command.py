"""The take-off command, as typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import WEEK, Planner, fill, run


@pytest.fixture
def filled(store: Path) -> Path:
    fill(store, small_request())
    return store


@pytest.mark.usefixtures("filled")
def test_one_job_and_a_week_are_taken_off() -> None:
    one = run("take-off", "J1")
    assert one.exit_code == 0
    assert one.stdout.startswith("J1, ")
    assert "Silica" in one.stdout
    week = json.loads(run("take-off", "--from", "2026-11-30", "--to", "2026-12-04", "--json").stdout)
    assert [job["job"] for job in week["jobs"]] == ["J1"]


@pytest.mark.usefixtures("filled")
def test_settings_are_heeded() -> None:
    before = json.loads(run("take-off", "J1", "--json").stdout)["together"]
    run("settings", "tape_extra_percent", "50")
    after = json.loads(run("take-off", "J1", "--json").stdout)["together"]
    assert after[0]["most"] * 105 == before[0]["most"] * 150
    assert after[1:] == before[1:]


def test_a_plans_jobs_are_taken_off(planner: Planner) -> None:
    run("plan", *WEEK)
    found = json.loads(run("take-off", "--plan", "1", "--json").stdout)
    assert [job["job"] for job in found["jobs"]] == [job.code for job in planner.request.jobs]
    assert run("take-off", "--plan", "2").exit_code == 1


@pytest.mark.usefixtures("filled")
def test_what_is_not_there_is_said() -> None:
    unknown = run("take-off", "J99")
    assert unknown.exit_code == 1
    assert "no job J99" in unknown.stderr
    empty = run("take-off", "--from", "2027-01-01", "--to", "2027-01-02")
    assert empty.exit_code == 1
    assert "no job is laid from 2027-01-01 to 2027-01-02" in empty.stderr


@pytest.mark.parametrize(
    "typed",
    [
        [],
        ["J1", "--slope", "10"],
        ["J1", "--slope", "10/0"],
        ["J1", "--slope", "a/b"],
        ["J1", "--plan", "1"],
        ["J1", "--from", "2026-11-30"],
        ["--from", "2026-12-02", "--to", "2026-12-01"],
    ],
)
def test_wrong_usage(typed: list[str]) -> None:
    assert run("take-off", *typed).exit_code == 2
