"""Printed labels are read by a decoder, clean and dirty, and their text stays in its room."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from random import Random

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from stockplan.bench.dirt import SORTS, Dirt, dirty, is_read, page_image
from stockplan.errors import StockplanError
from stockplan.report.handling import GUIDANCE
from stockplan.report.label import CODE, label_lines
from stockplan.report.label_facts import LabelFacts
from stockplan.report.label_pages import LABEL_PRINTER, a4_pages, label_pdf
from stockplan.report.paper import latin, loses_letters, width_mm
from stockplan.report.qr_code import DOT_MM, GOOD_MODULE_MM, LEAST_MODULE_MM, qr_code

OFFCUT = LabelFacts("C-402K", "offcut", "K30", "4488", 1200, 6800, 21, "F5")
TAGS = (
    "C-402K",
    "R-201",
    "C-12 old tag 14",
    "P-9/9",
    "žluť 7",
    "Müller 7",
    "C-12 the old tag of the one by the far gate",
)


@pytest.mark.parametrize("dots_per_inch", [203, 300])
@pytest.mark.parametrize("tag", TAGS)
def test_what_was_printed_is_read(tag: str, dots_per_inch: int) -> None:
    image = page_image(label_pdf([replace(OFFCUT, code=tag)]), dots_per_inch)
    found = [code.text for code in zxingcpp.read_barcodes(image)]
    assert found
    assert set(found) == {tag}


def test_a_sheet_holds_every_label_in_order_after_those_skipped() -> None:
    labels = [replace(OFFCUT, code=f"C-{number:03}") for number in range(12)]
    pages = a4_pages(rows=4, columns=2)
    first, second = (page_image(label_pdf(labels, pages, skip=3), 200, page) for page in (0, 1))
    across, down = (side / 25.4 * 200 for side in pages.label_mm)
    for index, label in enumerate(labels, 3):
        page, place = divmod(index, 8)
        row, column = divmod(place, 2)
        left, top = 5 / 25.4 * 200 + column * across, 13.5 / 25.4 * 200 + row * down
        cell = (first, second)[page].crop((round(left), round(top), round(left + across), round(top + down)))
        assert {code.text for code in zxingcpp.read_barcodes(cell)} == {label.code}
    blank = first.crop((0, 0, first.width, round(13.5 / 25.4 * 200 + down)))
    assert blank.getextrema() == (255, 255)


def test_one_mask_does_for_every_tag() -> None:
    random = Random(7)
    tags = {
        f"{random.choice('CRPJ')}-{random.randrange(10 ** random.randint(1, 7))}{random.choice(ends)}"
        for ends in [("", "K", "/A/1", "-5/B/12")] * 40
    }
    labels = [replace(OFFCUT, code=tag) for tag in sorted(tags)]
    pdf = label_pdf(labels, a4_pages())
    read = {
        code.text
        for page in range(-(-len(labels) // 10))
        for code in zxingcpp.read_barcodes(page_image(pdf, 300, page))
    }
    assert read == tags


@pytest.mark.parametrize("dots_per_inch", [pytest.param(203, marks=pytest.mark.slow), 300])
@pytest.mark.parametrize("dirt", SORTS, ids=lambda dirt: dirt.name)
def test_a_dirty_label_is_read(dirt: Dirt, dots_per_inch: int) -> None:
    """Opaque spots on 3 % of the whole label: four of six at least; of fifty it was nine in ten of every sort."""
    image = page_image(label_pdf([OFFCUT]), dots_per_inch)
    read = sum(is_read(dirty(image, dirt, 0.03, dots_per_inch, seed), OFFCUT.code) for seed in range(6))
    assert read >= 4


def test_dirt_can_hide_a_label() -> None:
    """The test above can fail: nothing is read through spots on the whole face."""
    image = page_image(label_pdf([OFFCUT]), 203)
    assert not is_read(dirty(image, SORTS[2], 1.0, 203, 1), OFFCUT.code)


def test_level_and_modules_suit_the_room() -> None:
    short, long = qr_code("C-402K", CODE), qr_code("C-12 the old tag of the one by the far gate", CODE)
    assert (short.level, short.module_mm) == ("H", 1.0)
    assert long.level != "H"
    assert long.module_mm < short.module_mm
    for code in (short, long):
        assert code.side_mm <= CODE
        assert code.module_mm % DOT_MM == 0
        assert code.level == "M" or code.module_mm >= GOOD_MODULE_MM
        half = code.half()
        assert half is None or half.module_mm >= LEAST_MODULE_MM
    with pytest.raises(StockplanError, match="too long for a code of 29 mm"):
        qr_code("x" * 500, CODE)


@settings(max_examples=60, deadline=None)
@given(
    st.text(min_size=1, max_size=50),
    st.text(max_size=60),
    st.integers(1, 200_000),
    st.sampled_from([(100.0, 50.0), (100.0, 54.0), (70.0, 35.0), (105.0, 74.25)]),
    st.sampled_from([None, 5, 21, 35, 300]),
)
def test_no_text_runs_over(tag: str, words: str, length_mm: int, size: tuple[float, float], weight: int | None) -> None:
    facts = LabelFacts(tag, "part roll", words, words, 3999, length_mm, weight, words, words)
    lines = label_lines(facts, size)
    boxes = []
    for line in lines:
        assert width_mm(line.text, line.face, line.points) <= line.room_mm
        assert line.left_mm + line.room_mm <= size[0]
        assert line.base_mm >= 0
        assert line.base_mm + line.points * 0.72 * 25.4 / 72 <= size[1]
        boxes.append((line.base_mm, line.base_mm + line.points * 0.72 * 25.4 / 72))
    assert all(one[1] <= other[0] or other[1] <= one[0] for one, other in combinations(boxes, 2))
    said = " ".join(line.text for line in lines)
    assert GUIDANCE in said
    assert latin(tag) in "".join(line.text for line in lines)  # a tag is never cut short


def test_long_names_are_cut_short_and_cautions_are_not() -> None:
    facts = replace(OFFCUT, product="K" * 80, weight_kg=21)
    said = [line.text for line in label_lines(facts, (100, 50))]
    assert any("…" in text for text in said)
    assert "about 21 kg; not for one person: 2 people at least, or plant" in said


def test_the_product_is_cut_short_before_the_batch() -> None:
    facts = replace(OFFCUT, product="PLUSH-40-EXTRA-DEEP-GREEN-4-TONE", batch="2026-LN-0017")
    for size in ((100.0, 50.0), (70.0, 35.0)):
        (line,) = [line for line in label_lines(facts, size) if "batch" in line.text]
        assert line.text.startswith("PLUSH-")
        assert line.text.endswith("…, batch 2026-LN-0017")


def test_what_is_light_still_says_guidance_not_clearance() -> None:
    said = [line.text for line in label_lines(replace(OFFCUT, weight_kg=5), (100, 50))]
    assert "about 5 kg" in said
    assert GUIDANCE in said
    unknown = [line.text for line in label_lines(replace(OFFCUT, weight_kg=None), (100, 50))]
    assert "weight not known: find out before lifting" in unknown


def test_letters_beyond_the_standard_faces_lose_their_accents() -> None:
    assert latin("4.00 × 6.20 – Žofie Müller, Łódź, Jiří, ² …") == "4.00 × 6.20 – Žofie Müller, Lódz, Jirí, ² …"
    assert latin("田\n") == "??"
    assert loses_letters("R-1", "田-1")
    assert not loses_letters("R-1", "Jiří?", "Łódź")


def test_a_sign_that_stands_for_several_letters_is_printed_as_all_of_them_or_told_of() -> None:
    assert latin("Ⅱ Ⅲ Ⅳ, № 5, 7 ㎡, ｋ") == "II III IV, No 5, 7 m2, k"
    assert latin("⅓") == "?"  # a 1 would be another size
    assert loses_letters("⅓")
    assert latin("B\u030c1") == "B1"  # an accent written apart goes as others do
    assert not loses_letters("Ⅱ", "№", "B\u030c1")


def test_the_same_labels_give_the_same_file() -> None:
    assert label_pdf([OFFCUT]) == label_pdf([OFFCUT])


def test_what_cannot_be_printed_is_refused() -> None:
    with pytest.raises(StockplanError, match="at least 70 × 35 mm"):
        a4_pages(rows=8, columns=3)
    with pytest.raises(StockplanError, match="a sheet has 10 places; 10 of them"):
        label_pdf([OFFCUT], a4_pages(), skip=10)
    with pytest.raises(StockplanError, match="nothing to print"):
        label_pdf([], LABEL_PRINTER)
