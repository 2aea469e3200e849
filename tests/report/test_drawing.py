"""The drawing: to scale, nothing over anything else, on the page, and safe to open."""

import itertools
import re
from collections import Counter
from dataclasses import dataclass, replace
from xml.etree import ElementTree

import pytest
import sample_plans

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm
from stockplan.domain.units import money
from stockplan.report.drawing import PAGE_HEIGHT, PAGE_WIDTH, draw_product
from stockplan.report.drawing_labels import Spot, in_rows, side_by_side
from stockplan.report.drawing_parts import INK, JOB_COLOURS, KEEP_FILL, PAPER, SMALL, shortened, text_width
from stockplan.report.drawing_source import FULL, TALLEST, scale_for
from stockplan.report.words import day

SVG = "{http://www.w3.org/2000/svg}"


def drawings(sample: tuple[PlanRequest, Plan]) -> list[ElementTree.Element]:
    request, plan = sample
    return [ElementTree.fromstring(draw_product(request, product)) for product in plan.products]


CASES = {
    "one source": sample_plans.one_source(),
    "25 m roll beside tiny offcuts": sample_plans.mixed(),
    "rude names": sample_plans.rude_names(),
    **{f"12 sources, seed {seed}": sample_plans.many_sources(12, seed) for seed in range(12)},
    "60 sources": sample_plans.many_sources(60, 99),
}
every_case = pytest.mark.parametrize("sample", CASES.values(), ids=CASES.keys())


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float
    text: str = ""

    def overlaps(self, other: "Box") -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > 0.01 and down > 0.01

    def inside(self, other: "Box") -> bool:
        room = 0.01
        across = other.left - room <= self.left and self.right <= other.right + room
        return across and other.top - room <= self.top and self.bottom <= other.bottom + room


def text_boxes(svg: ElementTree.Element) -> list[Box]:
    """Boxes of all texts, a character 0.6 of the font size wide, capitals from 0.75 above the baseline to 0.2 below."""
    boxes = []
    for element in svg.iter(f"{SVG}text"):
        words = element.text or ""
        size, x, y = (float(element.get(name, "nan")) for name in ("font-size", "x", "y"))
        width = 0.6 * size * len(words)
        start = {"start": 0.0, "middle": -width / 2, "end": -width}[element.get("text-anchor", "")]
        if element.get("transform"):
            assert element.get("transform") == f"rotate(-90 {element.get('x')} {element.get('y')})"
            boxes.append(Box(x - 0.75 * size, y - start - width, x + 0.2 * size, y - start, words))
        else:
            boxes.append(Box(x + start, y - 0.75 * size, x + start + width, y + 0.2 * size, words))
    return boxes


def rect_box(element: ElementTree.Element) -> Box:
    x, y, width, height = (float(element.get(name, "nan")) for name in ("x", "y", "width", "height"))
    return Box(x, y, x + width, y + height)


def rects(svg: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [element for element in svg.iter(f"{SVG}rect") if element.get("class") == kind]


@every_case
def test_no_two_labels_overlap(sample):
    for svg in drawings(sample):
        boxes = text_boxes(svg)
        clashes = [(a.text, b.text) for a, b in itertools.combinations(boxes, 2) if a.overlaps(b)]
        assert clashes == []


@every_case
def test_everything_lies_on_a_page(sample):
    for svg in drawings(sample):
        pages = [rect_box(element) for element in rects(svg, "page")]
        assert svg.get("viewBox") == f"0 0 297 {210 * len(pages)}"
        assert svg.get("width") == "297mm"
        assert svg.get("height") == f"{210 * len(pages)}mm"
        drawn = [rect_box(e) for kind in ("source", "piece", "keep", "bin", "plate") for e in rects(svg, kind)]
        stray = [box for box in (*text_boxes(svg), *drawn) if not any(box.inside(page) for page in pages)]
        assert stray == []


@every_case
def test_no_letters_are_smaller_than_three_millimetres(sample):
    for svg in drawings(sample):
        assert min(float(element.get("font-size", "0")) for element in svg.iter(f"{SVG}text")) >= 3


@every_case
def test_every_piece_and_leftover_is_drawn_to_scale_in_its_place(sample):
    for product, svg in zip(sample[1].products, drawings(sample), strict=True):
        sources = {element.get("data-source"): rect_box(element) for element in rects(svg, "source")}
        assert len(sources) == len(product.cuts)
        expected = []
        for cuts in product.cuts:
            drawn = sources["".join(c if c.isprintable() else "?" for c in cuts.source)]
            scale = round(cuts.length_mm / (drawn.right - drawn.left))
            assert drawn.bottom - drawn.top == pytest.approx(cuts.width_mm / scale, abs=0.01)
            things = [("piece", piece) for piece in cuts.pieces()]
            things += [("keep" if x.keep else "bin", x) for x in product.leftovers if x.source == cuts.source]
            for kind, thing in things:
                x, y = drawn.left + thing.along_mm / scale, drawn.top + thing.across_mm / scale
                expected.append((kind, x, y, thing.length_mm / scale, thing.width_mm / scale))
        found = []
        for kind in ("piece", "keep", "bin"):
            for element in rects(svg, kind):
                place = [float(element.get(name, "nan")) for name in ("x", "y", "width", "height")]
                found.append((kind, *place))
        assert len(found) == len(expected)
        for one in expected:
            near = [o for o in found if o[0] == one[0] and o[1:] == pytest.approx(one[1:], abs=0.01)]
            assert near, one
            found.remove(near[0])


@every_case
def test_every_piece_is_named_in_itself_or_in_the_key(sample):
    for product, svg in zip(sample[1].products, drawings(sample), strict=True):
        texts = " | ".join(box.text for box in text_boxes(svg))
        for cuts in product.cuts:
            for piece in cuts.pieces():
                assert f"{piece.job} {piece.strip}" in texts
            assert f"{cuts.source}: " in texts


@every_case
def test_each_source_has_its_pile_arrow_scale_and_drop_positions(sample):
    for product, svg in zip(sample[1].products, drawings(sample), strict=True):
        texts = Counter(box.text for box in text_boxes(svg))
        assert texts["pile"] == len(product.cuts) == len(list(svg.iter(f"{SVG}polygon")))
        assert sum(count for text, count in texts.items() if "scale 1:" in text) == len(product.cuts)
        for cuts in product.cuts:
            for drop in cuts.drops:
                end = (drop.along_mm + drop.length_mm) / 1000
                assert texts[f"{end:.2f}"] + texts[f"{end:.3f}"] >= 1


def test_a_job_has_one_colour_and_neighbours_differ():
    for svg in drawings(sample_plans.many_sources(30, 5)):
        fills: dict[str, set[str]] = {}
        for element in rects(svg, "piece"):
            fills.setdefault(element.get("data-job", ""), set()).add(element.get("fill", ""))
        assert all(len(colours) == 1 for colours in fills.values())
        assert len(set().union(*fills.values())) == min(len(fills), len(JOB_COLOURS))


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.2, section 1.4.3."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_letters_stand_out_on_every_fill():
    """WCAG 1.4.3: 4.5 to 1; the formula itself against the known grey pair on white."""
    assert round(contrast("#777777", "#ffffff"), 2) == 4.48
    assert round(contrast("#767676", "#ffffff"), 2) == 4.54
    assert min(contrast(INK, fill) for fill in (*JOB_COLOURS, KEEP_FILL, PAPER)) >= 4.5


def test_the_drawing_is_the_same_every_time():
    request, plan = sample_plans.many_sources()
    assert draw_product(request, plan.products[0]) == draw_product(*_again())


def _again():
    request, plan = sample_plans.many_sources()
    return request, plan.products[0]


def test_what_was_typed_cannot_break_out():
    request, plan = sample_plans.rude_names()
    text = draw_product(request, plan.products[0])
    svg = ElementTree.fromstring(text)
    assert list(svg.iter(f"{SVG}script")) == []
    assert "<script" not in text
    assert not re.search(r"[\x00-\x09\x0b-\x1f]", text)
    assert "R<&1>: part roll" in [box.text for box in text_boxes(svg)]


def test_a_short_job_is_marked():
    texts = [box.text for box in text_boxes(drawings(sample_plans.mixed())[0])]
    assert "J117, Fri 4 Dec, SHORT, not covered, The Old Dairy" in texts


def test_nothing_to_cut_is_said():
    request, plan = sample_plans.one_source()
    idle = replace(plan.products[0], cuts=(), leftovers=(), stock_used=())
    svg = ElementTree.fromstring(draw_product(request, idle))
    assert "Nothing to cut." in [box.text for box in text_boxes(svg)]


def test_very_long_names_are_shortened_not_spilled():
    request, plan = sample_plans.one_source()
    jobs: tuple[Job, ...] = tuple(replace(job, site="Long Lane " * 40) for job in request.jobs)
    products = tuple(replace(product, description="grass " * 60) for product in request.products)
    long = replace(request, jobs=jobs, products=products)
    svg = ElementTree.fromstring(draw_product(long, plan.products[0]))
    page = Box(0, 0, PAGE_WIDTH, PAGE_HEIGHT)
    assert [box.text for box in text_boxes(svg) if not box.inside(page)] == []


@pytest.mark.parametrize(("job", "strip"), [("2026-11-0117", "by the kitchen window"), ("W" * 40, "M" * 39)])
def test_the_key_tells_whole_sizes_however_long_the_names(job, strip):
    offcut = sample_plans.item("O-003", StockForm.OFFCUT, 700, 1200)
    pieces = [(job, f"{strip}1", 1, 625, 450), (job, f"{strip}2", 1, 700, 450)]
    part = sample_plans.product_plan("G30", 4000, [(offcut, [(1200, [(700, pieces)])])])
    request = replace(CASES["one source"][0], stock=(offcut,), jobs=sample_plans.jobs_of(part, {}, BatchRule.ONE))
    boxes = text_boxes(ElementTree.fromstring(draw_product(request, part)))
    key = [box for box in boxes if re.match(r"[ab]: ", box.text)]
    assert [box.text.rpartition(", ")[2] for box in key] == ["0.625 × 0.45", "0.70 × 0.45"]
    assert all(text_width(box.text, SMALL) <= FULL for box in key)


@pytest.mark.parametrize(
    ("width_mm", "length_mm", "scale"),
    [
        (4000, 25_000, 100),
        (4000, 6000, 100),
        (2000, 6000, 50),
        (700, 1200, 20),
        (4000, 30_000, 125),
        (1000, 900_000, 4000),
    ],
)
def test_scale_of_usual_sizes(width_mm, length_mm, scale):
    assert scale_for(width_mm, length_mm) == scale
    assert length_mm / scale <= FULL
    assert width_mm / scale <= TALLEST


@pytest.mark.parametrize("place", [in_rows, side_by_side])
def test_crowded_labels_are_kept_apart(place):
    spots = [Spot(at, str(index)) for index, at in enumerate([0, 0, 1, 1, 5, 40, 99, 100, 100, 100])]
    placed = place(spots, 0, 100)
    for (i, (row, middle)), (j, (other, beside)) in itertools.combinations(enumerate(placed), 2):
        if row == other:
            assert abs(middle - beside) >= (spots[i].width + spots[j].width) / 2 - 1e-9
    for spot, (_, middle) in zip(spots, placed, strict=True):
        assert spot.width / 2 - 1e-9 <= middle <= 100 - spot.width / 2 + 1e-9


def test_more_labels_than_a_row_holds_take_several_rows():
    spots = [Spot(at, "123") for at in range(50)]
    rows = Counter(row for row, _ in side_by_side(spots, 0, 60))
    assert len(rows) > 1


def test_labels_that_just_fill_a_row_are_pushed_apart_in_it():
    spots = [Spot(0, "123"), Spot(0, "45")]
    first, second = (spot.width for spot in spots)
    (one, at), (other, beside) = side_by_side(spots, 0, first + second)
    assert (one, other) == (0, 0)
    assert (at, beside) == pytest.approx((first / 2, first + second / 2))
    assert {row for row, _ in side_by_side(spots, 0, first + second - 0.1)} == {0, 1}


def test_bold_capitals_of_a_wide_face_fit_the_room_reckoned_for_them():
    """Widths in font sizes of two lines in the widest of the faces named, bold and not, as measured with that face."""
    for text, bold, plain in (("VERYLONGPRODUCTCODE-0123456789", 21.88, 19.83), ("WWMW-25 B", 7.18, 6.43)):
        assert text_width(text, 6, bold=True) >= 6 * bold
        assert text_width(text, 6) >= 6 * plain
        assert text_width(shortened(text, 6, 40, bold=True), 6, bold=True) <= 40


def test_few_jobs_are_listed_with_all_of_a_long_site():
    request, plan = sample_plans.one_source()
    site = "Long Meadow nursery, play area behind the kitchen garden, second gate"
    jobs = tuple(replace(job, site=site) for job in request.jobs)
    svg = ElementTree.fromstring(draw_product(replace(request, jobs=jobs), plan.products[0]))
    assert len([box for box in text_boxes(svg) if box.text.endswith(f", {site}")]) == len(jobs)


def test_a_job_that_says_no_place_has_no_comma_after_its_day():
    request, plan = sample_plans.one_source()
    jobs = tuple(replace(job, site="", pile_towards="") for job in request.jobs)
    svg = ElementTree.fromstring(draw_product(replace(request, jobs=jobs), plan.products[0]))
    listed = [box.text for box in text_boxes(svg) if box.text.startswith(f"{jobs[0].code}, ")]
    assert listed == [f"{jobs[0].code}, {day(jobs[0].lay_on)}"]


def test_wide_characters_take_their_width():
    assert text_width("芝生", 4) == 8
    assert shortened("芝生芝生", 4, 13) == "芝生…"


def test_no_money_stands_beside_the_sizes():
    request, plan = sample_plans.mixed()
    worth = {money(left.value_pence) for left in plan.leftovers() if left.keep}
    assert worth
    for product in plan.products:
        text = draw_product(request, product)
        assert {amount for amount in worth if amount in text} == set()


def test_what_one_person_should_not_lift_is_marked_on_the_drawing_too():
    """The drawing may be the only sheet that hangs in the yard."""
    things = [
        sample_plans.item(f"O-00{n}", StockForm.OFFCUT, 1000, length) for n, length in enumerate((2000, 8000, 20_000))
    ]
    cuts = [(thing, [(1000, [(1000, [("J1", f"S{n}", 1, 1000, 1000)])])]) for n, thing in enumerate(things)]
    part = sample_plans.product_plan("G30", 4000, cuts)
    request = replace(CASES["one source"][0], stock=tuple(things), jobs=sample_plans.jobs_of(part, {}, BatchRule.ONE))
    texts = [box.text for box in text_boxes(ElementTree.fromstring(draw_product(request, part)))]
    marks = [text.partition(", about ")[2] for text in texts if ", about " in text]
    assert [re.sub(r"^\d+ kg ?", "", text) for text in marks] == ["", "(2 people)", "(plant)"]
    pages = sum(text.startswith("page ") for text in texts)
    assert sum(text.endswith("Guidance, not clearance.") for text in texts) == pages
