"""What the firm has promised: jobs, their strips, the schedule window."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from stockplan.domain.strip import Strip

if TYPE_CHECKING:  # outlines and layouts take a while to load, and few commands need them
    from stockplan.domain.lawn import Lawn
    from stockplan.domain.layout import Layout
    from stockplan.domain.pile import PileWish

__all__ = ["BatchRule", "Job", "Strip", "Window"]


class BatchRule(StrEnum):
    """Whether all of a job's pieces must come from one dye batch."""

    ONE = "one"
    ANY = "any"


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
    layouts
        Ways to lay the lawns, of which a plan picks one together with what it is cut from; none where strips are given.
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
    layouts: tuple[Layout, ...] = ()

    @property
    def area_mm2(self) -> int:
        """Area of all pieces in square millimetres; by the first layout while none is picked."""
        return sum(strip.area_mm2 for strip in self.strips_or_first())

    @property
    def piece_count(self) -> int:
        """How many pieces the job needs; the most that any layout asks for while none is picked."""
        ways = [self.strips] if self.strips else [layout.strips for layout in self.layouts]
        return max((sum(strip.count for strip in strips) for strips in ways), default=0)

    @property
    def has_own_strips(self) -> bool:
        """Whether its strips are given, not worked out from its lawns."""
        return bool(self.strips) and not self.layouts

    def strips_or_first(self) -> tuple[Strip, ...]:
        """The strips, or those of the first layout while none is picked."""
        return self.layouts[0].strips if self.layouts and not self.strips else self.strips


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
