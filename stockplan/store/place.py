"""Where the store is, whether its file may be there, and how one that may not be written is looked at.

Nothing here, nor anywhere else, opens the file of a store but SQLite itself: POSIX drops all locks a process has on a
file as soon as the process closes it once, SQLite's among them ("How To Corrupt An SQLite Database File", 2.2). Another
process then takes this one for gone, and the log beside the store away, and what is written next is lost.
"""

from __future__ import annotations

import os
import shlex
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from stockplan.errors import StoreBusy, StoreError

HEAD = "0005"  # the revision this program writes; a test compares it with the migrations
STORE_VARIABLE = "STOCKPLAN_STORE"
SQLITE_APPLICATION_ID = 0x53544B50  # 'STKP'; written by the first migration
PATIENCE_SECONDS = 20.0  # how long to wait for another writer
# Writes go from the log into the file when the last process closes it, and not before: with SQLite up to 3.51.2 two
# processes that carry them over while a third writes can, very rarely, lose what it wrote (sqlite.org/wal.html, 11).
NO_EARLY_CHECKPOINT = "PRAGMA wal_autocheckpoint = 0"
_PRIMARY = 0xFF  # the part of SQLite's result codes that says what, without the finer why


def locate_store(given: str | None) -> str:
    """Say which store is meant: the one given, else STOCKPLAN_STORE, else the user's own.

    Parameters
    ----------
    given
        A path or a URL, or nothing.
    """
    if where := given or os.environ.get(STORE_VARIABLE):
        return where
    import platformdirs  # noqa: PLC0415 - most people name their store

    return str(platformdirs.user_data_path("stockplan", False) / "stockplan.db")


def check_file(path: Path, create: bool) -> None:
    """See that a file is at a path, and make its folder where one is to be made; what it holds, SQLite says.

    Parameters
    ----------
    path
        Where the store is, or is to be.
    create
        Whether it may be made.

    Raises
    ------
    StoreError
        When it is a folder, or not there and not to be made, or its folder cannot be read or made.
    """
    try:
        if path.is_dir():
            raise StoreError(f"{path} is a folder; name a file, such as {path / 'stockplan.db'}")
        if path.exists():
            return
        if create:
            path.parent.mkdir(parents=True, exist_ok=True)
        else:
            named = "" if str(path) == locate_store(None) else f"--store {shlex.quote(str(path))} "
            raise StoreError(f"there is no store at {path}; make one with: stockplan {named}import FOLDER")
    except OSError as error:
        raise StoreError(f"the store {path} cannot be opened: {error.strerror}") from error


def is_store(path: Path) -> bool:
    """Say whether a file is a SQLite store of this program, whatever its tables are; a damaged one may not be told."""
    try:
        only_read = sealed(path)
        address = only_read.address if only_read else f"{path.absolute().as_uri()}?mode=rw"
        with closing(sqlite3.connect(address, uri=True)) as connection:
            (marked,) = connection.execute("PRAGMA application_id").fetchone()
    except sqlite3.OperationalError as error:  # it cannot be read, which may be because somebody writes it
        return error.sqlite_errorcode & _PRIMARY == sqlite3.SQLITE_BUSY
    except sqlite3.DatabaseError:  # it is something else
        return False
    return bool(marked == SQLITE_APPLICATION_ID)


class Sealed:
    """A SQLite store that may be read but not written, nor anything beside it, so that SQLite itself will not open it.

    Nobody's last writes lie beside it, so the file alone is the whole store. Another user who may write can still
    begin to; whoever reads then is told.

    Parameters
    ----------
    path
        The file.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.address = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
        self._before = self._stamp()

    def _stamp(self) -> tuple[int, ...]:
        found = self.path.stat()
        return found.st_mtime_ns, found.st_size, *_beside(self.path)

    @property
    def is_whole(self) -> bool:
        """Whether the file alone is a store: not empty, and nobody's last writes lay beside it when it was opened."""
        _, size, *beside = self._before
        return size > 0 and not any(beside)

    @contextmanager
    def undisturbed(self) -> Iterator[None]:
        """Read inside the block.

        Raises
        ------
        StoreBusy
            When somebody wrote since the store was opened; what was read may then be half old and half new.
        """
        try:
            yield
        finally:
            if self._stamp() != self._before:
                raise StoreBusy(f"the store {self.path} was written while it was read; try again")


def sealed(path: Path) -> Sealed | None:
    """Say whether a store can only be looked at; None where SQLite can open it, or says itself why not."""
    allowed = {"effective_ids": os.access in os.supports_effective_ids}
    folder = Path(os.path.realpath(path)).parent
    in_folder = os.access(folder, os.W_OK, **allowed)
    if in_folder and os.access(path, os.W_OK, **allowed):
        return None
    found = Sealed(path)
    if in_folder or not found.is_whole:
        # Where the folder may be written SQLite would make its log there, as this user's, and leave it; whoever may
        # write the store could then do so no longer.
        return found if found.is_whole else None
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            connection.execute("SELECT 1 FROM sqlite_master").fetchone()
    except sqlite3.OperationalError as error:  # what it must have beside the file is not there and cannot be made
        unopened = error.sqlite_errorcode & _PRIMARY in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)
        return found if unopened else None
    except sqlite3.DatabaseError:  # told again by whoever opens it
        return None
    return None


def _beside(path: Path) -> tuple[int, ...]:
    """How many bytes of writes lie beside a store in its log and in its journal, where SQLite has not ended them."""
    file = Path(os.path.realpath(path))  # they lie beside the file, not beside a link to it
    beside = (file.with_name(f"{file.name}{end}") for end in ("-wal", "-journal"))
    return tuple(found.stat().st_size if found.exists() else 0 for found in beside)
