"""Holding a thing's weight against the guidelines on lifting, as typed."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run


@pytest.fixture(autouse=True)
def yard(store: Path) -> None:
    """R-1, 4 × 10 m of 2.5 kg/m² and a core: 105 kg."""
    fill(store, small_request())


def test_the_lift_is_the_one_that_was_described() -> None:
    options = ("--reach", "30", "--from", "20", "--to", "100", "--turn", "45", "--a-minute", "1", "--hours", "2")
    result = run("lift", "R-1", *options, "--grasp", "good")
    assert result.exit_code == 0, result.output
    assert "R-1: about 105 kg" in result.stdout
    told = "hands 30 cm before the ankles, from 20 to 100 cm above the floor, turning 45 degrees,\n1 lifts a minute"
    assert told in result.stdout
    assert "for up to 2 h, good grasp" in result.stdout


def test_without_a_word_it_is_a_poor_grasp_from_near_the_floor() -> None:
    told = run("lift", "R-1").stdout
    assert "hands 40 cm before the ankles, from 15 to 75 cm above the floor, turning 0 degrees,\n0.2 lifts" in told
    assert "for up to 1 h, poor grasp" in told


def test_hours_that_the_table_lacks_are_refused() -> None:
    result = run("lift", "R-1", "--hours", "3")
    assert result.exit_code == 2
    assert "3 is not in the table; give 1, 2 or 8" in result.stderr


def test_what_is_not_in_the_yard_is_refused() -> None:
    result = run("lift", "R-9")
    assert result.exit_code == 1
    assert "R-9" in result.stderr
