"""Long lists as plain text in columns."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.report.words import printable

Rows = Sequence[Sequence[str]]
SET_IN = "    "
SAMPLE = 1000  # so many cells tell whether a column says the same again and again


def in_columns(headings: Sequence[str], rows: Rows, right: Sequence[str] = (), room: int | None = None) -> str:
    """Set rows out in columns two spaces apart; a rich table would take several times as long for a whole yard.

    Parameters
    ----------
    headings
        One a column.
    rows
        Cells of text.
    right
        Headings of the columns that stand to the right.
    room
        How wide lines may be. Columns that find no room go on in further lines of each row, set in. Default: any width.
    """
    return set_out(headings, list(zip(*rows, strict=True)) if rows else [()] * len(headings), right, room)


def set_out(headings: Sequence[str], columns: Rows, right: Sequence[str] = (), room: int | None = None) -> str:
    """Set columns out two spaces apart.

    Parameters
    ----------
    headings, right, room
        As in `in_columns`.
    columns
        The cells of each, all of one length.
    """
    ready = [_padded(heading, cells, heading in right) for heading, cells in zip(headings, columns, strict=True)]
    rows = map("  ".join, zip(*ready, strict=True))
    if room is not None and len(groups := _groups([_width(cells[0]) for cells in ready], room)) > 1:
        parts = [list(map("  ".join, zip(*ready[first:end], strict=True))) for first, end in groups]
        rows = map(f"\n{SET_IN}".join, ([one for one in row if one.strip()] for row in zip(*parts, strict=True)))
    return "\n".join([line.rstrip() for row in rows for line in row.split("\n")])


def _groups(widths: Sequence[int], room: int) -> list[tuple[int, int]]:
    """Put columns together that find room beside each other: the first of each group, and the one after its last."""
    groups, first, taken = [], 0, -2
    for number, width in enumerate(widths):
        if number > first and taken + 2 + width > room:
            groups.append((first, number))
            first, taken = number, len(SET_IN) - 2
        taken += 2 + width
    return [*groups, (first, len(widths))]


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
