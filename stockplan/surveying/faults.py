"""Faults in what was measured: collected as they are found, told together by line."""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.errors import SurveyFaults

MOST_SHOWN = 60  # characters of a wrong word that a message repeats


@dataclass(frozen=True, slots=True)
class SurveyFault:
    """One fault.

    Parameters
    ----------
    what, found, right
        What is wrong, what stands there, what would be right.
    line
        Where, counted from 1; 0 for the whole.
    """

    what: str
    found: str
    right: str
    line: int = 0


class FaultList:
    """Every fault found so far in one text.

    Parameters
    ----------
    label
        What messages call the text: a file's name, or the form that was typed.
    """

    def __init__(self, label: str) -> None:
        self.label = label
        self._faults: list[SurveyFault] = []

    def __bool__(self) -> bool:
        return bool(self._faults)

    def __len__(self) -> int:
        return len(self._faults)

    def add(self, what: str, found: str, right: str, line: int = 0) -> None:
        """Note one fault.

        Parameters
        ----------
        what, found, right
            What is wrong, what was found, what would be right.
        line
            Of the notes, counted from 1; default 0, none of its own.
        """
        self._faults.append(SurveyFault(what, found, right, line))

    def lines(self) -> list[str]:
        """Every fault as text, in order of line, those of the whole last."""
        ordered = sorted(self._faults, key=lambda fault: (fault.line == 0, fault.line))
        return [
            f"{self.label}{f':{fault.line}' if fault.line else ''}: {fault.what}, found {fault.found}, "
            f"would be right: {fault.right}"
            for fault in ordered
        ]

    def raise_if_any(self) -> None:
        """Raise all faults together.

        Raises
        ------
        SurveyFaults
            When there is at least one.
        """
        if self._faults:
            raise SurveyFaults(self.lines())


def quoted(text: str) -> str:
    """Show what was typed: quoted, what cannot be seen escaped, long text cut short."""
    if not text:
        return "nothing"
    cut = text if len(text) <= MOST_SHOWN else text[:MOST_SHOWN] + "…"
    visible = "".join(one if one.isprintable() else one.encode("unicode_escape").decode("ascii") for one in cut)
    return f"'{visible}'"
