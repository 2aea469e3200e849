"""Making a store's tables, and bringing an older store up to date, with a copy of the file kept first."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from stockplan import resources
from stockplan.errors import StoreBusy, StoreError, StoreTooNew
from stockplan.store.session import PATIENCE_SECONDS, Store, revision_of, writing


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
        When it is empty and may not become a store, or the copy is not sound.
    """
    if store.engine.dialect.name == "sqlite":
        _use_write_ahead_log(Path(store.engine.url.database or ""), store.name)
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
        if revision is not None and connection.dialect.name == "sqlite":
            keep_copy(Path(store.engine.url.database or ""), revision)
        command.upgrade(migration_config(connection), "head")
        _check_references(connection, store.name)
        connection.commit()


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


def keep_copy(path: Path, revision: str) -> Path:
    """Copy a SQLite store beside itself, check the copy, and return where it is.

    Parameters
    ----------
    path
        The store.
    revision
        Its revision; part of the copy's name, with the moment in UTC.

    Raises
    ------
    StoreError
        When the copy cannot be made or is not sound; nothing has been changed then.
    """
    stamp = datetime.now(UTC).strftime("%Y-%m-%d-%H%M%S")
    final = path.with_name(f"{path.stem}-copy-{stamp}-tables-{revision}{path.suffix}")
    unfinished = final.with_name(final.name + ".unfinished")
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(unfinished)) as target:
            source.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")  # one file, complete in itself
            verdict = target.execute("PRAGMA integrity_check").fetchone()[0]
            (found,) = target.execute("SELECT version_num FROM alembic_version").fetchone()
        if verdict != "ok" or found != revision:
            raise StoreError(f"the store {path} was not upgraded: the copy made first is not sound ({verdict})")
        os.replace(unfinished, final)
    except (sqlite3.Error, OSError) as error:
        raise StoreError(f"the store {path} was not upgraded: no copy could be kept first ({error})") from error
    finally:
        unfinished.unlink(missing_ok=True)
    return final


def _use_write_ahead_log(path: Path, name: str) -> None:
    """Let readers read while one writes; a file system that cannot do so keeps the ordinary journal."""
    give_up = time.monotonic() + PATIENCE_SECONDS
    while True:
        try:
            with closing(sqlite3.connect(path)) as connection:
                if connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
                    connection.execute("PRAGMA journal_mode = WAL")
                return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                raise StoreError(f"the store {name} cannot be written: {error}") from error
            if time.monotonic() > give_up:
                raise StoreBusy(f"the store {name} is being written by another program; try again") from error
            time.sleep(0.05)
