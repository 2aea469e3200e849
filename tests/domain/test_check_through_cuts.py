"""Whether a source comes apart by through-cuts, against trying out every cutting tree."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockplan.domain.check_facts import Rectangle
from stockplan.domain.check_geometry import inseparable

Box = tuple[int, int, int, int, bool]  # across, along, width, length, whether a piece


def rectangles(boxes: list[Box]) -> list[Rectangle]:
    return [Rectangle(*box) for box in boxes]


def can_be_cut(boxes: list[Box], region: tuple[int, int, int, int], stage: int = 1) -> bool:
    """Try every through-cut at every millimetre, and every number of cuts in a stage.

    Stages 1 and 3 cut across the pile, 2 along it; stage 4 is a single rip of a piece from one leftover.
    `region` is left, top, right, bottom; boxes tile it.
    """
    if len(boxes) == 1:
        return True
    if stage > 4:
        return False
    left, top, right, bottom = region
    rip = stage in (2, 4)
    for line in range((left if rip else top) + 1, right if rip else bottom):
        axis = 0 if rip else 1
        if any(box[axis] < line < box[axis] + box[axis + 2] for box in boxes):
            continue
        near = [box for box in boxes if box[axis] < line]
        far = [box for box in boxes if box[axis] >= line]
        near_region = (left, top, line, bottom) if rip else (left, top, right, line)
        far_region = (line, top, right, bottom) if rip else (left, line, right, bottom)
        if stage == 4:
            if len(near) == len(far) == 1 and near[0][4] != far[0][4]:
                return True
        elif can_be_cut(near, near_region, stage + 1) and can_be_cut(far, far_region, stage):
            return True
    return stage < 4 and can_be_cut(boxes, region, stage + 1)


def tilings(width: int, length: int) -> list[list[tuple[int, int, int, int]]]:
    """Every way to tile a small grid with rectangles."""
    found: list[list[tuple[int, int, int, int]]] = []

    def fill(taken: frozenset[tuple[int, int]], placed: list[tuple[int, int, int, int]]) -> None:
        free = next(((x, y) for y in range(length) for x in range(width) if (x, y) not in taken), None)
        if free is None:
            found.append(placed)
            return
        x, y = free
        for w, h in itertools.product(range(1, width - x + 1), range(1, length - y + 1)):
            cells = {(x + i, y + j) for i in range(w) for j in range(h)}
            if not cells & taken:
                fill(taken | cells, [*placed, (x, y, w, h)])

    fill(frozenset(), [])
    return found


def test_tilings_of_a_square_are_counted_as_published() -> None:
    """Dissections of an n × n grid into rectangles: 1, 8, 322 (the integer-sequence encyclopaedia, from memory)."""
    assert [len(tilings(n, n)) for n in (1, 2, 3)] == [1, 8, 322]


@pytest.mark.parametrize(("width", "length"), [(3, 3), (4, 2), (3, 4), (4, 3)])
def test_same_verdict_as_trying_every_tree(width: int, length: int) -> None:
    """Every tiling; every choice of pieces and leftovers where there are few parts, else a few at random."""
    chance = random.Random(width * 10 + length)
    verdicts = {True: 0, False: 0}
    shapes = tilings(width, length)
    for shape in shapes if len(shapes) < 400 else chance.sample(shapes, 400):
        kinds = list(itertools.product([True, False], repeat=len(shape)))
        for kind in kinds if len(kinds) <= 8 else chance.sample(kinds, 8):
            boxes: list[Box] = [(*box, piece) for box, piece in zip(shape, kind, strict=True)]
            expected = can_be_cut(boxes, (0, 0, width, length))
            assert (not inseparable(rectangles(boxes))) == expected, boxes
            verdicts[expected] += 1
    assert min(verdicts.values()) > 20


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_same_verdict_on_larger_rectangles(data: st.DataObject) -> None:
    """Split at random, now along, now across, to any depth, with or without a pinwheel in the middle."""
    boxes: list[Box] = [(0, 0, 7, 7, True)]
    if data.draw(st.booleans()):
        boxes = [(0, 0, 4, 3, True), (4, 0, 3, 4, True), (3, 4, 4, 3, True), (0, 3, 3, 4, True), (3, 3, 1, 1, True)]
    for _ in range(data.draw(st.integers(0, 5))):
        x, y, w, h, _ = box = data.draw(st.sampled_from(boxes))
        boxes.remove(box)
        if data.draw(st.booleans()) and w > 1:
            cut = data.draw(st.integers(1, w - 1))
            boxes += [(x, y, cut, h, True), (x + cut, y, w - cut, h, True)]
        elif h > 1:
            cut = data.draw(st.integers(1, h - 1))
            boxes += [(x, y, w, cut, True), (x, y + cut, w, h - cut, True)]
        else:
            boxes.append(box)
    boxes = [(*box[:4], data.draw(st.booleans())) for box in boxes]
    assert (not inseparable(rectangles(boxes))) == can_be_cut(boxes, (0, 0, 7, 7))


#   +-------+---+
#   |   1   |   |
#   +---+---+ 2 |
#   |   | 5 |   |
#   | 4 +---+---+
#   |   |   3   |
#   +---+-------+
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("middle_is_a_piece", [False, True])
def test_the_pinwheel_of_five_is_refused(mirrored: bool, middle_is_a_piece: bool) -> None:
    boxes = [(0, 0, 2, 1), (2, 0, 1, 2), (1, 2, 2, 1), (0, 1, 1, 2), (1, 1, 1, 1)]
    if mirrored:
        boxes = [(3 - x - w, y, w, h) for x, y, w, h in boxes]
    kinds = [True] * 4 + [middle_is_a_piece]
    parts = [Rectangle(*box, kind) for box, kind in zip(boxes, kinds, strict=True)]
    assert len(inseparable(parts)) == 5


#   +----+--+        +----+--+        +----+--+
#   | P  |/ |        | P  | P|        | P  |/ |
#   |    |/ |        |    |  |        +----+--+   two in a lane, each trimmed
#   +----+--+        +----+--+        | P    |/|
#   | P     |        | P     |        +------+-+
#   +-------+        +-------+
#    a trim           a fourth-stage rip between pieces
def test_a_trim_takes_off_a_sliver_and_never_parts_two_pieces() -> None:
    """The right-hand column makes the first cut a rip, so that the parts drawn are all in one lane."""
    beside = Rectangle(10, 0, 5, 9, True)
    below = Rectangle(10, 9, 5, 3, True)
    lane_foot = Rectangle(0, 8, 10, 4, True)
    piece, sliver = Rectangle(0, 0, 7, 8, True), Rectangle(7, 0, 3, 8, False)
    second = Rectangle(7, 0, 3, 8, True)
    assert inseparable([piece, sliver, lane_foot, beside, below]) == []
    assert inseparable([piece, second, lane_foot, beside, below]) == [piece, second]
    assert inseparable([piece, second]) == []  # in a drop of their own they are two lanes
    left, right = Rectangle(0, 0, 3, 8, False), Rectangle(3, 0, 4, 8, True)
    assert (
        len(inseparable([left, right, sliver, lane_foot, beside, below])) == 3
    )  # a sliver on either side is two trims


#   four stages and no more: inside a lane, a cell that needs a crosscut after its rip
#   +----+----+--+
#   |    |  P |  |
#   | P  +----+ P|
#   |    |  P |  |
#   +----+----+--+
#   |    P    | P|
#   +---------+--+
def test_a_crosscut_after_the_trim_is_refused() -> None:
    cell = [Rectangle(0, 0, 4, 6, True), Rectangle(4, 0, 4, 3, True), Rectangle(4, 3, 4, 3, False)]
    rest = [Rectangle(0, 6, 8, 4, True), Rectangle(8, 0, 2, 5, True), Rectangle(8, 5, 2, 5, True)]
    assert set(inseparable(cell + rest)) == set(cell)
