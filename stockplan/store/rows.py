"""Rows in and out by plain SQL, so that a yard command need not load the whole of SQLAlchemy.

One statement serves both databases: names after a colon stand for values, days and moments are converted here. A SQLite
file is spoken to through the standard library, a PostgreSQL server through SQLAlchemy.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any, Protocol, cast

from stockplan.errors import StoreDamaged

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

FEW = 500  # so many values are named in one statement
Values = Mapping[str, Any]


class Rows(Protocol):
    """Something that runs statements inside a transaction."""

    def run(self, sql: str, values: Values | None = None) -> Iterable[Sequence[Any]]:
        """Run one statement and give its rows, none where it gives none.

        Parameters
        ----------
        sql
            With names of values after colons.
        values
            Each by its name; default none.
        """

    def run_each(self, sql: str, values: Sequence[Values]) -> None:
        """Run one statement with each set of values in turn.

        Parameters
        ----------
        sql
            With names of values after colons.
        values
            One set for each time.
        """


class Work(Protocol):
    """A unit of work as the ledger needs it: where to write, and when."""

    at: datetime

    @property
    def rows(self) -> Rows:
        """Where to write."""


class SqliteRows:
    """Rows of a SQLite file.

    Parameters
    ----------
    connection
        In a transaction.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection

    def run(self, sql: str, values: Values | None = None) -> Iterable[Sequence[Any]]:
        """Run one statement and give its rows."""
        return self.connection.execute(sql, _stored(values or {}))

    def run_each(self, sql: str, values: Sequence[Values]) -> None:
        """Run one statement with each set of values in turn."""
        self.connection.executemany(sql, map(_stored, values))


class SessionRows:
    """Rows of a session on a PostgreSQL server.

    Parameters
    ----------
    session
        Its transaction is used.
    """

    def __init__(self, session: Session) -> None:
        self.session = session

    def run(self, sql: str, values: Values | None = None) -> Iterable[Sequence[Any]]:
        """Run one statement and give its rows."""
        from sqlalchemy import text  # noqa: PLC0415

        piecemeal = {"yield_per": 10_000} if sql.startswith("SELECT") else {}
        found = self.session.connection().execute(text(sql), values or {}, execution_options=piecemeal)
        return found if found.returns_rows else ()

    def run_each(self, sql: str, values: Sequence[Values]) -> None:
        """Run one statement with each set of values in turn."""
        from sqlalchemy import text  # noqa: PLC0415

        self.session.connection().execute(text(sql), list(values))


def rows_of(source: Session | Rows) -> Rows:
    """Give the rows of a session; what it has yet to write is written first."""
    if hasattr(source, "run_each"):
        return cast("Rows", source)
    source.flush()
    raw = source.connection().connection.dbapi_connection
    return SqliteRows(raw) if isinstance(raw, sqlite3.Connection) else SessionRows(source)


def _stored(values: Values) -> Values:
    """Write days and moments as SQLAlchemy writes them in a SQLite file."""
    return {name: _text(value) if isinstance(value, date) else value for name, value in values.items()}


def _text(value: date) -> str:
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC):%Y-%m-%d %H:%M:%S.%f}"
    return value.isoformat()


def as_day(value: str | date | None) -> date | None:
    """Read a day as either database gives it.

    Raises
    ------
    StoreDamaged
        When it is no day.
    """
    return _day(value) if isinstance(value, str) else value


def known_day(value: str | date | None) -> date:
    """Read a day that must be there.

    Raises
    ------
    StoreDamaged
        When there is none, or it is no day.
    """
    day = as_day(value)
    if day is None:
        raise StoreDamaged("nothing stands for a day")
    return day


@lru_cache(maxsize=10_000)
def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise StoreDamaged(f"{text!r} stands for a day") from error


def ledger_day() -> date:
    """Give today as the ledger counts days, which are those of UTC wherever the machine stands."""
    return datetime.now(UTC).date()


def as_moment(value: str | datetime) -> datetime:
    """Read a moment as either database gives it.

    Raises
    ------
    StoreDamaged
        When it is no moment.
    """
    try:
        moment = datetime.fromisoformat(value) if isinstance(value, str) else value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, AttributeError, OverflowError) as error:
        raise StoreDamaged(f"{value!r} stands for a moment") from error


class Kinds:
    """What each column of a table may hold; a damaged file can hold anything anywhere.

    Parameters
    ----------
    table
        For the message.
    columns
        The types allowed in each column, in order.
    """

    def __init__(self, table: str, *columns: tuple[type, ...]) -> None:
        self.table = table
        self.columns = columns
        self._seen: set[tuple[type, ...]] = set()

    def check(self, row: Sequence[Any]) -> None:
        """See that a row holds what it may.

        Raises
        ------
        StoreDamaged
            When it does not.
        """
        found = tuple(map(type, row))
        if found in self._seen:
            return
        for value, allowed in zip(row, self.columns, strict=True):
            if not isinstance(value, allowed):
                raise StoreDamaged(f"a row of {self.table} holds {value!r} in the place of {allowed[0].__name__}")
        self._seen.add(found)


def among(column: str, values: Iterable[str]) -> tuple[str, dict[str, str]]:
    """Write a condition that a column holds one of some texts, and its values.

    Parameters
    ----------
    column
        Name of a column; none of a person's words.
    values
        At most `FEW`; see `by_few`.
    """
    named = {f"among_{number}": value for number, value in enumerate(values)}
    return f"{column} IN ({', '.join(f':{name}' for name in named) or 'NULL'})", named


def by_few(values: Iterable[str]) -> Iterator[list[str]]:
    """Give texts in order, each once, in lists of at most `FEW`."""
    rest = iter(sorted(set(values)))
    while few := list(islice(rest, FEW)):
        yield few


def inserting(table: str, columns: Iterable[str]) -> str:
    """Write the statement that puts a row into a table."""
    names = list(columns)
    return f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join(f':{name}' for name in names)})"
