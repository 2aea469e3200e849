"""A measured lawn planned, drawn and taken off, as typed, with the real planner."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from builders import small_request
from typed_commands import fill, run

DAY = ("--from", "2026-12-03", "--to", "2026-12-03", "--today", "2026-11-23", "--work", "40")
L_SHAPED = "corners; 0 0 house; 4.2 0; 4.2 2; 2.1 2; 2.1 3; 0 3"


@pytest.fixture(autouse=True)
def measured(store: Path) -> Path:
    """The small yard, and a job J9 with a lawn in the shape of an L."""
    fill(store, small_request())
    new = ("--product", "G30", "--lay-on", "2026-12-03")
    done = run("measure-lawn", "J9", f"units m; place back; {L_SHAPED}", "--lawn", "back", *new)
    assert done.exit_code == 0, done.output
    return store


def taken_off(*typed: str) -> dict[str, Any]:
    result = run("take-off", *typed, "--json")
    assert result.exit_code == 0, result.output
    (job,) = json.loads(result.stdout)["jobs"]
    return dict(job)


def test_before_it_is_planned_only_its_ground_is_known() -> None:
    job = taken_off("J9")
    assert (job["plan"], job["lawn_mm2"], job["grass_mm2"], job["seam_mm"]) == (None, 10_500_000, None, None)


def test_once_planned_it_is_drawn_and_taken_off_as_the_plan_lays_it(tmp_path: Path) -> None:
    result = run("plan", *DAY, "--drawing", str(tmp_path / "day.svg"))
    assert result.exit_code == 0, result.output
    drawing = (tmp_path / "day-lawns-J9.svg").read_text(encoding="utf-8")
    assert "J9, lawn back" in drawing
    assert 'data-strip="A"' in drawing
    again = run("show", "1", "--drawing", str(tmp_path / "again.svg"))
    assert again.exit_code == 0
    assert (tmp_path / "again-lawns-J9.svg").read_text(encoding="utf-8") == drawing
    job = taken_off("J9")
    assert job["plan"] == 1
    assert job == taken_off("--plan", "1")
    assert job["grass_mm2"] > job["lawn_mm2"] == 10_500_000
    tape = next(need for need in job["needs"] if need["material"] == "joining tape")
    assert tape["most"] == -(-job["seam_mm"] * 105 // 100)


def test_the_plan_that_was_accepted_is_followed_not_a_later_proposal() -> None:
    for _ in range(2):
        assert run("plan", *DAY).exit_code == 0
    assert taken_off("J9")["plan"] == 2
    assert run("accept", "1").exit_code == 0
    assert taken_off("J9")["plan"] == 1


def test_a_plan_of_a_lawn_measured_again_is_not_followed() -> None:
    assert run("plan", *DAY).exit_code == 0
    assert run("measure-lawn", "J9", "3 x 2", "--lawn", "back").exit_code == 0
    job = taken_off("J9")
    assert (job["plan"], job["lawn_mm2"], job["grass_mm2"]) == (None, 6_000_000, None)


def test_measured_level_on_a_slope_the_plans_strips_do_not_count() -> None:
    assert run("plan", *DAY).exit_code == 0
    job = taken_off("J9", "--slope", "3/4")
    assert (job["plan"], job["lawn_mm2"], job["grass_mm2"]) == (None, 13_125_000, None)  # 5 along the slope for 4 level
    assert "measured level" in job["notes"][0]


def test_jobs_are_listed_with_the_pieces_that_an_accepted_plan_lays_out() -> None:
    def listed() -> str:
        (row,) = (row for row in run("jobs").stdout.splitlines() if " J9 " in row)
        return row

    assert run("plan", *DAY).exit_code == 0
    assert "not yet" in listed()
    assert run("accept", "1", "--today", "2026-11-23").exit_code == 0
    layout = json.loads(run("show", "1", "--json", "-").stdout)["layouts"][0]
    strips = [strip for lawn in layout["lawns"] for strip in lawn["strips"]]
    area = sum(strip["width_mm"] * strip["length_mm"] for strip in strips) / 1e6
    assert re.search(rf"G30 +{len(strips)} +{area:.1f} ", listed())
    (job,) = json.loads(run("jobs", "--from", "2026-12-03", "--json").stdout)["jobs"]
    assert [strip["strip"] for strip in job["strips"]] == sorted(strip["strip"] for strip in strips)
    assert run("measure-lawn", "J9", "3 x 2", "--lawn", "back").exit_code == 0
    assert "not yet" in listed()
