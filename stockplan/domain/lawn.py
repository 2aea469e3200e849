"""A lawn as measured: its outline, corner by corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LawnPart = Literal["edge", "hole"]


@dataclass(frozen=True, slots=True)
class LawnCorner:
    """One corner of a lawn's outline.

    Parameters
    ----------
    job, lawn
        The job's code, and the lawn's label within the job.
    corner
        Its place in the order walked; 0 or more.
    x_mm, y_mm
        Where it lies, measured from any one point; any sign.
    part
        On the lawn's own edge, or on that of a hole in it.
    """

    job: str
    lawn: str
    corner: int
    x_mm: int
    y_mm: int
    part: LawnPart
