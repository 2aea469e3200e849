"""A lawn measured in, with what the measurements say of themselves."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from stockplan.domain.lawn import Lawn
from stockplan.domain.units import metres


@dataclass(frozen=True, slots=True)
class Misclosure:
    """By how much a walk misses its start.

    Parameters
    ----------
    x_mm, y_mm
        Where it ends, seen from where it began, before anything is spread.
    perimeter_mm
        Length walked.
    turns_degrees
        By how much all turns together miss a full circle, left positive; None when the last was not measured.
    allowed_mm, allowed_degrees
        What is spread without asking.
    """

    x_mm: float
    y_mm: float
    perimeter_mm: float
    turns_degrees: float | None
    allowed_mm: float
    allowed_degrees: float

    @property
    def linear_mm(self) -> float:
        """Distance from end to start."""
        return hypot(self.x_mm, self.y_mm)

    @property
    def one_in(self) -> int | None:
        """The relative misclosure is one part in so many; None when it is below half a millimetre."""
        return None if self.linear_mm < 0.5 else int(self.perimeter_mm / self.linear_mm)

    @property
    def turns_allowed(self) -> bool:
        """Whether the turns agree well enough."""
        return self.turns_degrees is None or abs(self.turns_degrees) <= self.allowed_degrees

    @property
    def allowed(self) -> bool:
        """Whether all of it may be spread."""
        return self.turns_allowed and self.linear_mm <= self.allowed_mm

    def __str__(self) -> str:
        relative = f", 1 in {self.one_in:,}" if self.one_in else ""
        turns = "" if self.turns_degrees is None else f"; turns {self.turns_degrees:+.1f} degrees from a full circle"
        return f"{metres(round(self.linear_mm), 3)} m in {metres(round(self.perimeter_mm))} m{relative}{turns}"


@dataclass(frozen=True, slots=True)
class OffsetAreas:
    """The area between a baseline and a curved edge, worked out two ways.

    Parameters
    ----------
    trapezoidal_mm2
        The edge taken as straight between offsets, as it is stored.
    simpson_mm2
        The edge taken as parabolas; None when the offsets are not equally spaced, or fewer than three.
    """

    trapezoidal_mm2: float
    simpson_mm2: float | None

    @property
    def apart(self) -> float | None:
        """Share by which Simpson's rule gives more; None without it."""
        if self.simpson_mm2 is None or self.trapezoidal_mm2 == 0:
            return None
        return self.simpson_mm2 / self.trapezoidal_mm2 - 1


@dataclass(frozen=True, slots=True)
class TapeResult:
    """One tape after adjustment.

    Parameters
    ----------
    one, other
        Names of its corners.
    read_mm, residual_mm
        As read, and what adjustment added to it.
    standardized
        Residual in standard errors; None where no other tape checks it.
    line
        Where it stands in the notes.
    """

    one: str
    other: str
    read_mm: int
    residual_mm: float
    standardized: float | None
    line: int

    @property
    def name(self) -> str:
        """Its two corners."""
        return f"{self.one}–{self.other}"


@dataclass(frozen=True, slots=True)
class Measured:
    """One lawn measured in.

    Parameters
    ----------
    lawn
        Sound in outline; its label is empty where the measurements name none.
    misclosure
        Of the walk round its edge; None when it was measured otherwise.
    tapes
        Each tape of a plot, in the order of the notes.
    areas
        From offsets; None without a baseline.
    said
        Anything else a person should know.
    """

    lawn: Lawn
    misclosure: Misclosure | None = None
    tapes: tuple[TapeResult, ...] = ()
    areas: OffsetAreas | None = None
    said: tuple[str, ...] = ()
