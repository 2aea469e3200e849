"""DXF drawings: closed polylines with their arcs, and circles; what lies within another outline is a hole in it."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from shapely.geometry import Point, Polygon

from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying.curves import Place, bulged, circle
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.lengths import Unit
from stockplan.surveying.notes_words import LONGEST_NAME
from stockplan.surveying.outline_faults import outline_faults, without_repeats
from stockplan.surveying.outlines import FURTHEST_MM, Outline, measured_outlines, on_earth

# $INSUNITS of the DXF reference: inches, feet, millimetres, centimetres, metres, decimetres
MM_PER_UNIT = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 14: 100.0}
MM_PER_STATED = {Unit.METRES: 1000.0, Unit.MILLIMETRES: 1.0, Unit.FEET: 304.8}
LEAST_BULGE = 1e-9
CONTROL_POINT = 16  # flag of a vertex that only shapes a smoothed polyline, and lies off it
OUTLINES = "LWPOLYLINE POLYLINE CIRCLE"


@dataclass(frozen=True, slots=True)
class _Ring:
    """One closed outline as drawn: corners with the bulge of the side that begins there, mm; or a circle."""

    where: str
    layer: str
    corners: tuple[tuple[float, float, float], ...] = ()
    centre: Place = (0.0, 0.0)
    radius: float = 0.0

    def places(self, gap: float, *, grass_inside: bool) -> list[Place]:
        """Draw it, never leaving grass out by more than `gap`."""
        if self.radius:
            return circle(self.centre, self.radius, gap, outside=grass_inside)
        left = (self._signed_area() > 0) == grass_inside
        places: list[Place] = []
        for (x1, y1, bulge), (x2, y2, _) in zip(self.corners, [*self.corners[1:], self.corners[0]], strict=True):
            curved = abs(bulge) > LEAST_BULGE and (x1, y1) != (x2, y2)
            places += bulged((x1, y1), (x2, y2), bulge, gap, left=left)[:-1] if curved else [(x1, y1)]
        return places

    def _signed_area(self) -> float:
        """Area between the chords, and a sector's share of each arc so that two half circles have one."""
        following = [*self.corners[1:], self.corners[0]]
        area = sum(x1 * y2 - x2 * y1 for (x1, y1, _), (x2, y2, _) in zip(self.corners, following, strict=True)) / 2
        chords = zip(self.corners, following, strict=True)
        return area + sum(bulge * hypot(x2 - x1, y2 - y1) ** 2 / 3 for (x1, y1, bulge), (x2, y2, _) in chords)


def read_dxf(data: bytes, label: str, settings: SurveySettings, unit: Unit | None = None) -> list[Measured]:
    """Read every closed outline of a drawing's model space.

    Parameters
    ----------
    data
        The file as it is.
    label
        What messages call it.
    settings
        How far pieces may lie off a curve.
    unit
        What the drawing counts in, where it does not say so itself; what it says comes first.

    Raises
    ------
    SurveyFaults
        When anything is wrong, the drawing states no unit and none is given, or the extra is not installed.
    """
    faults = FaultList(label)
    document = _open(data, faults)
    stated = int(document.header.get("$INSUNITS", 0))
    scale = MM_PER_UNIT.get(stated, MM_PER_STATED[unit] if unit and stated == 0 else 0.0)
    if not scale:
        found = "no unit" if stated == 0 else f"unit {stated}"
        right = "metres, millimetres, centimetres, feet or inches in its header, or the option --units"
        faults.add("a drawing that does not say what it counts in", found, right)
        faults.raise_if_any()
    rings = list(_rings(document, scale, faults))
    for ring in rings:
        places = without_repeats(ring.places(settings.curve_gap_mm, grass_inside=True))
        for fault in outline_faults(places):
            faults.add(f"{ring.where}: {fault.what}", fault.found, fault.right)
    if not rings and not faults:
        faults.add("no closed outline", "none in model space", "closed polylines or circles, not lines or blocks")
    faults.raise_if_any()
    return measured_outlines(_nested(rings, settings.curve_gap_mm), faults)


def _open(data: bytes, faults: FaultList) -> Any:
    try:
        from ezdxf import recover  # noqa: PLC0415 - an optional extra
        from ezdxf.lldxf.const import DXFError  # noqa: PLC0415
    except ImportError:
        raise SurveyFaults(
            [f"{faults.label}: reading DXF needs the library ezdxf: pip install 'stockplan[dxf]'"]
        ) from None
    try:
        document, _ = recover.read(io.BytesIO(data))
    except (DXFError, OSError, ValueError) as error:
        faults.add("not a DXF drawing that can be read", quoted(str(error)), "a drawing saved as DXF")
        faults.raise_if_any()
    return document


def _rings(document: Any, scale: float, faults: FaultList) -> Iterator[_Ring]:
    for entity in document.modelspace().query(OUTLINES):
        where = f"{entity.dxftype()} {entity.dxf.handle} on layer {entity.dxf.layer}"
        upward = entity.dxf.extrusion.normalize().z
        mirrored = -1.0 if upward < 0 else 1.0
        if abs(upward) < 0.999:
            faults.add(f"{where}: an outline that does not lie flat", "a tilted plane", "outlines in plan")
        elif entity.dxftype() == "CIRCLE":
            centre, radius = entity.dxf.center, entity.dxf.radius * scale
            place = (mirrored * centre.x * scale, centre.y * scale)
            if not (0 < radius <= FURTHEST_MM and on_earth(*place)):
                faults.add(
                    f"{where}: no circle", f"a radius of {entity.dxf.radius:g}", "a radius above 0, a kilometre at most"
                )
            else:
                yield _Ring(where, entity.dxf.layer, centre=place, radius=radius)
        else:
            corners = _corners(entity, scale, mirrored)
            closes = len(corners) > 1 and corners[0][:2] == corners[-1][:2]
            if not _in_reach(corners):
                found = "a coordinate or an arc that is no number, or too large for one"
                faults.add(f"{where}: no place", found, "numbers, and arcs within a kilometre")
            elif not (entity.is_closed or closes):
                right = "a closed polyline; close it, or put other lines in another drawing"
                faults.add(f"{where}: an outline that is open", f"{len(corners)} corners", right)
            elif len(corners) < 2:
                faults.add(f"{where}: an outline with too few corners", f"{len(corners)}", "three corners or more")
            else:
                yield _Ring(where, entity.dxf.layer, tuple(corners[:-1] if closes else corners))


def _corners(entity: Any, scale: float, mirrored: float) -> list[tuple[float, float, float]]:
    if entity.dxftype() == "LWPOLYLINE":
        found = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
    else:
        drawn = [v.dxf for v in entity.vertices if not v.dxf.get("flags", 0) & CONTROL_POINT]
        found = [(v.location.x, v.location.y, v.get("bulge", 0.0)) for v in drawn]
    return [(mirrored * x * scale, y * scale, mirrored * bulge) for x, y, bulge in found]


def _in_reach(corners: Sequence[tuple[float, float, float]]) -> bool:
    """Whether corners are places, and arcs of more than half a circle have a radius that can be drawn."""
    following = [*corners[1:], *corners[:1]]
    return all(
        on_earth(x1, y1) and abs(bulge) * hypot(x2 - x1, y2 - y1) <= 4 * FURTHEST_MM
        for (x1, y1, bulge), (x2, y2, _) in zip(corners, following, strict=True)
    )


def _nested(rings: Sequence[_Ring], gap: float) -> list[Outline]:
    """Lawns with what lies in them: an outline within an odd number of others is a hole in the nearest."""
    areas = [Polygon(ring.places(gap, grass_inside=True)) for ring in rings]
    around = [
        [
            other
            for other in range(len(rings))
            if other != number
            and areas[other].area > area.area
            and areas[other].contains(Point(area.exterior.coords[0]))
        ]
        for number, area in enumerate(areas)
    ]
    lawns = [number for number in range(len(rings)) if len(around[number]) % 2 == 0]
    layers = Counter(rings[number].layer for number in lawns)
    outlines = []
    for lawn in lawns:
        holes = [
            rings[number].places(gap, grass_inside=False)
            for number in range(len(rings))
            if len(around[number]) % 2 and min(around[number], key=lambda other: areas[other].area) == lawn
        ]
        layer = rings[lawn].layer
        named = layer != "0" and layers[layer] == 1 and len(layer) <= LONGEST_NAME
        places = rings[lawn].places(gap, grass_inside=True)
        outlines.append(Outline(rings[lawn].where, places, holes, layer if named else ""))
    return outlines
