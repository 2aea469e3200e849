"""Area and perimeter of a lawn, against worked figures and a geometry library."""

from __future__ import annotations

import math
import random

import pytest
from shapely.geometry import Polygon

from stockplan.domain.lawn import EdgeNote, Lawn, Point, lawn_words, perimeter, twice_area


def test_area_by_coordinates_of_a_published_traverse() -> None:
    """Ghilani and Wolf, Elementary Surveying, chapter on area: 272,600 square feet (from memory)."""
    departures = (517_444, 5_964, 192_881, -590_571, -125_718)
    latitudes = (-388_835, -202_949, 694_023, 153_689, -255_928)
    ring, x, y = [], 0, 0
    for departure, latitude in zip(departures, latitudes, strict=True):
        ring.append(Point(x, y))
        x, y = x + departure, y + latitude
    assert (x, y) == (0, 0)
    assert round(abs(twice_area(ring)) / 2 / 1e6, -2) == 272_600


def star(rng: random.Random, corners: int) -> list[Point]:
    """A polygon that does not cross itself: corners sorted by their direction from the middle."""
    angles = sorted(rng.sample(range(36_000), corners))
    radii = [rng.randint(500, 20_000) for _ in angles]
    offset = rng.randint(-(10**6), 10**6)
    return [
        Point(round(offset + r * math.cos(math.radians(a / 100))), round(r * math.sin(math.radians(a / 100))))
        for a, r in zip(angles, radii, strict=True)
    ]


def test_area_and_perimeter_agree_with_shapely_on_thousands_of_polygons() -> None:
    rng = random.Random(7)
    sound = 0
    for _ in range(3000):
        ring = star(rng, rng.randint(3, 40))
        shape = Polygon(ring)
        assert abs(twice_area(ring)) / 2 == pytest.approx(shape.area, rel=1e-12, abs=1e-6)
        assert perimeter(ring) == pytest.approx(shape.length, abs=0.5 + 1e-6)
        assert twice_area(ring[::-1]) == -twice_area(ring)
        sound += shape.is_valid
        assert not shape.is_valid or (twice_area(ring) > 0) == shape.exterior.is_ccw
    assert sound > 2000


def test_holes_are_taken_off_whichever_way_they_were_walked() -> None:
    edge = (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
    bed = (Point(1000, 1000), Point(2000, 1000), Point(2000, 2001))
    lawn = Lawn("back", edge, (bed, tuple(Point(x + 2500, y) for x, y in bed[::-1])))
    assert lawn.area_mm2 == 24_000_000 - 1_001_000
    assert lawn.area_mm2 == round(Polygon(edge, lawn.holes).area)
    assert (lawn.perimeter_mm, lawn.holes_perimeter_mm) == (20_000, 2 * perimeter(bed))


def test_sides_are_known_by_number_name_and_rule() -> None:
    edge = (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
    lawn = Lawn(
        "back", edge, notes=(EdgeNote(1, "House"), EdgeNote(2, no_seam=True), EdgeNote(3, "house", no_seam=True))
    )
    assert lawn.side(3) == (Point(0, 4000), Point(0, 0))
    assert lawn.named("HOUSE") == (1, 3)
    assert lawn.no_seam_edges() == (2, 3)


@pytest.mark.parametrize(
    "changes",
    [
        {"edge": (Point(0, 0), Point(1, 0))},
        {"holes": ((Point(0, 0),),)},
        {"notes": (EdgeNote(4),)},
        {"notes": (EdgeNote(1), EdgeNote(1, "house"))},
        {"y_bearing": 360.0},
    ],
)
def test_what_cannot_be_a_lawn_is_refused(changes: dict[str, object]) -> None:
    edge = (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
    with pytest.raises(ValueError, match="lawn back"):
        Lawn(**{"label": "back", "edge": edge, **changes})  # type: ignore[arg-type]


def test_a_lawn_that_nobody_named_is_not_called_lawn_twice() -> None:
    named = {
        "": "lawn",
        "lawn": "lawn",
        "lawn 2": "lawn 2",
        "front": "lawn front",
        "lawnmower shed": "lawn lawnmower shed",
    }
    assert {label: lawn_words(label) for label in named} == named
