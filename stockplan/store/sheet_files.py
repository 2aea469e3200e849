"""CSV files as they lie on disk to frames of text, and what is gathered of any sheet row by row.

CSV goes through the standard library's strict reader into the frame, because the frame library's own reader fills a row
that is too short without a word and stops at the first row that is too long; here each such row is a fault of its own.
Bytes that are not UTF-8 stay in the text as lone surrogates, so that the cell they stand in can be named.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.domain.lettering import letters
from stockplan.store.sheet_faults import WHOLE_ROW, Fault, FaultLog, Place, shown

if TYPE_CHECKING:
    import pandas

SHEET_NAMES = ("products", "supply", "stock", "jobs", "strips", "lawns")
UNREADABLE = "\ud800"  # stands for a cell whose fault is already noted; no file can hold it as text
OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "upright bars"}
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
TOTALS = frozenset({"total", "totals", "subtotal", "sub-total", "grand total", "sum"})
ZIP_MARK = b"PK\x03\x04"  # a workbook is a zip archive


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet as text.

    Parameters
    ----------
    name
        One of `SHEET_NAMES`.
    label
        What a fault calls it.
    header
        Column names in file order, trimmed.
    frame
        Text cells; its index is the row as a spreadsheet numbers it, its columns are positions. Blank rows are out.
    spilled
        Cells of rows of the wrong shape: such a row is left out, but a name in it is not an unknown name.
    whole
        False when reading stopped before the end, so that a name missing here may yet be in the file.
    """

    name: str
    label: str
    header: tuple[str, ...]
    frame: pandas.DataFrame
    spilled: frozenset[str]
    whole: bool

    def fault(self, row: int, column: str, what: str, found: str, right: str) -> Fault:
        """Make a fault of this sheet; `column` is a header name or stands for the whole row."""
        position = self.header.index(column) if column in self.header else -1
        return Fault(Place(SHEET_NAMES.index(self.name), row, position), self.label, column, what, found, right)

    def names_of_columns(self) -> list[str]:
        """List the columns that have a name that could be read, in file order."""
        return [name for name in self.header if name not in {"", UNREADABLE}]

    def nameless(self, position: int, right: str) -> Fault | None:
        """Make a fault of a column without a name; None where nothing stands in it that no other fault is about."""
        cells = zip(self.frame.index.tolist(), self.frame[position].str.strip().tolist(), strict=True)
        for row, text in cells:
            if text not in {"", UNREADABLE}:
                found = f"an empty cell above {shown(text)} in row {row}"
                place = Place(SHEET_NAMES.index(self.name), 1, position)
                return Fault(place, self.label, by_letter(position), "a column without a name", found, right)
        return None


def by_letter(position: int) -> str:
    """Name a column as a spreadsheet does, such as `column H`; the first has position 0."""
    return f"column {letters(position)}"


def sheet_fault(name: str, label: str, what: str, found: str, right: str, row: int = 1) -> Fault:
    """Make a fault of a file as a whole.

    Parameters
    ----------
    name
        Of the sheet.
    label
        How the file is named in messages.
    what, found, right
        What is wrong, what was found, what would be right.
    row
        Where it is told; default the first.
    """
    return Fault(Place(SHEET_NAMES.index(name), row, -1), label, WHOLE_ROW, what, found, right)


def read_csv(path: Path, name: str, faults: FaultLog) -> RawSheet | None:
    """Read one CSV file; None when nothing of it can be used, and then the fault is noted.

    Parameters
    ----------
    path
        The file.
    name
        Of the sheet.
    faults
        Where to note what is wrong.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        faults.add(sheet_fault(name, path.name, "the file cannot be opened", str(error.strerror), "a readable file"))
        return None
    problem = not_comma_separated_utf8(data, workbook_will_do=True)
    if problem:
        faults.add(sheet_fault(name, path.name, *problem))
        return None
    text = data.decode("utf-8-sig", errors="surrogateescape")
    records = csv.reader(io.StringIO(text, newline=""), strict=True)
    collected = Collector(name, path.name, faults, exact_width=True)
    row = 0
    try:
        for row, record in enumerate(records, start=1):
            collected.add(row, record)
    except csv.Error as error:
        faults.add(sheet_fault(name, path.name, *unpaired_quote(error), row + 1))
        collected.whole = False
    return collected.sheet()


def unpaired_quote(error: csv.Error) -> tuple[str, str, str]:
    """Say that the strict reader could not go on: what, found, right."""
    right = 'quotes in pairs: a cell that holds a comma or a quote stands in quotes, and quotes in it are doubled ("")'
    return "a quote without its partner", f"from here on nothing can be read ({error})", right


def not_comma_separated_utf8(data: bytes, *, workbook_will_do: bool = False) -> tuple[str, str, str] | None:
    """Say what keeps a whole file from being read: what, found, right.

    Parameters
    ----------
    data
        All of the file.
    workbook_will_do
        Whether a workbook would be read under its own name; default only CSV is.
    """
    if data.startswith(UTF16_MARKS):
        return "not UTF-8 (byte 1)", "the mark of UTF-16", "the file saved as UTF-8 with commas between the cells"
    if data.startswith(ZIP_MARK):
        if not workbook_will_do:
            return "a workbook", "a zip archive", "the sheet saved as CSV"
        right = "the sheet saved as CSV, or the name ending in .xlsx"
        return "a workbook under the name of a CSV file", "a zip archive", right
    text = data.removeprefix(b"\xef\xbb\xbf")
    if not text.strip():
        return "the file is empty", "nothing", "a header row, even when no rows follow"
    first = text.splitlines()[0].decode("utf-8", errors="replace")
    if "\0" in first:
        return "not UTF-8", "bytes of zero, as UTF-16 has them", "the file saved as UTF-8 with commas between the cells"
    if first.strip('"').casefold().startswith("sep="):
        return (
            "a line that only names the separator",
            shown(first),
            "the header in the first row, and commas between the cells",
        )
    if "," not in first:
        for separator, word in OTHER_SEPARATORS.items():
            if separator in first:
                return f"cells are separated by {word}", shown(first), "commas between the cells"
    return None


def _says_more(cell: str) -> bool:
    """Whether something stands in a cell that is no number."""
    return any(character.isalpha() for character in cell if character != UNREADABLE)


class Collector:
    """Gathers the rows of one sheet and notes those of the wrong shape."""

    def __init__(self, name: str, label: str, faults: FaultLog, *, exact_width: bool) -> None:
        self.name, self.label, self.faults = name, label, faults
        self.exact_width = exact_width
        self.header: tuple[str, ...] | None = None
        self.width = 0
        self.numbers: list[int] = []
        self.rows: list[list[str]] = []
        self.spilled: set[str] = set()
        self.whole = True

    def add(self, row: int, cells: list[str]) -> None:
        """Take one row of text."""
        if self.header is None:
            self._take_header(cells)
            return
        if not self.width:
            return
        if len(cells) != self.width:
            if not any(cell.strip() for cell in cells):
                return
            if not self._fits(row, cells):
                return
        elif not cells[0].strip() and not any(cell.strip() for cell in cells):
            return
        if not self._adds_up(row, cells):
            self.numbers.append(row)
            self.rows.append(cells)

    def _adds_up(self, row: int, cells: list[str]) -> bool:
        """Whether a row is no thing of its own but the sum of others, which is noted: nothing but numbers in it."""
        position = next(at for at, cell in enumerate(cells) if cell.strip())
        word = cells[position].strip()
        if word.rstrip(" :").casefold() not in TOTALS or any(map(_says_more, cells[position + 1 :])):
            return False
        self.note(
            row,
            position,
            "a row of totals",
            "rows that each stand for one thing, and none that adds up others",
            shown(word),
        )
        return True

    def _take_header(self, cells: list[str]) -> None:
        self.width = len(cells)
        if not self.exact_width:  # a workbook row may end in cells that were only ever formatted
            while self.width and not cells[self.width - 1].strip():
                self.width -= 1
        self.header = tuple(cell.strip() for cell in cells[: self.width])

    def _fits(self, row: int, cells: list[str]) -> bool:
        """Bring a row to the header's width where that loses nothing, else note the fault."""
        if not self.exact_width:
            if fits := not any(cell.strip() for cell in cells[self.width :]):
                cells[:] = cells[: self.width] + [""] * (self.width - len(cells))
            else:
                self._note_beyond(row, cells)
            return fits
        what = "too many cells" if len(cells) > self.width else "too few cells"
        found = f"{len(cells)}: {shown(','.join(cells))}"
        right = (
            f"as many cells as in the header, {self.width}; decimals take a point, cells that hold a comma take quotes"
        )
        self.faults.add(sheet_fault(self.name, self.label, what, found, right, row))
        self._spill(cells)
        return False

    def _note_beyond(self, row: int, cells: list[str]) -> None:
        """Note what stands in a workbook beside the columns that have a name."""
        for position, cell in enumerate(cells):
            if position >= self.width and cell.strip() and cell != UNREADABLE:
                self.note(row, position, "beyond the last column that has a name", "an empty cell", shown(cell))
        self._spill(cells)

    def _spill(self, cells: list[str]) -> None:
        self.spilled.update(cell.strip() for cell in cells if cell.strip())

    def column(self, position: int) -> str:
        """Name the column that stands at a position."""
        return self.header[position] if self.header and position < len(self.header) else WHOLE_ROW

    def note(self, row: int, position: int, what: str, right: str, found: str) -> None:
        """Note a fault of one cell."""
        place = Place(SHEET_NAMES.index(self.name), row, position)
        self.faults.add(Fault(place, self.label, self.column(position), what, found, right))

    def sheet(self) -> RawSheet | None:
        """Give what was gathered; None when there was not even a header."""
        import pandas as pd  # noqa: PLC0415  most commands read no spreadsheet

        if not self.header:
            right = "a header row, even when no rows follow"
            self.faults.add(sheet_fault(self.name, self.label, "the first row is empty", "no header", right))
            return None
        frame = pd.DataFrame(self.rows, index=self.numbers, columns=range(self.width), dtype=object)
        return RawSheet(self.name, self.label, self.header, frame, frozenset(self.spilled), self.whole)
