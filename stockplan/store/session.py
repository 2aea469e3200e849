"""Opening the store, reading it, and writing it one unit of work at a time.

The store is a SQLite file or a PostgreSQL database named by URL; the same code runs on both. There is one writer at a
time: on SQLite a unit of work begins with BEGIN IMMEDIATE, on PostgreSQL it takes one advisory lock, so the loser of a
race waits and then either gets its turn or fails before it has written anything.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, text
from sqlalchemy.orm import Session

from stockplan.errors import StoreError
from stockplan.store.connecting import engine_for, shown_name, url_of, writing
from stockplan.store.faults import plain_error, plain_errors
from stockplan.store.place import (
    HEAD,
    PATIENCE_SECONDS,
    SQLITE_APPLICATION_ID,
    Sealed,
    check_file,
    locate_store,
    sealed,
)
from stockplan.store.rows import Rows, rows_of
from stockplan.store.stored import storing


class Store:
    """An open store whose tables are those of this program.

    Parameters
    ----------
    engine
        Connections to it.
    name
        How it is named in messages; holds no password.
    only_read
        What is known of a store that can only be looked at; None for any other.
    """

    def __init__(self, engine: Engine, name: str, only_read: Sealed | None = None) -> None:
        self.engine = engine
        self.name = name
        self.only_read = only_read

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Read from one consistent state; nothing can be written for good."""
        undisturbed = self.only_read.undisturbed() if self.only_read else nullcontext()
        reading = self.engine.execution_options(**_snapshot(self.engine))
        with undisturbed, plain_errors(self.name), Session(reading) as session:
            yield session

    def unit_of_work(self) -> UnitOfWork:
        """Begin to write: `with store.unit_of_work() as work: …; work.commit()`."""
        return UnitOfWork(self)

    def check_writable(self) -> datetime:
        """See that something can be stored, by a write that changes nothing and is not committed.

        Returns
        -------
        datetime
            When that was, UTC: whoever reads afterwards knows of everything written before, since nobody else writes
            at the same time.

        Raises
        ------
        StoreBusy
            When another program held it all the while.
        StoreError
            When it cannot be written.
        """
        with plain_errors(self.name), Session(writing(self.engine)) as session:
            session.execute(text("DELETE FROM setting WHERE name IS NULL"))
            return _now(session)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class UnitOfWork:
    """One set of writes that is stored whole or not at all: without `commit` everything is rolled back.

    Parameters
    ----------
    store
        Where to write.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self.at = datetime.now(UTC)
        self.session = Session(writing(store.engine))

    def __enter__(self) -> Self:
        try:
            with plain_errors(self.store.name):
                self.session.connection()
                self.at = _now(self.session)  # its turn may have been long in coming
        except BaseException:
            self.session.close()
            raise
        return self

    @property
    def rows(self) -> Rows:
        """Where to write by plain SQL, in the same transaction."""
        return rows_of(self.session)

    def commit(self, plan: int | None = None) -> None:
        """Store everything written so far; the unit of work is over.

        Parameters
        ----------
        plan
            The number of a plan that is among it; default none.
        """
        with plain_errors(self.store.name), storing(plan):
            self.session.commit()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.session.close()
        if isinstance(error, Exception) and (plain := plain_error(error, self.store.name)):
            raise plain from error


def _now(session: Session) -> datetime:
    """Read the clock, on a server that of the server: those of several machines differ."""
    if session.get_bind().dialect.name == "sqlite":
        return datetime.now(UTC)
    moment: datetime = session.execute(text("SELECT clock_timestamp()")).scalar_one()
    return moment.astimezone(UTC)


def open_store(where: str | None = None, *, create: bool = False, patience_seconds: float = PATIENCE_SECONDS) -> Store:
    """Open a store, making a new one or bringing an older one up to date where needed.

    Parameters
    ----------
    where
        Path or URL; see `locate_store`.
    create
        Make the store when there is none.
    patience_seconds
        How long to wait for another writer; positive, default 20.

    Raises
    ------
    StoreTooNew
        When a newer version of the program wrote it.
    StoreBusy
        When it must be changed and another program holds it.
    StoreError
        When there is none, it is no stockplan store, or it cannot be read or written.
    """
    url, only_read = url_of(locate_store(where)), None
    if url.get_backend_name() == "sqlite":
        path = Path(url.database or "")
        check_file(path, create)
        only_read = sealed(path) if path.exists() else None
    store = Store(engine_for(url, patience_seconds, only_read), shown_name(url), only_read)
    try:
        with plain_errors(store.name):
            with store.engine.connect() as connection:
                revision = revision_of(connection, store.name)
            if revision != HEAD:
                from stockplan.store.migrate import bring_up_to_date  # noqa: PLC0415 - alembic is slow to import

                bring_up_to_date(store, may_create=create or url.get_backend_name() == "sqlite")
    except BaseException:
        store.close()
        raise
    return store


def revision_of(connection: Connection, name: str) -> str | None:
    """Read which revision of the tables a store has; None when it holds nothing at all.

    Raises
    ------
    StoreError
        When it holds tables of some other program.
    """
    if connection.dialect.name == "sqlite":
        if connection.scalar(text("SELECT count(*) FROM sqlite_master")) == 0:
            return None
        ours = connection.scalar(text("PRAGMA application_id")) == SQLITE_APPLICATION_ID
    else:
        find = text("SELECT to_regclass('alembic_version') IS NOT NULL, to_regclass('movement') IS NOT NULL")
        versioned, ledger = connection.execute(find).one()
        if not versioned and not ledger:
            return None
        ours = versioned and ledger
    if not ours:
        raise StoreError(f"{name} holds something else, not a stockplan store; name another with --store")
    revision: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    if revision is None:
        raise StoreError(f"the store {name} does not say which version it is; put back the last copy of it")
    return revision


def _snapshot(engine: Engine) -> dict[str, Any]:
    return {} if engine.dialect.name == "sqlite" else {"isolation_level": "REPEATABLE READ"}
