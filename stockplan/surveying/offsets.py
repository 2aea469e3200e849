"""Areas from offsets to a curved edge: trapezoidal and Simpson's rule, as checks on one another."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from stockplan.domain.measured import OffsetAreas

Offset = tuple[float, float]  # distance along the baseline, offset from it; mm


def trapezoidal(offsets: Sequence[Offset]) -> float:
    """Area between the baseline and straight lines from offset to offset, any spacing.

    Parameters
    ----------
    offsets
        In order along the baseline; at least two.
    """
    return sum((x2 - x1) * (y1 + y2) / 2 for (x1, y1), (x2, y2) in pairwise(offsets))


def simpson(offsets: Sequence[Offset], tolerance: float = 1.0) -> float | None:
    """Area by Simpson's rule, h/3·(first + last + 4·(even ones) + 2·(other odd ones)).

    With an even number of offsets the last interval is taken as a trapezium, as surveying texts do.

    Parameters
    ----------
    offsets
        In order along the baseline.
    tolerance
        How far spacings may differ and still be called equal, mm.

    Returns
    -------
    float or None
        None when there are fewer than three offsets, or they are not equally spaced.
    """
    spacing = [x2 - x1 for (x1, _), (x2, _) in pairwise(offsets)]
    if len(offsets) < 3 or max(spacing) - min(spacing) > tolerance:
        return None
    odd = offsets if len(offsets) % 2 else offsets[:-1]
    rest = trapezoidal(offsets[-2:]) if len(offsets) % 2 == 0 else 0.0
    heights = [height for _, height in odd]
    step = (odd[-1][0] - odd[0][0]) / (len(odd) - 1)
    return step / 3 * (heights[0] + heights[-1] + 4 * sum(heights[1:-1:2]) + 2 * sum(heights[2:-1:2])) + rest


def offset_areas(offsets: Sequence[Offset]) -> OffsetAreas:
    """Work out the area both ways."""
    return OffsetAreas(trapezoidal(offsets), simpson(offsets))
