"""Copies of a SQLite store: made while others write, and checked before they get their name.

A copy is one file, complete in itself, named `yard-copy-2026-11-30-163000Z-tables-0005-check-1f0c….db`: the store, the
moment in UTC, the revision of its tables, and the first digits of its SHA-256, by which a single changed bit shows.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing, nullcontext
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from stockplan.errors import StoreBusy, StoreError
from stockplan.store.place import PATIENCE_SECONDS, SQLITE_APPLICATION_ID, sealed
from stockplan.store.rows import as_moment

Check = Callable[[Path], None]
CHECK_DIGITS = 12
_CHECK = re.compile(rf"-check-([0-9a-f]{{{CHECK_DIGITS}}})(?:-\d+)?\.\w+$")
_REMEDY = "name a folder that may be written and has room"
BESIDE = ("-wal", "-shm", "-journal")  # what SQLite keeps beside a store


def keep_copy(path: Path, folder: Path, check: Check | None = None) -> Path:
    """Copy a store while others may write to it, and return where the copy is; nothing is ever overwritten.

    Parameters
    ----------
    path
        The store.
    folder
        Where to; made when it is not there.
    check
        Looks at the finished copy before it gets its name, and raises when it must not have one; default nothing
        beside the database's own checks.

    Raises
    ------
    StoreBusy
        When another program held the store all the while.
    StoreError
        When there is no store, the copy cannot be made, or is not sound.
    """
    if not path.is_file():
        raise StoreError(f"there is no store at {path} to copy")
    stamp = f"{datetime.now(UTC):%Y-%m-%d-%H%M%S}Z"
    unfinished = folder / f"{path.stem}-copy-{stamp}-{os.getpid()}.unfinished"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        unfinished.touch()  # where it may not be made, the system says why, and SQLite would not
        try:
            copy_file(path, unfinished)
            revision = check_database(unfinished)
            if check is not None:
                check(unfinished)
            to_disk(unfinished)
            digits = digest(unfinished)[:CHECK_DIGITS]
            stem = folder / f"{path.stem}-copy-{stamp}-tables-{revision}-check-{digits}"
            return give_name(unfinished, stem, path.suffix)
        finally:
            for suffix in ("", *BESIDE):
                unfinished.with_name(unfinished.name + suffix).unlink(missing_ok=True)
    except OSError as error:
        told = f"no copy of {path} could be kept in {folder}: {error.strerror or error}"
        raise StoreError(f"{told}; {_REMEDY}") from error
    except sqlite3.Error as error:
        no_room = getattr(error, "sqlite_errorcode", 0) & 0xFF in {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR}
        told = f"no copy of {path} could be kept in {folder}: {error}"
        raise StoreError(f"{told}; {_REMEDY}" if no_room else told) from error


def check_database(path: Path) -> str:
    """Have SQLite check a store, and return the revision of its tables.

    Raises
    ------
    StoreError
        When it is damaged, or is no store of this program.
    """
    try:
        only_read = sealed(path)
        address = only_read.address if only_read else f"{path.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as connection:
            (mark,) = connection.execute("PRAGMA application_id").fetchone()
            faults = [line for (line,) in connection.execute("PRAGMA integrity_check") if line != "ok"]
            faults += [f"a row of {row[0]} refers to a {row[2]} that is not there" for row in
                       connection.execute("PRAGMA foreign_key_check")]  # fmt: skip
            if mark != SQLITE_APPLICATION_ID:
                raise StoreError(f"{path} is not a stockplan store")
            if not faults:
                revision: str = connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]
                return revision
    except (sqlite3.Error, TypeError) as error:
        raise StoreError(f"{path} is damaged: {error}") from error
    raise StoreError(f"{path} is damaged: {faults[0]}")


def last_movement(path: Path) -> tuple[int, datetime | None]:
    """Give number and moment of the last movement in a store's file; 0 and None when nothing has happened yet.

    Raises
    ------
    StoreError
        When it cannot be read.
    """
    try:
        # Not read-only: that would leave beside a store what SQLite makes there.
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True)) as connection:
            found = connection.execute("SELECT number, at FROM movement ORDER BY number DESC LIMIT 1").fetchone()
        return (found[0], as_moment(found[1])) if found else (0, None)
    except (sqlite3.Error, ValueError) as error:
        raise StoreError(f"{path} cannot be read: {error}") from error


def digest(path: Path) -> str:
    """Work out the SHA-256 of a file, in hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def check_digits(path: Path) -> str:
    """Give the digits in a copy's name by which any change of it shows; empty when it has lost them."""
    told = _CHECK.search(path.name)
    return told[1] if told else ""


def copy_file(path: Path, target: Path) -> None:
    """Copy a store to a file that is complete in itself, while others may write; reading it is enough.

    Parameters
    ----------
    path
        The store.
    target
        Where to.

    Raises
    ------
    StoreBusy
        When another program held it all the while, or wrote to one that this program may only read.
    """
    only_read = sealed(path)
    undisturbed = only_read.undisturbed() if only_read else nullcontext()
    opened = sqlite3.connect(only_read.address, uri=True) if only_read else sqlite3.connect(path)
    with closing(opened) as source, undisturbed:
        copy_from(source, path, target)


def copy_from(source: sqlite3.Connection, path: Path, target: Path) -> None:
    """Copy a store through an open connection to it.

    Raises
    ------
    StoreBusy
        When another program held it all the while.
    """
    give_up = time.monotonic() + PATIENCE_SECONDS

    def watch(status: int, _remaining: int, _total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > give_up:
            raise StoreBusy(f"the store {path} is being written by another program; wait a moment and try again")

    with closing(sqlite3.connect(target)) as made:
        source.backup(made, progress=watch)
        made.execute("PRAGMA journal_mode = DELETE")  # one file, complete in itself


def to_disk(path: Path) -> None:
    """Wait until what was written to a file is on the disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def folder_to_disk(folder: Path) -> None:
    """Wait until the names in a folder are on the disk."""
    if os.name == "posix":  # elsewhere a folder cannot be opened
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def give_name(finished: Path, stem: Path, suffix: str) -> Path:
    """Give a finished file its name, or the next free one like it.

    Parameters
    ----------
    finished
        The file.
    stem, suffix
        Of the name; a number goes between them where the name is taken.
    """
    for number in count(1):
        final = stem.with_name(f"{stem.name}{f'-{number}' if number > 1 else ''}{suffix or '.db'}")
        try:
            _link(finished, final)
        except FileExistsError:
            continue
        folder_to_disk(final.parent)
        return final
    raise AssertionError


def _link(path: Path, final: Path) -> None:
    """Give a file a second name, unless there is one of that name; a copy where the file system has no such thing."""
    try:
        os.link(path, final)
    except FileExistsError:
        raise
    except OSError:
        target = final.open("xb")
        try:
            with target, path.open("rb") as source:
                shutil.copyfileobj(source, target)
                target.flush()
                os.fsync(target.fileno())
        except BaseException:
            final.unlink(missing_ok=True)
            raise
