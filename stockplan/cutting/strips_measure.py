"""How much grass lanes of a lawn take, many lanes at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.strips_cut import Grass, Lane, cut_length, cut_width, joined_parts, too_narrow
from stockplan.cutting.strips_outline import Outline
from stockplan.domain.layout import CUT_STEP_MM, LayoutSettings

REFUSED = 1 << 60

Whole = NDArray[np.int64]


class LaneMeasure:
    """Measures lanes of one outline.

    Parameters
    ----------
    outline
        The lawn, turned.
    grass
        What strips are cut from.
    settings
        How strips are laid out.
    """

    def __init__(self, outline: Outline, grass: Grass, settings: LayoutSettings) -> None:
        self.outline, self.grass, self.settings = outline, grass, settings
        self.left, self.right = outline.left_mm, outline.right_mm

    def measure(self, lanes: Whole) -> tuple[Whole, Whole]:
        """Area as cut of each lane, `REFUSED` where a rule is broken, and what its narrowest strip covers."""
        start, end = lanes[:, 0].astype(np.float64), lanes[:, 1].astype(np.float64)
        area = np.zeros(len(lanes), dtype=np.int64)
        narrow = np.minimum(lanes[:, 1] - lanes[:, 0], self.settings.warn_narrow_mm)
        quick = self.outline.whole(start, end)
        if quick.any():
            area[quick] = self._quick(lanes[quick])
        slow = np.flatnonzero(~quick)
        self.outline.prepare([(int(a), int(b)) for a, b in lanes[slow]])
        for at in slow.tolist():
            area[at], narrow[at] = self._slow(int(lanes[at, 0]), int(lanes[at, 1]))
        return area, narrow

    def _quick(self, lanes: Whole) -> Whole:
        """Area as cut of lanes whose part hangs together, all at once."""
        settings = self.settings
        low, high = self.outline.runs(lanes.astype(np.float64))
        run = high - low
        first, last = lanes[:, 0] == self.left, lanes[:, 1] == self.right
        sides = np.where(first, settings.free_side_mm, settings.selvedge_mm)
        sides += np.where(last, settings.free_side_mm, settings.selvedge_mm)
        width = _stepped(lanes[:, 1] - lanes[:, 0] + sides)
        length = _stepped(run + 2 * settings.end_mm)
        longest = self._longest(width)
        pieces = _pieces_of_a_run(run, longest, settings)
        length += (pieces - 1) * 2 * settings.head_trim_mm
        narrow = (lanes[:, 1] - lanes[:, 0] < settings.least_narrow_mm) & ~(first & last)
        return np.where((longest == 0) | narrow, REFUSED, width * length)

    def _longest(self, width: Whole) -> Whole:
        found = np.zeros(len(width), dtype=np.int64)
        for wide, long in self.grass.sizes:
            found = np.where(wide >= width, np.maximum(found, long), found)
        return found // CUT_STEP_MM * CUT_STEP_MM

    def _slow(self, start: int, end: int) -> tuple[int, int]:
        lane = Lane(start, end, start == self.left, end == self.right)
        total, narrow = 0, self.settings.warn_narrow_mm
        for part in joined_parts(self.outline.parts(start, end), lane, self.settings):
            width = cut_width(part, lane, self.settings)
            longest = self.grass.longest(width)
            if longest == 0 or too_narrow(part, lane, self.settings):
                return REFUSED, narrow
            length = cut_length(part, self.settings)
            if length > longest:
                trim = 2 * self.settings.head_trim_mm
                run = part.along_to - part.along_from + 2 * self.settings.end_mm
                length += trim * (max(2, -(-(run - trim) // max(1, longest - trim))) - 1)
            total += width * length
            narrow = min(narrow, part.across_to - part.across_from)
        return total, narrow


def _stepped(millimetres: Whole) -> Whole:
    return np.asarray(-(-millimetres // CUT_STEP_MM) * CUT_STEP_MM)


def _pieces_of_a_run(run: Whole, longest: Whole, settings: LayoutSettings) -> Whole:
    """How many pieces a run takes at least, from stock no longer than so much."""
    trim = 2 * settings.head_trim_mm
    each = np.maximum(longest - trim, 1)
    more = -(-(run + 2 * settings.end_mm - trim) // each)
    return np.asarray(np.where(_stepped(run + 2 * settings.end_mm) <= longest, 1, np.maximum(more, 2)))
