"""The drawing of lawns: to scale, covered wholly, nothing over anything else, on the page, and safe to open."""

import itertools
import math
import re
import time
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest
import sample_lawns
from sample_lawns import L_SHAPED, PLAIN, ring, sample
from shapely.geometry import Polygon
from shapely.ops import unary_union
from test_drawing import SVG, contrast, rect_box, rects, text_boxes

from stockplan.domain.lawn import EdgeNote, LawnPlace
from stockplan.domain.plan import Piece
from stockplan.report.drawing import PAGE_HEIGHT
from stockplan.report.drawing_parts import INK, PAPER
from stockplan.report.lawn_drawing import draw_lawns, draw_sheets
from stockplan.report.lawn_edges import edge_labels
from stockplan.report.lawn_map import STRIP_FILLS

every_lawn = pytest.mark.parametrize("name", sample_lawns.SAMPLES)


@cache
def drawing(name: str) -> ElementTree.Element:
    """Each once, when a test first looks at it and not while tests are collected; no test may change it."""
    return ElementTree.fromstring(draw_lawns(*sample_lawns.SAMPLES[name]))


def shapes(svg: ElementTree.Element, kind: str) -> list[Polygon]:
    """Filled outlines of a class, mm on the page."""
    found = []
    for element in svg.iter(f"{SVG}path"):
        if element.get("class") != kind:
            continue
        rings = [
            [tuple(map(float, pair.split())) for pair in ring.split("L")]
            for ring in element.get("d", "").strip("MZ").split("ZM")
        ]
        found.append(Polygon(rings[0], rings[1:]))
    return found


def scale_of(svg: ElementTree.Element) -> int:
    (found,) = [int(match[1]) for box in text_boxes(svg) if (match := re.search(r"scale 1:(\d+)$", box.text))]
    return found


@every_lawn
def test_no_two_labels_overlap(name):
    boxes = text_boxes(drawing(name))
    assert [(a.text, b.text) for a, b in itertools.combinations(boxes, 2) if a.overlaps(b)] == []


@every_lawn
def test_everything_lies_on_a_page_and_in_letters_of_three_millimetres(name):
    svg = drawing(name)
    pages = [rect_box(element) for element in rects(svg, "page")]
    assert svg.get("height") == f"{PAGE_HEIGHT * len(pages):g}mm"
    boxes = [*text_boxes(svg), *map(rect_box, rects(svg, "plate"))]
    assert [box for box in boxes if not any(box.inside(page) for page in pages)] == []
    for polygon in (*shapes(svg, "lawn"), *shapes(svg, "trim")):
        left, top, right, bottom = polygon.bounds
        page = pages[0]
        assert page.left < left < right < page.right
        assert page.top < top < bottom < page.bottom
    assert min(float(element.get("font-size", "0")) for element in svg.iter(f"{SVG}text")) >= 3


@every_lawn
def test_outline_and_holes_are_to_scale_and_strips_cover_all_between(name):
    (lawn,) = sample_lawns.SAMPLES[name][0].lawns
    svg = drawing(name)
    in_metres = scale_of(svg) / 1000
    (outline,), holes, strips = shapes(svg, "lawn"), shapes(svg, "hole"), shapes(svg, "strip")
    assert outline.length * in_metres == pytest.approx(lawn.perimeter_mm / 1000, rel=1e-3)
    assert len(holes) == len(lawn.holes)
    ground = outline.difference(unary_union(holes))
    assert ground.area * in_metres**2 == pytest.approx(lawn.area_mm2 / 1e6, rel=1e-3)
    assert ground.difference(unary_union(strips)).area < 0.01 * ground.length
    assert unary_union(strips).difference(ground).area < 0.01 * ground.length


@every_lawn
def test_every_strip_has_its_letter_and_its_size_as_cut(name):
    _, layout = sample_lawns.SAMPLES[name]
    texts = [box.text for box in text_boxes(drawing(name))]
    several = {strip.label for strip in layout.strips if strip.count > 1}
    for strip in layout.placed():
        called = f"{strip.label} ({strip.number})" if strip.label in several else strip.label
        on_lawn = [text for text in texts if text == called or text.startswith(f"{called}  ")]
        assert on_lawn, called
        assert any(f"{strip.width_mm / 1000:.2f} × {strip.length_mm / 1000:.2f}" in text for text in texts)


def test_a_strip_bears_its_name_in_its_middle_where_there_is_room():
    svg = ElementTree.fromstring(draw_lawns(*sample(PLAIN)))
    name = next(box for box in text_boxes(svg) if box.text == "A")
    middle = shapes(svg, "strip")[0].centroid
    assert abs((name.left + name.right) / 2 - middle.x) < 1
    assert abs((name.top + name.bottom) / 2 - middle.y) < 6


@every_lawn
def test_every_edge_has_its_length(name):
    (lawn,) = sample_lawns.SAMPLES[name][0].lawns
    texts = [box.text for box in text_boxes(drawing(name))]
    for label in edge_labels(lawn):
        assert label.lines[-1] in texts


def test_lengths_and_names_of_the_edges_of_an_l():
    labels = {label.lines for label in edge_labels(L_SHAPED)}
    assert labels == {("house", "9.40"), ("4.20",), ("3.80",), ("path", "4.60, no seam"), ("5.60",), ("8.80",)}


def test_a_curve_measured_in_short_edges_has_one_length():
    (bow,) = [label for label in edge_labels(sample_lawns.CURVED) if label.lines[0].startswith("curve")]
    by_hand = sum(math.dist(a, b) for a, b in itertools.pairwise(sample_lawns.BOW))
    assert bow.lines == (f"curve {by_hand:.2f}",)
    assert bow.outward.y > 0.99, "it bows upwards"
    (circle,) = edge_labels(sample_lawns.SAMPLES["a circle"][0].lawns[0])
    assert circle.lines == ("curve 18.84",)


def test_labels_of_edges_lie_outside_where_there_is_room():
    svg = drawing("an L with a tree and a bed")
    (outline,) = shapes(svg, "lawn")
    for box in text_boxes(svg):
        if box.text in ("9.40", "4.20", "3.80", "5.60", "8.80", "house"):
            corners = [(box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom)]
            assert not Polygon(corners).intersects(outline), box.text


def arrows(svg: ElementTree.Element, kind: str) -> list[float]:
    """Degrees clockwise from upwards."""
    found = []
    for element in svg.iter(f"{SVG}line"):
        if element.get("class") == kind:
            x1, y1, x2, y2 = (float(element.get(key, "nan")) for key in ("x1", "y1", "x2", "y2"))
            found.append(math.degrees(math.atan2(x2 - x1, y1 - y2)) % 360)
    return found


@pytest.mark.parametrize("bearing", [0.0, 37.5, 90.0, 180.0, 300.0])
def test_pile_and_north_point_as_they_do_on_the_lawn(bearing):
    job, layout = sample(replace(PLAIN, y_bearing=30.0), bearing)
    svg = ElementTree.fromstring(draw_lawns(job, layout))
    assert arrows(svg, "pile direction") == [pytest.approx(bearing, abs=0.1)]
    assert arrows(svg, "north") == [pytest.approx(330, abs=0.1)], "north lies 30 degrees anticlockwise of y"
    assert arrows(svg, "pile")
    assert all(angle == pytest.approx(bearing, abs=0.1) for angle in arrows(svg, "pile"))
    assert arrows(drawing("a plain rectangle"), "north") == [], "not known"


def test_either_way_has_two_arrows():
    job, layout = sample(PLAIN, 90.0)
    svg = ElementTree.fromstring(draw_lawns(job, replace(layout, either_way=True)))
    assert sorted(arrows(svg, "pile direction")) == [pytest.approx(90, abs=0.1), pytest.approx(270, abs=0.1)]
    assert sorted(set(arrows(svg, "pile"))) == [pytest.approx(90, abs=0.1), pytest.approx(270, abs=0.1)]
    assert "Pile either way: all strips the same way" in " ".join(box.text for box in text_boxes(svg))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("an L with a tree and a bed", "Pile towards house, north"),
        ("the same across", "Pile east"),
        ("a curved front", "Pile towards road, south"),
        ("askew, with head seams", "Pile towards neighbour's fence"),
        ("a plain rectangle", "Pile as the arrow shows"),
    ],
)
def test_the_side_it_faces(name, words):
    assert words in [box.text for box in text_boxes(drawing(name))]


def test_why_it_lies_so_is_said():
    asked = replace(sample_lawns.CURVED, notes=(EdgeNote(0, "house"),), place=LawnPlace.BACK)
    svg = ElementTree.fromstring(draw_lawns(*sample(asked, 180.0)))
    texts = [box.text for box in text_boxes(svg)]
    assert "Asked: towards house" in texts, "the job's own note for the crew names the edge"
    job, layout = sample(asked, 180.0)
    svg = ElementTree.fromstring(draw_lawns(replace(job, pile_towards=""), layout))
    assert "Asked: towards house (common practice in back gardens)" in " ".join(box.text for box in text_boxes(svg))


def test_areas_and_waste_by_hand():
    """6 × 10 m from strips cut 4.00 × 10.20 and 2.00 × 10.20 m: 60 of 61.2 m², 1.2 / 61.2 = 2.0 % off."""
    texts = [box.text for box in text_boxes(drawing("a plain rectangle"))]
    assert {"Lawn 60.0 m²", "edge 32.00 m", "Grass as cut: 61.2 m²", "Waste 2.0 % of the grass cut"} <= set(texts)
    assert "Seams 10.00 m" in texts


def test_seams_are_drawn_where_they_lie():
    svg = drawing("askew, with head seams")
    _, layout = sample_lawns.SAMPLES["askew, with head seams"]
    in_millimetres = scale_of(svg)
    drawn = [element for element in svg.iter(f"{SVG}line") if "seam" in element.get("class", "")]
    assert len(drawn) == len(list(layout.seams()))
    for element, seam in zip(drawn, layout.seams(), strict=True):
        x1, y1, x2, y2 = (float(element.get(key, "nan")) for key in ("x1", "y1", "x2", "y2"))
        assert math.dist((x1, y1), (x2, y2)) * in_millimetres == pytest.approx(seam.mm, abs=2)
        assert element.get("class") == f"{seam.kind.value} seam"


def test_a_strip_says_what_it_is_cut_from_and_the_lawn_of_which_batch():
    job, layout = sample(L_SHAPED, 180.0)
    pieces = [
        Piece(job.code, strip.label, strip.number, f"R-{index // 2}", "B7", 0, 0, strip.width_mm, strip.length_mm)
        for index, strip in enumerate(sorted(layout.placed(), key=lambda one: one.name))
    ]
    texts = [box.text for box in text_boxes(ElementTree.fromstring(draw_lawns(job, layout, pieces)))]
    assert "A (1–2)" in texts
    assert "from R-0" in texts
    assert "from R-1" in texts
    assert "Batch B7" in texts
    mixed = [replace(pieces[0], batch="new"), *pieces[1:]]
    drawn = " ".join(box.text for box in text_boxes(ElementTree.fromstring(draw_lawns(job, layout, mixed))))
    assert "Batches newly ordered, B7 side by side: shades may differ" in drawn


def test_a_narrow_strip_is_pointed_out():
    """Lanes of 2 m over 6.4 m: the fourth covers 0.4 m."""
    edge = sample_lawns.ring((0, 0), (6.4, 0), (6.4, 5), (0, 5))
    job, layout = sample(replace(PLAIN, edge=edge), 0.0, 2000)
    texts = [box.text for box in text_boxes(ElementTree.fromstring(draw_lawns(job, layout)))]
    assert [text for text in texts if "narrow" in text] == ["B is narrow: covers 0.40 m"]
    texts = [box.text for box in text_boxes(ElementTree.fromstring(draw_lawns(job, layout, narrow_mm=400)))]
    assert [text for text in texts if "narrow" in text] == []


def test_every_lawn_of_a_job_has_its_page():
    job, layout = sample(PLAIN)
    second, other = sample(replace(L_SHAPED, label="front"), 180.0)
    both = replace(job, lawns=(*job.lawns, *second.lawns))
    svg = ElementTree.fromstring(draw_lawns(both, replace(layout, lawns=(*layout.lawns, *other.lawns))))
    texts = [box.text for box in text_boxes(svg)]
    assert {"J301, lawn back", "J301, lawn front", "page 1 of 2", "page 2 of 2"} <= set(texts)
    assert len(rects(svg, "page")) == 2


def test_a_bed_that_lies_askew_has_its_own_sides_written_in_it():
    """2 m by 1 m, turned by 45 degrees: along the page it would be 2.12 m both ways."""
    askew = ring((3, 3), (4.414, 4.414), (3.707, 5.121), (2.293, 3.707))
    texts = {
        box.text for box in text_boxes(ElementTree.fromstring(draw_lawns(*sample(replace(PLAIN, holes=(askew,))))))
    }
    assert "2.00 × 1.00" in texts or "1.00 × 2.00" in texts
    level = ring((1, 3), (3, 3), (3, 4), (1, 4))
    texts = {
        box.text for box in text_boxes(ElementTree.fromstring(draw_lawns(*sample(replace(PLAIN, holes=(level,))))))
    }
    assert "2.00 × 1.00" in texts


def test_sheets_for_other_pages_are_drawings_of_their_own():
    """A page that is printed cannot be parted within a drawing."""
    job, layout = sample(PLAIN)
    other = sample(replace(PLAIN, label="front"))[1]
    both = replace(job, lawns=(*job.lawns, replace(PLAIN, label="front")))
    sheets = draw_sheets(both, replace(layout, lawns=(*layout.lawns, *other.lawns)), 500)
    assert len(sheets) == 2
    for number, sheet in enumerate(sheets, 1):
        svg = ElementTree.fromstring(sheet)
        assert svg.get("viewBox") == f"0 0 297 {PAGE_HEIGHT:g}"
        assert [box.text for box in text_boxes(svg) if box.text.startswith("page")] == [f"page {number} of 2"]


def test_a_lawn_that_the_plan_does_not_cover_says_so():
    text = draw_lawns(*sample(PLAIN), is_short=True)
    assert "J301, SHORT, not covered, laid Tue 1 Dec: 5 Quince Court, back; K30" in text
    assert "SHORT" not in draw_lawns(*sample(PLAIN))


def test_a_lawn_that_nobody_named_is_not_called_lawn_twice():
    job, layout = sample(PLAIN)
    (laid,) = layout.lawns
    bare = replace(job, lawns=(replace(job.lawns[0], label="lawn"),))
    drawn = draw_lawns(bare, replace(layout, lawns=(replace(laid, lawn="lawn"),)))
    assert "J301, lawn" in [box.text for box in text_boxes(ElementTree.fromstring(drawn))]


def test_the_key_shows_what_is_trimmed_off_as_it_is_drawn():
    svg = drawing("a plain rectangle")
    (swatch,) = [one for one in svg.iter(f"{SVG}rect") if one.get("stroke-dasharray")]
    trims = [one for one in svg.iter(f"{SVG}path") if one.get("class") == "trim"]
    assert swatch.get("fill") == PAPER
    assert {(one.get("fill"), one.get("stroke"), one.get("stroke-dasharray")) for one in trims} == {
        ("none", swatch.get("stroke"), swatch.get("stroke-dasharray"))
    }


def test_a_job_without_a_site_has_no_gap_where_it_would_stand():
    job, layout = sample(PLAIN)
    assert "J301, laid Tue 1 Dec; K30" in draw_lawns(replace(job, site=""), layout)


def test_what_was_typed_cannot_break_out():
    job, layout = sample_lawns.SAMPLES["rude names"]
    text = draw_lawns(replace(job, site="\x1b[31m" + "long " * 60, code="</svg>"), layout)
    svg = ElementTree.fromstring(text)
    assert list(svg.iter(f"{SVG}script")) == []
    assert not re.search(r"[\x00-\x09\x0b-\x1f]", text)
    page = rect_box(rects(svg, "page")[0])
    assert [box.text for box in text_boxes(svg) if not box.inside(page)] == []


def test_letters_stand_out_on_every_fill_and_lanes_do_not_need_colour():
    """WCAG 1.4.3: 4.5 to 1. On a black and white printer lanes are told apart by the seam's line, not the fill."""
    assert min(contrast(INK, fill) for fill in (*STRIP_FILLS, PAPER)) >= 4.5
    for element in drawing("a plain rectangle").iter(f"{SVG}line"):
        if "seam" in element.get("class", ""):
            assert element.get("stroke") == INK
            assert float(element.get("stroke-width", "0")) >= 0.5


def test_the_drawing_is_the_same_every_time_and_quick():
    job, layout = sample_lawns.SAMPLES["200 corners and 10 holes"]
    begin = time.process_time()
    first = draw_lawns(job, layout)
    assert time.process_time() - begin < 2
    assert draw_lawns(job, layout) == first
