"""Outlines given by coordinates: judged, brought near their own origin and to whole millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

from shapely.geometry import Polygon
from shapely.strtree import STRtree

from stockplan.domain.lawn import Lawn, LawnPlace, Point
from stockplan.domain.measured import Measured
from stockplan.domain.units import MM_PER_M, metres
from stockplan.surveying.curves import Place
from stockplan.surveying.faults import FaultList
from stockplan.surveying.outline_faults import outline_faults, without_repeats

FURTHEST_MM = 1_000_000  # beyond a kilometre from the origin, coordinates are counted from the lawns' own corner
MOST_MM = 1e11  # no grid on earth counts so far
LEAST_SIZE_MM = 500.0  # nothing that is laid is smaller; coordinates in degrees come out at millimetres
MOST_DEGREES = 180.0
ALIKE = 0.99  # of what two outlines cover together: they are one, drawn twice
DEGREES = "coordinates in metres; project them to a grid in metres before saving"


@dataclass(frozen=True, slots=True)
class Outline:
    """One outline as a file gives it.

    Parameters
    ----------
    where
        What messages call it, such as `feature 2`.
    edge, holes
        Corners, mm; the first may be repeated at the end.
    label, place
        Where the file says so.
    """

    where: str
    edge: Sequence[Place]
    holes: Sequence[Sequence[Place]] = ()
    label: str = ""
    place: LawnPlace = LawnPlace.OTHER


def on_earth(x: float, y: float) -> bool:
    """Whether coordinates in mm are numbers, and small enough for a place in some grid."""
    return abs(x) <= MOST_MM and abs(y) <= MOST_MM


def measured_outlines(outlines: Sequence[Outline], faults: FaultList, said: tuple[str, ...] = ()) -> list[Measured]:
    """Judge outlines and turn them into lawns.

    Parameters
    ----------
    outlines
        All of one file; their places to one another are kept.
    faults
        Where faults were noted while reading, and are noted now.
    said
        What is to be said with each.

    Raises
    ------
    SurveyFaults
        When there is any fault, or no outline.
    """
    if not outlines and not faults:
        faults.add("no outline", "none", "at least one closed outline")
    faults.raise_if_any()
    _check_size(outlines, faults)
    faults.raise_if_any()
    x, y = _origin([place for outline in outlines for place in outline.edge])
    if (x, y) != (0.0, 0.0):
        said = (*said, f"Coordinates are counted from ({metres(round(x), 0)}, {metres(round(y), 0)}).")
    lawns = []
    for outline in outlines:
        edge = _ring(outline.edge, x, y)
        holes = tuple(_ring(hole, x, y) for hole in outline.holes)
        for fault in outline_faults(edge, holes):
            faults.add(f"{outline.where}: {fault.what}", fault.found, fault.right)
        if not faults:
            lawns.append(Measured(Lawn(outline.label, edge, holes, place=outline.place), said=said))
    faults.raise_if_any()
    _check_once(outlines, lawns, faults)
    faults.raise_if_any()
    return lawns


def _check_once(outlines: Sequence[Outline], lawns: Sequence[Measured], faults: FaultList) -> None:
    for one, other in alike([Polygon(one.lawn.edge) for one in lawns]):
        if outlines[one].label and outlines[other].label not in ("", outlines[one].label):
            continue  # two lawns of one size, each counted from a corner of its own
        right = "each outline once; a lawn is cut for as often as it stands there"
        faults.add(f"{outlines[other].where}: the same outline again", outlines[one].where, right)


def alike(areas: Sequence[Polygon]) -> list[tuple[int, int]]:
    """Find outlines that stand there already, each with the first like it: their numbers, the earlier first.

    Parameters
    ----------
    areas
        Sound ones, in the order of the file.
    """
    meeting = STRtree(areas).query(areas, predicate="intersects")
    first: dict[int, int] = {}
    for one, other in sorted(zip(*(row.tolist() for row in meeting), strict=True)):
        if one < other and other not in first:
            shared = areas[one].intersection(areas[other]).area
            if shared >= ALIKE * (areas[one].area + areas[other].area - shared):
                first[other] = one
    return [(one, other) for other, one in sorted(first.items())]


def _ring(places: Sequence[Place], x: float, y: float) -> tuple[Point, ...]:
    return without_repeats([(place[0] - x, place[1] - y) for place in places])


def _check_size(outlines: Sequence[Outline], faults: FaultList) -> None:
    """Refuse what looks like degrees of longitude and latitude."""
    for outline in outlines:
        xs, ys = [place[0] for place in outline.edge], [place[1] for place in outline.edge]
        size = max(max(xs) - min(xs), max(ys) - min(ys))
        if size < LEAST_SIZE_MM:
            found = f"({xs[0] / MM_PER_M:g}, {ys[0] / MM_PER_M:g}), {metres(round(size), 3)} m across"
            degrees = max(map(abs, [*xs, *ys])) <= MOST_DEGREES * MM_PER_M
            what = "an outline that looks like degrees" if degrees else "an outline of hardly any size"
            right = DEGREES if degrees else "coordinates in metres"
            faults.add(f"{outline.where}: {what}", found, right)


def _origin(places: Sequence[Place]) -> Place:
    if all(abs(value) <= FURTHEST_MM for place in places for value in place):
        return 0.0, 0.0
    x, y = (min(place[axis] for place in places) for axis in (0, 1))
    return float(floor(x / MM_PER_M) * MM_PER_M), float(floor(y / MM_PER_M) * MM_PER_M)
