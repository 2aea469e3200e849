"""Lists in columns, and where they find no room beside each other."""

from __future__ import annotations

import pytest

from stockplan.report.columns import in_columns

HEADINGS = ("tag", "size, m", "bay", "remarks")
ROWS = (("R-1", "4.00 × 25.00", "F1", "plan 1"), ("C-12", "0.90 × 3.00", "under tarp", ""))


def test_columns_stand_beside_each_other_where_there_is_room() -> None:
    for room in (None, 39, 200):
        assert in_columns(HEADINGS, ROWS, right=("size, m",), room=room).split("\n") == [
            "tag        size, m  bay         remarks",
            "R-1   4.00 × 25.00  F1          plan 1",
            "C-12   0.90 × 3.00  under tarp",
        ]


def test_columns_without_room_go_on_in_lines_that_are_set_in() -> None:
    assert in_columns(HEADINGS, ROWS, right=("size, m",), room=30).split("\n") == [
        "tag        size, m  bay",
        "    remarks",
        "R-1   4.00 × 25.00  F1",
        "    plan 1",
        "C-12   0.90 × 3.00  under tarp",
    ]


@pytest.mark.parametrize("room", range(1, 45))
def test_no_line_is_wider_than_its_room_unless_one_cell_is(room: int) -> None:
    lines = in_columns(HEADINGS, ROWS, room=room).split("\n")
    assert max(map(len, lines)) <= max(room, 4 + len("4.00 × 25.00"))
    assert " ".join(lines).split() == in_columns(HEADINGS, ROWS).split()
