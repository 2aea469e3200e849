"""DXF drawings: closed polylines with their arcs, and curves; what lies within another outline is a hole in it."""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from shapely.geometry import Point, Polygon

from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying import dxf_curves
from stockplan.surveying.curves import Place, bulged, circle
from stockplan.surveying.dxf_parts import Part, Parts
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.lengths import Unit
from stockplan.surveying.notes_words import LONGEST_NAME
from stockplan.surveying.outline_faults import outline_faults, without_repeats
from stockplan.surveying.outlines import FURTHEST_MM, Outline, alike, measured_outlines, on_earth

# $INSUNITS of the DXF reference: inches, feet, millimetres, centimetres, metres, decimetres
MM_PER_UNIT = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 14: 100.0}
MM_PER_STATED = {Unit.METRES: 1000.0, Unit.MILLIMETRES: 1.0, Unit.FEET: 304.8}
LEAST_BULGE = 1e-9
DROPPED = re.compile(r"(?:Removed|Deleted)(?: entity)? ([A-Z]+)\(#([0-9A-F]+)\)")
CONTROL_POINT = 16  # flag of a vertex that only shapes a smoothed polyline, and lies off it


@dataclass(frozen=True, slots=True)
class _Ring:
    """One closed outline as drawn, mm: corners with the bulge of the side that begins there, or a circle or curve."""

    where: str
    layer: str
    corners: tuple[tuple[float, float, float], ...] = ()
    centre: Place = (0.0, 0.0)
    radius: float = 0.0
    curve: tuple[Place, ...] = ()

    def places(self, gap: float, *, grass_inside: bool) -> list[Place]:
        """Draw it, never leaving grass out by more than `gap`."""
        if self.radius:
            return circle(self.centre, self.radius, gap, outside=grass_inside)
        if self.curve:
            return dxf_curves.held(self.curve, gap, outside=grass_inside)
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
    """Read every closed outline of a drawing's model space that is not hidden there, in blocks too.

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
    document, lost = _open(data, faults)
    stated = int(document.header.get("$INSUNITS", 0))
    scale = MM_PER_UNIT.get(stated, MM_PER_STATED[unit] if unit and stated == 0 else 0.0)
    if not scale:
        found = "no unit" if stated == 0 else f"unit {stated}"
        right = "metres, millimetres, centimetres, feet or inches in its header, or the option --units"
        faults.add("a drawing that does not say what it counts in", found, right)
        faults.raise_if_any()
    gap = settings.curve_gap_mm
    parts = Parts(document, lost, scale, gap, faults)
    faults.raise_if_any()
    rings = list(_rings(parts.outlines, scale, gap, faults))
    notes = parts.notes()
    for ring in rings:
        for fault in outline_faults(without_repeats(ring.places(gap, grass_inside=True))):
            faults.add(f"{ring.where}: {fault.what}", fault.found, fault.right)
    if not rings and not faults:
        found = " ".join(["none in model space.", *notes]).removesuffix(".")
        faults.add("no closed outline", found, "closed polylines, splines, ellipses or circles, not lines")
    faults.raise_if_any()
    _check_once(rings, gap, faults)
    return measured_outlines(_nested(rings, gap), faults, notes)


def _open(data: bytes, faults: FaultList) -> tuple[Any, list[str]]:
    """Read a drawing; also give what of it was so damaged that it was left out in reading."""
    try:
        from ezdxf import recover  # noqa: PLC0415 - an optional extra
        from ezdxf.lldxf.const import DXFError  # noqa: PLC0415
    except ImportError:
        raise SurveyFaults(
            [f"{faults.label}: reading DXF needs the library ezdxf: pip install 'stockplan[dxf]'"]
        ) from None
    try:
        document, audit = recover.read(io.BytesIO(data))
    except (DXFError, OSError, ValueError) as error:
        faults.add("not a DXF drawing that can be read", quoted(str(error)), "a drawing saved as DXF")
        faults.raise_if_any()
    dropped = [match for fix in audit.fixes if (match := DROPPED.match(fix.message))]
    return document, [f"{kind} {handle}, damaged" for kind, handle in (match.groups() for match in dropped)]


def _check_once(rings: Sequence[_Ring], gap: float, faults: FaultList) -> None:
    for one, other in alike([Polygon(ring.places(gap, grass_inside=True)) for ring in rings]):
        faults.add(f"{rings[other].where}: the same outline again", rings[one].where, "each outline once")
    faults.raise_if_any()


def _rings(outlines: Iterable[Part], scale: float, gap: float, faults: FaultList) -> Iterator[_Ring]:
    for part in outlines:
        entity, where, layer = part.entity, part.where, part.layer
        if entity.dxftype() in dxf_curves.KINDS:
            if (curve := _curve(part, scale, gap, faults)) is not None:
                yield curve
            continue
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
                yield _Ring(where, layer, centre=place, radius=radius)
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
                yield _Ring(where, layer, tuple(corners[:-1] if closes else corners))


def _curve(part: Part, scale: float, gap: float, faults: FaultList) -> _Ring | None:
    try:
        places = dxf_curves.drawn(part.entity, gap, scale)
    except dxf_curves.CurveFault as error:
        faults.add(f"{part.where}: no outline in plan", str(error), "a closed curve within a kilometre, drawn flat")
        return None
    if not dxf_curves.closes(places):
        right = "a closed curve; close it, or put other lines in another drawing"
        faults.add(f"{part.where}: an outline that is open", "ends apart", right)
        return None
    return _Ring(part.where, part.layer, curve=tuple(places))


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
