"""What a workbook shows is what is read of it, or it is told: merged cells, forms of numbers, what is hidden."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font
from openpyxl.worksheet.formula import ArrayFormula
from sound_workbooks import PRODUCTS, STOCK, Rows, faults, rewritten, save

from stockplan.store.sheet_cells import Quantity
from stockplan.store.sheet_rules import COLUMNS, OPTIONAL
from stockplan.store.sheets import read_folder
from stockplan.store.shown_numbers import NUMBER_COLUMNS
from stockplan.store.workbook_marks import leaves_formulas, marks_of

YARD: Rows = [*STOCK, ["R-2", *STOCK[1][1:]], ["R-3", *STOCK[1][1:]]]
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OTHERWISE = "a number that is shown otherwise than it is, found"


def yard(folder: Path) -> Path:
    return save(folder / "yard.xlsx", products=PRODUCTS, stock=YARD)


def opened(folder: Path) -> Workbook:
    return load_workbook(yard(folder))


def saved(book: Workbook, folder: Path) -> Path:
    path = folder / "yard.xlsx"
    book.save(path)
    return path


@pytest.mark.parametrize(
    ("cells", "place", "found"),
    [
        ("C2:C4", "stock:2: batch", "'B7' over C2:C4"),
        ("G3:G4", "stock:3: bay", "'A1' over G3:G4"),
        ("C2:D3", "stock:2: batch", "'B7' over C2:D3"),
        ("C1:C2", "stock:1: batch", "'batch' over C1:C2"),
        ("A2:H2", "stock:2: tag", "'R-1' over A2:H2"),
    ],
)
def test_a_merged_cell_is_not_taken_for_an_empty_one(tmp_path: Path, cells: str, place: str, found: str) -> None:
    book = opened(tmp_path)
    book["stock"].merge_cells(cells)
    (fault,) = faults(saved(book, tmp_path))
    assert fault.startswith(
        f"yard.xlsx {place}: cells merged into one, found {found}, would be right: the cells unmerged"
    )


def test_merged_cells_that_hide_nothing_are_no_fault(tmp_path: Path) -> None:
    book = opened(tmp_path)
    sheet = book["stock"]
    for row in (2, 3):
        sheet[f"G{row}"] = None
    for cells in ("G2:G3", "C4:C9", "J1:K4", "A7:H8"):  # empty, with nothing beside, beyond the columns, below the rows
        sheet.merge_cells(cells)
    assert [item.bay for item in read_folder(saved(book, tmp_path)).stock] == ["", "", "A1"]


@pytest.mark.parametrize(
    ("column", "value", "form", "fault"),
    [
        ("batch", 101, "0000", f"{OTHERWISE} '101' in the form 0000, would be right: '0101' as text"),
        ("tag", 31, '"R-"000', f"""{OTHERWISE} '31' in the form "R-"000, would be right: 'R-031' as text"""),
        ("batch", 1.1, "0.00", f"{OTHERWISE} '1.1' in the form 0.00, would be right: '1.10' as text"),
        ("batch", 4488, "#,##0", f"{OTHERWISE} '4488' in the form #,##0, would be right: '4,488' as text"),
        ("batch", 7, "# ?/?", f"{OTHERWISE} '7' in the form # ?/?, would be right: what the cell shows, as text"),
        ("batch", 1234567890123456, "0", "a number of more than the 15 digits that a spreadsheet keeps, found '123456"),
        (
            "cost_per_m2",
            11500,
            "0.0,",
            "a number shown in thousands, found '11500' in the form 0.0,, would be right: the",
        ),
        ("cost_per_m2", 11500, "#,##0.00", None),
        ("length_m", 0.25, "0%", "a percentage, found '25%', would be right: a plain number"),
        (
            "length_m",
            120,
            '0" cm"',
            "another unit shown beside the number, found '120' with 'cm', would be right: m",
        ),
        ("length_m", 80, "0.00'", "another unit shown beside the number, found '80' with ''', would be right: metres"),
        ("length_m", 12.5, '0.00" m"', None),
        ("length_m", 12.5, "_-* #,##0.00_-", None),
        ("cost_per_m2", 11.5, "[$£-809]#,##0.00", None),
        ("cost_per_m2", 11.5, "[Red]0.0", None),
        ("batch", 101, "General", None),
        ("batch", 101, "@", None),
        ("batch", 101, "[>99]0;00", None),
        ("batch", 1101, "0000", None),
    ],
)
def test_a_number_shown_otherwise_than_it_is(
    tmp_path: Path, column: str, value: float, form: str, fault: str | None
) -> None:
    book = opened(tmp_path)
    cell = book["stock"].cell(row=2, column=list(COLUMNS["stock"]).index(column) + 1, value=value)
    cell.number_format = form
    path = saved(book, tmp_path)
    if fault is None:
        assert len(read_folder(path).stock) == 3
    else:
        (told,) = faults(path)
        assert told.startswith(f"yard.xlsx stock:2: {column}: {fault}")


def test_every_column_of_numbers_is_known_as_one() -> None:
    rules = [*COLUMNS.values(), *OPTIONAL.values()]
    assert {name for columns in rules for name, rule in columns.items() if isinstance(rule, Quantity)} == NUMBER_COLUMNS


def test_hidden_rows_and_sheets_and_what_is_struck_through_are_read_and_told(tmp_path: Path) -> None:
    book = opened(tmp_path)
    del book["Sheet"]
    book["stock"].row_dimensions[3].hidden = True
    book["stock"].row_dimensions[9].hidden = True
    book["products"].sheet_state = "hidden"
    book["stock"]["A4"].font = Font(strike=True)
    book.active = book["stock"]
    contents = read_folder(saved(book, tmp_path))
    assert len(contents.stock) == 3
    assert contents.remarks == (
        "yard.xlsx products: the sheet is hidden, and was read all the same",
        "yard.xlsx stock: rows that are hidden were read all the same: 3",
        "yard.xlsx stock: rows that are struck through were read all the same: 4",
    )


def test_hidden_columns_are_read_and_told(tmp_path: Path) -> None:
    book = opened(tmp_path)
    del book["Sheet"]
    book["stock"].column_dimensions["C"].hidden = True
    book["stock"].column_dimensions.group("G", "XFD", hidden=True)  # all to the right is hidden in many a sheet
    book["products"].column_dimensions.group("D", "XFD", hidden=True)
    contents = read_folder(saved(book, tmp_path))
    assert [item.batch for item in contents.stock] == ["B7"] * 3
    assert contents.remarks == (
        "yard.xlsx stock: columns that are hidden were read all the same: batch, bay, cost_per_m2",
    )


def test_a_sheet_that_is_not_read_is_named(tmp_path: Path) -> None:
    book = opened(tmp_path)
    book.copy_worksheet(book["stock"]).title = "stock (2)"
    (remark,) = read_folder(saved(book, tmp_path)).remarks
    assert remark.startswith(
        "yard.xlsx: not read: 'Sheet', 'stock (2)'; what is read is called products, supply, stock"
    )


def test_marks_are_seen_in_either_kind_of_quotes() -> None:
    rows = b"<x:row r='3' hidden='1'><row r=\"7\" hidden=\"true\"><row hidden='0'><row hidden='1'>"
    columns = (
        b"<cols><x:col min='2' max='3' hidden='1'/><col hidden=\"true\" max=\"9\" min=\"9\" /><col min='4' max='8'/>"
    )
    marks = marks_of(columns + rows + b"<mergeCell ref='B2:AA3'/>")
    assert marks.hidden == (3, 7, 9)
    assert marks.hidden_columns == (range(1, 3), range(8, 9))
    assert [(one.first_row, one.last_row, one.first, one.last, one.name) for one in marks.merged] == [
        (2, 3, 1, 26, "B2:AA3")
    ]
    assert leaves_formulas(b"<calcPr fullCalcOnLoad='1'/>")


def test_a_formula_is_seen_however_it_is_written(tmp_path: Path) -> None:
    book = opened(tmp_path)
    book["stock"]["C3"] = "=C2"
    names = {"<f>": "<x:f>", "</f>": "</x:f>", "<worksheet ": f'<worksheet xmlns:x="{MAIN}" '}
    prefixed = rewritten(saved(book, tmp_path), names)
    assert "stock:3: batch: a formula without a stored result, found '=C2'" in faults(prefixed)[0]
    book["stock"]["C3"] = ArrayFormula("C3", "=C2")
    assert "stock:3: batch: a formula without a stored result, found '=C2'" in faults(saved(book, tmp_path))[0]


def test_what_a_workbook_has_beside_its_cells_is_passed_over_without_a_word(tmp_path: Path) -> None:
    lists = '<extLst><ext uri="{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}"/></extLst></worksheet>'
    path = rewritten(yard(tmp_path), {"</worksheet>": lists})
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert len(read_folder(path).stock) == 3
