"""Making a store's tables, and bringing an older store up to date, with a copy of the file kept first."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from stockplan import resources
from stockplan.errors import StoreError, StoreTooNew
from stockplan.store.connecting import writing
from stockplan.store.copies import keep_copy
from stockplan.store.restoring import use_write_ahead_log
from stockplan.store.session import Store, revision_of

NOT_ALLOWED = frozenset({"42501", "25006"})  # PostgreSQL, Appendix A: no privilege; a transaction that may only read


def migration_config(connection: Connection | None = None) -> Config:
    """Give alembic its settings: the folder that travels with the program, and the connection to work on."""
    config = Config()
    config.set_main_option("script_location", str(resources.migrations_folder()).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def bring_up_to_date(store: Store, *, may_create: bool) -> None:
    """Upgrade a store to this program's tables in one transaction; a SQLite file is copied first.

    Parameters
    ----------
    store
        A store that is empty, older or newer.
    may_create
        Whether an empty one may become a store.

    Raises
    ------
    StoreTooNew
        When its revision is unknown to this program.
    StoreError
        When it is empty and may not become a store, cannot be written, or the copy is not sound.
    """
    if store.engine.dialect.name == "sqlite" and not store.only_read:
        use_write_ahead_log(Path(store.engine.url.database or ""), store.name)
    with writing(store.engine).connect() as connection, _references_unwatched(connection):
        revision = revision_of(connection, store.name)  # again, now that no one else can write
        script = ScriptDirectory.from_config(migration_config())
        known = {entry.revision for entry in script.walk_revisions()}
        if revision is None and not may_create:
            raise StoreError(f"there is no store in {store.name}; make one with: stockplan --store … import FOLDER")
        if revision is not None and revision not in known:
            raise StoreTooNew(
                f"the store {store.name} was written by a newer stockplan (its tables are at {revision}, this program "
                f"knows up to {script.get_current_head()}); install that version or a later one"
            )
        if revision == script.get_current_head():
            return
        if store.only_read:
            raise StoreError(
                f"the store {store.name} was written by an older stockplan and must be brought up to date before it "
                "can be looked at, but it or its folder is read-only; change the permission, or copy it elsewhere"
            )
        if revision is not None and connection.dialect.name == "sqlite":
            _keep_copy(Path(store.engine.url.database or ""))
        with _told_to_who_may_not(store.name, revision):
            command.upgrade(migration_config(connection), "head")
        _check_references(connection, store.name)
        connection.commit()


@contextmanager
def _told_to_who_may_not(name: str, revision: str | None) -> Iterator[None]:
    """Say who can help where a server does not let this user change the tables of an older store."""
    try:
        yield
    except DBAPIError as error:
        if revision is None or getattr(error.orig, "sqlstate", None) not in NOT_ALLOWED:
            raise
        raise StoreError(
            f"the store {name} was written by an older stockplan and must be brought up to date before it can be "
            f"looked at, which this user may not do ({error.orig}); have somebody open it once who may"
        ) from error


def _keep_copy(path: Path) -> None:
    try:
        keep_copy(path, path.parent)
    except StoreError as error:
        raise StoreError(f"the store {path} was not upgraded: no copy could be kept first ({error})") from error


@contextmanager
def _references_unwatched(connection: Connection) -> Iterator[None]:
    """Let SQLite rebuild a table that others refer to; dropping the old one would take their rows along."""
    raw = connection.connection.dbapi_connection
    if connection.dialect.name != "sqlite" or raw is None:
        yield
        return
    raw.cursor().execute("PRAGMA foreign_keys = OFF")  # has no effect once a transaction has begun
    try:
        yield
    finally:
        connection.invalidate()  # the next one watches them again


def _check_references(connection: Connection, name: str) -> None:
    if connection.dialect.name == "sqlite" and connection.execute(text("PRAGMA foreign_key_check")).first():
        raise StoreError(f"the store {name} was not upgraded: some of its rows refer to others that are not there")
