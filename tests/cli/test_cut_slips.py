"""What is recorded of a cut as typed though a slip is likely, and told."""

from __future__ import annotations

import re

import pytest
from stores_with_plans import TODAY, Plan, ok
from typed_commands import run
from typer.testing import CliRunner

from stockplan import cli

SMALL = (
    r"CAREFUL: (\S+) is small: 0\.40 m across is under 0\.50 m; if it was binned: stockplan write-off --why binned \1\n"
)
ALONE = "Nothing else is on record in bay shed. If that is a slip, put it right: stockplan move "


@pytest.fixture(autouse=True)
def accepted(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)


def test_a_strip_that_is_kept_though_it_is_small_is_told() -> None:
    said = ok("cut", "R-2", "--done", "--tail", "3.5", "--keep", "0.4x2", "--keep", "0.5x1")
    assert re.findall(r"^Write (\S+) on the offcut of 0\.40", said, re.M) == re.findall(SMALL, said)
    assert said.count("is small") == 1


def test_sides_of_a_leftover_that_look_exchanged_are_asked_about(monkeypatch: pytest.MonkeyPatch) -> None:
    longer = run("measure", "R-2", "4x7")  # 3 m are left of it
    assert longer.exit_code == 0
    told = run("cut", "R-2", "--done", "--leftover", "1=2.95x4")
    assert told.exit_code == 1
    assert "leftover 1: the plan leaves 4.00 × 3.00 m over, not 2.95 × 4.00 m: are across and along" in told.stderr
    monkeypatch.setattr("stockplan.cli.cutting._someone_answers", lambda: True)
    done = CliRunner().invoke(cli.app, ["cut", "R-2"], input="y\n\n2.95x4\n\n")
    assert done.exit_code == 0, done.output
    assert "Is it 4.00 × 2.95 m, across × along? [Y/n]" in done.output
    assert "on the part roll of 4.00 × 2.95 m" in done.output


def test_a_bay_of_its_own_is_told_where_something_is_kept() -> None:
    said = ok("cut", "R-2", "--done", "--bay", "shed")
    (tag,) = re.findall(r"^Write (\S+) on", said, re.M)
    assert f"{ALONE}{tag} BAY\n" in said


def test_but_not_where_nothing_is() -> None:
    assert "shed" not in ok("cut", "R-2", "--done", "--bin", "1", "--bay", "shed")


def test_what_is_kept_and_too_heavy_for_one_is_told_with_its_weight() -> None:
    said = ok("cut", "R-2", "--done")
    (tag,) = re.findall(r"^Write (\S+) on the part roll of 4\.00 × 4\.00 m", said, re.M)
    assert f"{tag} weighs about 42 kg; too heavy for hands: use plant.\n" in said
    light = ok("cut", "R-1", "--done", "--tail", "0.5", "--bin", "1")
    assert "weighs" not in light
