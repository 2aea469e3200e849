"""Circles, arcs and rounded corners as straight pieces that never leave grass out.

Where the grass lies inside an arc the pieces touch it from outside; where it lies outside, they are chords. Either way
the outline drawn holds the true one, and no point of it lies further off than the stated gap: for n equal pieces of a
sweep θ on a radius r, the gap is r·(sec(θ/2n) − 1) outside and r·(1 − cos(θ/2n)) inside (plane trigonometry).
"""

from __future__ import annotations

from math import acos, atan2, ceil, cos, hypot, pi, sin, tan

Place = tuple[float, float]  # x and y, mm
ROUNDING_MM = 1.0  # corners are rounded to whole millimetres afterwards


def pieces(radius: float, sweep: float, gap: float, outside: bool) -> int:
    """How many straight pieces an arc needs.

    Parameters
    ----------
    radius, gap
        mm; positive.
    sweep
        Radians; any sign.
    outside
        Whether the pieces touch the arc from outside.
    """
    reach = acos(radius / (radius + gap)) if outside else acos(max(-1.0, 1 - gap / radius))
    return max(ceil(abs(sweep) / (2 * reach) - 1e-9), ceil(abs(sweep) / (pi / 2) - 1e-9), 1)


def arc(centre: Place, radius: float, begins: float, sweep: float, gap: float, *, outside: bool) -> list[Place]:
    """Draw an arc as straight pieces; both of its ends are among the places.

    Parameters
    ----------
    centre, radius
        mm.
    begins, sweep
        Where it begins, counted anticlockwise from x, and how far it goes, anticlockwise where positive; radians.
    gap
        How far a piece may lie off the arc, mm; positive.
    outside
        Whether to touch it from outside, for grass within it.
    """
    count = pieces(radius, sweep, gap, outside)
    step = sweep / count
    ends = [_on(centre, radius, begins), _on(centre, radius, begins + sweep)]
    if outside:
        middle = [_on(centre, radius / cos(step / 2), begins + (number + 0.5) * step) for number in range(count)]
    else:
        middle = [_on(centre, radius, begins + number * step) for number in range(1, count)]
    return [ends[0], *middle, ends[1]]


def circle(centre: Place, radius: float, gap: float, *, outside: bool) -> list[Place]:
    """Draw a whole circle, anticlockwise; still on the safe side of it after rounding to whole millimetres.

    Parameters
    ----------
    centre, radius
        mm; the radius more than 2.
    gap
        How far a piece may lie off the circle, mm, rounding aside.
    outside
        True for a lawn, False for a hole in one.
    """
    safe = radius + ROUNDING_MM if outside else radius - ROUNDING_MM
    count = max(pieces(safe, 2 * pi, gap, outside), 8)
    reach = safe / cos(pi / count) if outside else safe
    return [_on(centre, reach, 2 * pi * number / count) for number in range(count)]


def rounded_corner(before: Place, corner: Place, after: Place, radius: float, gap: float, *, left: bool) -> list[Place]:
    """Draw the arc that takes the place of a corner, from where it leaves one side to where it meets the next.

    Parameters
    ----------
    before, corner, after
        The corner and its neighbours in the order walked.
    radius, gap
        mm; positive.
    left
        Whether the grass lies on the left of somebody walking.

    Raises
    ------
    ValueError
        When the two sides lie in one line, or are too short for the radius; says what the most would be.
    """
    way_in, way_out = _unit(before, corner), _unit(corner, after)
    turn = atan2(way_in[0] * way_out[1] - way_in[1] * way_out[0], way_in[0] * way_out[0] + way_in[1] * way_out[1])
    if abs(turn) < 1e-6 or pi - abs(turn) < 1e-6:
        raise ValueError("its two sides lie in one line")
    reach = radius * tan(abs(turn) / 2)
    room = min(_distance(before, corner), _distance(corner, after))
    if reach > room + 1e-6:
        raise ValueError(f"its shorter side takes a radius of at most {room / tan(abs(turn) / 2) / 1000:.2f} m")
    side = 1 if turn > 0 else -1
    begins = (corner[0] - reach * way_in[0], corner[1] - reach * way_in[1])
    centre = (begins[0] - side * radius * way_in[1], begins[1] + side * radius * way_in[0])
    start = atan2(begins[1] - centre[1], begins[0] - centre[0])
    return arc(centre, radius, start, turn, gap, outside=(turn > 0) == left)


def bulged(begin: Place, end: Place, bulge: float, gap: float, *, left: bool) -> list[Place]:
    """Draw the arc between two corners of a drawn polyline, both corners among the places.

    Parameters
    ----------
    begin, end
        mm; apart.
    bulge
        Tangent of a quarter of the arc's sweep, anticlockwise where positive; not 0.
    gap
        How far a piece may lie off the arc, mm; positive.
    left
        Whether the grass lies on the left of somebody walking from begin to end.
    """
    sweep = 4 * atan2(bulge, 1.0)
    chord = _distance(begin, end)
    radius = chord / 2 / abs(sin(sweep / 2))
    along = _unit(begin, end)
    rise = chord / 2 / tan(sweep / 2)  # from the chord to the centre, to the left where positive
    centre = ((begin[0] + end[0]) / 2 - rise * along[1], (begin[1] + end[1]) / 2 + rise * along[0])
    start = atan2(begin[1] - centre[1], begin[0] - centre[0])
    places = arc(centre, radius, start, sweep, gap, outside=(bulge > 0) == left)
    return [begin, *places[1:-1], end]


def _on(centre: Place, radius: float, angle: float) -> Place:
    return centre[0] + radius * cos(angle), centre[1] + radius * sin(angle)


def _distance(one: Place, other: Place) -> float:
    return hypot(other[0] - one[0], other[1] - one[1])


def _unit(one: Place, other: Place) -> Place:
    length = _distance(one, other)
    if length == 0:
        raise ValueError("two corners lie in one place")
    return (other[0] - one[0]) / length, (other[1] - one[1]) / length
