"""What the foreman takes first."""

from __future__ import annotations

import pytest
from small_problems import GRASS, item, job, problem

from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan


def taken(*held: tuple[str, str, str]) -> set[str]:
    """Tags of what he cuts one small piece from, all of one batch."""
    stock = [item(tag, size, batch="B7", form=form) for tag, size, form in held]
    instance = build_instance(problem([job("J1", "1000x1500")], stock, ()), GRASS)
    return {tag for pattern in foreman_plan(instance).patterns for tag in pattern.source.tags}


PART = ("P-1", "4000x2000", "part_roll")


@pytest.mark.parametrize(
    ("held", "first"),
    [
        ([PART, ("C-1", "3000x6000", "offcut")], "C-1"),  # an offcut before a part roll, however large
        ([("C-2", "2000x6000", "offcut"), ("C-1", "1200x3000", "offcut")], "C-1"),  # of offcuts the one that fits best
        ([("P-2", "4000x9000", "part_roll"), PART], "P-1"),  # of part rolls the shortest
        ([("R-1", "4000x2000", "roll"), ("P-2", "4000x9000", "part_roll")], "P-2"),  # a whole roll last
        ([PART, ("C-1", "3919x6000", "offcut")], "C-1"),
        ([PART, ("C-1", "3920x6000", "offcut")], "P-1"),  # a loose piece of full width counts as a part roll
    ],
)
def test_offcuts_come_before_part_rolls_and_part_rolls_before_rolls(
    held: list[tuple[str, str, str]], first: str
) -> None:
    assert taken(*held) == {first}
