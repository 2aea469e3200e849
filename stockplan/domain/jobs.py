"""What the firm has promised: jobs, their strips, the schedule window."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from stockplan.domain.lawn import Lawn
from stockplan.domain.pile import PileWish


class BatchRule(StrEnum):
    """Whether all of a job's pieces must come from one dye batch."""

    ONE = "one"
    ANY = "any"


@dataclass(frozen=True, slots=True)
class Strip:
    """One size of piece a job needs, as cut: trimming allowance is already in.

    Parameters
    ----------
    label
        The strip's letter within its job; unique there.
    width_mm, length_mm
        Across and along the pile; positive.
    count
        How many; at least 1.
    """

    label: str
    width_mm: int
    length_mm: int
    count: int = 1

    @property
    def area_mm2(self) -> int:
        """Area of all copies in square millimetres."""
        return self.width_mm * self.length_mm * self.count


@dataclass(frozen=True, slots=True)
class Job:
    """One lawn or group of lawns to be laid on one day in one product.

    Parameters
    ----------
    code
        Unique in the schedule.
    site
        Where; free text.
    product
        Product code.
    lay_on
        The day it is laid.
    pile_towards
        For the crew: which way the pile leans; free text.
    batch_rule
        One batch for the whole job, or any.
    strips
        The pieces needed; none where they are to be worked out from the lawns.
    lawns
        The measured outlines, each with a label of its own; none where strips are given.
    pile
        Which way the pile is to lean over all lawns that are seen together; None for common practice.
    """

    code: str
    site: str
    product: str
    lay_on: date
    pile_towards: str
    batch_rule: BatchRule
    strips: tuple[Strip, ...]
    lawns: tuple[Lawn, ...] = ()
    pile: PileWish | None = None

    @property
    def area_mm2(self) -> int:
        """Area of all pieces in square millimetres."""
        return sum(strip.area_mm2 for strip in self.strips)

    @property
    def piece_count(self) -> int:
        """How many pieces the job needs."""
        return sum(strip.count for strip in self.strips)


@dataclass(frozen=True, slots=True)
class Window:
    """The days a plan covers, first and last included.

    Raises
    ------
    ValueError
        When the last day lies before the first.
    """

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"window ends {self.last} before it begins {self.first}")

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last
