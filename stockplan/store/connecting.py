"""From a path or URL to connections to the store, and how their transactions begin.

A transaction that writes takes the writer's lock when it begins: on SQLite by BEGIN IMMEDIATE, on PostgreSQL by one
advisory lock.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from stockplan.errors import StoreError
from stockplan.store.place import NO_EARLY_CHECKPOINT, PATIENCE_SECONDS, Sealed, locate_store

_WRITES = "stockplan_writes"
_ADVISORY_LOCK = 0x53544B50


def store_exists(where: str | None) -> bool:
    """Say whether there is a store to open; a database on a server is taken to be there."""
    url = url_of(locate_store(where))
    return url.get_backend_name() != "sqlite" or Path(url.database or "").exists()


def file_of(where: str | None) -> Path | None:
    """Give the file a store is kept in; None when it is kept on a server."""
    url = url_of(locate_store(where))
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else None


def url_of(where: str) -> URL:
    """Read where a store is.

    Parameters
    ----------
    where
        A path, or a URL of SQLite or PostgreSQL.

    Raises
    ------
    StoreError
        When it is a URL that cannot be read, or of some other database.
    """
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


def shown_name(url: URL) -> str:
    """How a store is named in messages, without its password.

    Parameters
    ----------
    url
        Of the store.
    """
    return url.database or "" if url.get_backend_name() == "sqlite" else url.render_as_string(hide_password=True)


def engine_for(url: URL, patience_seconds: float, only_read: Sealed | None = None) -> Engine:
    """Make ready to connect.

    Parameters
    ----------
    url
        Of the store.
    patience_seconds
        How long to wait for another writer; positive.
    only_read
        What is known of a store that can only be looked at; default none such.

    Raises
    ------
    StoreError
        When the driver for a server is not installed.
    """
    if url.get_backend_name() == "sqlite":
        return _sqlite_engine(url, patience_seconds, only_read)
    return _postgresql_engine(url, patience_seconds)


def _sqlite_engine(url: URL, patience_seconds: float, only_read: Sealed | None) -> Engine:
    if only_read:
        url = URL.create("sqlite", database=only_read.address, query={"uri": "true"})
    engine = create_engine(url, connect_args={"timeout": patience_seconds})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _postgresql_engine(url: URL, patience_seconds: float) -> Engine:
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


def writing(engine: Engine) -> Engine:
    """Give the engine whose transactions take the writer's lock when they begin."""
    return engine.execution_options(**{_WRITES: True})


def connect_unchecked(where: str) -> Connection:
    """Connect without looking at what the store holds; for the `alembic` command and for tests."""
    return writing(engine_for(url_of(where), PATIENCE_SECONDS)).connect()
