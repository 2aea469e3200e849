"""The count sheet as a spreadsheet program opens it, filled in and read back with the tags it was written with."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run

TAGS = ["+7", "-12", "@home", "'-R", "芝-1", "R-9"]


@pytest.fixture
def bay(store: Path) -> None:
    """Offcuts with tags, a batch and a condition that begin with signs, and with letters of everywhere."""
    fill(store, small_request())
    there = ("--product", "G30", "--bay", "F1", "--cost", "5", "--form", "offcut", "--batch", "-B8")
    for tag in TAGS:
        done = run("receive", *there, "--", tag, "1.2x2.5")
        assert done.exit_code == 0, done.output
    assert run("condition", "--", "R-9", "-wet").exit_code == 0


@pytest.mark.usefixtures("bay")
@pytest.mark.parametrize("taken_out", [False, True])
def test_all_is_found_as_recorded(tmp_path: Path, taken_out: bool) -> None:
    sheet = tmp_path / "F1.csv"
    assert run("count", "F1", "--sheet", str(sheet)).exit_code == 0
    assert sheet.read_bytes().startswith(b"\xef\xbb\xbf")
    with sheet.open(encoding="utf-8-sig", newline="") as file:
        header, *rows = csv.reader(file)
    assert not [cell for row in rows for cell in row if cell[:1] in set("=+-@")]
    for row in rows:
        row[header.index("found")] = "x"
    if taken_out:  # a program that hides the apostrophe and saves without it
        rows = [[cell.removeprefix("'") if cell != "''-R" else cell for cell in row] for row in rows]
    with sheet.open("w", encoding="utf-8-sig", newline="") as file:
        csv.writer(file).writerows([header, *rows])
    done = run("count", "F1", "--found", str(sheet), "--yes")
    assert (done.exit_code, done.stdout.splitlines()[0]) == (0, f"Bay F1: {len(TAGS)} items as recorded."), done.output
