"""Somebody counts one bay and types the name of another: told before anything is written down."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run
from yard_hand import ok

ASKED = "All that was found is on record in bay north: is that the bay that was counted?\n"


@pytest.fixture(autouse=True)
def yard(store: Path) -> None:
    """Rolls R-1 and R-2 in bay north, an offcut C-1 in bay F1."""
    fill(store, small_request())
    ok("receive", "C-1", "1.2x2.5", "--product", "G30", "--bay", "F1", "--cost", "5", "--form", "offcut")


def compared(bay: str, *rows: str) -> str:
    sheet = Path("found.csv")
    sheet.write_text("\n".join(["tag,found,measured_width_m,measured_length_m,condition", *rows]))
    return run("count", bay, "--found", str(sheet)).stdout


@pytest.mark.parametrize("bay", ["F1", "F10"])
@pytest.mark.parametrize("second", ["R-2,x,,,", "R-2,x,4,7.9,wet"])
def test_all_that_was_found_is_on_record_in_one_other_bay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bay: str, second: str
) -> None:
    monkeypatch.chdir(tmp_path)
    assert ASKED in compared(bay, "R-1,x,,,", second)


@pytest.mark.parametrize(
    ("bay", "rows"),
    [
        ("F1", ["R-1,x,,,", "R-2,x,,,", "C-1,x,,,"]),
        ("F1", ["R-1,x,,,", "R-2,x,,,", "C-1,x,,,wet"]),
        ("F1", ["R-1,x,,,", "R-2,x,,,", "C-1,x,1.2,2.4,"]),
        ("F1", ["R-1,x,,,"]),
        ("north", ["R-1,x,,,", "R-2,x,,,"]),
    ],
)
def test_where_something_lies_as_recorded_or_one_thing_was_moved_nothing_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bay: str, rows: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert "is that the bay" not in compared(bay, *rows)
