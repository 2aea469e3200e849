"""A weight held against the guidelines on lifting."""

from __future__ import annotations

import pytest

from stockplan.domain.lifting import Grasp
from stockplan.report.handling import GUIDANCE
from stockplan.report.lift_text import Lift, lift_text

FLOOR = Lift(40, 15, 75, 0, 0.2, 1, Grasp.POOR)


def test_the_limit_is_that_of_the_worse_end() -> None:
    """23 × 25/40 × (1 − 0.003 × 60) × (0.82 + 4.5/60) × 0.90 at the floor, worked by hand."""
    assert FLOOR.limit_kg() == pytest.approx(23 * 0.625 * 0.82 * 0.895 * 0.9)


def test_figures_that_are_exceeded_are_marked_and_nothing_is_cleared() -> None:
    text = lift_text("C-402K", 21, FLOOR)
    lines = {line.split("  ")[0]: line for line in text.splitlines()}
    assert lines["elbow to knuckle"].split()[3:] == ["25", "15", "*", "16", "*", "10", "*"]
    assert lines["above the shoulder"].count("*") == 4
    assert "2 people 33.3 kg at best and 3 people 37.5 kg at best" in text
    assert "limit 9.5 kg; C-402K is 2.2 times as much" in text
    assert "A long limp roll is not easily grasped" in text
    assert text.endswith(GUIDANCE)
    assert "safe" not in text


def test_beyond_the_equation_there_is_no_lift() -> None:
    assert "no lift at all" in lift_text("R-201", 298, Lift(80, 15, 75, 0, 0.2, 1, Grasp.POOR))


def test_what_is_wet_weighs_more_than_is_said() -> None:
    assert "It is wet by the record: it weighs more than that" in lift_text("C-402K", 14, FLOOR, "wet")
    assert "by the record" not in lift_text("C-402K", 14, FLOOR, "dirty")
