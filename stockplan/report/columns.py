"""Long lists as plain text in columns."""

from __future__ import annotations

from collections.abc import Sequence

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
    return set_out(headings, list(zip(*rows, strict=True)) if rows else [()] * len(headings), right)


def set_out(headings: Sequence[str], columns: Rows, right: Sequence[str] = ()) -> str:
    """Set columns out two spaces apart.

    Parameters
    ----------
    headings, right
        As in `in_columns`.
    columns
        The cells of each, all of one length.
    """
    ready = [_ready(heading, cells, heading in right) for heading, cells in zip(headings, columns, strict=True)]
    line = "  ".join(form for form, _ in ready)
    return "\n".join([(line % cells).rstrip() for cells in zip(*(cells for _, cells in ready), strict=True)])


def _ready(heading: str, cells: Sequence[str], to_the_right: bool) -> tuple[str, Sequence[str]]:
    """Give the heading with its cells, and how each is to be printed so that all get one width."""
    whole = [heading, *cells]
    together = "".join(whole).replace("×", "x")
    if together.isascii() and together.isprintable():
        widest = max(map(len, whole))
        return f"%{'' if to_the_right else '-'}{widest}s", whole
    shown = {cell: printable(cell) for cell in set(whole)}  # cells that are alike are looked at once
    widths = {cell: _width(text) for cell, text in shown.items()}
    widest = max(widths.values())
    gaps = {cell: " " * (widest - width) for cell, width in widths.items()}
    ready = {cell: gaps[cell] + text if to_the_right else text + gaps[cell] for cell, text in shown.items()}
    return "%s", [ready[cell] for cell in whole]


def _width(text: str) -> int:
    if text.isascii():
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415 - slow to import

    return cell_len(text)
