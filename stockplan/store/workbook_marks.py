"""What the file of a worksheet says beside the values of its cells: formulas, merged cells, hidden rows and columns.

Read from the file's bytes, as the library that reads workbooks row by row passes over all of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?\bref=["\']([A-Z]{1,3})(\d+):([A-Z]{1,3})(\d+)["\']')
_TO_BE_WORKED_OUT = re.compile(rb'\sfullCalcOnLoad=["\'](?:1|true)["\']')
_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*)>")
_NUMBER = re.compile(rb'\sr=["\'](\d+)["\']')
_COLUMN = re.compile(rb"<(?:\w+:)?col\b([^>]*)>")
_FROM, _TO = re.compile(rb'\smin=["\'](\d+)["\']'), re.compile(rb'\smax=["\'](\d+)["\']')
_HIDDEN = re.compile(rb'\shidden=["\'](?:1|true)["\']')


@dataclass(frozen=True, slots=True, order=True)
class Merged:
    """Cells merged into one, which then holds the value of the first.

    Parameters
    ----------
    first_row, last_row
        From 1, as a spreadsheet numbers them.
    first, last
        Positions of the columns, from 0.
    name
        As a spreadsheet calls them, such as C2:C5.
    """

    first_row: int
    last_row: int
    first: int
    last: int
    name: str


@dataclass(frozen=True, slots=True)
class Marks:
    """What stands beside the values of one worksheet.

    Parameters
    ----------
    formulas
        Whether any cell holds one.
    merged
        In order of their first rows.
    hidden
        Rows that are not shown, in order.
    hidden_columns
        Positions of columns that are not shown, from 0; they may reach far beyond what is filled in.
    """

    formulas: bool
    merged: tuple[Merged, ...]
    hidden: tuple[int, ...]
    hidden_columns: tuple[range, ...] = ()


def marks_of(data: bytes) -> Marks:
    """Find the marks in a worksheet's file."""
    merged = sorted(
        Merged(
            int(top),
            int(bottom),
            _position(left),
            _position(right),
            f"{(left + top).decode()}:{(right + bottom).decode()}",
        )
        for left, top, right, bottom in _MERGED.findall(data)
    )
    some = b"hidden=" in data
    hidden, columns = (tuple(_hidden_rows(data)), tuple(_hidden_columns(data))) if some else ((), ())
    return Marks(_FORMULA.search(data) is not None, tuple(merged), hidden, columns)


def leaves_formulas(data: bytes) -> bool:
    """Say whether a workbook's file asks for its formulas to be worked out when it is opened.

    Programs that write formulas and cannot work them out store 0 as the result of each, and ask for that.
    """
    return _TO_BE_WORKED_OUT.search(data) is not None


def _position(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number - 1


def _hidden_columns(data: bytes) -> Iterator[range]:
    for attributes in _COLUMN.findall(data):
        first, last = _FROM.search(attributes), _TO.search(attributes)
        if _HIDDEN.search(attributes) and first and last:
            yield range(int(first[1]) - 1, int(last[1]))


def _hidden_rows(data: bytes) -> list[int]:
    hidden, row = [], 0
    for attributes in _ROW.findall(data):
        numbered = _NUMBER.search(attributes)
        row = int(numbered[1]) if numbered else row + 1
        if _HIDDEN.search(attributes):
            hidden.append(row)
    return hidden
