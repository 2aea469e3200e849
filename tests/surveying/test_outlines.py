"""Outlines of one file held against each other."""

from __future__ import annotations

import json

import pytest

from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying.reading import read_file


def test_the_same_outline_twice_in_geojson_and_well_known_text() -> None:
    square = [[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]
    beside = [[x + 6, y] for x, y in square]
    text = json.dumps({"type": "MultiPolygon", "coordinates": [[square], [beside], [square[1:] + square[1:2]]]})
    wkt = "MULTIPOLYGON (((0 0, 6 0, 6 4, 0 0)), ((6 0, 6 4, 0 0, 6 0)))"
    for name, data, one, other in (("a.json", text, "the geometry, polygon 1", 3), ("a.wkt", wkt, "polygon 1", 2)):
        with pytest.raises(SurveyFaults) as caught:
            read_file(name, data.encode(), SurveySettings())
        (found,) = caught.value.faults
        assert found.startswith(f"{name}: {one[:-1]}{other}: the same outline again, found {one}, would be right: each")
