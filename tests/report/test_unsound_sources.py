"""What is on record as wet, damaged or the like is said to be so wherever its cuts are printed or drawn."""

from __future__ import annotations

import io
import itertools
from xml.etree import ElementTree

import pytest
import sample_plans
from rich.console import Console
from test_drawing import rect_box, rects, text_boxes

from stockplan.report.drawing import draw_product
from stockplan.report.terminal import render_plan
from stockplan.report.words import unsound_words

WORDS = ["wet", "damaged", "torn at one corner where the forks went in, look at the backing from below", "x" * 90]


@pytest.mark.parametrize("word", WORDS)
def test_the_drawing_says_it_over_the_source_and_over_nothing_else(word: str) -> None:
    request, plan = sample_plans.many_sources(12, 3)
    (product,) = plan.products
    tags = [cuts.source for cuts in product.cuts]
    svg = ElementTree.fromstring(draw_product(request, product, None, dict.fromkeys(tags[1:4], word)))
    boxes = text_boxes(svg)
    told = [box for box in boxes if box.text.startswith("CAREFUL: it is")]
    assert len(told) == 3
    assert sum(word[:10].split(" ", maxsplit=1)[0] in box.text for box in boxes) == 3
    assert not [(a.text, b.text) for a, b in itertools.combinations(boxes, 2) if a.overlaps(b)]
    pages = [rect_box(page) for page in rects(svg, "page")]
    assert all(any(box.inside(page) for page in pages) for box in told)
    assert "CAREFUL" not in draw_product(request, product)


def test_of_what_is_wet_it_is_said_that_the_weights_beside_it_are_of_dry_grass() -> None:
    assert unsound_words("wet") == "it is wet, so heavier than is said here: cut it only when it is fit to be laid"
    assert "heavier" not in unsound_words("damaged")


def test_the_printed_plan_says_it_under_the_source() -> None:
    request, plan = sample_plans.one_source()
    output = io.StringIO()
    render_plan(Console(file=output, width=100), request, plan, {"R-014": "w\x1b[31met", "R-9": "dirty"})
    _, under = output.getvalue().split("\nR-014: ")
    assert "  CAREFUL: it is w?[31met: cut it only when it is fit to be laid\n" in under.split("Step")[0]
    assert "dirty" not in output.getvalue()
