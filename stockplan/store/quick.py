"""A SQLite store opened through the standard library, for commands that must answer at once.

SQLAlchemy alone takes longer to load than a person with gloves on should wait. What these commands read and write goes
through `Rows`, which both ways of opening give.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Protocol, Self

from stockplan.store.faults import plain_error, plain_errors
from stockplan.store.place import (
    HEAD,
    NO_EARLY_CHECKPOINT,
    PATIENCE_SECONDS,
    SQLITE_APPLICATION_ID,
    Sealed,
    check_file,
    locate_store,
    sealed,
)
from stockplan.store.rows import Rows, SqliteRows
from stockplan.store.stored import storing

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


class OpenWork(Protocol):
    """A unit of work of either way of opening: `with … as work: …; work.commit()`."""

    at: datetime

    @property
    def rows(self) -> Rows:
        """Where to write."""

    def commit(self) -> None:
        """Store everything written so far."""

    def __enter__(self) -> Self:
        """Begin."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End; without `commit` everything is rolled back."""


class OpenYard(Protocol):
    """A store of either way of opening."""

    name: str

    def reading(self) -> AbstractContextManager[Session | Rows]:
        """Read from one consistent state."""

    def unit_of_work(self) -> OpenWork:
        """Begin to write."""

    def close(self) -> None:
        """Let go of every connection."""

    def __enter__(self) -> Self:
        """Use it."""

    def __exit__(self, *_: object) -> None:
        """Close it."""


class QuickStore:
    """An open SQLite store whose tables are those of this program.

    Parameters
    ----------
    connection
        Outside a transaction, and never beginning one by itself.
    name
        How it is named in messages.
    only_read
        What is known of a store that can only be looked at; None for any other.
    """

    def __init__(self, connection: sqlite3.Connection, name: str, only_read: Sealed | None = None) -> None:
        self.connection = connection
        self.name = name
        self.only_read = only_read

    @contextmanager
    def reading(self) -> Iterator[Rows]:
        """Read from one consistent state; nothing can be written for good."""
        undisturbed = self.only_read.undisturbed() if self.only_read else nullcontext()
        with undisturbed, plain_errors(self.name):
            self.connection.execute("BEGIN")
            try:
                yield SqliteRows(self.connection)
            finally:
                _roll_back(self.connection)

    def unit_of_work(self) -> QuickWork:
        """Begin to write: `with store.unit_of_work() as work: …; work.commit()`."""
        return QuickWork(self)

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class QuickWork:
    """One set of writes that is stored whole or not at all: without `commit` everything is rolled back.

    Parameters
    ----------
    store
        Where to write.
    """

    def __init__(self, store: QuickStore) -> None:
        self.store = store
        self.at = datetime.now(UTC)

    @property
    def rows(self) -> Rows:
        """Where to write."""
        return SqliteRows(self.store.connection)

    def __enter__(self) -> Self:
        with plain_errors(self.store.name):
            self.store.connection.execute("BEGIN IMMEDIATE")
        self.at = datetime.now(UTC)  # its turn may have been long in coming
        return self

    def commit(self) -> None:
        """Store everything written so far; the unit of work is over."""
        with plain_errors(self.store.name), storing():
            self.store.connection.execute("COMMIT")

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        _roll_back(self.store.connection)
        if isinstance(error, Exception) and (plain := plain_error(error, self.store.name)):
            raise plain from error


def _roll_back(connection: sqlite3.Connection) -> None:
    """End a transaction without storing it; on a disk that gives errors SQLite may have ended it already."""
    if connection.in_transaction:
        connection.execute("ROLLBACK")


def open_yard(where: str | None = None, patience_seconds: float = PATIENCE_SECONDS) -> OpenYard:
    """Open a store for a command that must answer at once, making it ready first where needed.

    Parameters
    ----------
    where
        Path or URL; see `locate_store`.
    patience_seconds
        How long to wait for another writer; positive, default 20.

    Raises
    ------
    StoreTooNew, StoreBusy, StoreError
        As `open_store` does.
    """
    found = locate_store(where)
    if "://" not in found and (quick := _open_quickly(Path(found).expanduser(), patience_seconds)) is not None:
        return quick
    from stockplan.store.session import open_store  # noqa: PLC0415 - slow to import, and seldom needed

    return open_store(where, patience_seconds=patience_seconds)


def _open_quickly(path: Path, patience_seconds: float) -> QuickStore | None:
    """Open a SQLite store that is as this program wants it; None when it is not, and more must be done or told."""
    check_file(path, create=False)
    with plain_errors(str(path)):
        only_read = sealed(path)
        where = only_read.address if only_read else path
        connection = sqlite3.connect(where, timeout=patience_seconds, isolation_level=None, uri=bool(only_read))
        try:
            if _is_ready(connection):
                connection.execute("PRAGMA foreign_keys = ON")
                connection.execute(NO_EARLY_CHECKPOINT)
                return QuickStore(connection, str(path), only_read)
        except BaseException:
            connection.close()
            raise
        connection.close()
    return None


def _is_ready(connection: sqlite3.Connection) -> bool:
    (marked,) = connection.execute("PRAGMA application_id").fetchone()
    (versioned,) = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'alembic_version'").fetchone()
    if marked != SQLITE_APPLICATION_ID or not versioned:
        return False
    return connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]
