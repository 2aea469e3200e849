"""Where the store is, and what tells a store from other files."""

from __future__ import annotations

import os
from pathlib import Path

from stockplan.errors import StoreError

HEAD = "0004"  # the revision this program writes; a test compares it with the migrations
STORE_VARIABLE = "STOCKPLAN_STORE"
SQLITE_APPLICATION_ID = 0x53544B50  # 'STKP'; written by the first migration
PATIENCE_SECONDS = 20.0  # how long to wait for another writer
_SQLITE_MAGIC = b"SQLite format 3\x00"


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
    """See that a path may hold a SQLite store, and make its folder where one is to be made.

    Parameters
    ----------
    path
        Where the store is, or is to be.
    create
        Whether it may be made.

    Raises
    ------
    StoreError
        When it is a folder, another sort of file, or not there and not to be made, or cannot be read.
    """
    try:
        if path.is_dir():
            raise StoreError(f"{path} is a folder; name a file, such as {path / 'stockplan.db'}")
        if path.exists():
            with path.open("rb") as file:
                start = file.read(len(_SQLITE_MAGIC))
            if start not in (b"", _SQLITE_MAGIC):
                raise StoreError(f"{path} is not a stockplan store; name another with --store")
        elif create:
            path.parent.mkdir(parents=True, exist_ok=True)
        else:
            raise StoreError(f"there is no store at {path}; make one with: stockplan --store {path} import FOLDER")
    except OSError as error:
        raise StoreError(f"the store {path} cannot be opened: {error.strerror}") from error
