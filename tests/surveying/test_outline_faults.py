"""What a surveyor gets wrong, each fault by hand, and all of them against a geometry library."""

from __future__ import annotations

import math
import random

import pytest
from shapely.geometry import Polygon

from stockplan.domain.lawn import Lawn, Point
from stockplan.surveying.outline_faults import large_lawn, outline_faults, without_repeats

SQUARE = (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))


def box(x: int, y: int, side: int = 1000) -> tuple[Point, ...]:
    return (Point(x, y), Point(x + side, y), Point(x + side, y + side), Point(x, y + side))


def test_sound_outlines_have_no_faults() -> None:
    assert outline_faults(SQUARE) == []
    assert outline_faults(SQUARE[::-1], [box(500, 500), box(2000, 500)[::-1]]) == []


@pytest.mark.parametrize(
    ("edge", "holes", "what", "found"),
    [
        (SQUARE[:2], [], "an edge with too few corners", "2"),
        ((*SQUARE, SQUARE[0]), [], "a corner given twice", "corner 5 and corner 1, both at (0.00, 0.00)"),
        ((*SQUARE[:2], *SQUARE[1:]), [], "a corner given twice", "corner 2 and corner 3, both at (6.00, 0.00)"),
        ((SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]), [], "an edge that crosses itself", "side 3 at (3.00, 2.00)"),
        (
            (*SQUARE[:3], Point(3000, 0), SQUARE[3]),
            [],
            "an edge that crosses itself",
            "side 1 meets side 3 at (3.00, 0.00)",
        ),
        (
            (*SQUARE[:2], Point(6000, 9000), SQUARE[2], SQUARE[3]),
            [],
            "a spike",
            "corner 3 at (6.00, 9.00), where the edge comes back at 0.0 degrees",
        ),
        ((Point(0, 0), Point(200, 0), Point(200, 300)), [], "a lawn of hardly any area", "0.030 m²"),
        (SQUARE, [box(8000, 0)], "a hole outside the lawn", "hole 1 at (8.00, 0.00)"),
        (SQUARE, [box(5500, 500)], "a hole that touches or crosses the edge", "hole 1 at (6.00, 0.50)"),
        (SQUARE, [box(0, 500)], "a hole that touches or crosses the edge", "hole 1 at (0.00, 1.50)"),
        (SQUARE, [box(-1000, -1000, 9000)], "a hole that touches or crosses the edge", ""),
        (SQUARE, [box(500, 500), box(1000, 1000)], "a hole that overlaps or touches another", "hole 1 at (1.25, 1.25)"),
        (SQUARE, [box(500, 500, 3000), box(1000, 1000)], "a hole that overlaps or touches another", ""),
        (SQUARE, [(*box(500, 500)[:2], Point(900, 500))], "a spike", ""),
    ],
)  # fmt: skip
def test_each_fault_by_hand(edge: tuple[Point, ...], holes: list[tuple[Point, ...]], what: str, found: str) -> None:
    faults = outline_faults(edge, holes)
    assert faults[0].what == what
    assert found in faults[0].found
    assert faults[0].right


def test_all_faults_at_once() -> None:
    faults = outline_faults(SQUARE, [box(5500, 500), box(9000, 0), box(500, 500), box(1500, 1500)])
    assert [(fault.what, fault.ring) for fault in faults] == [
        ("a hole that touches or crosses the edge", 1),
        ("a hole outside the lawn", 2),
        ("a hole that overlaps or touches another", 4),
    ]


def test_agreement_with_shapely_on_random_outlines() -> None:
    rng = random.Random(5)
    seen = {True: 0, False: 0}
    for _ in range(1500):
        ring = [Point(rng.randint(0, 9) * 1000, rng.randint(0, 9) * 1000) for _ in range(rng.randint(3, 7))]
        faults = outline_faults(ring)
        valid = Polygon(ring).is_valid and len(set(ring)) == len(ring)
        assert valid == (not any(fault.what != "a spike" or " 0.0 degrees" in fault.found for fault in faults)), ring
        seen[valid] += 1
    assert min(seen.values()) > 300


def test_agreement_with_shapely_on_holes() -> None:
    rng = random.Random(6)
    seen = {True: 0, False: 0}
    for _ in range(600):
        edge = box(0, 0, 10_000)
        holes = [box(rng.randint(-20, 100) * 100, rng.randint(-20, 100) * 100, 1500) for _ in range(rng.randint(1, 2))]
        shape = Polygon(edge, holes)
        touches = any(Polygon(a).touches(Polygon(b)) for a in holes for b in holes if a is not b)
        touches = touches or any(Polygon(hole).exterior.touches(Polygon(edge).exterior) for hole in holes)
        valid = shape.is_valid and not touches
        assert valid == (outline_faults(edge, holes) == []), holes
        seen[valid] += 1
    assert min(seen.values()) > 100


def test_a_large_lawn_is_asked_about_and_its_size_in_feet_is_told() -> None:
    lawn = Lawn("back", (Point(0, 0), Point(65_000, 0), Point(65_000, 50_000), Point(0, 50_000)))
    assert large_lawn(lawn, 3250) is None
    asked = large_lawn(lawn, 500)
    assert asked == f"lawn back has 3250.0 m², more than 500 m²; read as feet it would be {3250 * 0.3048**2:.1f} m²"


def test_corners_that_rounding_makes_the_same_are_one() -> None:
    places = [(0.0, 0.0), (0.3, -0.2), (5.0, 0.0), (5.0, 5.0), (0.2, 5.0), (-0.4, 0.4)]
    assert without_repeats(places) == (Point(0, 0), Point(5, 0), Point(5, 5), Point(0, 5))
    assert math.isclose(Polygon(without_repeats(places)).area, 25)
