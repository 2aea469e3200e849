"""Every error the program raises on purpose.

::

    StockplanError             anything a person can mend; the message names the value and the remedy
    ├── UnitError              a length, an amount of money or a date that cannot be read
    ├── SheetFaults            the spreadsheets hold faults; carries all of them
    ├── SettingFaults          settings that cannot stand; carries every fault
    ├── StoreError             the store cannot be opened, read or written
    │   ├── StoreTooNew        written by a newer version of the program
    │   └── StoreBusy          another program holds the store
    ├── RequestError           a plan was asked for that cannot be stated (empty window, unknown product)
    └── PlanUnsound            a plan failed the checker; carries every violation (a defect in the program)
"""

from __future__ import annotations

from collections.abc import Sequence


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


class RequestError(StockplanError):
    """Raised when a plan is asked for that cannot be stated."""


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
