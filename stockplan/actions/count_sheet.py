"""The count sheet of a bay as a CSV file: written for the yard hand to fill in, and read back."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path
from typing import Any

from stockplan.actions.finding import Found
from stockplan.domain.limits import MOST_LENGTH_MM, MOST_WIDTH_MM
from stockplan.domain.stock import StockItem
from stockplan.domain.units import metres
from stockplan.errors import SheetFaults, StockplanError
from stockplan.report.csv_text import csv_text, without_apostrophe

ON_RECORD = ("tag", "product", "batch", "form", "width_m", "length_m")
TO_FILL_IN = ("found", "measured_width_m", "measured_length_m", "condition")
_NUMBER_OR_DATE = re.compile(r"[\d\s.,/+eE-]+")  # codes that a spreadsheet program takes for a number or a date
_LONG = 11  # digits: longer numbers come back as powers of ten
_YES, _NO = {"x", "yes", "y", "1", "✓"}, {"", "no", "n", "0", "-"}


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing found in a bay.

    Parameters
    ----------
    tag
        As written on it.
    width_mm, length_mm
        As measured, mm; None where it was not.
    condition
        A word such as wet; empty where none was noted.
    says
        What stands on the sheet in the columns that the record fills, by column.
    said_mm
        The size there, mm across and along; 0 where none stands.
    place
        Which row of which file that is.
    """

    tag: str
    width_mm: int | None = None
    length_mm: int | None = None
    condition: str = ""
    says: Mapping[str, str] = field(default_factory=dict)
    said_mm: tuple[int, int] = (0, 0)
    place: str = ""


def sheet_text(found: Iterable[Found]) -> str:
    """Write the count sheet of a bay: what is on record, and columns to fill in."""
    rows = [(*ON_RECORD, *TO_FILL_IN)]
    for one in found:
        item = one.item
        sizes = (metres(item.width_mm, 3), metres(item.length_mm, 3))
        rows.append((item.tag, item.product, item.batch, item.form.value, *sizes, "", "", "", one.condition))
    return csv_text(rows)


def check_not_filled_in(path: Path) -> None:
    """See that no count sheet that somebody has filled in is written over.

    Raises
    ------
    StockplanError
        When there is one.
    """
    if not path.is_file():
        return
    try:
        with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
            filled = any((row.get(name) or "").strip() for row in csv.DictReader(file) for name in TO_FILL_IN[:3])
    except (OSError, csv.Error):  # it is no count sheet
        return
    if filled:
        raise StockplanError(f"{path} is filled in and would be lost; read it with --found, or name another file")


def read_sheet(path: Path) -> list[Seen]:
    """Read a count sheet that was filled in; things whose `found` says no, or nothing, were not found.

    Parameters
    ----------
    path
        A CSV file with the column `tag`; without the column `found` everything in it was found.

    Raises
    ------
    SheetFaults
        When cells cannot be read; carries every fault.
    StockplanError
        When the file cannot be read, or nobody has filled it in: it would say that all that lies there is missing.
    """
    lines = _lines_of(path)
    header = [name.strip() for name in lines[0]] if lines else []
    faults = _header_faults(path.name, header)
    if "tag" not in header:
        raise SheetFaults(faults)
    seen: dict[str, Seen] = {}
    for number, cells in enumerate(lines[1:], start=2):
        place = f"{path.name}:{number}"
        one = _read_row(place, header, cells, faults) if any(cell.strip() for cell in cells) else None
        if one is not None and one.tag in seen:
            faults.append(f"{place}: tag: given twice, found {one.tag!r}, each thing is found once")
        elif one is not None:
            seen[one.tag] = one
    if faults:
        raise SheetFaults(faults)
    if "found" in header and not _is_marked(lines, header.index("found")):
        raise StockplanError(
            f"the count sheet {path} is not filled in: nothing stands under found; put an x there where a thing was "
            "found, or an n where it was not"
        )
    return list(seen.values())


def _is_marked(lines: Sequence[Sequence[str]], position: int) -> bool:
    """Whether something stands in a column below its heading, or no row is there."""
    rows = [cells for cells in lines[1:] if any(cell.strip() for cell in cells)]
    return not rows or any(len(cells) > position and cells[position].strip() for cells in rows)


def _lines_of(path: Path) -> list[list[str]]:
    from stockplan.store.sheet_files import not_comma_separated_utf8  # noqa: PLC0415

    try:
        data = path.read_bytes()
    except OSError as error:
        raise StockplanError(f"the count sheet {path} cannot be read: {error.strerror}") from error
    if problem := not_comma_separated_utf8(data):
        what, found, right = problem
        raise SheetFaults([f"{path.name}:1: {what}, found {found}, would be right: {right}"])
    text = data.decode("utf-8-sig", errors="surrogateescape")
    try:
        lines = list(csv.reader(io.StringIO(text, newline="")))
    except csv.Error as error:
        raise StockplanError(f"the count sheet {path} cannot be read: {error}") from error
    if not text.endswith(("\n", "\r")) and _ends_early(lines):
        right = f"all {len(lines[0])}, as in the other rows; the file seems to have been cut off while it was copied"
        raise SheetFaults([f"{path.name}:{len(lines)}: {len(lines[-1])} cells, would be right: {right}"])
    return lines


def _ends_early(lines: Sequence[Sequence[str]]) -> bool:
    """Whether the last row alone has fewer cells than the header; programs that leave commas out do so all over."""
    wide = len(lines[0])
    return len(lines) > 2 and len(lines[-1]) < wide <= min(len(cells) for cells in lines[:-1] if cells)


def _header_faults(file: str, header: Sequence[str]) -> list[str]:
    known = (*ON_RECORD, *TO_FILL_IN)
    right = ", ".join(known)
    faults = [f"{file}:1: {name}: an unknown column, would be right: {right}" for name in header if name not in known]
    twice = (name for name in dict.fromkeys(header) if name in known and header.count(name) > 1)
    faults += [f"{file}:1: {name}: a column given twice, would be right: once" for name in twice]
    if "tag" not in header:
        faults.append(f"{file}:1: tag: the column is missing, would be right: a column with the tags found")
    return faults


def _read_row(place: str, header: Sequence[str], cells: Sequence[str], faults: list[str]) -> Seen | None:
    """Read one row; None where it says that nothing was found, or cannot be read, which is noted."""
    if len(cells) > len(header):
        faults.append(
            f"{place}: {len(cells)} cells, would be right: {len(header)}, as in the first row; a size is "
            "written with a point, such as 3.97, as a comma begins the next cell"
        )
        return None
    # A row that ends early is one whose last cells are empty: some programs leave their commas out.
    row = {name: without_apostrophe(cell.strip()) for name, cell in zip_longest(header, cells, fillvalue="")}
    return _seen_in(place, row, faults)


def _seen_in(place: str, row: Mapping[str, str], faults: list[str]) -> Seen | None:
    from stockplan.store.sheet_cells import Quantity, Rule, Wrong, code, optional_code, read_cell  # noqa: PLC0415

    width = Quantity("a width in metres", 3, 0, MOST_WIDTH_MM, "metres, at most 6", "3.97", 0)
    length = Quantity("a length in metres", 3, 0, MOST_LENGTH_MM, "metres, at most 200", "24.85", 0)
    rules: dict[str, Rule] = {
        "tag": code,
        "width_m": width,
        "length_m": length,
        "measured_width_m": width,
        "measured_length_m": length,
        "condition": optional_code,
    }
    values: dict[str, Any] = {}
    for name, rule in rules.items():
        values[name] = read_cell(row.get(name, ""), rule)
        if isinstance(wrong := values[name], Wrong):
            faults.append(f"{place}: {name}: {wrong.what}, found {row.get(name, '')!r}, would be right: {wrong.right}")
            values[name] = None
    found = row.get("found", "x").casefold()
    if found not in _YES | _NO:
        faults.append(f"{place}: found: not yes or no, found {row['found']!r}, would be right: x, or nothing")
    sizes = (values["measured_width_m"] or None, values["measured_length_m"] or None)
    if found in _NO and any(sizes):
        told = repr(row["found"]) if row["found"] else "an empty cell"
        faults.append(f"{place}: found: not found, yet measured, found {told}, would be right: x")
    if values["tag"] is None or found in _NO:
        return None
    says = {name: row[name] for name in ON_RECORD[1:] if row.get(name)}
    said_mm = (values["width_m"] or 0, values["length_m"] or 0)
    return Seen(values["tag"], *sizes, values["condition"] or "", says, said_mm, place)


def not_as_on_record(one: Seen, item: StockItem) -> Iterator[str]:
    """Say what the sheet has otherwise than the record where only the record says it: nobody would read it there.

    Parameters
    ----------
    one
        A row of the sheet, read without a fault.
    item
        What is on record under its tag.
    """
    was = {"product": item.product, "batch": item.batch, "form": item.form.value}
    for name, text in one.says.items():
        if name in was and text.casefold() != was[name].casefold() and not _as_rewritten(text, was[name]):
            yield f"{one.place}: {name}: not what is on record, found {text!r}, would be right: {was[name]!r}"
    sizes = zip(("width_m", "length_m"), one.said_mm, (item.width_mm, item.length_mm), strict=True)
    for name, said_mm, size_mm in sizes:
        if said_mm not in {0, size_mm}:
            yield (
                f"{one.place}: {name}: not what is on record now, found {one.says[name]!r}, would be right: "
                f"{metres(size_mm, 3)}; what was measured stands in measured_{name}"
            )


def _as_rewritten(text: str, was: str) -> bool:
    """Whether a code may be what a spreadsheet program made of the one on record: zeros dropped, or a date of it."""
    if was.isdigit() and len(was) <= _LONG:
        return text.lstrip("0") == was.lstrip("0")
    return _NUMBER_OR_DATE.fullmatch(was) is not None


def typed(tags: Sequence[str]) -> list[Seen]:
    """Take tags typed one after another as things found as recorded."""
    return [Seen(tag) for tag in tags]
