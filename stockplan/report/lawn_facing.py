"""Which side of a lawn the pile leans towards, in words."""

from __future__ import annotations

import math

from stockplan.domain.lawn import Lawn, twice_area
from stockplan.domain.layout import LaidLawn
from stockplan.report.words import printable

ALL_ALIKE = ": all strips the same way"
AS_DRAWN = "as the arrow shows"
POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
MOST_DEGREES = 60.0  # an edge that looks further away from the pile's direction is not what it leans towards


def facing_words(lawn: Lawn, laid: LaidLawn, either_way: bool) -> str:
    """Say where the pile leans, such as `Pile towards house, south-west`.

    Parameters
    ----------
    lawn, laid
        The lawn, and how it is laid.
    either_way
        Whether it may as well lean the opposite way.
    """
    compass = _compass_point(lawn, laid.bearing)
    side = _side(lawn, laid.bearing)
    if either_way:
        ends = [words for words in (side, _side(lawn, laid.bearing + 180)) if words]
        towards = f" towards {ends[0]} or {ends[1] if len(ends) > 1 else 'away from it'}" if ends else " either way"
        return f"Pile{towards}{ALL_ALIKE}"
    words = ", ".join(part for part in (f"towards {side}" if side else "", compass) if part)
    return f"Pile {words or AS_DRAWN}"


def _compass_point(lawn: Lawn, bearing: float) -> str:
    if lawn.y_bearing is None:
        return ""
    return POINTS[round((lawn.y_bearing + bearing) / 45) % 8]


def _side(lawn: Lawn, bearing: float) -> str:
    """Name of the edges that look the way the pile leans: the name with the most length, seen along the pile."""
    seen: dict[str, float] = {}
    around = 1 if twice_area(lawn.edge) > 0 else -1
    direction = math.radians(bearing)
    for note in lawn.notes:
        if not note.name:
            continue
        a, b = lawn.side(note.number)
        run, rise = b.x_mm - a.x_mm, b.y_mm - a.y_mm
        length = math.hypot(run, rise)
        # The way out of an edge is a quarter turn to the right of the walk when the outline is walked anticlockwise.
        out_x, out_y = around * rise, -around * run
        seen_length = out_x * math.sin(direction) + out_y * math.cos(direction)
        if seen_length >= length * math.cos(math.radians(MOST_DEGREES)):
            seen[note.name] = seen.get(note.name, 0.0) + seen_length
    return printable(max(seen, key=lambda name: seen[name])) if seen else ""
