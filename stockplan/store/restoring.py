"""Putting a copy in the place of a store: whole or not at all, and what was there is kept."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import time
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from stockplan.errors import StoreBusy, StoreError
from stockplan.store.copies import (
    BESIDE,
    Check,
    check_database,
    check_digits,
    copy_file,
    copy_from,
    digest,
    folder_to_disk,
    give_name,
    to_disk,
)
from stockplan.store.place import PATIENCE_SECONDS
from stockplan.store.stored import storing

_STAGING, _ABANDONED_SECONDS = ".restoring-", 24 * 3600


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
    if place.is_symlink():
        place = Path(os.path.realpath(place))  # the store itself is exchanged, not the link to it
    if not copy.is_file():
        raise StoreError(f"there is no copy at {copy}")
    if place.exists() and place.samefile(copy):
        raise StoreError(f"{copy} is the store itself; name a copy of it")
    try:
        if not digest(copy).startswith(check_digits(copy)):
            raise StoreError(f"{copy} is damaged: it is not what it was when it was written; take an older copy")
        check_database(copy)
        place.parent.mkdir(parents=True, exist_ok=True)
        _clear_up(place.parent)
        with TemporaryDirectory(prefix=_STAGING, dir=place.parent) as folder:
            staged = Path(folder) / place.name
            copy_file(copy, staged)
            check(staged)
            _in_one_file(staged)
            to_disk(staged)
            try:
                return _exchange(staged, place, patience_seconds)
            finally:
                with suppress(StoreError, sqlite3.Error):  # an ordinary journal serves as well, if less quickly
                    use_write_ahead_log(place, str(place))
    except (sqlite3.Error, OSError) as error:
        raise StoreError(f"{copy} could not be put back: {error}") from error


def _clear_up(folder: Path) -> None:
    """Remove what a killed program left unfinished long ago; what is younger may be in use."""
    for left in folder.glob(f"{_STAGING}*"):
        if left.stat().st_mtime < time.time() - _ABANDONED_SECONDS:
            shutil.rmtree(left, ignore_errors=True)


def _exchange(staged: Path, place: Path, patience_seconds: float) -> Path | None:
    """Put the new store under the name of the old one; the old one keeps its content under another name."""
    if not place.exists():
        for suffix in BESIDE:  # left by a store that is gone; they would be taken for the new one's
            place.with_name(place.name + suffix).unlink(missing_ok=True)
        with storing():
            os.replace(staged, place)
            folder_to_disk(place.parent)
        return None
    _take_after(staged, place)
    stem = f"{place.stem}-replaced-{datetime.now(UTC):%Y-%m-%d-%H%M%S}Z"
    old = staged.with_name("old")
    with closing(sqlite3.connect(place, timeout=patience_seconds, isolation_level=None)) as connection:
        sound = _keep_others_out(connection, place, patience_seconds)
        if sound:
            # Through the same connection: opening and closing the file once more would let go of its locks.
            copy_from(connection, place, old)
        else:
            shutil.copyfile(place, old)
        to_disk(old)
        kept = give_name(old, place.parent / stem, place.suffix)
        with storing():
            for suffix in () if sound else BESIDE:
                beside = place.with_name(place.name + suffix)
                if beside.exists():
                    os.replace(beside, kept.with_name(kept.name + suffix))
            os.replace(staged, place)
            folder_to_disk(place.parent)
    return kept


def _take_after(new: Path, old: Path) -> None:
    """Let the same people read and write a file as another, as far as this user may decide that."""
    owned = old.stat()
    if hasattr(os, "chown"):  # not on Windows
        for user in (owned.st_uid, -1):  # only root may give a file away; -1 leaves it with whose it is
            with suppress(OSError):
                os.chown(new, user, owned.st_gid)
                break
    with suppress(OSError):  # a file system that knows no such thing
        new.chmod(stat.S_IMODE(owned.st_mode))


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


def _in_one_file(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
