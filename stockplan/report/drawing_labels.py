"""Where labels go: inside a rectangle if they fit, else by a letter of the key, else outside at the end of a leader."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.report.drawing_parts import BODY, LINE, SMALL, Label, Rect, lines_width, text_width

MARGIN = 0.7  # mm kept free inside a rectangle, each side


def labels_inside(rect: Rect, lines: Sequence[str], background: str) -> list[Label]:
    """Labels that fit inside a rectangle, the most readable way that does; none when no way does.

    Parameters
    ----------
    rect
        The rectangle as drawn.
    lines
        One or two lines; put beside each other where only one fits.
    background
        Colour laid under them.
    """
    stacked, beside = tuple(lines), ("  ".join(lines),)
    for upward in (False, True):
        for font_size in (BODY, SMALL):
            for arrangement in (stacked, beside):
                if _fits(rect, arrangement, font_size, upward):
                    return _placed(rect, arrangement, font_size, upward, background)
    return []


def _fits(rect: Rect, lines: Sequence[str], font_size: float, upward: bool) -> bool:
    room, depth = (rect.height, rect.width) if upward else (rect.width, rect.height)
    return lines_width(lines, font_size) + 2 * MARGIN <= room and len(lines) * font_size * LINE + MARGIN <= depth


def _placed(rect: Rect, lines: Sequence[str], font_size: float, upward: bool, background: str) -> list[Label]:
    middle_x, middle_y = rect.x + rect.width / 2, rect.y + rect.height / 2
    labels = []
    for index, line in enumerate(lines):
        offset = (index - (len(lines) - 1) / 2) * font_size * LINE
        x, y = (middle_x + offset, middle_y) if upward else (middle_x, middle_y + offset)
        bold = index == 0 and len(lines) > 1
        labels.append(Label(x, y, line, font_size, "middle", bold, upward, background))
    return labels


@dataclass(frozen=True, slots=True)
class Spot:
    """A short text wanted at a place along a line.

    Parameters
    ----------
    at
        Where its middle is wanted, mm.
    text
        What it says.
    """

    at: float
    text: str

    @property
    def width(self) -> float:
        """Room it takes, with a gap to its neighbour, mm."""
        return text_width(self.text, SMALL) + 1.6


def in_rows(spots: Sequence[Spot], left: float, right: float) -> list[tuple[int, float]]:
    """Row and middle of each text, none overlapping: as near its place as the bounds allow, in the first row free.

    Parameters
    ----------
    spots
        In order of place.
    left, right
        Bounds of a row, mm; wider than any one text.
    """
    ends: list[float] = []
    placed = []
    for spot in spots:
        half = spot.width / 2
        middle = min(max(spot.at, left + half), right - half)
        row = next((index for index, end in enumerate(ends) if end <= middle - half), len(ends))
        if row == len(ends):
            ends.append(left)
        ends[row] = middle + half
        placed.append((row, middle))
    return placed


def side_by_side(spots: Sequence[Spot], left: float, right: float) -> list[tuple[int, float]]:
    """Row and middle of each text, pushed apart in one row while there is room, else in rows.

    Parameters
    ----------
    spots, left, right
        As for `in_rows`.
    """
    if sum(spot.width for spot in spots) > right - left:
        return in_rows(spots, left, right)
    middles = []
    edge = left
    for spot in spots:
        middles.append(max(spot.at, edge + spot.width / 2))
        edge = middles[-1] + spot.width / 2
    edge = right
    for index in reversed(range(len(spots))):
        middles[index] = min(middles[index], edge - spots[index].width / 2)
        edge = middles[index] - spots[index].width / 2
    return [(0, middle) for middle in middles]
