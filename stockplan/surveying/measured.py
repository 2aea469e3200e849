"""A lawn measured in, with what the measurements say of themselves."""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.domain.lawn import Lawn
from stockplan.surveying.offsets import OffsetAreas
from stockplan.surveying.traverse import Misclosure


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
