"""GeoJSON polygons in metres, by the structure of RFC 7946; its degrees are refused."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from stockplan.domain.lawn import LawnPlace
from stockplan.domain.measured import Measured
from stockplan.domain.units import MM_PER_M
from stockplan.errors import SurveyFaults
from stockplan.surveying.curves import Place
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.notes_words import LONGEST_NAME
from stockplan.surveying.outlines import DEGREES, MOST_MM, Outline, measured_outlines

IN_DEGREES = ("4326", "CRS84", "WGS84")
SHAPES = ("Polygon", "MultiPolygon")
HEIGHTS = "Heights are left out."


def read_geojson(text: str, label: str) -> list[Measured]:
    """Read every polygon of a GeoJSON text; each is a lawn, its inner rings are holes.

    Parameters
    ----------
    text
        A Polygon, MultiPolygon, Feature, FeatureCollection or GeometryCollection. A feature's properties may hold
        `lawn` or `name`, and `place` (back, front or other); others are passed over.
    label
        What messages call it.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    """
    faults = FaultList(label)
    try:
        return _read(text, faults)
    except RecursionError:
        faults.add("objects too deep within one another", "hundreds", "a GeoJSON text of one lawn or a few")
        raise SurveyFaults(faults.lines()) from None


def _read(text: str, faults: FaultList) -> list[Measured]:
    try:
        root = json.loads(text)
    except json.JSONDecodeError as error:
        faults.add(
            "not JSON", f"{error.msg.removesuffix(' at')} at column {error.colno}", "a GeoJSON text", error.lineno
        )
        faults.raise_if_any()
    except ValueError:
        faults.add("a number of thousands of digits", "one in the text", "a GeoJSON text, coordinates in metres")
        faults.raise_if_any()
    crs = json.dumps(root["crs"]) if isinstance(root, dict) and root.get("crs") else ""
    if any(name in crs.replace("::", ":").replace(" ", "") for name in IN_DEGREES):
        faults.add("coordinates in degrees", quoted(crs), DEGREES)
    reader = _Reader(faults)
    outlines = list(reader.outlines(root, "the geometry", {}))
    return measured_outlines(outlines, faults, (HEIGHTS,) if reader.heights else ())


class _Reader:
    """Walks through objects within objects."""

    def __init__(self, faults: FaultList) -> None:
        self.faults = faults
        self.heights = False

    def outlines(self, thing: Any, where: str, properties: dict[str, Any]) -> Iterator[Outline]:
        """Give every polygon in an object."""
        kind = thing.get("type") if isinstance(thing, dict) else None
        if kind == "FeatureCollection" and isinstance(thing.get("features"), list):
            for number, feature in enumerate(thing["features"], 1):
                yield from self.outlines(feature, f"feature {number}", {})
        elif kind == "Feature":
            found = thing.get("properties")
            yield from self.outlines(thing.get("geometry"), where, found if isinstance(found, dict) else {})
        elif kind == "GeometryCollection" and isinstance(thing.get("geometries"), list):
            for number, geometry in enumerate(thing["geometries"], 1):
                yield from self.outlines(geometry, f"{where}, geometry {number}", properties)
        elif kind in SHAPES and isinstance(thing.get("coordinates"), list):
            polygons = [thing["coordinates"]] if kind == "Polygon" else thing["coordinates"]
            for number, polygon in enumerate(polygons, 1):
                name = where if len(polygons) == 1 else f"{where}, polygon {number}"
                outline = self._polygon(polygon, name, properties, len(polygons) == 1)
                if outline is not None:
                    yield outline
        else:
            found = quoted(str(kind)) if kind else "no type that is known"
            self.faults.add(f"{where}: not an area", found, "a Polygon or MultiPolygon with its coordinates")

    def _polygon(self, rings: Any, where: str, properties: dict[str, Any], alone: bool) -> Outline | None:
        if not isinstance(rings, list) or not rings:
            self.faults.add(f"{where}: a polygon without rings", quoted(str(rings)), "a list of rings of positions")
            return None
        before = len(self.faults)
        places = [self._ring(ring, f"{where}, ring {number}") for number, ring in enumerate(rings, 1)]
        label = self._label(properties, where) if alone else ""
        place = self._place(properties, where)
        if len(self.faults) > before:
            return None
        return Outline(where, places[0], places[1:], label, place)

    def _ring(self, ring: Any, where: str) -> list[Place]:
        places: list[Place] = []
        for number, position in enumerate(ring if isinstance(ring, list) else [], 1):
            values = position[:2] if isinstance(position, list) else []
            if len(values) != 2 or not all(_is_number(value) for value in values):
                right = "two numbers, x and y in metres"
                self.faults.add(f"{where}, position {number}: no place", quoted(json.dumps(position)), right)
                continue
            self.heights = self.heights or len(position) > 2
            places.append((values[0] * MM_PER_M, values[1] * MM_PER_M))
        if not places:
            self.faults.add(f"{where}: no corners", quoted(str(ring)), "positions in the order walked")
        return places

    def _label(self, properties: dict[str, Any], where: str) -> str:
        label = properties.get("lawn") or properties.get("name") or ""
        if not isinstance(label, str) or len(label) > LONGEST_NAME or not label.isprintable():
            self.faults.add(f"{where}: a lawn's name", quoted(str(label)), f"at most {LONGEST_NAME} characters of text")
            return ""
        return label.strip()

    def _place(self, properties: dict[str, Any], where: str) -> LawnPlace:
        place = properties.get("place") or LawnPlace.OTHER.value
        if place not in [one.value for one in LawnPlace]:
            self.faults.add(f"{where}: a place nobody knows", quoted(str(place)), "back, front or other")
            return LawnPlace.OTHER
        return LawnPlace(place)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= MOST_MM / MM_PER_M
