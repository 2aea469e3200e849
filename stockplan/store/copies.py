"""Copies of a SQLite store: made while others write, checked before they get their name, and put back whole.

A copy is one file, complete in itself, named `yard-copy-2026-11-30-163000Z-tables-0004-check-1f0c….db`: the store, the
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
from contextlib import closing, suppress
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from stockplan.errors import StoreBusy, StoreError
from stockplan.store.place import PATIENCE_SECONDS, SQLITE_APPLICATION_ID
from stockplan.store.rows import as_moment

Check = Callable[[Path], None]
CHECK_DIGITS = 12
_CHECK = re.compile(rf"-check-([0-9a-f]{{{CHECK_DIGITS}}})(?:-\d+)?\.\w+$")
_BESIDE = ("-wal", "-shm", "-journal")  # what SQLite keeps beside a store


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
        try:
            _copy(path, unfinished)
            revision = check_database(unfinished)
            if check is not None:
                check(unfinished)
            _to_disk(unfinished)
            digits = digest(unfinished)[:CHECK_DIGITS]
            stem = folder / f"{path.stem}-copy-{stamp}-tables-{revision}-check-{digits}"
            return _name(unfinished, stem, path.suffix)
        finally:
            for suffix in ("", *_BESIDE):
                unfinished.with_name(unfinished.name + suffix).unlink(missing_ok=True)
    except (sqlite3.Error, OSError) as error:
        raise StoreError(f"no copy of {path} could be kept in {folder}: {error}") from error


def check_database(path: Path) -> str:
    """Have SQLite check a store, and return the revision of its tables.

    Raises
    ------
    StoreError
        When it is damaged, or is no store of this program.
    """
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
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
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            found = connection.execute("SELECT number, at FROM movement ORDER BY number DESC LIMIT 1").fetchone()
        return (found[0], as_moment(found[1])) if found else (0, None)
    except (sqlite3.Error, ValueError) as error:
        raise StoreError(f"{path} cannot be read: {error}") from error


def digest(path: Path) -> str:
    """Work out the SHA-256 of a file, in hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def has_check_digits(path: Path) -> bool:
    """Whether a copy's name still holds the digits by which any change of it shows."""
    return _CHECK.search(path.name) is not None


def restore(place: Path, copy: Path, check: Check, patience_seconds: float = PATIENCE_SECONDS) -> Path | None:
    """Put a copy in the place of a store, whole or not at all, and return where the store that was there is now.

    Parameters
    ----------
    place
        Where the store is, or was.
    copy
        The copy; it is left as it is.
    check
        Looks at the copy of the copy that is to be put there, may bring it up to date, and raises when it is not in
        order.
    patience_seconds
        How long to wait for others to let go of the store; default 20.

    Raises
    ------
    StoreBusy
        When another program has the store open.
    StoreError
        When the copy is not there, is damaged, or the files cannot be written. The store is then as it was.
    """
    if not copy.is_file():
        raise StoreError(f"there is no copy at {copy}")
    if place.exists() and place.samefile(copy):
        raise StoreError(f"{copy} is the store itself; name a copy of it")
    told = _CHECK.search(copy.name)
    try:
        if told and not digest(copy).startswith(told[1]):
            raise StoreError(f"{copy} is damaged: it is not what it was when it was written; take an older copy")
        check_database(copy)
        place.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix=".restoring-", dir=place.parent) as folder:
            staged = Path(folder) / place.name
            _copy(copy, staged)
            check(staged)
            _in_one_file(staged)
            _to_disk(staged)
            try:
                return _exchange(staged, place, patience_seconds)
            finally:
                with suppress(StoreError, sqlite3.Error):  # an ordinary journal serves as well, if less quickly
                    use_write_ahead_log(place, str(place))
    except (sqlite3.Error, OSError) as error:
        raise StoreError(f"{copy} could not be put back: {error}") from error


def _copy(path: Path, target: Path) -> None:
    with closing(sqlite3.connect(path)) as source:
        _copy_from(source, path, target)


def _copy_from(source: sqlite3.Connection, path: Path, target: Path) -> None:
    give_up = time.monotonic() + PATIENCE_SECONDS

    def watch(status: int, _remaining: int, _total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > give_up:
            raise StoreBusy(f"the store {path} is being written by another program; wait a moment and try again")

    with closing(sqlite3.connect(target)) as made:
        source.backup(made, progress=watch)
        made.execute("PRAGMA journal_mode = DELETE")  # one file, complete in itself


def _in_one_file(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def _to_disk(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _folder_to_disk(folder: Path) -> None:
    if os.name == "posix":  # elsewhere a folder cannot be opened
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _name(finished: Path, stem: Path, suffix: str) -> Path:
    """Give a finished file its name, or the next free one like it."""
    for number in count(1):
        final = stem.with_name(f"{stem.name}{f'-{number}' if number > 1 else ''}{suffix or '.db'}")
        try:
            _link(finished, final)
        except FileExistsError:
            continue
        _folder_to_disk(final.parent)
        return final
    raise AssertionError


def _link(path: Path, final: Path) -> None:
    """Give a file a second name, unless there is one of that name; a copy where the file system has no such thing."""
    try:
        os.link(path, final)
    except FileExistsError:
        raise
    except OSError:
        with final.open("xb") as target, path.open("rb") as source:
            shutil.copyfileobj(source, target)
            target.flush()
            os.fsync(target.fileno())


def _exchange(staged: Path, place: Path, patience_seconds: float) -> Path | None:
    """Put the new store under the name of the old one; the old one keeps its content under another name."""
    if not place.exists():
        for suffix in _BESIDE:  # left by a store that is gone; they would be taken for the new one's
            place.with_name(place.name + suffix).unlink(missing_ok=True)
        os.replace(staged, place)
        _folder_to_disk(place.parent)
        return None
    stem = f"{place.stem}-replaced-{datetime.now(UTC):%Y-%m-%d-%H%M%S}Z"
    old = staged.with_name("old")
    with closing(sqlite3.connect(place, timeout=patience_seconds, isolation_level=None)) as connection:
        sound = _keep_others_out(connection, place, patience_seconds)
        if sound:
            # Through the same connection: opening and closing the file once more would let go of its locks.
            _copy_from(connection, place, old)
        else:
            shutil.copyfile(place, old)
        _to_disk(old)
        kept = _name(old, place.parent / stem, place.suffix)
        for suffix in () if sound else _BESIDE:
            beside = place.with_name(place.name + suffix)
            if beside.exists():
                os.replace(beside, kept.with_name(kept.name + suffix))
        os.replace(staged, place)
        _folder_to_disk(place.parent)
    return kept


def _keep_others_out(connection: sqlite3.Connection, place: Path, patience_seconds: float) -> bool:
    """Hold a store alone, all of it in one file; False when it is damaged and cannot be held."""
    give_up = time.monotonic() + patience_seconds
    while True:
        try:
            connection.execute("PRAGMA journal_mode = DELETE")  # refused while anyone else has the store open
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")  # what is locked stays locked
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("COMMIT")  # a copy cannot be taken inside a transaction
            return True
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                raise
            if time.monotonic() > give_up:
                raise StoreBusy(f"the store {place} is open in another program; end it there, then restore") from error
            time.sleep(0.05)
        except sqlite3.DatabaseError:  # neither busy nor forbidden: it is damaged, which is why it is to be replaced
            return False


def use_write_ahead_log(path: Path, name: str) -> None:
    """Let readers read while one writes; a file system that cannot do so keeps the ordinary journal.

    Parameters
    ----------
    path, name
        The store, and how it is named in messages.

    Raises
    ------
    StoreBusy
        When another program held the store all the while.
    StoreError
        When it cannot be written.
    """
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
