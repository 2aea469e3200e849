"""Every error the program raises on purpose.

::

    StockplanError             anything a person can mend; the message names the value and the remedy
    ├── UnitError              a length, an amount of money or a date that cannot be read
    ├── SheetFaults            the spreadsheets hold faults; carries all of them
    ├── SurveyFaults           what was measured cannot be a lawn; carries every fault
    ├── SettingFaults          settings that cannot stand; carries every fault
    ├── StoreError             the store cannot be opened, read or written
    │   ├── StoreTooNew        written by a newer version of the program
    │   ├── StoreBusy          another program holds the store
    │   ├── StoreDamaged       it holds what no version of the program wrote
    │   └── StoreConflict      what was asked cannot happen to the stock as it is now
    ├── RequestError           a plan was asked for that cannot be stated (empty window, unknown product)
    ├── PlanOutdated           a plan cannot be accepted: what it touches has changed; carries every change
    └── PlanUnsound            a plan failed the checker; carries every violation (a defect in the program)
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date


class StockplanError(Exception):
    """Base of every error a person can mend; `str()` of it is fit to show."""


class UnitError(StockplanError):
    """Raised when a typed length, amount or date cannot be read."""


class SheetFaults(StockplanError):
    """Raised when spreadsheets hold faults; nothing was stored.

    Parameters
    ----------
    faults
        Every fault found, each already in the form `file:row: column: what is wrong, found, would be right`.
    """

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


class SurveyFaults(StockplanError):
    """Raised when what was measured cannot be read, or cannot be a lawn.

    Parameters
    ----------
    faults
        Every fault, each with its place, what was found and what would be right.
    """

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


class SettingFaults(StockplanError):
    """Raised when settings cannot be read, are out of bounds or do not go together.

    Parameters
    ----------
    faults
        Every fault, each with what was found and what would be right.
    """

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


class StoreError(StockplanError):
    """Raised when the store cannot be opened, read or written."""


class StoreTooNew(StoreError):
    """Raised when the store was written by a newer version of the program."""


class StoreBusy(StoreError):
    """Raised when another program holds the store and did not let go in time."""


class StoreDamaged(StoreError, ValueError):
    """Raised when the store holds what no version of the program wrote.

    Parameters
    ----------
    what
        Where, and what was found there.
    """

    def __init__(self, what: str) -> None:
        super().__init__(f"the store is damaged: {what}; put back the last copy of it")


class StoreConflict(StoreError, ValueError):
    """Raised when a movement cannot happen, or its tag has moved since it was looked at; nothing was stored."""


class RequestError(StockplanError):
    """Raised when a plan is asked for that cannot be stated."""


class PlanOutdated(StockplanError):
    """Raised when a plan cannot be accepted, mostly as something it touches has changed since it was made.

    Parameters
    ----------
    number
        The plan's number.
    changes
        What stands against it, a sentence each.
    first, last
        The days to plan again.
    """

    def __init__(self, number: int, changes: Sequence[str], first: date, last: date) -> None:
        self.number, self.first, self.last = number, first, last
        self.changes = tuple(changes)
        told = "\n".join(f"  {change}" for change in self.changes)
        super().__init__(f"plan {number} cannot be accepted; what stands against it:\n{told}")


class PlanUnsound(StockplanError):
    """Raised when a plan fails the independent checker.

    Parameters
    ----------
    violations
        Every violation, as text.
    """

    def __init__(self, violations: Sequence[str]) -> None:
        self.violations = tuple(violations)
        super().__init__("the plan failed its check and was not kept:\n" + "\n".join(self.violations))
