"""What a surveyor gets wrong in an outline: crossings, repeated corners, spikes, holes that do not lie inside."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import atan2, degrees

import shapely
from shapely.geometry import LineString, Polygon
from shapely.strtree import STRtree

from stockplan.domain.lawn import Lawn, Point, Ring, lawn_words, twice_area
from stockplan.domain.survey import OutlineFault
from stockplan.domain.units import MM2_PER_M2, metres, square_metres

SPIKE_DEGREES = 2.0  # sharper than any corner of a lawn
LEAST_AREA_MM2 = 100_000  # a tenth of a square metre is no lawn
CHECK_THE_WALK = "corners in the order walked round the lawn"


def outline_faults(edge: Sequence[Point], holes: Sequence[Sequence[Point]] = ()) -> list[OutlineFault]:
    """Find everything wrong with an outline; none means that it is the outline of one lawn.

    Parameters
    ----------
    edge
        Corners in the order walked, the first not repeated at the end.
    holes
        Each likewise.
    """
    rings = [edge, *holes]
    faults = [fault for number, ring in enumerate(rings) for fault in _ring_faults(ring, number)]
    if faults:
        return faults  # rings that are none cannot be held against one another
    outline = Polygon(edge)
    inside = [Polygon(hole) for hole in holes]
    for number, hole in enumerate(inside, 1):
        faults += _hole_in_outline(outline, hole, number)
    for (one, first), (other, second) in combinations(enumerate(inside, 1), 2):
        if first.intersects(second):
            where = _place(first.intersection(second).representative_point().coords[0])
            what = "a hole that overlaps or touches another"
            faults.append(OutlineFault(what, f"hole {other} meets hole {one} at {where}", "holes apart", other))
    return faults


def large_lawn(lawn: Lawn, most_m2: int) -> str | None:
    """Ask again about a lawn so large that feet may have been read as metres; None when it is not.

    Parameters
    ----------
    lawn
        Its area counts.
    most_m2
        The largest that is taken without asking.
    """
    area = lawn.area_mm2
    if area <= most_m2 * MM2_PER_M2:
        return None
    in_feet = round(area * 0.3048**2)
    whose = f"{lawn_words(lawn.label)} has " if lawn.label else ""
    return (
        f"{whose}{square_metres(area)} m², more than {most_m2} m²; read as feet it would be {square_metres(in_feet)} m²"
    )


def _ring_faults(ring: Sequence[Point], number: int) -> list[OutlineFault]:
    name = _ring_name(number)
    if len(ring) < 3:
        return [OutlineFault(f"{name} with too few corners", f"{len(ring)}", "three corners or more", number)]
    faults = [*_repeats(ring, number)]
    if not faults:
        faults += _spikes(ring, number)
        faults += _crossings(ring, number)
    if not faults and abs(twice_area(ring)) < 2 * LEAST_AREA_MM2 and number == 0:
        area = f"{abs(twice_area(ring)) / 2 / MM2_PER_M2:.3f} m²"
        faults.append(OutlineFault("a lawn of hardly any area", area, "sizes in the units stated", number))
    return faults


def _repeats(ring: Sequence[Point], number: int) -> list[OutlineFault]:
    faults = []
    for index, (one, other) in enumerate(zip(ring, [*ring[1:], ring[0]], strict=True)):
        if one == other:
            closes = index == len(ring) - 1
            right = "the first corner only once; the outline closes by itself" if closes else "each corner once"
            found = f"corner {index + 1} and corner {1 if closes else index + 2}, both at {_place(one)}"
            faults.append(OutlineFault("a corner given twice", found, right, number, index if closes else index + 1))
    return faults


def _spikes(ring: Sequence[Point], number: int) -> list[OutlineFault]:
    faults = []
    for index, corner in enumerate(ring):
        before, after = ring[index - 1], ring[(index + 1) % len(ring)]
        back = (before.x_mm - corner.x_mm, before.y_mm - corner.y_mm)
        on = (after.x_mm - corner.x_mm, after.y_mm - corner.y_mm)
        cross, along = back[0] * on[1] - back[1] * on[0], back[0] * on[0] + back[1] * on[1]
        angle = degrees(atan2(abs(cross), along))
        if angle < SPIKE_DEGREES:
            found = f"corner {index + 1} at {_place(corner)}, where the edge comes back at {angle:.1f} degrees"
            faults.append(OutlineFault("a spike", found, "the corner left out, or measured again", number, index))
    return faults


def _crossings(ring: Sequence[Point], number: int) -> list[OutlineFault]:
    """Sides that are not neighbours and meet, each place once."""
    sides = [LineString(pair) for pair in zip(ring, [*ring[1:], ring[0]], strict=True)]
    count = len(sides)
    meeting = STRtree(sides).query(sides, predicate="intersects")
    faults: dict[str, OutlineFault] = {}
    for one, other in sorted(zip(*(row.tolist() for row in meeting), strict=True)):
        if other - one < 2 or (one == 0 and other == count - 1):
            continue
        where = _place(shapely.intersection(sides[one], sides[other]).representative_point().coords[0])
        found = f"side {one + 1} meets side {other + 1} at {where}"
        fault = OutlineFault(f"{_ring_name(number)} that crosses itself", found, CHECK_THE_WALK, number, other)
        faults.setdefault(where, fault)
    return list(faults.values())


def _hole_in_outline(outline: Polygon, hole: Polygon, number: int) -> list[OutlineFault]:
    if not outline.intersects(hole):
        where = _place(hole.exterior.coords[0])
        return [OutlineFault("a hole outside the lawn", f"hole {number} at {where}", "a hole inside the edge", number)]
    met = outline.exterior.intersection(hole)
    if not met.is_empty:
        where = _place(met.representative_point().coords[0])
        found = f"hole {number} at {where}"
        right = "a hole wholly inside, or a bed at the edge walked round as part of the edge"
        return [OutlineFault("a hole that touches or crosses the edge", found, right, number)]
    return []


def _ring_name(number: int) -> str:
    return "an edge" if number == 0 else "a hole"


def _place(place: Sequence[float]) -> str:
    return f"({metres(round(place[0]))}, {metres(round(place[1]))})"


def without_repeats(places: Sequence[tuple[float, float]]) -> Ring:
    """Round places to whole millimetres, and leave out what rounding makes the same as its neighbour."""
    ring: list[Point] = []
    for x, y in places:
        point = Point(round(x), round(y))
        if not ring or ring[-1] != point:
            ring.append(point)
    while len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    return tuple(ring)
