"""Keeping copies of the store, and putting one back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from stockplan.errors import StoreError, StoreTooNew

FOLDER = "copies"  # beside the store, unless another is named


@dataclass(frozen=True, slots=True)
class Ending:
    """How far a ledger goes.

    Parameters
    ----------
    number
        Of its last movement; 0 when there is none.
    at
        When that was written; None when there is none.
    """

    number: int
    at: datetime | None


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy that was made.

    Parameters
    ----------
    path
        Where it is.
    ending
        How far its ledger goes.
    """

    path: Path
    ending: Ending


@dataclass(frozen=True, slots=True)
class PutBack:
    """A copy that was put back.

    Parameters
    ----------
    store
        The store.
    ending
        How far its ledger goes now.
    kept, kept_ending
        Where the store that was there before is, and how far its ledger goes; None when there was none, or when it
        was damaged.
    sure
        Whether the copy's name still held its check digits, so that it is known to be what was written.
    """

    store: Path
    ending: Ending
    kept: Path | None
    kept_ending: Ending | None
    sure: bool


def back_up(where: str | None, folder: Path | None = None) -> Copied:
    """Copy the store while others may work with it; the copy is checked in full before it gets its name.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    folder
        Where to; default a folder `copies` beside the store.

    Raises
    ------
    StoreError
        When the store is on a server, is not in order, or cannot be read, or the copy cannot be written.
    """
    from stockplan.store.copies import keep_copy  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    place = _file(where, _DUMP)
    open_store(where).close()  # an older store is brought up to date first, as by every command
    copy = keep_copy(place, folder or place.parent / FOLDER, _in_order)
    return Copied(copy, ending(copy))


def put_back(where: str | None, copy: Path) -> PutBack:
    """Put a copy in the place of the store; the store that was there is kept beside it.

    Parameters
    ----------
    where
        The store; see `locate_store`. It need not be there, and may be damaged.
    copy
        The copy; it is left as it is.

    Raises
    ------
    StoreTooNew
        When a newer version of the program wrote the copy.
    StoreBusy
        When another program has the store open.
    StoreError
        When the store is on a server, or the copy is not there, damaged or not in order. The store is then as it was.
    """
    from stockplan.store.copies import check_digits  # noqa: PLC0415
    from stockplan.store.restoring import restore  # noqa: PLC0415

    place = _file(where, _LOAD)

    def check(staged: Path) -> None:
        try:
            _in_order(staged)
        except StoreTooNew as error:
            raise StoreTooNew(str(error).replace(str(staged), str(copy))) from error

    kept = restore(place, copy, check)
    return PutBack(place, ending(place), kept, _ending_if_sound(kept), bool(check_digits(copy)))


_DUMP = "back it up with the server's own tools, such as: pg_dump --format=custom --file=yard.dump URL"
_LOAD = "put a dump back with the server's own tools, such as: pg_restore --clean --if-exists --dbname=URL yard.dump"


def _file(where: str | None, otherwise: str) -> Path:
    from stockplan.store.connecting import file_of  # noqa: PLC0415

    place = file_of(where)
    if place is None:
        raise StoreError(f"this store is kept on a PostgreSQL server; {otherwise}")
    return place


def _in_order(path: Path) -> None:
    from stockplan.actions.looking import verify  # noqa: PLC0415

    _, faults = verify(str(path))
    if faults:
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        raise StoreError(f"the store is not in order, so no copy of it is taken for a good one: {faults[0]}{more}")


def ending(path: Path) -> Ending:
    """Say how far the ledger in a file goes.

    Raises
    ------
    StoreError
        When it cannot be read.
    """
    from stockplan.store.copies import last_movement  # noqa: PLC0415

    return Ending(*last_movement(path))


def _ending_if_sound(path: Path | None) -> Ending | None:
    if path is None:
        return None
    try:
        return ending(path)
    except StoreError:
        return None
