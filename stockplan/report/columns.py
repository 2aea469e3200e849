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
    columns = []
    for heading, cells in zip(headings, zip(*rows, strict=True) if rows else [()] * len(headings), strict=True):
        shown = [heading, *map(printable, cells)]
        widths = [len(cell) if cell.isascii() else cell_len(cell) for cell in shown]
        widest = max(widths)
        gaps = [" " * (widest - width) for width in widths]
        if heading in right:
            columns.append([gap + cell for gap, cell in zip(gaps, shown, strict=True)])
        else:
            columns.append([cell + gap for gap, cell in zip(gaps, shown, strict=True)])
    return "\n".join("  ".join(row).rstrip() for row in zip(*columns, strict=True))
