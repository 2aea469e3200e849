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

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session

from stockplan.errors import StoreError
from stockplan.store.faults import plain_error, plain_errors
from stockplan.store.place import (
    HEAD,
    NO_EARLY_CHECKPOINT,
    PATIENCE_SECONDS,
    SQLITE_APPLICATION_ID,
    STORE_VARIABLE,
    Sealed,
    check_file,
    locate_store,
    sealed,
)
from stockplan.store.rows import Rows, rows_of
from stockplan.store.stored import storing

__all__ = [
    "HEAD", "PATIENCE_SECONDS", "SQLITE_APPLICATION_ID", "STORE_VARIABLE", "Store", "UnitOfWork", "connect_unchecked",
    "file_of", "locate_store", "open_store", "revision_of", "store_exists", "writing",
]  # fmt: skip
_WRITES = "stockplan_writes"
_ADVISORY_LOCK = 0x53544B50


def store_exists(where: str | None) -> bool:
    """Say whether there is a store to open; a database on a server is taken to be there."""
    url = _url(locate_store(where))
    return url.get_backend_name() != "sqlite" or Path(url.database or "").exists()


def file_of(where: str | None) -> Path | None:
    """Give the file a store is kept in; None when it is kept on a server."""
    url = _url(locate_store(where))
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else None


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
    url, only_read = _url(locate_store(where)), None
    if url.get_backend_name() == "sqlite":
        path = Path(url.database or "")
        check_file(path, create)
        only_read = sealed(path) if path.exists() else None
    store = Store(_engine(url, patience_seconds, only_read), _name(url), only_read)
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


def connect_unchecked(where: str) -> Connection:
    """Connect without looking at what the store holds; for the `alembic` command and for tests."""
    return _engine(_url(where), PATIENCE_SECONDS).connect().execution_options(**{_WRITES: True})


def writing(engine: Engine) -> Engine:
    """Give the engine whose transactions take the writer's lock when they begin."""
    return engine.execution_options(**{_WRITES: True})


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


def _url(where: str) -> URL:
    if "://" not in where:
        return URL.create("sqlite", database=str(Path(where).expanduser()))
    try:
        url = make_url(where)
    except (ArgumentError, ValueError) as error:
        raise StoreError("the store's URL cannot be read; write postgresql://user@host/database") from error
    if url.get_backend_name() != "sqlite" and where.partition("?")[0].count("@") > 1:  # the rest would pass for a host
        raise StoreError("the store's URL has more than one @; write one in a name or a password as %40")
    if url.drivername in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if url.drivername not in ("sqlite", "postgresql+psycopg"):
        raise StoreError(f"a store cannot be kept in {url.drivername}; use a file, or postgresql://user@host/database")
    return url


def _name(url: URL) -> str:
    return url.database or "" if url.get_backend_name() == "sqlite" else url.render_as_string(hide_password=True)


def _engine(url: URL, patience_seconds: float, only_read: Sealed | None = None) -> Engine:
    if url.get_backend_name() == "sqlite":
        if only_read:
            address = URL.create("sqlite", database=only_read.address, query={"uri": "true"})
            engine = create_engine(address, connect_args={"timeout": patience_seconds})
        else:
            engine = create_engine(url, connect_args={"timeout": patience_seconds})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    try:
        # A plan is looked for for minutes; a connection that server or network have dropped meanwhile is renewed.
        options = {"connect_timeout": 10, "client_encoding": "utf8"}
        engine = create_engine(url, connect_args=options, pool_pre_ping=True)
    except ModuleNotFoundError as error:
        raise StoreError("a PostgreSQL store needs one more package; run: pip install 'stockplan[postgres]'") from error
    milliseconds = max(1, round(patience_seconds * 1000))

    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get(_WRITES):
            # With a view of its own it would see the store as it was before it had waited for its turn.
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL READ COMMITTED")
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {milliseconds}")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})")

    event.listen(engine, "connect", _prepare_postgresql)
    event.listen(engine, "begin", begin)
    return engine


def _prepare_postgresql(connection: Any, _record: object) -> None:
    """Have moments told in the one style that the driver reads, whatever the server's or the user's own style is."""
    if not connection.info.parameter_status("DateStyle").startswith("ISO"):
        connection.execute("SET DateStyle TO ISO")
        connection.commit()


def _prepare_sqlite(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # the driver begins no transaction by itself; _begin_sqlite does
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute(NO_EARLY_CHECKPOINT)
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get(_WRITES)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _snapshot(engine: Engine) -> dict[str, Any]:
    return {} if engine.dialect.name == "sqlite" else {"isolation_level": "REPEATABLE READ"}
