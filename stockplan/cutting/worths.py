"""Tables of leftover worth for the pricing recursions: `domain.worth` over arrays.

Worth is rounded down to the penny as in `domain.worth`, after adding a hundred-thousandth of a penny, so that rounding
in binary never puts a table entry below the true worth: bounds stay bounds.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.instance import Instance, Source
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_LENGTH_MM, LEAST_WIDTH_MM

Floats = NDArray[np.float64]
Millimetres = NDArray[np.int64] | NDArray[np.float64]
HAIR = 1e-5


def loose_worth(instance: Instance, source: Source, widths_mm: Millimetres, lengths_mm: Millimetres) -> Floats:
    """Worth in pence of loose rectangles of every width and length given.

    Parameters
    ----------
    instance, source
        The problem, and the source they are cut from.
    widths_mm, lengths_mm
        One-dimensional; the answer has shape (widths, lengths).
    """
    return _worth(instance, source, widths_mm, lengths_mm, widths_mm * 100 >= instance.widest_mm * FULL_WIDTH_PERCENT)


def tail_worth(instance: Instance, source: Source, lengths_mm: Millimetres) -> Floats:
    """Worth in pence of tails of every length given, left on a source at its full width."""
    widths = np.array([source.width_mm])
    if not source.on_core:
        return loose_worth(instance, source, widths, lengths_mm).ravel()
    return _worth(instance, source, widths, lengths_mm, np.array([True])).ravel()


def _worth(
    instance: Instance, source: Source, widths_mm: Millimetres, lengths_mm: Millimetres, full: NDArray[np.bool_]
) -> Floats:
    if not instance.costs.leftovers_have_worth:
        return np.zeros((len(widths_mm), len(lengths_mm)))
    widths, lengths = widths_mm[:, None].astype(float), lengths_mm[None, :].astype(float)
    full_share = (675_000 + 75 * np.minimum(lengths, 3000)) / 1_000_000
    narrow_share = (20_000 + 9 * widths) / 80_000 * (9000 + np.minimum(lengths, 6000)) / 15_000
    narrow_share = np.minimum(narrow_share, full_share)
    share = np.where(full[:, None], full_share, narrow_share)
    pence = source.unit_cost.pence / source.unit_cost.area_mm2 * widths * lengths * share
    kept = (widths >= LEAST_WIDTH_MM) & (lengths >= LEAST_LENGTH_MM)
    return np.where(kept, np.floor(pence + HAIR), 0.0)
