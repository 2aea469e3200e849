"""Addresses on drawings: all of each is there, however long it is and however many jobs there are."""

from __future__ import annotations

import itertools
from dataclasses import replace
from xml.etree import ElementTree

import pytest
import sample_lawns
import sample_plans
from test_drawing import Box, rect_box, rects, text_boxes

from stockplan.report.drawing import draw_product
from stockplan.report.lawn_drawing import draw_lawns, draw_sheets

PLAY_AREA = "Long Meadow nursery, play area behind the kitchen garden, second gate on the left"
LONGEST = " ".join(["past the old water tower and"] * 17)[:500]


def sound(drawing: str) -> list[Box]:
    """The texts of a drawing, each on a page and none over another."""
    svg = ElementTree.fromstring(drawing)
    boxes = text_boxes(svg)
    assert not [(a.text, b.text) for a, b in itertools.combinations(boxes, 2) if a.overlaps(b)]
    pages = [rect_box(page) for page in rects(svg, "page")]
    assert not [box.text for box in boxes if not any(box.inside(page) for page in pages)]
    return boxes


@pytest.mark.parametrize("site", [PLAY_AREA, LONGEST, "x" * 300], ids=["long", "longest", "one word"])
@pytest.mark.parametrize("sources", [2, 12])
def test_the_list_of_jobs_has_all_of_it(sources: int, site: str) -> None:
    request, plan = sample_plans.many_sources(sources, 5)
    jobs = tuple(replace(job, site=f"{site} {job.code}!") for job in request.jobs)
    told = " ".join(box.text for box in sound(draw_product(replace(request, jobs=jobs), plan.products[0])))
    for job in jobs:
        assert f" {job.code}!" in told
        assert (job.site in told) == (" " in site)


@pytest.mark.parametrize("name", ["a plain rectangle", "200 corners and 10 holes"])
def test_the_sheets_of_a_lawn_have_all_of_it(name: str) -> None:
    job, layout = sample_lawns.SAMPLES[name]
    for site in (PLAY_AREA, LONGEST):
        there = replace(job, site=site)
        for drawing in (draw_lawns(there, layout, number=7), *draw_sheets(there, layout, 500)):
            boxes = sound(drawing)
            pages = sum(box.text.startswith("page ") for box in boxes)
            assert " ".join(box.text for box in boxes).count(f"{site}; {job.product}") == pages
