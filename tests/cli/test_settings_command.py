"""The settings command, as typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import WEEK, Planner, fill, run

from stockplan.domain.settings import SETTINGS
from stockplan.store.session import open_store
from stockplan.store.setting_rows import read_stored_settings, write_settings


@pytest.fixture(autouse=True)
def filled(store: Path) -> Path:
    fill(store, small_request())
    return store


def test_every_setting_is_listed_with_default_unit_and_reason() -> None:
    listed = run("settings")
    assert listed.exit_code == 0
    for setting in SETTINGS.values():
        (line,) = (line for line in listed.stdout.splitlines() if line.split()[:1] == [setting.name])
        assert line.split()[1:3] == [f"{setting.default:,}"] * 2
        assert line.endswith(setting.reason)


def as_by_default(record: dict[str, object]) -> dict[str, object]:
    return {**record, "value": record["default"], "set_by_firm": False}


def test_a_setting_is_set_and_given_back() -> None:
    assert run("settings", "fixing_spacing_mm", "0.15m").stdout == "fixing_spacing_mm is 150 now.\n"
    document = json.loads(run("settings", "--json").stdout)
    (found,) = (one for one in document["settings"] if one["setting"] == "fixing_spacing_mm")
    assert (found["value"], found["default"], found["set_by_firm"]) == (150, 300, True)
    assert run("settings", "fixing_spacing_mm", "default").stdout == "fixing_spacing_mm has its default again.\n"
    assert json.loads(run("settings", "--json").stdout)["settings"] == [*map(as_by_default, document["settings"])]


def test_a_value_that_cannot_stand_changes_nothing_and_says_what_would_be_right(filled: Path) -> None:
    result = run("settings", "sand_least_g_per_m2", "9000")
    assert result.exit_code == 1
    assert "more than sand_most_g_per_m2, 8,000" in result.stderr
    assert run("settings", "sand_least", "7000").exit_code == 1
    with open_store(str(filled)) as opened, opened.reading() as session:
        assert read_stored_settings(session) == {}


def test_a_name_without_a_value_is_wrong_usage() -> None:
    assert run("settings", "sand_bag_g").exit_code == 2


def test_the_planner_works_with_what_was_set(planner: Planner) -> None:
    run("settings", "rip_pence", "450")
    run("plan", *WEEK)
    assert planner.request.costs.rip_pence == 450


def test_what_is_wrong_in_the_store_is_told_and_can_be_set_right(filled: Path) -> None:
    with open_store(str(filled)) as opened, opened.unit_of_work() as work:
        write_settings(work, {"rip_pence": "three"})
        work.commit()
    listed = run("settings")
    assert listed.exit_code == 0
    assert "In the store: rip_pence is a whole number of pence" in listed.stderr
    assert "stockplan settings NAME VALUE" in run("plan", *WEEK).stderr
    assert run("settings", "rip_pence", "300").exit_code == 0
    assert run("settings").stderr == ""
