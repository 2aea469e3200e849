"""What tape notes say, before anything is worked out from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

from stockplan.domain.lawn import LawnPlace
from stockplan.domain.pile import PileWish
from stockplan.surveying.tapes import Tape
from stockplan.surveying.traverse import Leg


@dataclass(frozen=True, slots=True)
class Remark:
    """What is said of one side: its name, and whether a seam must keep away."""

    name: str = ""
    no_seam: bool = False


@dataclass(slots=True)
class Rectangle:
    """Sides at right angles; the second is turned to on the left."""

    along_mm: int
    aside_mm: int


@dataclass(slots=True)
class Walk:
    """Legs in the order walked, with their lines and remarks."""

    legs: list[Leg] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)


@dataclass(slots=True)
class Plot:
    """Corners in the order walked, and tapes between them."""

    corners: list[str]
    clockwise: bool
    tapes: list[Tape] = field(default_factory=list)
    remarks: dict[tuple[int, int], Remark] = field(default_factory=dict)  # by the side's two corners, as taped
    inward: tuple[int, ...] | None = None


@dataclass(slots=True)
class Baseline:
    """A straight line and offsets from it: (distance along, offset), left and right, each with its line."""

    length_mm: int
    remark: Remark
    left: list[tuple[int, int]] = field(default_factory=list)
    right: list[tuple[int, int]] = field(default_factory=list)


@dataclass(slots=True)
class Circle:
    """A whole circle."""

    radius_mm: float


@dataclass(slots=True)
class Corners:
    """Corners by coordinates, each with the remark on the side that begins there."""

    places: list[tuple[int, int]] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)


Form: TypeAlias = Rectangle | Walk | Plot | Baseline | Circle | Corners


@dataclass(frozen=True, slots=True)
class Placing:
    """Where a hole lies in the lawn.

    Parameters
    ----------
    along_mm, left_mm
        From the lawn's first corner along its first side, and to the left of it; None when it is taped instead.
    ties
        Two corners of the lawn by name, each with the tape from it.
    heading
        How far the hole's first side is turned to the left from the lawn's, degrees.
    """

    along_mm: int | None = None
    left_mm: int = 0
    ties: tuple[tuple[str, int], ...] = ()
    heading: float = 0.0


@dataclass(frozen=True, slots=True)
class Section:
    """A form with the line it begins on; holes also have a place."""

    form: Form
    line: int
    placing: Placing = field(default_factory=Placing)


@dataclass(frozen=True, slots=True)
class Keyed:
    """Something said of one side or corner by its number or name.

    Parameters
    ----------
    line
        Where it is said.
    key
        As written: `3`, `A-B`, `C`.
    remark
        Of a side.
    radius_mm
        Of a rounded corner.
    """

    line: int
    key: str
    remark: Remark = field(default_factory=Remark)
    radius_mm: int = 0


@dataclass(slots=True)
class Notes:
    """Tape notes read.

    Parameters
    ----------
    label, place, pile
        Of the lawn, where they are said.
    first_side_bears
        Bearing of the first side, degrees clockwise from north; None when it was not taken.
    unseen_from
        Lawns that nobody sees together with this one.
    outline, holes
        Forms; None while no outline has been given.
    sides, rounded
        Remarks on sides, and corners that are rounded.
    forms_read
        False once a line of a form could not be read, so that nothing can be worked out from the rest.
    """

    label: str = ""
    place: LawnPlace = LawnPlace.OTHER
    pile: PileWish | None = None
    first_side_bears: float | None = None
    unseen_from: list[str] = field(default_factory=list)
    outline: Section | None = None
    holes: list[Section] = field(default_factory=list)
    sides: list[Keyed] = field(default_factory=list)
    rounded: list[Keyed] = field(default_factory=list)
    forms_read: bool = True
