"""The take-off command, as typed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from builders import ROLL, small_request
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


def seams(*typed: str) -> tuple[int, int]:
    """Length of the seams of the only job, mm, and the plan that laid it out."""
    (job,) = json.loads(run("take-off", *typed, "--json").stdout)["jobs"]
    return job["seam_mm"], job["plan"]


@pytest.mark.parametrize("withdrawn", [False, True])
def test_seams_of_a_lawn_that_is_begun_are_those_of_the_plan_that_laid_it_out(store: Path, withdrawn: bool) -> None:
    """With the real planner. The lawn takes two strips 5.00 m long, its seam is 4.80 m; each roll holds one of them."""
    stock = tuple(replace(ROLL, tag=tag, length_mm=5300) for tag in ("R-1", "R-2", "R-3"))
    fill(store, replace(small_request(), stock=stock, jobs=(), supply=()))
    new = ("--product", "G30", "--lay-on", "2026-12-03", "--pile", "bearing 0", "--lawn", "back")
    assert run("measure-lawn", "J9", "6.2 x 4.8", *new).exit_code == 0
    day = ("plan", "--from", "2026-12-03", "--to", "2026-12-03", "--today", "2026-11-23", "--seconds", "1")
    assert run(*day).exit_code == 0
    assert run("accept", "1", "--today", "2026-11-23").exit_code == 0
    assert "J9" in run("cut", "R-1").stdout
    assert run("cut", "R-1", "--done", "--today", "2026-11-23").exit_code == 0
    if withdrawn:
        assert run("withdraw", "1").exit_code == 0
    again = run(*day, "--again", "--json", "-")
    assert [cut["job"] for cut in json.loads(again.stdout)["cut_already"]] == ["J9"]
    assert run("accept", "2", "--today", "2026-11-23").exit_code == 0
    assert seams("--plan", "1") == (4800, 1)
    assert seams("--plan", "2") == seams("J9") == (4800, 1)


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
