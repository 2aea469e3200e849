"""Long lists as plain text in columns."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.report.words import printable

Rows = Sequence[Sequence[str]]
SAMPLE = 1000  # so many cells tell whether a column says the same again and again


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
    ready = [_padded(heading, cells, heading in right) for heading, cells in zip(headings, columns, strict=True)]
    return "\n".join([line.rstrip() for line in map("  ".join, zip(*ready, strict=True))])


def _padded(heading: str, cells: Sequence[str], to_the_right: bool) -> list[str]:
    """Bring a heading and its cells to one width; what is said again and again is looked at once."""
    whole = [heading, *cells]
    if len(set(whole[:SAMPLE])) > SAMPLE // 10 and (together := "".join(whole)).isascii() and together.isprintable():
        widest = max(map(len, whole))
        return [cell.rjust(widest) if to_the_right else cell.ljust(widest) for cell in whole]
    shown = {cell: cell for cell in whole}
    together = "".join(shown).replace("×", "x")
    if together.isascii() and together.isprintable():
        widest = max(map(len, shown))
        ready = {cell: cell.rjust(widest) if to_the_right else cell.ljust(widest) for cell in shown}
    else:
        shown = {cell: printable(cell) for cell in shown}
        widest = max(map(_width, shown.values()))
        gaps = {cell: " " * (widest - _width(text)) for cell, text in shown.items()}
        ready = {cell: gaps[cell] + text if to_the_right else text + gaps[cell] for cell, text in shown.items()}
    return [ready[cell] for cell in whole]


def _width(text: str) -> int:
    if text.isascii():
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415 - slow to import

    return cell_len(text)
