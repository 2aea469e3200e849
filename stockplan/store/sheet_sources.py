"""Which sheets a folder or a workbook holds: those of known names are read, and what else lies there is named."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path

from stockplan.errors import SheetFaults
from stockplan.store.sheet_cells import nearest
from stockplan.store.sheet_faults import FaultLog, shown
from stockplan.store.sheet_files import SHEET_NAMES, RawSheet, read_csv, sheet_fault
from stockplan.store.sheet_workbook import read_workbook, workbook_titles

MOST_TITLES = 8  # of sheets that a message names
OTHER_KINDS = frozenset({".xlsx", ".xlsm", ".xlsb", ".xls", ".ods", ".numbers", ".tsv", ".txt"})  # not read in a folder


def read_sheets(path: Path, faults: FaultLog) -> dict[str, RawSheet | None]:
    """Read whatever sheets there are, by name; None for one that is there but cannot be read.

    Parameters
    ----------
    path
        The folder or the workbook.
    faults
        Where to note what is wrong, and to remark what is not read.

    Raises
    ------
    SheetFaults
        When there is no sheet of a known name, or no folder or workbook at all.
    """
    if path.is_dir():
        return _read_csv_files(path, faults)
    expected = "a folder with " + ", ".join(f"{name}.csv" for name in SHEET_NAMES) + ", or a workbook (.xlsx)"
    if not path.exists():
        raise SheetFaults([f"{path}: there is no such folder or file; would be right: {expected}"])
    if path.suffix.casefold() == ".csv":
        raise SheetFaults([f"{path}: a single CSV file; would be right: the folder it lies in"])
    if path.suffix.casefold() != ".xlsx":
        raise SheetFaults([f"{path}: neither a folder nor a workbook that can be read; would be right: {expected}"])
    try:
        titles = workbook_titles(path)
        sheets = read_workbook(path, faults)
    except (OSError, ValueError, KeyError, zipfile.BadZipFile, zlib.error, RuntimeError) as error:
        right = "a workbook saved as .xlsx, without a password"
        raise SheetFaults([f"{path}: the workbook cannot be read ({error}); would be right: {right}"]) from error
    if not titles:
        right = "a workbook saved as .xlsx, not in the strict form of it"
        raise SheetFaults([f"{path}: no sheet in it can be read, would be right: {right}"])
    return sheets | _check_titles(path, titles, f"{path.name} ", "", faults)


def _read_csv_files(path: Path, faults: FaultLog) -> dict[str, RawSheet | None]:
    files = sorted(entry for entry in path.iterdir() if entry.suffix.casefold() == ".csv")
    mistyped = _check_titles(path, [file.stem for file in files], "", ".csv", faults)
    others = [entry.name for entry in sorted(path.iterdir()) if entry.suffix.casefold() in OTHER_KINDS]
    _remark_unread(path, [name for name in others if not name.startswith(("~", "."))], ".csv", faults)
    by_name = {file.stem.casefold(): file for file in files}
    _remark_open_ends([by_name[name] for name in SHEET_NAMES if name in by_name], faults)
    return mistyped | {name: read_csv(by_name[name], name, faults) for name in SHEET_NAMES if name in by_name}


def _remark_open_ends(files: list[Path], faults: FaultLog) -> None:
    """Say which files end without a line end where others have one: copying them may have broken off in a last cell."""
    ended = {file: data.endswith((b"\n", b"\r")) for file in files if (data := _content(file))}
    if any(ended.values()):
        for file in [file for file, whole in ended.items() if not whole]:
            faults.remark(
                f"{file.name}: its last row has no line end, as in a file that was cut off while it was copied; "
                "see whether the row is whole"
            )


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError:  # told where the file is read
        return b""


def _check_titles(path: Path, titles: list[str], before: str, after: str, faults: FaultLog) -> dict[str, None]:
    """Note sheets that are there twice and names that look mistyped, and give the names meant by the latter.

    Raises
    ------
    SheetFaults
        When there is no sheet of a known name.
    """
    plain = [title.strip().casefold() for title in titles]
    absent = [name for name in SHEET_NAMES if name not in plain]
    if len(absent) == len(SHEET_NAMES):
        found = ", ".join(f"{title}{after}" for title in titles[:MOST_TITLES]) or "none"
        right = ", ".join(f"{name}{after}" for name in SHEET_NAMES)
        raise SheetFaults([f"{path}: no sheet of a known name, found {found}; would be right: some of {right}"])
    mistyped: dict[str, None] = {}
    for title, name in zip(titles, plain, strict=True):
        if name in SHEET_NAMES and plain.count(name) > 1:
            label = f"{before}{title}{after}"
            faults.add(sheet_fault(name, label, "the same sheet is there twice", shown(title), "one of them"))
        elif name not in SHEET_NAMES and (near := nearest(name, absent)):
            label = f"{before}{title}{after}"
            faults.add(sheet_fault(near, label, "a sheet of unknown name", shown(title), f"{near}{after}"))
            mistyped[near] = None
    passed_over = [f"{title}{after}" for title, name in zip(titles, plain, strict=True) if name not in SHEET_NAMES]
    _remark_unread(path, passed_over, after, faults)
    return mistyped


def _remark_unread(path: Path, names: list[str], after: str, faults: FaultLog) -> None:
    if names:
        named = ", ".join(shown(name) for name in names[:MOST_TITLES])
        more = f" and {len(names) - MOST_TITLES} more" if len(names) > MOST_TITLES else ""
        known = ", ".join(f"{name}{after}" for name in SHEET_NAMES)
        faults.remark(f"{path.name}: not read: {named}{more}; what is read is called {known}")
