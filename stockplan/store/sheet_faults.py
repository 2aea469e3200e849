"""Faults in spreadsheets: collected as they are found, raised together in reading order."""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.errors import SheetFaults, SurveyFaults

WHOLE_ROW = "(row)"  # stands for the column when a row as a whole is wrong
MOST_SHOWN = 60  # characters of a wrong cell that a message repeats
_FIRST_SURROGATE, _LAST_SURROGATE = "\udc80", "\udcff"


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a fault lies, in the order a person reads.

    Parameters
    ----------
    sheet
        Position of the file among the files of a folder.
    row
        Row as a spreadsheet numbers it: the header is row 1.
    position
        Position of the column in the file, from 0; -1 for the row as a whole.
    """

    sheet: int
    row: int
    position: int


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault, ready to print."""

    place: Place
    label: str
    column: str
    what: str
    found: str
    right: str

    def __str__(self) -> str:
        where = f"{_all_visible(self.label)}:{self.place.row}: {_all_visible(self.column)}"
        return f"{where}: {self.what}, found {self.found}, would be right: {self.right}"


class FaultLog:
    """Every fault found so far, and what a person should know of how the sheets were read though it is no fault."""

    def __init__(self) -> None:
        self._faults: list[Fault] = []
        self.remarks: list[str] = []

    def remark(self, text: str) -> None:
        """Keep a sentence to be told when there is no fault."""
        self.remarks.append(text)

    def add(self, fault: Fault) -> None:
        """Note one fault."""
        self._faults.append(fault)

    def say_only(self, fault: Fault) -> None:
        """Note one fault in the place of all others of its sheet, which come of it."""
        self._faults = [other for other in self._faults if other.label != fault.label]
        self.add(fault)

    def raise_if_any(self) -> None:
        """Raise all faults in order of file, row and column.

        Raises
        ------
        SheetFaults
            When there is at least one.
        """
        if self._faults:
            raise SheetFaults([str(fault) for fault in sorted(self._faults, key=lambda fault: fault.place)])


def shown(text: str) -> str:
    """Show a cell in a message: quoted, what cannot be seen escaped, long text cut short."""
    if not text:
        return "an empty cell"
    cut = text if len(text) <= MOST_SHOWN else text[:MOST_SHOWN] + "…"
    return f"'{_all_visible(cut)}'"


def _all_visible(text: str) -> str:
    return "".join(_visible(character) for character in text)


def _visible(character: str) -> str:
    if _FIRST_SURROGATE <= character <= _LAST_SURROGATE:
        return f"\\x{ord(character) - 0xDC00:02x}"
    return character if character.isprintable() else character.encode("unicode_escape").decode("ascii")


def summarise_faults(faults: SheetFaults | SurveyFaults, most: int = 200) -> str:
    """Print faults one a line, and how many more there are.

    Parameters
    ----------
    faults
        What reading raised.
    most
        Lines to show before the count; at least 1, default 200.
    """
    lines = list(faults.faults[:most])
    more = len(faults.faults) - len(lines)
    if more:
        lines.append(f"… and {more:,} more fault{'s' if more > 1 else ''}; mend these first and read it all again")
    return "\n".join(lines)
