"""A size of piece a job needs."""

from __future__ import annotations

from dataclasses import dataclass


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
