"""What a plan in the terminal is put together from: lines, headings, tables and their cells."""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from stockplan.report.words import printable


def as_line(text: str, style: str = "") -> Text:
    """A line of text as it may be printed; what was typed in it is neither obeyed nor taken for markup."""
    return Text(printable(text), style=style)


def put_heading(console: Console, title: str) -> None:
    """Print the heading of a section below an empty line."""
    console.print()
    console.print(as_line(title, "bold"))


def new_table(*columns: str, right: tuple[str, ...] = ()) -> Table:
    """Begin a table.

    Parameters
    ----------
    columns
        Headings.
    right
        Those of the columns that stand to the right.
    """
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    for name in columns:
        # Folding, not an ellipsis: half a tag is no tag.
        table.add_column(Text(name), justify="right" if name in right else "left", overflow="fold")
    return table


def as_cell(*lines: str) -> Text:
    """A cell of a table, of one line or more."""
    return Text("\n".join(printable(line) for line in lines))
