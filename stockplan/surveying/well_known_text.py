"""Well-known text: POLYGON and MULTIPOLYGON in metres."""

from __future__ import annotations

import re
import warnings

import shapely
from shapely.errors import ShapelyError

from stockplan.domain.measured import Measured
from stockplan.domain.units import MM_PER_M
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.geojson import HEIGHTS, IN_DEGREES
from stockplan.surveying.outlines import DEGREES, Outline, measured_outlines, on_earth

_SRID = re.compile(r"\s*SRID\s*=\s*(\d+)\s*;\s*", re.IGNORECASE)


def looks_like_wkt(text: str) -> bool:
    """Whether a text begins as well-known text of an area does."""
    return re.match(r"\s*(SRID\s*=\s*\d+\s*;\s*)?(MULTI)?POLYGON\b", text, re.IGNORECASE) is not None


def read_wkt(text: str, label: str) -> list[Measured]:
    """Read an area; each polygon is a lawn, its inner rings are holes.

    Parameters
    ----------
    text
        `POLYGON ((0 0, 6.2 0, 6.2 4.8, 0 4.8, 0 0))` or the like, coordinates in metres.
    label
        What messages call it.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    """
    faults = FaultList(label)
    if (match := _SRID.match(text)) and match[1] in IN_DEGREES:
        faults.add("coordinates in degrees", quoted(match[0].strip()), DEGREES)
    polygons: list[shapely.Polygon] = []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # coordinates that are no numbers are noted below
            area = shapely.from_wkt(_SRID.sub("", text, count=1).strip())
    except (ShapelyError, NotImplementedError) as error:
        reason = str(error).removeprefix("ParseException: ").removeprefix("IllegalArgumentException: ")
        faults.add("not well-known text", quoted(reason), "POLYGON ((x y, x y, x y, x y)), closed, in metres")
        faults.raise_if_any()
    if isinstance(area, shapely.Polygon) and not area.is_empty:
        polygons = [area]
    elif isinstance(area, shapely.MultiPolygon) and not area.is_empty:
        polygons = list(area.geoms)
    else:
        faults.add("not an area", quoted(text.strip()), "POLYGON or MULTIPOLYGON with corners")
    outlines = []
    for number, polygon in enumerate(polygons, 1):
        rings = [
            [(x * MM_PER_M, y * MM_PER_M) for x, y, *_ in ring.coords]
            for ring in (polygon.exterior, *polygon.interiors)
        ]
        if not all(on_earth(x, y) for ring in rings for x, y in ring):
            found = "a coordinate that is no number, or too large for one"
            faults.add(f"polygon {number}: no place", found, "numbers, in metres")
            continue
        outlines.append(Outline(f"polygon {number}", rings[0], rings[1:]))
    heights = any(polygon.has_z for polygon in polygons)
    return measured_outlines(outlines, faults, (HEIGHTS,) if heights else ())
