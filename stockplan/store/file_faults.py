"""What can be said against the file of a store without reading what it means: SQLite's own checks, kinds of values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from stockplan.store.rows import Rows, SqliteRows, rows_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

_NUMBERS = ("INTEGER", "BOOLEAN")  # of what the tables declare; all the rest is text, days and moments too


def file_faults(source: Session | Rows) -> list[str]:
    """Check the file of a store, and return every fault as a sentence; a server looks after its own.

    Parameters
    ----------
    source
        A transaction on the store.
    """
    rows = rows_of(source)
    if not isinstance(rows, SqliteRows):
        return []
    said = [line for (line,) in rows.run("PRAGMA integrity_check")]
    faults = [] if said == ["ok"] else [f"the file is damaged: {line}" for line in said]
    for table, row, parent, _ in rows.run("PRAGMA foreign_key_check"):
        faults.append(f"row {row} of {table} refers to a {parent} that is not there")
    return [*faults, *_wrong_kinds(rows)]


def _wrong_kinds(rows: Rows) -> Iterator[str]:
    """Values of a kind that their column does not have: SQLite itself lets text stand among numbers."""
    tables = rows.run("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name")
    for (table,) in list(tables):
        for _, column, declared, *_ in list(rows.run(f'PRAGMA table_info("{table}")')):
            kind, right = ("integer", "a whole number") if declared in _NUMBERS else ("text", "text")
            wrong = f"FROM \"{table}\" WHERE typeof(\"{column}\") NOT IN ('{kind}', 'null')"
            for row, found in rows.run(f'SELECT rowid, "{column}" {wrong} ORDER BY rowid LIMIT 1'):
                ((count,),) = rows.run(f"SELECT count(*) {wrong}")
                more = f", and {count - 1} more rows of it hold such" if count > 1 else ""
                yield f"row {row} of {table} holds no {right.removeprefix('a ')} as {column}: {found!r}{more}"
