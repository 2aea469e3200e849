"""A workbook is read as the folder of CSV files would be, typed cells included."""

from __future__ import annotations

import csv
import zipfile
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from sound_workbooks import JOBS, PRODUCTS, STOCK, STRIPS, Rows, changed, faults, rewritten, save

from stockplan.bench.weeks import week, write_folder
from stockplan.store.sheets import SheetContents, read_folder


def test_numbers_and_dates_are_taken_exactly(tmp_path: Path) -> None:
    path = save(tmp_path / "yard.xlsx", products=PRODUCTS, stock=STOCK, jobs=JOBS, strips=STRIPS)
    contents = read_folder(path)
    assert contents.products[0].weight_g_m2 == 2450
    assert (contents.stock[0].width_mm, contents.stock[0].length_mm) == (4000, 25_000)
    assert contents.stock[0].cost_pence_per_m2 == 1150
    assert contents.jobs[0].code == "101"
    assert contents.jobs[0].lay_on == date(2026, 11, 30)
    assert contents.jobs[0].strips[0].length_mm == 5200


@pytest.mark.parametrize("millimetres", [1, 7, 29, 57, 1001, 1005, 1115, 2299, 3625, 3999, 4035, 5999])
def test_every_width_typed_as_a_number_is_exact(millimetres: int, tmp_path: Path) -> None:
    assert _read_width(tmp_path, millimetres / 1000) == millimetres


def _read_width(folder: Path, width: float) -> int:
    return (
        read_folder(save(folder / "w.xlsx", products=PRODUCTS, stock=changed(STOCK, "width_m", width)))
        .stock[0]
        .width_mm
    )


def test_a_sum_that_a_spreadsheet_shows_as_3_6_is_3_6(tmp_path: Path) -> None:
    assert 1.2 * 3 != 3.6
    assert _read_width(tmp_path, 1.2 * 3) == 3600


def test_a_week_reads_the_same_from_a_workbook_as_from_a_folder(tmp_path: Path) -> None:
    request = week("M", 2)
    write_folder(request, tmp_path)
    sheets: dict[str, Rows] = {}
    for file in tmp_path.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as text:
            sheets[file.stem] = [[cell or None for cell in row] for row in csv.reader(text)]
    assert read_folder(save(tmp_path / "week.xlsx", **sheets)) == read_folder(tmp_path)
    assert read_folder(tmp_path).jobs == request.jobs


@pytest.mark.parametrize(
    ("sheet", "column", "value", "fault"),
    [
        ("stock", "length_m", "=B2*2", "stock:2: length_m: a formula without a stored result, found '=B2*2'"),
        ("stock", "length_m", "#N/A", "stock:2: length_m: an error value left by a formula, found '#N/A'"),
        ("stock", "length_m", 3.6254, "stock:2: length_m: more than 3 decimals, found '3.6254', would be right: 3.625"),
        ("stock", "length_m", 0.0000001, "stock:2: length_m: more than 3 decimals, found '0.0000001'"),
        ("stock", "length_m", -4, "stock:2: length_m: negative, found '-4'"),
        ("stock", "length_m", True, "stock:2: length_m: not a number, found 'TRUE'"),
        ("stock", "length_m", datetime(2026, 5, 3), "stock:2: length_m: a date where none belongs, found '2026-05-03"),
        ("stock", "length_m", timedelta(hours=5), "stock:2: length_m: a date where none belongs, found '5:00:00'"),
        ("stock", "tag", datetime(2026, 5, 3), "stock:2: tag: a date where none belongs, found '2026-05-03'"),
        ("jobs", "lay_on", 46356, "jobs:2: lay_on: not a date in year-month-day form, found '46356'"),
        ("jobs", "lay_on", datetime(2026, 11, 30, 7, 30), "jobs:2: lay_on: not a date in year-month-day form"),
    ],
)
def test_wrong_cells(tmp_path: Path, sheet: str, column: str, value: object, fault: str) -> None:
    sheets = {"products": PRODUCTS, "stock": STOCK, "jobs": JOBS, "strips": STRIPS}
    sheets[sheet] = changed(sheets[sheet], column, value)
    found = faults(save(tmp_path / "yard.xlsx", **sheets))
    assert len(found) == 1
    assert found[0].startswith(f"yard.xlsx {fault}")


def test_a_formula_with_a_stored_result_is_taken(tmp_path: Path) -> None:
    path = save(tmp_path / "yard.xlsx", products=PRODUCTS, stock=changed(STOCK, "length_m", "=5*5"))
    assert len(faults(path)) == 1
    stored = rewritten(path, {"<f>5*5</f><v />": "<f>5*5</f><v>25</v>"})
    assert read_folder(stored).stock[0].length_mm == 25_000


def test_a_formula_that_gives_no_text_is_an_empty_cell(tmp_path: Path) -> None:
    blank = '=IF(A9="","",A9)'
    path = save(
        tmp_path / "yard.xlsx", products=PRODUCTS, stock=[*changed(STOCK, "bay", blank), [blank] * len(STOCK[0])]
    )
    stored = rewritten(path, {"><f>": ' t="str"><f>', "<v />": "<v></v>"})
    (item,) = read_folder(stored).stock
    assert not item.bay


@pytest.mark.parametrize("to_be_calculated", [True, False])
def test_a_0_that_stands_in_for_a_result_is_no_result(tmp_path: Path, to_be_calculated: bool) -> None:
    path = save(tmp_path / "yard.xlsx", products=PRODUCTS, stock=changed(STOCK, "cost_per_m2", "=23/2"))
    stored = rewritten(path, {"<v />": "<v>0</v>"} | ({} if to_be_calculated else {' fullCalcOnLoad="1"': ""}))
    if to_be_calculated:
        (fault,) = faults(stored)
        assert "stock:2: cost_per_m2: a formula without a stored result, found '=23/2'" in fault
    else:
        assert read_folder(stored).stock[0].cost_pence_per_m2 == 0


def test_blank_rows_and_cells_that_were_only_formatted_change_nothing(tmp_path: Path) -> None:
    padded: Rows = [[*row, None, " "] for row in STOCK]
    path = save(
        tmp_path / "yard.xlsx", products=[*PRODUCTS, [], [None, None]], stock=[padded[0], [], [None], padded[1]]
    )
    assert len(read_folder(path).stock) == 1
    found = faults(save(path, products=PRODUCTS, stock=[padded[0], [], changed(STOCK, "bay", "x" * 41)[1]]))
    assert [fault.split(": ")[:2] for fault in found] == [["yard.xlsx stock:3", "bay"]]


def test_days_counted_from_1904_are_those_that_the_workbook_shows(tmp_path: Path) -> None:
    def saved(lay_on: object) -> Path:
        path = save(tmp_path / "yard.xlsx", products=PRODUCTS, jobs=changed(JOBS, "lay_on", None), strips=STRIPS)
        book = load_workbook(path)
        book.epoch = CALENDAR_MAC_1904
        book["jobs"]["D2"] = lay_on
        book.save(path)
        return path

    assert [job.lay_on for job in read_folder(saved(datetime(2026, 11, 30))).jobs] == [date(2026, 11, 30)]
    assert faults(saved(44_894)) == (
        "yard.xlsx jobs:2: lay_on: a number, in a workbook that counts days from 1904, found '44894', would be right: "
        "2026-11-30 if it is a spreadsheet's day number; format the column as a date",
    )


def test_a_cell_beyond_the_last_column_is_refused(tmp_path: Path) -> None:
    rows = [PRODUCTS[0], [*PRODUCTS[1], "see note", None, "and here"]]
    place, right = "yard.xlsx products:2: column", "would be right: an empty cell"
    assert faults(save(tmp_path / "yard.xlsx", products=rows)) == (
        f"{place} D: beyond the last column that has a name, found 'see note', {right}",
        f"{place} F: beyond the last column that has a name, found 'and here', {right}",
    )


def test_a_column_without_a_name_is_called_by_its_letter(tmp_path: Path) -> None:
    formula = "a formula without a stored result, found '=1+1'"
    beyond = faults(save(tmp_path / "a.xlsx", products=[PRODUCTS[0], [*PRODUCTS[1], None, "=1+1"]]))
    assert [text.partition(", would")[0] for text in beyond] == [f"a.xlsx products:2: column E: {formula}"]
    (between,) = faults(save(tmp_path / "b.xlsx", products=[["", *PRODUCTS[0]], ["=1+1", *PRODUCTS[1]]]))
    assert between.startswith(f"b.xlsx products:2: column A: {formula}")
    header = [["=1+1", *PRODUCTS[0][1:], "=1+1"], [*PRODUCTS[1], "=1+1"]]
    missing, first, last, below = faults(save(tmp_path / "c.xlsx", products=header))
    assert missing.startswith("c.xlsx products:1: product: a missing column, found 'description, weight_kg_m2', would")
    assert first.startswith(f"c.xlsx products:1: column A: {formula}")
    assert last.startswith(f"c.xlsx products:1: column D: {formula}")
    assert below.startswith(f"c.xlsx products:2: column D: {formula}")


def test_titles_in_capitals_are_taken_and_mistyped_ones_refused(tmp_path: Path) -> None:
    assert read_folder(save(tmp_path / "a.xlsx", Products=PRODUCTS, Stock=STOCK)).stock
    found = faults(save(tmp_path / "b.xlsx", products=PRODUCTS, stocks=STOCK))
    assert found == ("b.xlsx stocks:1: (row): a sheet of unknown name, found 'stocks', would be right: stock",)


def test_what_is_no_workbook_is_told_so(tmp_path: Path) -> None:
    (tmp_path / "yard.xlsx").write_text("product,description\n")
    assert "the workbook cannot be read" in faults(tmp_path / "yard.xlsx")[0]
    with zipfile.ZipFile(tmp_path / "zip.xlsx", "w") as archive:
        archive.writestr("a.txt", "x")
    assert "the workbook cannot be read" in faults(tmp_path / "zip.xlsx")[0]
    assert "no sheet of a known name, found Sheet, notes" in faults(save(tmp_path / "n.xlsx", notes=[["a"]]))[0]


def test_a_workbook_with_a_byte_gone_bad_far_down_a_sheet_is_told_so(tmp_path: Path) -> None:
    path = save(tmp_path / "yard.xlsx", products=PRODUCTS[:1] + [[f"K{n}", "grass", 2.5] for n in range(1500)])
    with zipfile.ZipFile(path) as packed, zipfile.ZipFile(tmp_path / "as is.xlsx", "w", 8, compresslevel=0) as archive:
        for name in packed.namelist():
            archive.writestr(name, packed.read(name))
        entry = max(archive.infolist(), key=lambda one: one.file_size)
    path = tmp_path / "as is.xlsx"
    data = bytearray(path.read_bytes())
    at = entry.header_offset + 30 + len(entry.filename)
    while not data[at] & 1:  # from block to block, each with its length, up to the last
        at += 5 + int.from_bytes(data[at + 1 : at + 3], "little")
    data[at + 1] ^= 0xFF
    path.write_bytes(data)
    (fault,) = faults(path)
    assert "as is.xlsx: the workbook cannot be read (" in fault


def test_a_damaged_workbook_is_told_so(tmp_path: Path) -> None:
    path = save(tmp_path / "yard.xlsx", products=PRODUCTS, stock=STOCK)
    (fault,) = faults(rewritten(path, {"</row></sheetData>": ""}))
    assert "yard-rewritten.xlsx: the workbook cannot be read (products: " in fault
    (fault,) = faults(rewritten(path, {'numFmtId="0"': 'numFmtId="none"'}))
    assert "yard-rewritten.xlsx: the workbook cannot be read (" in fault
    (fault,) = faults(rewritten(path, {'<c r="E2"': '<c r="E2" s="77"'}))
    assert "the workbook cannot be read (cell E2 has a style that is not there)" in fault
    main = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    (fault,) = faults(rewritten(path, {main: "http://purl.oclc.org/ooxml/officeDocument/relationships"}))
    assert (
        "no sheet in it can be read, would be right: a workbook saved as .xlsx, not in the strict form of it" in fault
    )


def test_a_character_that_a_workbook_writes_as_a_code_is_that_character(tmp_path: Path) -> None:
    stock = changed(changed(STOCK, "batch", "B_x0037__x000D_"), "bay", "A_x0_1")
    (item,) = read_folder(save(tmp_path / "yard.xlsx", products=PRODUCTS, stock=stock)).stock
    assert (item.batch, item.bay) == ("B7", "A_x0_1")


def test_an_empty_sheet_is_one_fault(tmp_path: Path) -> None:
    found = faults(save(tmp_path / "yard.xlsx", products=PRODUCTS, stock=[]))
    assert len(found) == 1
    assert "yard.xlsx stock:1: (row): " in found[0]
    assert read_folder(save(tmp_path / "h.xlsx", products=PRODUCTS[:1])) == SheetContents()
