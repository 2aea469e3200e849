"""Movements: the kinds there are, and their place in the ledger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

Value = str | int | Sequence[Mapping[str, str | int]]
CORRECTABLE = ("width_mm", "length_mm", "bay", "cost_pence_per_m2")  # measured again, put elsewhere, priced again
SOUND = "sound"
CONDITIONS = (SOUND, "wet", "dirty", "damaged", "used")  # words of the trade; others may be written
ALIKE = 0.8  # of two words, from 0 to 1: a letter lacking, too many or exchanged


def condition_word(typed: str) -> str:
    """Give the word of the trade that was typed in whatever letters; another word stays as it is."""
    return typed.casefold() if typed.casefold() in CONDITIONS else typed


def near_condition(typed: str) -> str:
    """Give the word of the trade that a word is like but is not; empty where it is one, or like none."""
    from difflib import get_close_matches  # noqa: PLC0415 - only where a condition is typed

    word = condition_word(typed)
    return "" if word in CONDITIONS else next(iter(get_close_matches(word.casefold(), CONDITIONS, 1, ALIKE)), "")


class MovementKind(StrEnum):
    """What can happen to a stock item."""

    RECEIVED = "received"
    CORRECTED = "corrected"  # measured again, priced again
    MOVED = "moved"
    COUNTED = "counted"  # seen in a stocktake, as recorded
    CONDITION = "condition"
    RESERVED = "reserved"  # for a plan
    RELEASED = "released"
    HELD = "held"  # for a quote, until a day
    FREED = "freed"
    CUT = "cut"  # leaves the yard whole
    RETURNED = "returned"  # what a cut left over comes back under a tag of its own
    WRITTEN_OFF = "written_off"
    BINNED = "binned"  # what a cut left over is thrown away
    REVERSED = "reversed"  # undoes one movement


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One piece that a cut gave.

    Parameters
    ----------
    job, strip, number
        Which copy of which strip it was cut for.
    width_mm, length_mm
        Across and along the pile, as cut; positive.
    spoiled
        Whether it came out unfit; its area can then be returned or binned.
    """

    job: str
    strip: str
    number: int
    width_mm: int
    length_mm: int
    spoiled: bool = False

    @property
    def area_mm2(self) -> int:
        """Area in square millimetres."""
        return self.width_mm * self.length_mm


@dataclass(frozen=True, slots=True)
class Entry:
    """A movement not yet in the ledger.

    Parameters
    ----------
    kind, tag
        What happens to which item.
    why
        Free text.
    values
        What the kind states; the function that makes an entry of the kind says what that is.
    plan
        Number of the plan it comes from; None when from none.
    parent
        For `returned`, and for what reverses one, the tag it was cut from; else None.
    """

    kind: MovementKind
    tag: str
    why: str
    values: Mapping[str, Value] = field(default_factory=dict)
    plan: int | None = None
    parent: str | None = None

    def enter(self, number: int, at: datetime, who: str) -> Movement:
        """Give the entry its place in the ledger.

        Parameters
        ----------
        number
            One more than that of the last movement.
        at
            When it is written, UTC.
        who
            Who writes it.
        """
        return Movement(number, at, who, self.kind, self.tag, self.why, self.values, self.plan, self.parent)


@dataclass(frozen=True, slots=True)
class Movement:
    """One line of the ledger.

    Parameters
    ----------
    number
        Its place: 1, 2, 3, … without gaps.
    at
        When it was written, UTC.
    who
        Who wrote it.
    kind, tag, why, values, plan, parent
        As in `Entry`.
    """

    number: int
    at: datetime
    who: str
    kind: MovementKind
    tag: str
    why: str
    values: Mapping[str, Value]
    plan: int | None = None
    parent: str | None = None

    @property
    def reverses(self) -> int | None:
        """Number of the movement it undoes; None when it undoes none."""
        number = self.values.get("movement")
        return number if self.kind is MovementKind.REVERSED and isinstance(number, int) else None
