"""A workbook's sheets to frames of text, each cell as a CSV file would hold it, unless it shows something else."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import zip_longest
from pathlib import Path
from typing import Any

from stockplan.store.sheet_faults import FaultLog, shown
from stockplan.store.sheet_files import SHEET_NAMES, UNREADABLE, Collector, RawSheet, by_letter
from stockplan.store.shown_numbers import SPREADSHEET_DIGITS, misleading
from stockplan.store.workbook_marks import Marks, Merged, leaves_formulas, marks_of

DATE_COLUMNS = frozenset({"lay_on"})
MOST_ROWS_NAMED = 8
SINCE_1904 = date(1904, 1, 1)  # day 0 in workbooks of another habit
MOST_DAYS = 100_000  # a larger number is no day that anybody means


def workbook_titles(path: Path) -> list[str]:
    """Titles of a workbook's sheets, those that hold only a chart aside."""
    with _opened(path, data_only=True) as book:
        return [sheet.title for sheet in book.worksheets]


def read_workbook(path: Path, faults: FaultLog) -> dict[str, RawSheet | None]:
    """Read every known sheet of an .xlsx workbook.

    Raises
    ------
    OSError, ValueError, KeyError, zipfile.BadZipFile
        When the file is no workbook, or a damaged one.
    """
    sheets: dict[str, RawSheet | None] = {}
    with ExitStack() as opened:
        values, file = opened.enter_context(_opened(path, data_only=True)), opened.enter_context(zipfile.ZipFile(path))
        formulas = None
        stopgaps = any(leaves_formulas(file.read(name)) for name in file.namelist() if name.endswith("workbook.xml"))
        for sheet in values.worksheets:
            name = sheet.title.strip().casefold()
            if name not in SHEET_NAMES:
                continue
            marks = marks_of(file.read(sheet._worksheet_path))  # the library tells it nowhere else
            label, day_zero = f"{path.name} {name}", values.epoch.date()
            collected = _TypedCollector(name, label, faults, marks, stopgaps=stopgaps, day_zero=day_zero)
            if marks.formulas and formulas is None:
                formulas = opened.enter_context(_opened(path, data_only=False))
            beside = _rows(formulas[sheet.title]) if formulas and marks.formulas else None
            for row, cells in enumerate(_rows(sheet), start=1):
                collected.add_typed(row, cells, next(beside, ()) if beside else ())
            collected.remark_unlike_others(hidden_sheet=sheet.sheet_state != "visible")
            sheets[name] = collected.sheet()
    return sheets


@contextmanager
def _opened(path: Path, *, data_only: bool) -> Iterator[Any]:
    """Open a workbook for its stored results, or for its formulas."""
    from openpyxl import load_workbook  # type: ignore[import-untyped]  # noqa: PLC0415  most commands read no workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what the library would not write back, such as lists to choose from
        try:
            opened = load_workbook(path, read_only=True, data_only=data_only)
        except Exception as error:  # the library has no one error for files that it cannot make sense of
            raise ValueError(str(error)) from error
        with closing(opened) as book:
            yield book


def _rows(sheet: Any) -> Iterator[tuple[Any, ...]]:
    sheet.reset_dimensions()  # some programs write a wrong extent, which would hide rows
    try:
        yield from sheet.iter_rows()
    except Exception as error:  # as above; what is done with the rows raises nothing in here
        raise ValueError(f"{sheet.title}: {error}") from error


def _unescaped(text: str) -> str:
    """Read characters that a workbook writes as codes, such as _x000D_ for a carriage return."""
    from openpyxl.utils.escape import unescape  # type: ignore[import-untyped]  # noqa: PLC0415

    return str(unescape(text))


def _styled(cell: Any, what: str) -> Any:
    """Give a part of a cell's style.

    Raises
    ------
    ValueError
        When the workbook lacks it.
    """
    try:
        return getattr(cell, what)
    except IndexError as error:
        raise ValueError(f"cell {cell.coordinate} has a style that is not there") from error


class _TypedCollector(Collector):
    """Gathers the rows of one sheet of a workbook.

    Parameters
    ----------
    name, label, faults
        As for any sheet.
    marks
        What its file says beside the values of its cells.
    stopgaps
        Whether a formula's stored result of 0 stands for one that was never worked out.
    day_zero
        The day that the workbook has as number 0.
    """

    def __init__(
        self, name: str, label: str, faults: FaultLog, marks: Marks, *, stopgaps: bool, day_zero: date
    ) -> None:
        super().__init__(name, label, faults, exact_width=False)
        self.merged = list(reversed(marks.merged))
        self.spanning: list[tuple[Merged, str]] = []  # those that reach the row being read, with what they hold
        self.noted: set[Merged] = set()
        self.hidden, self.hidden_columns = frozenset(marks.hidden), marks.hidden_columns
        self.stopgaps = stopgaps
        self.day_zero = day_zero
        self.struck: set[int] = set()  # rows whose first cell is struck through

    def column(self, position: int) -> str:
        """Name the column that stands at a position; by its letter where it has no name."""
        named = self.header[position] if self.header and position < len(self.header) else ""
        return by_letter(position) if named in {"", UNREADABLE} else named

    def add_typed(self, row: int, cells: Sequence[Any], formulas: Sequence[Any]) -> None:
        """Take one row of workbook cells, with the formulas that stand in the same places."""
        first = next((cell for cell in cells if cell.value is not None), None)
        if first is not None and _styled(first, "font").strike:
            self.struck.add(row)
        pairs = enumerate(zip_longest(cells, formulas))
        texts = [self._text(row, position, cell, beside) for position, (cell, beside) in pairs]
        self._part(row, texts)
        self.add(row, texts)

    def remark_unlike_others(self, *, hidden_sheet: bool) -> None:
        """Say that what nobody sees, or somebody has struck through, was read too."""
        if hidden_sheet:
            self.faults.remark(f"{self.label}: the sheet is hidden, and was read all the same")
        for word, marked in (("hidden", self.hidden), ("struck through", self.struck)):
            rows = [row for row in self.numbers if row in marked]
            if rows:
                named = ", ".join(map(str, rows[:MOST_ROWS_NAMED]))
                more = f" and {len(rows) - MOST_ROWS_NAMED} more" if len(rows) > MOST_ROWS_NAMED else ""
                self.faults.remark(f"{self.label}: rows that are {word} were read all the same: {named}{more}")
        unseen = [name for at, name in enumerate(self.header or ()) if any(at in some for some in self.hidden_columns)]
        if unseen:
            self.faults.remark(f"{self.label}: columns that are hidden were read all the same: {', '.join(unseen)}")

    def _part(self, row: int, texts: list[str]) -> None:
        """Take no merged cell for an empty one: what stands in the first is shown in all of them."""
        self.spanning = [one for one in self.spanning if one[0].last_row >= row]
        while self.merged and self.merged[-1].first_row <= row:
            merged = self.merged.pop()
            holds = texts[merged.first].strip() if merged.first < len(texts) else ""
            if holds and merged.last_row >= row:
                self.spanning.append((merged, holds))
        if not self.spanning or self.header is None or not any(text.strip() for text in texts):
            return
        for merged, holds in self.spanning:
            covered = range(merged.first + (merged.first_row == row), min(merged.last + 1, self.width))
            texts += [""] * (covered.stop - len(texts))
            for position in covered:
                texts[position] = UNREADABLE
            if covered and merged not in self.noted:
                self.noted.add(merged)
                right = "the cells unmerged, and the value in each that it holds for"
                found = f"{shown(holds)} over {merged.name}"
                self.note(merged.first_row, merged.first, "cells merged into one", right, found)

    def _text(self, row: int, position: int, cell: Any, beside: Any) -> str:
        """Write a typed cell as a CSV file would hold it."""
        value = cell.value
        formula = beside.value if beside is not None and beside.data_type == "f" else None
        if value is None and (formula is None or cell.data_type == "str"):  # a formula may give a text of no letters
            return ""
        if value is None or (self.stopgaps and formula is not None and value == 0):
            told = shown(str(getattr(formula, "text", formula)))
            self.note(row, position, "a formula without a stored result", "the value it stands for", told)
            return UNREADABLE
        if isinstance(value, (date, time, timedelta)):
            return self._date_text(row, position, value)
        if isinstance(value, bool):
            return str(value).upper()
        if isinstance(value, (int, float)):
            return self._number_text(row, position, value, _styled(cell, "number_format"))
        return _unescaped(value) if "_x" in value else str(value)

    def _number_text(self, row: int, position: int, value: float, form: str) -> str:
        text = str(value) if isinstance(value, int) else format(Decimal(f"{value:.{SPREADSHEET_DIGITS}g}"), "f")
        column = self.column(position)
        if column in DATE_COLUMNS and self.day_zero == SINCE_1904 and 0 <= value < MOST_DAYS:
            meant = self.day_zero + timedelta(days=int(value))
            right = f"{meant} if it is a spreadsheet's day number; format the column as a date"
            self.note(row, position, "a number, in a workbook that counts days from 1904", right, f"'{text}'")
            return UNREADABLE
        if self.header is None or column in DATE_COLUMNS or (fault := misleading(column, text, form)) is None:
            return text
        self.note(row, position, fault.what, fault.right, fault.found)
        return UNREADABLE

    def _date_text(self, row: int, position: int, value: date | time | timedelta) -> str:
        text = str(value)
        if isinstance(value, datetime) and value.time() == time():
            text = value.date().isoformat()
        if self.header is None or self.column(position) in DATE_COLUMNS:
            return text
        right = "the code or number itself; format the cell as text before typing it"
        self.note(row, position, "a date where none belongs", right, shown(text))
        return UNREADABLE
