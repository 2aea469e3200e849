"""Usable rectangles against enumeration, a fine grid, and shapes whose answer is known."""

from __future__ import annotations

import math
from itertools import combinations, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from stockplan.domain.lawn import Point, Ring
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth
from stockplan.errors import UnitError
from stockplan.surveying.usable import UsableRectangle, apart, area, usable_sizes


def ring(*corners: tuple[int, int]) -> Ring:
    return tuple(Point(*corner) for corner in corners)


def placed(found: UsableRectangle) -> Polygon:
    right, end = found.across_mm + found.width_mm, found.along_mm + found.length_mm
    return box(found.across_mm, found.along_mm, right, end)


def free_length(shape: Polygon, left: float, right: float) -> float:
    """Greatest length of a rectangle between two verticals: the widest gap in the shadows of what is in the way."""
    _, low, _, high = shape.bounds
    blocked = box(left, low, right, high).difference(shape)
    parts = [part for part in getattr(blocked, "geoms", [blocked]) if part.area > 1e-9]
    shadows = sorted((part.bounds[1], part.bounds[3]) for part in parts)
    longest, reach = 0.0, low
    for begins, ends in [*shadows, (high, high)]:
        longest, reach = max(longest, begins - reach), max(reach, ends)
    return longest


L_SHAPE = ring((0, 0), (4000, 0), (4000, 1200), (1500, 1200), (1500, 5000), (0, 5000))


@pytest.mark.parametrize(
    ("shape", "width", "length"),
    [
        (ring((0, 0), (4000, 0), (4000, 2500), (0, 2500)), 4000, 2500),  # it is a rectangle
        (ring((0, 0), (4000, 0), (0, 3000)), 2000, 1500),  # a right triangle: half of either side, half of the area
        (ring((1000, 0), (2000, 1600), (1000, 3200), (0, 1600)), 1000, 1600),  # a lozenge: half the area too
        (L_SHAPE, 1500, 5000),
        (ring((0, 0), (1000, 0), (3000, 4000), (2000, 4000)), 500, 1000),  # leans: 2·(1000 − w) long at width w
    ],
)
def test_shapes_whose_largest_rectangle_is_known(shape: Ring, width: int, length: int) -> None:
    found = usable_sizes(shape).best()
    assert found is not None
    assert (found.width_mm, found.length_mm) == (width, length)
    assert Polygon(shape).buffer(0.01).contains(placed(found))


def test_every_size_that_is_no_worse_than_another_is_a_choice() -> None:
    assert usable_sizes(L_SHAPE).choices() == [(1500, 5000), (4000, 1200)]


def test_a_set_is_taken_one_after_another_and_does_not_overlap() -> None:
    found = apart(area, L_SHAPE)
    assert [(one.width_mm, one.length_mm) for one in found] == [(1500, 5000), (2500, 1200)]
    assert placed(found[0]).intersection(placed(found[1])).area == 0
    assert len(apart(area, L_SHAPE, most=1)) == 1


def test_a_hole_is_gone_round() -> None:
    outer, hole = ring((0, 0), (4000, 0), (4000, 4000), (0, 4000)), ring((1000, 500), (3000, 500), (2000, 1500))
    found = usable_sizes(outer, hole).best()
    assert found is not None
    assert (found.width_mm, found.length_mm) == (4000, 2500)
    assert apart(area, outer, hole)[0] == found


def test_worth_and_not_area_may_decide() -> None:
    """The larger rectangle is under half a metre wide, which the firm's rule bins."""
    shape = ring((0, 0), (400, 0), (400, 2900), (1400, 2900), (1400, 3900), (0, 3900))
    sizes = usable_sizes(shape)

    def worth(width: int, length: int) -> int:
        return leftover_worth(Leftover(width, length, False, 4000), UnitCost(1000, 1_000_000))

    by_area, by_worth = sizes.best(), sizes.best(worth)
    assert by_area is not None
    assert by_worth is not None
    assert (by_area.width_mm, by_area.length_mm) == (400, 3900)
    assert (by_worth.width_mm, by_worth.length_mm) == (1400, 1000)
    assert worth(1400, 1000) == max(worth(*choice) for choice in sizes.choices())
    assert usable_sizes(ring((0, 0), (300, 0), (300, 300), (0, 300))).best(worth) is None


@pytest.mark.parametrize(
    ("shape", "message"),
    [
        (ring((0, 0), (1, 1)), "2 corners"),
        (ring((0, 0), (2000, 0), (4000, 0)), "encloses nothing"),
        (ring((0, 0), (2000, 2000), (2000, 0), (0, 3000)), r"cross or touch at 1\.20 across, 1\.20 along"),
        (ring(*((k, k * k) for k in range(41))), "41 corners, at most 40"),
    ],
)
def test_what_is_no_shape_is_refused(shape: Ring, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        usable_sizes(shape)


@st.composite
def star_shapes(draw: st.DrawFn) -> Ring:
    """Corners at random distances around a middle: seldom convex, all edges slanted."""
    count = draw(st.integers(3, 9))
    reach = draw(st.lists(st.integers(8, 60), min_size=count, max_size=count))
    corners = [
        (round(60 + far * math.cos(2 * math.pi * k / count)), round(60 + far * math.sin(2 * math.pi * k / count)))
        for k, far in enumerate(reach)
    ]
    shape = Polygon(corners)
    assume(shape.is_valid and shape.area > 0)
    return ring(*corners)


@settings(max_examples=12, deadline=None)
@given(star_shapes())
def test_slanted_shapes_against_a_fine_grid(shape: Ring) -> None:
    """Trying every quarter of a millimetre finds nothing longer; that what is claimed is there is the next test."""
    polygon, sizes, step = Polygon(shape), usable_sizes(shape), 0.25
    left, _, right, _ = polygon.bounds
    for width in range(1, int(right - left) + 1, 7):
        places = [left + step * k for k in range(int((right - left - width) / step) + 1)]
        grid = max(free_length(polygon, x, x + width) for x in places)
        assert sizes.longest_mm(width) >= math.floor(grid + 1e-6)
    best = sizes.best()
    assume(best is not None)
    assert best is not None
    assert polygon.buffer(0.01).contains(placed(best))
    assert best.width_mm * best.length_mm == max(width * length for width, length in sizes.choices())


@settings(max_examples=25, deadline=None)
@given(star_shapes(), st.data())
def test_every_length_claimed_is_there(shape: Ring, data: st.DataObject) -> None:
    """Each is at most what the shape leaves free at some place, so that nothing is stored that cannot be cut."""
    sizes = usable_sizes(shape)
    assume(sizes.choices())
    width, length = data.draw(st.sampled_from(sizes.choices()))
    found = sizes.best(lambda w, h: int(w >= width and h >= length))
    assert found is not None
    assert (found.width_mm, found.length_mm) == (width, length)
    assert Polygon(shape).buffer(0.01).contains(placed(found))


@st.composite
def stepped_shapes(draw: st.DrawFn) -> Ring:
    """Square-cornered shapes: a union of a few boxes on a coarse grid, in one part and without a hole."""
    boxes = []
    for _ in range(draw(st.integers(1, 5))):
        x, y = draw(st.integers(0, 8)), draw(st.integers(0, 8))
        boxes.append(box(x, y, x + draw(st.integers(1, 8)), y + draw(st.integers(1, 8))))
    shape = boxes[0]
    for one in boxes[1:]:
        shape = shape.union(one)
    assume(isinstance(shape, Polygon) and not shape.interiors)
    corners = shape.simplify(0).exterior.coords[:-1]
    return ring(*((round(x * 100), round(y * 100)) for x, y in corners))


@settings(max_examples=60, deadline=None)
@given(stepped_shapes())
def test_square_cornered_shapes_against_every_pair_of_corners(shape: Ring) -> None:
    """Here the best rectangle has its sides on the lines through corners: all of them are gone through."""
    polygon = Polygon(shape)
    across, along = (sorted({corner[axis] for corner in shape}) for axis in (0, 1))
    largest = max(
        (right - left) * (high - low)
        for (left, right), (low, high) in product(combinations(across, 2), combinations(along, 2))
        if polygon.covers(box(left, low, right, high))
    )
    found = usable_sizes(shape).best()
    assert found is not None
    assert found.width_mm * found.length_mm == largest
    assert polygon.covers(placed(found))


@settings(max_examples=25, deadline=None)
@given(stepped_shapes())
def test_a_set_lies_inside_and_apart(shape: Ring) -> None:
    found = apart(area, shape)
    assert all(Polygon(shape).buffer(0.01).contains(placed(one)) for one in found)
    assert all(placed(one).intersection(placed(other)).area < 1e-6 for one, other in combinations(found, 2))
