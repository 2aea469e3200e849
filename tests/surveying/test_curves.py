"""Curves as straight pieces: never inside the true curve where grass would be missing, and never far off it."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from stockplan.surveying.curves import arc, bulged, circle, pieces, rounded_corner

GAP = 5.0


def test_pieces_of_a_half_circle_by_hand() -> None:
    """Chords of 30 degrees on 1 m lie off it by 1 - cos 15 = 34.07 mm; tangents by sec 15 - 1 = 35.28 mm."""
    assert pieces(1000, math.pi, 34.08, outside=False) == 6
    assert pieces(1000, math.pi, 34.06, outside=False) == 7
    assert pieces(1000, math.pi, 35.29, outside=True) == 6
    assert pieces(1000, math.pi, 35.27, outside=True) == 7


@pytest.mark.parametrize("radius", [150.0, 400.0, 2500.0, 40_000.0])
def test_a_circle_holds_the_true_one_or_lies_within_it(radius: float) -> None:
    true = Point(0, 0).buffer(radius, quad_segs=4096)
    for outside in (True, False):
        places = circle((0.0, 0.0), radius, GAP, outside=outside)
        drawn = Polygon([(round(x), round(y)) for x, y in places])
        missing = true.difference(drawn) if outside else drawn.difference(true)
        assert missing.area < 1e-6 * true.area
        assert all(abs(math.hypot(x, y) - radius) <= GAP + 2 for x, y in places)
        assert drawn.exterior.is_ccw


@settings(max_examples=100, deadline=None)
@given(st.floats(200, 20_000), st.floats(-3.1, 3.1), st.floats(0.2, 6.2), st.booleans(), st.booleans())
def test_an_arc_stays_on_its_side_and_within_its_gap(
    radius: float, begins: float, sweep: float, outside: bool, backwards: bool
) -> None:
    places = arc((100.0, -50.0), radius, begins, -sweep if backwards else sweep, GAP, outside=outside)
    ends = [begins, begins + (-sweep if backwards else sweep)]
    for place, angle in zip((places[0], places[-1]), ends, strict=True):
        assert place == (
            pytest.approx(100 + radius * math.cos(angle), abs=1e-6),
            pytest.approx(-50 + radius * math.sin(angle), abs=1e-6),
        )
    for (x1, y1), (x2, y2) in pairwise(places):
        steps = [(x1 + t * (x2 - x1) / 8 - 100, y1 + t * (y2 - y1) / 8 + 50) for t in range(9)]
        off = [math.hypot(x, y) - radius for x, y in steps]
        assert all((-1e-6 <= d <= GAP + 1e-6) if outside else (-GAP - 1e-6 <= d <= 1e-6) for d in off)


def rounded(radius: float, *, reflex: bool, left: bool) -> tuple[Polygon, Polygon]:
    """An L with one corner rounded, and the L itself; walked with the grass on the left, or the other way round."""
    ring = [(0.0, 0.0), (6000.0, 0.0), (6000.0, 2000.0), (2000.0, 2000.0), (2000.0, 5000.0), (0.0, 5000.0)]
    if not left:
        ring.reverse()
    number = ring.index((2000.0, 2000.0) if reflex else (6000.0, 0.0))
    places = rounded_corner(ring[number - 1], ring[number], ring[(number + 1) % 6], radius, GAP, left=left)
    return Polygon([*ring[:number], *places, *ring[number + 1 :]]), Polygon(ring)


@pytest.mark.parametrize("left", [True, False])
def test_rounding_takes_off_outward_corners_and_fills_inward_ones(left: bool) -> None:
    share = 1 - math.pi / 4  # of the square on the radius, between a right angle and its arc
    outward, whole = rounded(800, reflex=False, left=left)
    inward, _ = rounded(800, reflex=True, left=left)
    assert outward.difference(whole).area < 1e-3
    assert whole.difference(inward).area < 1e-3
    lost, gained = whole.area - outward.area, inward.area - whole.area
    assert 0 <= share * 800**2 - lost < 5 * 800 * math.pi / 2  # never takes off more than the true arc
    assert 0 <= gained - share * 800**2 < 5 * 800 * math.pi / 2
    assert outward.is_valid
    assert inward.is_valid


def test_a_radius_that_does_not_fit_is_refused_with_the_most_that_would() -> None:
    with pytest.raises(ValueError, match=r"at most 2\.00 m"):
        rounded_corner((0, 0), (5000, 0), (5000, 2000), 2500, GAP, left=True)
    with pytest.raises(ValueError, match="one line"):
        rounded_corner((0, 0), (5000, 0), (8000, 0), 500, GAP, left=True)


@pytest.mark.parametrize(("bulge", "left"), [(1.0, True), (0.4142, True), (-0.4142, True), (2.4, False), (-1.0, False)])
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_sweep(bulge: float, left: bool) -> None:
    places = bulged((0.0, 0.0), (2000.0, 0.0), bulge, GAP, left=left)
    assert (places[0], places[-1]) == ((0.0, 0.0), (2000.0, 0.0))
    # the arc's height over its chord is the bulge times half the chord; an anticlockwise arc bulges to the right
    furthest = max((y for _, y in places), key=abs)
    outside = (bulge > 0) == left
    assert furthest == pytest.approx(-bulge * 1000, abs=GAP)
    assert abs(furthest) >= abs(bulge) * 1000 - 1e-6 if outside else abs(furthest) <= abs(bulge) * 1000 + 1e-6
