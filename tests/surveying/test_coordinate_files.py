"""Outlines by coordinates: GeoJSON, well-known text and DXF."""

from __future__ import annotations

import io
import json
import math
import sys
from typing import Any

import ezdxf
import pytest
import shapely
from shapely.geometry import Polygon

from stockplan.domain.lawn import LawnPlace, Point
from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying.lengths import Unit
from stockplan.surveying.reading import read_file, read_typed

SETTINGS = SurveySettings()
SQUARE = [[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]
BED = [[1, 1], [1, 2], [2.5, 2], [2.5, 1], [1, 1]]


def feature(*rings: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates": list(rings)}}


def collection(*features: Any) -> str:
    return json.dumps({"type": "FeatureCollection", "features": features})


def read(name: str, data: str | bytes, unit: Unit | None = None) -> list[Measured]:
    return read_file(name, data.encode() if isinstance(data, str) else data, SETTINGS, unit)


def faults(name: str, data: str | bytes, unit: Unit | None = None) -> tuple[str, ...]:
    with pytest.raises(SurveyFaults) as caught:
        read(name, data, unit)
    return caught.value.faults


def test_geojson_features_with_holes_names_and_places() -> None:
    back, front = read(
        "garden.geojson",
        collection(feature(SQUARE, BED, lawn="back", place="back"), feature(SQUARE[:-1], name="front")),
    )
    assert back.lawn.edge == (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
    assert back.lawn.holes[0][2] == Point(2500, 2000)
    assert (back.lawn.label, back.lawn.place, front.lawn.label) == ("back", LawnPlace.BACK, "front")
    assert back.lawn.area_mm2 == 24_000_000 - 1_500_000


def test_geojson_of_every_kind_of_object() -> None:
    polygon = {"type": "Polygon", "coordinates": [[[*place, 31.5] for place in SQUARE]]}
    many = {
        "type": "MultiPolygon",
        "coordinates": [[[[x, y + 5] for x, y in SQUARE]], [[[x + 10, y] for x, y in SQUARE], []][:1]],
    }
    (flat,) = read("a.json", json.dumps(polygon))
    assert flat.said == ("Heights are left out.",)
    assert len(read("a.json", json.dumps(many))) == 2
    assert len(read("a.json", json.dumps({"type": "GeometryCollection", "geometries": [polygon, many]}))) == 3


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ('{"type": ', ["a.json:1: not JSON, found Expecting value at column 10"]),
        ("[]", ["a.json: the geometry: not an area, found no type that is known"]),
        (collection(), ["a.json: no outline, found none"]),
        (
            collection(feature(SQUARE, lawn=7), feature([[0, "x"], [6, 0], [6, True], [0, math.inf]], place="bk")),
            [
                "a.json: feature 1: a lawn's name, found '7'",
                "a.json: feature 2, ring 1, position 1: no place, found '[0, \"x\"]'",
                "a.json: feature 2, ring 1, position 3: no place, found '[6, true]'",
                "a.json: feature 2, ring 1, position 4: no place, found '[0, Infinity]'",
                "a.json: feature 2: a place nobody knows, found 'bk'",
            ],
        ),
        (collection({"type": "Point", "coordinates": [1, 2]}), ["a.json: feature 1: not an area, found 'Point'"]),
        (
            collection(feature([[-1.5, 51.2], [-1.4999, 51.2], [-1.4999, 51.2001], [-1.5, 51.2]])),
            ["a.json: feature 1: an outline that looks like degrees, found (-1.5, 51.2), 0.000 m across"],
        ),
        (
            json.dumps({**feature(SQUARE), "crs": {"type": "name", "properties": {"name": "EPSG:4326"}}}),
            ["a.json: coordinates in degrees"],
        ),
        (
            collection(feature([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]])),
            ["a.json: feature 1: an edge that crosses itself"],
        ),
        (collection(feature(SQUARE, [[9, 9], [9.5, 9], [9.5, 9.5]])), ["a.json: feature 1: a hole outside the lawn"]),
    ],
)  # fmt: skip
def test_what_is_wrong_with_geojson(data: str, expected: list[str]) -> None:
    found = faults("a.json", data)
    assert [fault[: len(start)] for fault, start in zip(found, expected, strict=True)] == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            '{"type": "Polygon", "coordinates": [[[0, 0], [1e300, 0], [6, 4], [0, 0]]]}',
            "the geometry, ring 1, position 2",
        ),
        (f'{{"type": "Polygon", "coordinates": [[[{"9" * 400}, 0]]]}}', "the geometry, ring 1, position 1: no place"),
        (f'{{"type": "Polygon", "coordinates": [[[{"9" * 5000}, 0]]]}}', "a number of thousands of digits"),
        ('{"type": "GeometryCollection", "geometries": [' * 20_000, "objects too deep within one another"),
    ],
)
def test_numbers_and_depths_without_end(text: str, expected: str) -> None:
    assert faults("a.json", text)[0].startswith(f"a.json: {expected}")


def test_well_known_text_typed_or_in_a_file() -> None:
    (typed,) = read_typed("polygon ((0 0, 6 0, 6 4, 0 4, 0 0), (1 1, 1 2, 2.5 2, 2.5 1, 1 1))", SETTINGS)
    assert (typed.lawn.area_mm2, len(typed.lawn.holes)) == (22_500_000, 1)
    two = read(
        "garden.wkt", "SRID=27700;MULTIPOLYGON Z (((0 0 1, 6 0 1, 6 4 1, 0 0 1)), ((10 0 1, 16 0 1, 16 4 1, 10 0 1)))"
    )
    assert [one.lawn.area_mm2 for one in two] == [12_000_000] * 2
    assert two[0].said == ("Heights are left out.",)


def test_coordinates_of_a_national_grid_are_counted_from_the_lawn() -> None:
    shape = shapely.affinity.translate(Polygon(SQUARE, [BED]), 412_345.5, 5_287_654.25)
    (one,) = read("garden.wkt", shape.wkt)
    assert one.lawn.edge[0] == Point(500, 250)
    assert one.lawn.area_mm2 == 22_500_000
    assert one.said == ("Coordinates are counted from (412345, 5287654).",)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("POLYGON ((0 0, 6 0, 6 4))", "a.wkt: not well-known text, found 'Points of LinearRing do not form a closed"),
        ("POLYGON ((0 0, 6 0, 6", "a.wkt: not well-known text"),
        ("LINESTRING (0 0, 6 0)", "a.wkt: not an area"),
        ("POLYGON EMPTY", "a.wkt: not an area"),
        ("POLYGON ((0 0, 6 0, 6 nan, 0 0))", "a.wkt: polygon 1: no place"),
        ("POLYGON ((0 0, 1e300 0, 6 4, 0 0))", "a.wkt: polygon 1: no place"),
        ("CURVEPOLYGON (CIRCULARSTRING (0 0, 1 1, 2 0, 1 -1, 0 0))", "a.wkt: not well-known text, found 'Nonlinear"),
        ("SRID=4326;POLYGON ((0 0, 6 0, 6 4, 0 0))", "a.wkt: coordinates in degrees"),
        (
            "POLYGON ((0.1 0.1, 0.1001 0.1, 0.1001 0.1002, 0.1 0.1))",
            "a.wkt: polygon 1: an outline that looks like degrees",
        ),
        ("POLYGON ((500 0, 500.1 0, 500.1 0.1, 500 0))", "a.wkt: polygon 1: an outline of hardly any size"),
    ],
)
def test_what_is_wrong_with_well_known_text(text: str, expected: str) -> None:
    (found,) = faults("a.wkt", text)
    assert found.startswith(expected)


def drawing(units: int = 4, **version: Any) -> Any:
    return ezdxf.new(version.get("version", "R2010"), units=units)


def saved(document: Any) -> bytes:
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def test_polylines_circles_and_what_lies_in_them() -> None:
    document = drawing()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (6000, 0), (6000, 4000), (0, 4000)], close=True, dxfattribs={"layer": "back"})
    space.add_circle((2000, 2000), 500)
    space.add_polyline2d([(3500, 1000), (4500, 1000), (4500, 2000), (3500, 1000)])
    space.add_lwpolyline([(8000, 0), (9000, 0), (9000, 1000), (8000, 1000)], close=True, dxfattribs={"layer": "front"})
    space.add_line((0, 0), (1, 1))  # what is no outline is passed over
    back, front = read("plan.dxf", saved(document))
    assert (back.lawn.label, front.lawn.label) == ("back", "front")
    assert back.lawn.edge == (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
    assert sorted(len(hole) for hole in back.lawn.holes)[0] == 3
    tree = max(map(Polygon, back.lawn.holes), key=lambda hole: len(hole.exterior.coords))
    assert Polygon.from_bounds(1499, 1499, 2501, 2501).contains(tree)
    assert tree.area == pytest.approx(math.pi * 500**2, rel=0.03)


@pytest.mark.parametrize(("units", "factor"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_the_unit_of_the_header_counts(units: int, factor: float) -> None:
    document = drawing(units)
    side = 6000 / factor
    document.modelspace().add_lwpolyline([(0, 0), (side, 0), (side, side), (0, side)], close=True)
    assert read("plan.dxf", saved(document), Unit.FEET)[0].lawn.edge[2] == Point(6000, 6000)


@pytest.mark.parametrize("clockwise", [False, True])
def test_arcs_hold_the_true_outline(clockwise: bool) -> None:
    """A square with a half circle outward on one side and one inward on the opposite: the area of the square."""
    corners = [(0, 0, 0), (4000, 0, 1), (4000, 4000, 0), (0, 4000, -1)]
    if clockwise:  # the bulge belongs to the side that begins at a corner, and turns its sign with the direction
        corners = [(4000, 4000, -1), (4000, 0, 0), (0, 0, 1), (0, 4000, 0)]
    document = drawing()
    document.modelspace().add_lwpolyline(corners, format="xyb", close=True)
    (one,) = read("plan.dxf", saved(document))
    true = Polygon([(0, 0), (4000, 0), (4000, 4000), (0, 4000)]).union(
        shapely.Point(4000, 2000).buffer(2000, quad_segs=512)
    )
    true = true.difference(shapely.Point(0, 2000).buffer(2000, quad_segs=512))
    drawn = Polygon(one.lawn.edge)
    assert true.difference(drawn).area < 0.001 * true.area  # rounding to whole millimetres alone
    assert 0 < drawn.area - true.area < 2 * math.pi * 2000 * 6
    assert true.hausdorff_distance(drawn) < 8


def test_two_half_circles_are_a_circle_and_mirrored_drawings_are_turned_over() -> None:
    document = drawing()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 1), (4000, 0, 1)], format="xyb", close=True)
    space.add_lwpolyline(
        [(-9000, 0, 0), (-6000, 0, 0), (-6000, 2000, 0)], format="xyb", close=True, dxfattribs={"extrusion": (0, 0, -1)}
    )
    round_one, mirrored = read("plan.dxf", saved(document))
    assert round_one.lawn.area_mm2 == pytest.approx(math.pi * 2000**2, rel=0.01)
    assert mirrored.lawn.edge == (Point(9000, 0), Point(6000, 0), Point(6000, 2000))


def test_a_drawing_without_a_unit_is_asked_about() -> None:
    document = drawing(0)
    document.modelspace().add_lwpolyline([(0, 0), (6, 0), (6, 4)], close=True)
    (found,) = faults("plan.dxf", saved(document))
    assert "does not say what it counts in" in found
    assert "--units" in found
    assert read("plan.dxf", saved(document), Unit.METRES)[0].lawn.area_mm2 == 12_000_000


def test_what_is_wrong_with_a_drawing() -> None:
    document = drawing()
    assert faults("plan.dxf", saved(document))[0].startswith("plan.dxf: no closed outline")
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (6000, 0), (6000, 4000)], dxfattribs={"layer": "back"})
    space.add_lwpolyline([(0, 0), (6000, 4000), (6000, 0), (0, 4000)], close=True)
    space.add_circle((0, 0), 500, dxfattribs={"extrusion": (0, 1, 1)})
    found = faults("plan.dxf", saved(document))
    assert [("open" in fault, "crosses itself" in fault, "flat" in fault) for fault in found] == [
        (True, False, False),
        (False, False, True),
        (False, True, False),
    ]
    assert "on layer back" in found[0]
    assert faults("plan.dxf", b"nonsense")[0].startswith("plan.dxf: not a DXF drawing that can be read")


def test_control_points_of_a_smoothed_polyline_are_no_corners() -> None:
    document = drawing()
    line = document.modelspace().add_polyline2d([], close=True)
    line.dxf.flags |= 4
    # Corners of the frame, each before the places on the curve near it; the curve is an octagon within.
    for frame, *curve in [
        ((0, 0), (0, 1000), (1000, 0)),
        ((6000, 0), (5000, 0), (6000, 1000)),
        ((6000, 4000), (6000, 3000), (5000, 4000)),
        ((0, 4000), (1000, 4000), (0, 3000)),
    ]:
        line.append_vertices([frame], {"flags": 16})
        line.append_vertices(curve, {"flags": 8})
    (one,) = read("plan.dxf", saved(document))
    assert one.lawn.area_mm2 == 22_000_000
    assert len(one.lawn.edge) == 8


@pytest.mark.parametrize("first", [(1e300, 0, 0), (float("nan"), 0, 0), (0, 0, 1e9)])
def test_places_and_arcs_without_end(first: tuple[float, float, float]) -> None:
    document = drawing()
    document.modelspace().add_lwpolyline([first, (6000, 0, 0), (6000, 4000, 0)], format="xyb", close=True)
    (found,) = faults("plan.dxf", saved(document))
    assert "no place" in found


@pytest.mark.parametrize("radius", [0, -500, 1e9])
def test_a_circle_that_is_none(radius: float) -> None:
    document = drawing()
    document.modelspace().add_circle((0, 0), radius)
    (found,) = faults("plan.dxf", saved(document))
    assert "no circle" in found


def test_without_the_extra_a_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    (found,) = faults("plan.dxf", b"")
    assert found == "plan.dxf: reading DXF needs the library ezdxf: pip install 'stockplan[dxf]'"


def test_files_that_are_none() -> None:
    assert "stockplan import" in faults("lawns.csv", b"job,lawn")[0]
    assert "not UTF-8 at byte 0" in faults("notes.txt", b"\xff\xfe")[0]
    assert "more than the outline of any lawn needs" in faults("notes.txt", b" " * 20_000_001)[0]
