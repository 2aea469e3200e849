"""Long lists as plain text in columns."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from stockplan.report.words import printable

Rows = Sequence[Sequence[str]]


def in_columns(headings: Sequence[str], rows: Rows, right: Sequence[str] = ()) -> str:
    """Set rows out in columns two spaces apart; a rich table would take several times as long for a whole yard.

    Parameters
    ----------
    headings
        One a column.
    rows
        Cells of text.
    right
        Headings of the columns that stand to the right.
    """
    table = [list(headings), *([printable(cell) for cell in row] for row in rows)]
    widths = [max(map(cell_len, column)) for column in zip(*table, strict=True)]
    to_right = [heading in right for heading in headings]
    lines = []
    for row in table:
        cells = []
        for cell, width, on_right in zip(row, widths, to_right, strict=True):
            gap = " " * (width - cell_len(cell))
            cells.append(gap + cell if on_right else cell + gap)
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)
