"""What a drawing holds beside polylines and circles of its own: curves, blocks, what is hidden or not read."""

from __future__ import annotations

import io
import math
from typing import Any

import ezdxf
import pytest
from shapely import affinity
from shapely.geometry import Point as Place
from shapely.geometry import Polygon

from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying import dxf_parts
from stockplan.surveying.reading import read_file

LAWN = [(0, 0), (6000, 0), (6000, 4000), (0, 4000)]
BED = [(0, 0), (500, 0), (500, 1000), (0, 1000)]
DROP = [(1000, 500), (6000, 500), (3000, 6000), (1000, 500)]  # a loop with one sharp corner
ROUND = 8.0  # mm off a curve at most, roundings included


def drawing() -> Any:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline(LAWN, close=True)
    return document


def read(document: Any) -> list[Measured]:
    text = io.StringIO()
    document.write(text)
    return read_file("plan.dxf", text.getvalue().encode(), SurveySettings())


def holes(document: Any) -> list[Polygon]:
    (one,) = read(document)
    return [Polygon(hole) for hole in one.lawn.holes]


def faults(document: Any) -> tuple[str, ...]:
    with pytest.raises(SurveyFaults) as caught:
        read(document)
    return caught.value.faults


def bezier(corners: list[tuple[int, int]], count: int = 4000) -> Polygon:
    def at(t: float, axis: int) -> float:
        return sum(math.comb(3, k) * t**k * (1 - t) ** (3 - k) * corners[k][axis] for k in range(4))

    return Polygon([(at(number / count, 0), at(number / count, 1)) for number in range(count)])


def test_an_ellipse_within_a_lawn_is_a_hole_that_leaves_no_grass_out() -> None:
    document = drawing()
    document.modelspace().add_ellipse((3000, 2000), (900, 900), 0.5)
    (bed,) = holes(document)
    true = affinity.rotate(affinity.scale(Place(3000, 2000).buffer(900 * math.sqrt(2), quad_segs=999), 1, 0.5), 45)
    assert true.contains(bed)
    assert true.hausdorff_distance(bed) < ROUND
    assert len(bed.exterior.coords) < 90


@pytest.mark.parametrize(("begins", "ends"), [(0, 0), (1, 1 + math.tau), (-math.pi, math.pi)])
def test_an_ellipse_may_begin_anywhere_on_its_way_round(begins: float, ends: float) -> None:
    document = drawing()
    document.modelspace().add_ellipse((3000, 2000), (900, 0), 0.5, begins, ends)
    (bed,) = holes(document)
    assert bed.area == pytest.approx(math.pi * 900 * 450, rel=0.03)


def test_a_closed_spline_is_a_lawn_that_holds_the_true_one() -> None:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_open_spline(DROP, degree=3)
    (one,) = read(document)
    edge, true = Polygon(one.lawn.edge), bezier(DROP)
    assert edge.contains(true)
    assert true.exterior.distance(Place(1000, 500)) == 0
    # The sharp corner reaches further out, as two straight sides do.
    assert edge.difference(true.buffer(ROUND)).area < 1000
    assert edge.area - true.area < ROUND * true.length


def test_beds_in_blocks_are_holes_turned_scaled_mirrored_nested_and_repeated() -> None:
    document = drawing()
    document.blocks.new("bed").add_lwpolyline(BED, close=True)
    document.blocks.new("beds").add_blockref("bed", (100, 100))
    space = document.modelspace()
    space.add_blockref("bed", (1600, 500), {"rotation": 90})
    space.add_blockref("bed", (3000, 500), {"xscale": -1, "yscale": 2})
    space.add_blockref("beds", (4000, 500), {"column_count": 2, "column_spacing": 800})
    assert sorted(hole.bounds for hole in holes(document)) == [
        (600, 500, 1600, 1000),
        (2500, 500, 3000, 2500),
        (4100, 600, 4600, 1600),
        (4900, 600, 5400, 1600),
    ]


def test_a_circle_in_a_block_scaled_unevenly_is_an_ellipse() -> None:
    document = drawing()
    document.blocks.new("tree").add_circle((0, 0), 500)
    document.modelspace().add_blockref("tree", (3000, 2000), {"xscale": 2})
    (bed,) = holes(document)
    assert bed.area == pytest.approx(math.pi * 1000 * 500, rel=0.03)


def test_a_fault_in_a_block_names_the_block_and_its_place_in_the_drawing() -> None:
    document = drawing()
    document.blocks.new("bed").add_lwpolyline(BED)
    inserted = document.modelspace().add_blockref("bed", (100, 100), {"layer": "beds"})
    (found,) = faults(document)
    where = f"LWPOLYLINE in block bed, INSERT {inserted.dxf.handle}, on layer beds"
    assert found.startswith(f"plan.dxf: {where}: an outline that is open")


def test_outlines_that_are_hidden_are_left_out_and_told() -> None:
    document = drawing()
    space = document.modelspace()
    document.layers.add("old").off()
    document.layers.add("ice").freeze()
    document.blocks.new("bed").add_lwpolyline(BED, close=True)
    document.blocks.new("own").add_lwpolyline(BED, close=True, dxfattribs={"layer": "beds"})
    space.add_circle((1000, 1000), 300, {"layer": "old"})
    space.add_lwpolyline([(2000, 500), (2500, 500), (2500, 900)], dxfattribs={"layer": "old"})  # open, and hidden
    space.add_circle((3000, 1000), 300, {"layer": "ice"})
    space.add_circle((4000, 1000), 300, {"invisible": 1})
    space.add_blockref("bed", (100, 2000), {"layer": "old"})
    space.add_blockref("own", (1100, 2000), {"layer": "ice"})  # freezing hides all of a block
    space.add_blockref("own", (2100, 2000), {"layer": "old"})  # switching off only what has no layer of its own
    (one,) = read(document)
    assert [Polygon(hole).bounds for hole in one.lawn.holes] == [(2100, 2000, 2600, 3000)]
    assert one.said == tuple(
        f"Left out, as switched off, frozen or invisible: {told}."
        for told in (
            "1 outline on layer 0",
            "1 outline on layer beds",
            "1 outline on layer ice",
            "3 outlines on layer old",
        )
    )


def test_a_drawing_with_nothing_but_hidden_outlines_says_so() -> None:
    document = ezdxf.new("R2010", units=4)
    document.layers.add("old").off()
    document.modelspace().add_lwpolyline(LAWN, close=True, dxfattribs={"layer": "old"})
    (found,) = faults(document)
    assert "no closed outline, found none in model space. Left out, as switched off, frozen or invisible: 1" in found


def test_what_is_not_read_though_it_may_enclose_ground_is_told() -> None:
    document = drawing()
    space = document.modelspace()
    hatch = space.add_hatch(dxfattribs={"layer": "beds"})
    hatch.paths.add_polyline_path([(2000, 500), (2500, 500), (2500, 900)])
    lost = space.add_blockref("lost", (0, 0))
    document.add_xref_def("far.dxf", "far")
    far = space.add_blockref("far", (0, 0))
    space.add_line((0, 0), (6000, 4000))
    (one,) = read(document)
    assert one.said == (
        f"Not read, though it may enclose ground: INSERT {lost.dxf.handle}, damaged, HATCH {hatch.dxf.handle} on layer "
        f"beds, INSERT {far.dxf.handle} on layer 0, whose block far is not in the file.",
    )
    space.add_line((1000, 3000), (2000, 3000), {"layer": "pond"})
    space.add_arc((1500, 3000), 500, 180, 270)
    space.add_ellipse((1500, 3000), (500, 0), 1, math.pi * 1.5, math.pi * 2)
    (one,) = read(document)
    assert one.said[1] == (
        "Not read: lines and arcs that enclose ground, at (1.50, 2.78); what is no grass there, or is a lawn, must be "
        "drawn closed."
    )


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ([(1000, 1000), (2000, 1000), (2000, 2000), (1000, 2000)], "an outline that is open, found ends apart"),
        ([(1000, 1000), (math.nan, 1000), (2000, 2000), (1000, 1000)], "found a place that is no number"),
        ([(1000, 1000), (1e300, 1000), (2000, 2000), (1000, 1000)], "found a place that is no number"),
        ([(1000, 1000, 0), (2000, 1000, 900), (2000, 2000, 900), (1000, 1000, 0)], "found a tilted plane"),
    ],
)
def test_splines_that_are_no_outlines(places: list[tuple[float, ...]], words: str) -> None:
    document = drawing()
    spline = document.modelspace().add_open_spline(places, degree=3)
    (found,) = faults(document)
    assert found.startswith(f"plan.dxf: SPLINE {spline.dxf.handle} on layer 0: ")
    assert words in found


def test_blocks_without_end() -> None:
    document = drawing()
    document.blocks.new("bed").add_blockref("bed", (100, 100))
    document.modelspace().add_blockref("bed", (0, 0))
    (found,) = faults(document)
    assert "a block without end" in found
    document = drawing()
    document.blocks.new("bed").add_lwpolyline(BED, close=True)
    often = {"row_count": 9999, "row_spacing": 1, "column_count": 9999, "column_spacing": 1}
    document.modelspace().add_blockref("bed", (0, 0), often)
    (found,) = faults(document)
    assert "a block without end" in found


def test_blocks_that_hold_more_together_than_any_drawing_of_lawns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dxf_parts, "MOST_PARTS", 1000)
    document = drawing()
    document.blocks.new("b0").add_circle((0, 0), 10)
    for level in range(1, 4):
        block = document.blocks.new(f"b{level}")
        for place in range(12):
            block.add_blockref(f"b{level - 1}", (place, place))
    document.modelspace().add_blockref("b3", (0, 0))
    (found,) = faults(document)
    assert "blocks of too many things" in found


def test_the_same_outline_twice_in_a_drawing() -> None:
    document = drawing()
    first = next(iter(document.modelspace()))
    turned = [*reversed(LAWN[2:]), *reversed(LAWN[:2])]
    again = document.modelspace().add_lwpolyline([(x + 2, y) for x, y in turned], close=True)
    assert faults(document) == (
        f"plan.dxf: LWPOLYLINE {again.dxf.handle} on layer 0: the same outline again, found LWPOLYLINE "
        f"{first.dxf.handle} on layer 0, would be right: each outline once",
    )


def test_an_arc_too_large_to_follow_is_named_as_not_read() -> None:
    document = drawing()
    arc = document.modelspace().add_arc((0, 0), 1e15, 0, 90)
    (one,) = read(document)
    assert any(f"Not read, though it may enclose ground: ARC {arc.dxf.handle} on layer 0." in note for note in one.said)
