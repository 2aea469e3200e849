"""A bay is counted by its sheet; what differs is told, asked about, and written down as movements."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
import typer
from builders import small_request
from typed_commands import fill, run
from typer.testing import CliRunner

from stockplan import cli
from stockplan.actions import counting
from stockplan.actions.count_sheet import Seen
from stockplan.errors import StoreConflict
from stockplan.store.ledger_rows import ledger_end, read_yard
from stockplan.store.quick import open_yard

TODAY = counting.date(2026, 11, 26)


@pytest.fixture
def yard(store: Path) -> Path:
    """Rolls R-1 and R-2 in bay north, an offcut C-1 in bay F1."""
    fill(store, small_request())
    assert run(
        "receive", "C-1", "1.2x2.5", "--product", "G30", "--bay", "F1", "--cost", "5", "--form", "offcut"
    ).exit_code == 0  # fmt: skip
    return store


def state(yard: Path) -> tuple[dict[str, str], int]:
    with open_yard(str(yard)) as opened, opened.reading() as source:
        return {tag: item.bay for tag, item in read_yard(source).items.items()}, ledger_end(source)


def test_sheet_lists_the_bay(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    listed = run("count", "north", "--sheet", str(sheet))
    assert listed.exit_code == 0
    assert "Count of bay north: 2 items on record" in listed.stdout
    rows = list(csv.DictReader(sheet.open(encoding="utf-8-sig")))
    assert [(row["tag"], row["width_m"], row["length_m"], row["found"]) for row in rows] == [
        ("R-1", "4.000", "10.000", ""),
        ("R-2", "4.000", "8.000", ""),
    ]
    assert [item["tag"] for item in json.loads(run("count", "north", "--json").stdout)["items"]] == ["R-1", "R-2"]


def test_letters_that_the_printed_sheet_lacks_are_told(yard: Path, tmp_path: Path) -> None:
    pdf = str(tmp_path / "sheet.pdf")
    assert "?" not in run("count", "F1", "--pdf", pdf).stderr
    there = ("1.2x2.5", "--product", "G30", "--bay", "F1", "--cost", "5", "--form", "offcut")
    assert run("receive", "芝-1", *there).exit_code == 0
    lost = "A ? stands there for each letter that cannot be printed; "
    assert lost + "--sheet writes a sheet that has them all." in run("count", "F1", "--pdf", pdf).stderr
    sheet = str(tmp_path / "sheet.csv")
    both = run("count", "F1", "--pdf", pdf, "--sheet", sheet).stderr
    assert f"{lost}{sheet} is a sheet that has them all." in both


@pytest.mark.parametrize("typed", ["x,,,", "n,,,", ",3.97,,", ",,24.85,"])
def test_a_sheet_that_is_filled_in_is_not_written_over(yard: Path, tmp_path: Path, typed: str) -> None:
    sheet = tmp_path / "north.csv"
    for _ in range(2):  # as long as nothing was typed into it
        assert run("count", "north", "--sheet", str(sheet)).exit_code == 0
    sheet.write_text(filled := sheet.read_text().replace(",,,,\n", f",{typed}\n", 1))
    done = run("count", "north", "--sheet", str(sheet))
    assert done.exit_code == 1
    assert "is filled in and would be lost; read it with --found, or name another file" in done.stderr
    assert sheet.read_text() == filled


@pytest.mark.parametrize("mark", ["", "n"])
def test_a_sheet_that_nobody_filled_in_says_nothing_of_what_is_missing(yard: Path, tmp_path: Path, mark: str) -> None:
    sheet = tmp_path / "north.csv"
    assert run("count", "north", "--sheet", str(sheet)).exit_code == 0
    sheet.write_text(sheet.read_text().replace(",,,,\n", f",{mark},,,\n"))
    done = run("count", "north", "--found", str(sheet), "--yes", "--write-off-missing")
    if mark:
        assert (done.exit_code, "Stored: 2 movements." in done.stdout) == (0, True)
        return
    assert done.exit_code == 1
    assert "is not filled in: nothing stands under found; put an x there where a thing was found" in done.stderr
    assert [item["tag"] for item in json.loads(run("count", "north", "--json").stdout)["items"]] == ["R-1", "R-2"]


def test_unknown_bay_is_told(yard: Path) -> None:
    told = run("count", "nort")
    assert told.exit_code == 1
    assert "nothing is on record in bay nort; perhaps north" in told.stderr


def test_everything_as_recorded_needs_no_question(yard: Path) -> None:
    done = run("count", "north", "R-1", "R-2")
    assert done.stdout == "Bay north: 2 items as recorded.\nStored: 2 movements.\n"


def test_filled_in_sheet_becomes_movements(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text(
        "tag,found,measured_width_m,measured_length_m,condition\nR-1,x,,9.85,wet\nR-2,,,,\nC-1,yes,,,\nX-9,x,,,\n",
        encoding="utf-8",
    )
    done = run("count", "north", "--found", str(sheet), "--yes")
    assert done.exit_code == 0, done.stderr
    for words in (
        "0 items as recorded",
        "C-1: found here, on record in bay F1",
        "R-1: measures 4.00 × 9.85, on record 4.00 × 10.00",
        "R-1: found wet",
        "R-2: not found",
        "X-9: found, but never in the yard by the record",
        "Stored: 3 movements.",
    ):
        assert words in done.stdout
    assert "stays on record" in done.stderr
    assert state(yard) == ({"C-1": "north", "R-1": "north", "R-2": "north"}, 6)


def test_a_sheet_cut_off_within_its_last_row_takes_nothing_for_missing(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    assert run("count", "north", "--sheet", str(sheet)).exit_code == 0
    filled = sheet.read_text(encoding="utf-8").replace("10.000,,", "10.000,x,")
    sheet.write_text(filled[: filled.rindex(",,,,")], encoding="utf-8")
    told = run("count", "north", "--found", str(sheet), "--yes", "--write-off-missing")
    assert told.exit_code == 1
    assert (
        "north.csv:3: 6 cells, would be right: all 10, as in the other rows; the file seems to have been" in told.stderr
    )
    sheet.write_text(filled.replace("x,,,", "x").rstrip("\n,"), encoding="utf-8")  # as programs write it without commas
    assert "R-2: not found" in run("count", "north", "--found", str(sheet), "--yes").stdout


def test_sides_that_look_exchanged_are_asked_about(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "F1.csv"
    sheet.write_text("tag,found,measured_width_m,measured_length_m\nC-1,x,2.5,1.2\n", encoding="utf-8")
    told = run("count", "F1", "--found", str(sheet), "--yes").output
    assert "C-1: measures 2.50 × 1.20, on record 1.20 × 2.50; are across and along exchanged?" in told


def test_missing_things_are_written_off_when_asked(yard: Path) -> None:
    done = run("count", "north", "R-1", "--yes", "--write-off-missing")
    assert "Stored: 2 movements." in done.stdout
    assert state(yard)[0].keys() == {"C-1", "R-1"}
    assert "R-2: found, but written off by the record" in run("count", "north", "R-1", "R-2", "--yes").stdout


def test_what_was_found_under_a_mistyped_tag_is_not_written_off(yard: Path) -> None:
    told = run("count", "north", "R-1", "r 2", "--yes", "--write-off-missing")
    assert told.exit_code == 1
    assert "r 2 was found, and R-2 was not: that may be the same thing" in told.stderr
    assert state(yard) == ({"C-1": "F1", "R-1": "north", "R-2": "north"}, 3)
    assert "Stored: 1 movement." in run("count", "north", "R-1", "r 2", "--yes").stdout


def test_a_tag_whose_zeros_were_dropped_is_the_one_that_may_be_meant(yard: Path) -> None:
    assert run("receive", "0147", "1x2", "--product", "G30", "--bay", "F1", "--cost", "5").exit_code == 0
    assert "147: found, but never in the yard by the record; perhaps 0147 is meant" in run("count", "F1", "147").stdout
    assert "147 was never in the yard; perhaps 0147 is meant" in run("history", "147").stderr


@pytest.mark.parametrize(("answer", "movements"), [("n\n", 3), ("y\n", 4)])
def test_differences_are_asked_about(yard: Path, answer: str, movements: int) -> None:
    done = CliRunner().invoke(cli.app, ["count", "F1", "R-1"], input=answer)
    assert done.exit_code == 0
    assert ("Nothing was stored." in done.stderr) == (movements == 3)
    assert state(yard)[1] == movements


def test_ctrl_c_at_the_question_stops(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(*_: object, **__: object) -> bool:
        monkeypatch.setattr("sys.stdin.isatty", lambda: True)
        raise typer.Abort

    monkeypatch.setattr("typer.confirm", pressed)
    done = CliRunner().invoke(cli.app, ["count", "F1", "R-1"])
    assert done.exit_code == 130
    assert "Stopped; nothing was stored." in done.stderr
    assert state(yard)[1] == 3


def test_sheet_with_faults_is_told_whole(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text('tag,found,measured_width_m,colour\nR-1,maybe,"3,9",red\nR-1,x,9,\n,x,,\n', encoding="utf-8")
    told = run("count", "north", "--found", str(sheet), "--yes")
    assert told.exit_code == 1
    for fault in (
        ":1: colour:",
        ":2: found: not yes or no",
        ":2: measured_width_m: a decimal comma",
        ":3: measured_width",
    ):
        assert f"north.csv{fault}" in told.stderr
    assert ":4: tag: empty" in told.stderr
    assert state(yard)[1] == 3


def test_a_row_that_ends_early_was_not_found(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text("tag,product,found,condition\nR-1,G30,x\nR-2,G30\n", encoding="utf-8")
    told = run("count", "north", "--found", str(sheet), "--yes").stdout
    assert "1 item as recorded" in told
    assert "R-2: not found" in told


@pytest.mark.parametrize("sizes", ["3,97,", "3,97,9,85,wet"])
def test_decimal_commas_are_not_taken_for_the_next_cell(yard: Path, tmp_path: Path, sizes: str) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text(
        f"tag,found,measured_width_m,measured_length_m,condition\nR-1,x,{sizes},\nR-2,x,,,\n", encoding="utf-8"
    )
    told = run("count", "north", "--found", str(sheet), "--yes")
    assert told.exit_code == 1
    assert "north.csv:2: " in told.stderr
    assert "cells, would be right: 5, as in the first row; a size is written with a point" in told.stderr
    assert state(yard)[1] == 3


def test_a_sheet_that_is_none_is_refused_in_words(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text(f"tag\n{'A' * 200_000}\n", encoding="utf-8")
    told = run("count", "north", "--found", str(sheet), "--yes")
    assert told.exit_code == 1
    assert "cannot be read: field larger than" in told.stderr
    sheet.write_text("tag,found,found\nR-1,x,\n", encoding="utf-8")
    told = run("count", "north", "--found", str(sheet), "--yes")
    assert told.exit_code == 1
    assert "north.csv:1: found: a column given twice" in told.stderr


def test_files_as_other_programs_save_them_are_refused_with_what_would_be_right(yard: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    text = "tag,found\nR-1,x\nÖ-2,x\n"
    for data, told in (
        (text.replace(",", ";").encode("utf-8-sig"), ":1: cells are separated by semicolons, found 'tag;found'"),
        (text.encode("utf-16"), ":1: not UTF-8 (byte 1), found the mark of UTF-16, would be right: the file saved as"),
        (text.encode("cp1252"), ":3: tag: not UTF-8 (byte 0xD6), found"),
        (b"PK\x03\x04", ":1: a workbook, found a zip archive, would be right: the sheet saved as CSV"),
    ):
        sheet.write_bytes(data)
        done = run("count", "north", "--found", str(sheet), "--yes")
        assert done.exit_code == 1
        assert f"north.csv{told}" in done.stderr
        assert done.stderr.count("north.csv:") == 1


@pytest.mark.parametrize(
    ("columns", "cells", "told"),
    [
        (
            "length_m",
            "9.85",
            "length_m: not what is on record now, found '9.85', would be right: 10.000; what was meas",
        ),
        ("width_m", "4,0", "width_m: a decimal comma, found '4,0', would be right: 4.0"),
        ("batch", "B8", "batch: not what is on record, found 'B8', would be right: 'B7'"),
        ("form", "offcut", "form: not what is on record, found 'offcut', would be right: 'roll'"),
        ("width_m,length_m,batch", "4,10.0,b7", None),
    ],
)
def test_what_is_corrected_in_the_wrong_column_is_told(
    yard: Path, tmp_path: Path, columns: str, cells: str, told: str | None
) -> None:
    sheet = tmp_path / "north.csv"
    quoted = f'"{cells}"' if columns.count(",") < cells.count(",") else cells
    sheet.write_text(f"tag,{columns},found\nR-1,{quoted},x\nR-2,{',' * columns.count(',')},x\n", encoding="utf-8")
    done = run("count", "north", "--found", str(sheet), "--yes")
    if told is None:
        assert "2 items as recorded" in done.stdout
    else:
        assert done.exit_code == 1
        assert f"north.csv:2: {told}" in done.stderr
        assert state(yard)[1] == 3


@pytest.mark.parametrize(("text", "same"), [("101", True), ("0101", True), ("102", False)])
def test_a_batch_whose_zeros_a_spreadsheet_dropped_is_the_one_on_record(
    yard: Path, tmp_path: Path, text: str, same: bool
) -> None:
    there = ("4x25", "--product", "G30", "--bay", "F7", "--cost", "5", "--batch", "0101")
    assert run("receive", "R-7", *there).exit_code == 0
    sheet = tmp_path / "F7.csv"
    sheet.write_text(f"tag,batch,found\nR-7,{text},x\n", encoding="utf-8")
    assert run("count", "F7", "--found", str(sheet)).exit_code == (0 if same else 1)


@pytest.mark.parametrize("found", ["", "no"])
def test_what_was_measured_was_found(yard: Path, tmp_path: Path, found: str) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text(f"tag,found,measured_length_m\nR-1,{found},9.85\nR-2,x,\n", encoding="utf-8")
    done = run("count", "north", "--found", str(sheet), "--yes")
    assert done.exit_code == 1
    assert "north.csv:2: found: not found, yet measured, found " in done.stderr
    assert state(yard)[1] == 3


@pytest.mark.parametrize("bay", ["", " north", "a\tb", "B" * 41])
def test_nothing_is_moved_to_a_bay_whose_name_cannot_be(yard: Path, bay: str) -> None:
    told = run("count", bay, "R-1", "--yes")
    assert told.exit_code == 1
    assert "bay: " in told.stderr
    assert state(yard) == ({"C-1": "F1", "R-1": "north", "R-2": "north"}, 3)


def test_what_moved_meanwhile_is_a_conflict(yard: Path) -> None:
    taken = counting.compare(str(yard), "north", [Seen("R-1"), Seen("R-2")], TODAY)
    assert run("move", "R-2", "F7").exit_code == 0
    with pytest.raises(StoreConflict, match=r"R-2 is not as it was when you looked: moved by .*; look again"):
        counting.book(str(yard), taken)
    assert state(yard)[1] == 4


def test_longest_unseen_come_first_by_bay(yard: Path) -> None:
    with open_yard(str(yard)) as opened, opened.unit_of_work() as work:
        for tag, seen in (("R-1", "2020-03-01"), ("R-2", "2020-01-01"), ("C-1", "2020-02-01")):
            work.rows.run("UPDATE stock_item SET last_seen = :seen WHERE tag = :tag", {"tag": tag, "seen": seen})
        work.commit()
    listed = json.loads(run("count", "--due", "30", "--json").stdout)["items"]
    assert [item["tag"] for item in listed] == ["R-2", "R-1", "C-1"]
    text = run("count", "--due", "30").stdout
    assert text.index("Bay north: 2 items") < text.index("Bay F1: 1 item")
    assert "3 items not seen for 30 days or more, in 2 bays" in text
    assert "0 items" in run("count", "--due", "9999").stdout


@pytest.mark.parametrize("command", [("count",), ("count", "north", "--due", "3")])
def test_wrong_usage(yard: Path, command: tuple[str, ...]) -> None:
    assert run(*command).exit_code == 2
