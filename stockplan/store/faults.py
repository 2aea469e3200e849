"""What a database says, turned into what a person can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from stockplan.errors import StoreBusy, StoreError

_LOCK_NOT_AVAILABLE = "55P03"  # PostgreSQL, Appendix A: lock_timeout ran out
_OUT_OF_RANGE = "22003"  # PostgreSQL, Appendix A: numeric value out of range
_BY_STATE = {  # PostgreSQL, Appendix A: what it means, what to do; what the server says stands between
    "42501": (
        "does not let this user do that",
        "ask whoever looks after the server for the right to, or name another user",
    ),
    "25006": ("can only be looked at", "write to the server that this one copies, or ask for the right to write"),
    "42P07": ("holds tables of another program that are called as ours are", "name an empty database"),
    "22P05": ("cannot keep a character that was given", "keep the store in a database made with the encoding UTF8"),
}
_WRONG_OPTION = "connection option"  # libpq, of a parameter in the URL that it does not know
_REMEDIES = (  # what SQLite says, what it means, what to do
    ("file is not a database", "is not a stockplan store", "name another with --store"),
    ("malformed", "is damaged", "put back the last copy of it"),
    ("readonly", "cannot be written: it or its folder is read-only", "change the permission, or copy it elsewhere"),
    ("unable to open", "cannot be opened", "check that its folder exists and may be read and written"),
    ("disk is full", "cannot be written: the disk is full", "make room; nothing was stored"),
    (
        "disk i/o error",
        "cannot be read or written: the disk is full or gives errors",
        "make room or check it; nothing was stored",
    ),
)


@contextmanager
def plain_errors(store_name: str) -> Iterator[None]:
    """Turn errors of the database inside the block into `StoreError` or `StoreBusy`.

    Parameters
    ----------
    store_name
        How the store is named in the message.

    Raises
    ------
    StoreBusy
        When another program held the store all the while.
    StoreError
        When the database cannot be opened, read or written. A broken rule of the tables is a defect of the program and
        passes through unchanged.
    """
    try:
        yield
    except Exception as error:
        plain = plain_error(error, store_name)
        if plain is None:
            raise
        raise plain from error


def plain_error(error: Exception, store_name: str) -> StoreError | None:
    """Say what an error of the database means for the person; None for any other error and for a defect of the program.

    Parameters
    ----------
    error
        Of SQLite itself, or of SQLAlchemy, which wraps it.
    store_name
        How the store is named in the message.
    """
    if isinstance(error, UnicodeDecodeError):  # a name in SQLite's own tables; its message cannot be told
        return StoreError(f"{store_name} is damaged; put back the last copy of it")
    of_driver = getattr(error, "orig", None) or error
    if isinstance(of_driver, OverflowError) or getattr(of_driver, "sqlstate", None) == _OUT_OF_RANGE:
        return StoreError("a number was given that is larger than a store can hold; nothing was stored")
    if of_driver is error and not isinstance(error, sqlite3.Error):
        return None
    said = str(of_driver).strip()
    lower = said.lower()
    if refused := _refusal(of_driver, said, store_name):
        return refused
    if "locked" in lower or getattr(of_driver, "sqlstate", None) == _LOCK_NOT_AVAILABLE:
        return StoreBusy(f"the store {store_name} is being written by another program; wait a moment and try again")
    for sign, meaning, remedy in _REMEDIES:
        if sign in lower:
            return StoreError(f"{store_name} {meaning}; {remedy}")
    if getattr(error, "connection_invalidated", False) or type(of_driver).__name__ == "OperationalError":
        return StoreError(f"the store {store_name} cannot be used: {said}")
    return None


def _refusal(of_driver: object, said: str, store_name: str) -> StoreError | None:
    """Say why a server will not do what it well could; None when it is something else."""
    if found := _BY_STATE.get(getattr(of_driver, "sqlstate", None) or ""):
        meaning, remedy = found
        return StoreError(f"the store {store_name} {meaning} ({said.splitlines()[0]}); {remedy}; nothing was stored")
    if _WRONG_OPTION in said.lower():
        return StoreError(f"the store's URL cannot be used ({said}); leave that option out")
    return None
