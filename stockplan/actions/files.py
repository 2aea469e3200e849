"""Writing files so that a reader finds the old one or the new one, never half of one."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from stockplan.errors import StockplanError


def check_writable(path: Path) -> None:
    """Find out before the work begins that its result could not be written.

    Raises
    ------
    StockplanError
        When the folder is not there or may not be written to, or the path names a folder or a store.
    """
    if path.is_dir():
        raise StockplanError(f"{path} is a folder; name a file in it")
    if not path.absolute().parent.is_dir():
        raise StockplanError(f"the folder {path.absolute().parent} is not there; make it first, or name another file")
    if path.exists() and not path.is_file():  # a pipe, say, is written to as it stands
        return
    _check_no_store(path)
    folder = Path(os.path.realpath(path)).parent
    if not os.access(folder, os.W_OK):
        raise StockplanError(f"{path} cannot be written: the folder {folder} is read-only for you; name another file")


def write_text(path: Path, text: str) -> None:
    """Write a file in one step: beside its place first, then under its name.

    Parameters
    ----------
    path
        Where to; a file already there is replaced. Something that is no ordinary file, such as a pipe, is written to.
    text
        Written as UTF-8.

    Raises
    ------
    StockplanError
        When it cannot be written, or is a store.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file in one step, as `write_text` does.

    Raises
    ------
    StockplanError
        When it cannot be written, or is a store.
    """
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        _check_no_store(path)
        place = Path(os.path.realpath(path))  # through a link to the file it stands for
        unfinished = place.with_name(f".{place.name}.{os.getpid()}.unfinished")
        try:
            with unfinished.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(unfinished, place)
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise StockplanError(f"{path} cannot be written: {error.strerror}") from error


def _check_no_store(path: Path) -> None:
    """Refuse to write over a store: all that ever happened in the yard would be lost."""
    from stockplan.store.place import is_store  # noqa: PLC0415 - only where a file is written

    if path.is_file() and is_store(path):
        raise StockplanError(f"{path} is a store and would be lost; name another file")


def drawing_names(path: Path, products: Iterable[str]) -> dict[str, Path]:
    """Say which file each product's drawing goes to.

    Parameters
    ----------
    path
        `plan.svg` stays as it is for one product and becomes `plan-PRODUCT.svg` for several; `.svg` is added where the
        name has no ending.
    products
        Product codes; what cannot stand in a file name becomes an underscore.
    """
    path = path if path.suffix else path.with_suffix(".svg")
    codes = list(products)
    return {codes[0]: path} if len(codes) == 1 else _names_with(path, codes)


def lawn_drawing_names(path: Path, jobs: Iterable[str]) -> dict[str, Path]:
    """Say which file the drawing of each job's lawns goes to: `plan-lawns-JOB.svg` beside `plan.svg`.

    Parameters
    ----------
    path
        As for `drawing_names`.
    jobs
        Job codes; what cannot stand in a file name becomes an underscore.
    """
    path = path if path.suffix else path.with_suffix(".svg")
    return _names_with(path.with_name(f"{path.stem}-lawns{path.suffix}"), jobs)


def _names_with(path: Path, codes: Iterable[str]) -> dict[str, Path]:
    """A name of its own for each code, also where letter case is all that tells two apart."""
    names: dict[str, Path] = {}
    taken: set[str] = set()
    for code in codes:
        safe = "".join(character if character.isalnum() or character in "-_." else "_" for character in code)
        name, number = safe, 2
        while name.casefold() in taken:
            name, number = f"{safe}-{number}", number + 1
        taken.add(name.casefold())
        names[code] = path.with_name(f"{path.stem}-{name}{path.suffix}")
    return names
