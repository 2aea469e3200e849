"""The printed sheet for counting a bay, read back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pypdfium2

from stockplan.domain.stock import StockForm, StockItem
from stockplan.report.count_sheet import EMPTY_LINES, count_sheet_pdf

DAY = date(2026, 11, 25)


def item(tag: str, batch: str = "4488") -> StockItem:
    return StockItem(tag, "K30", batch, StockForm.OFFCUT, 1200, 6805, "F5", 1000)


def pages(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [document[number].get_textpage().get_text_range() for number in range(len(document))]


def test_every_thing_has_a_line() -> None:
    (text,) = pages(count_sheet_pdf("F5", [item("C-004M"), item("C-005K", "")], DAY, {"C-004M": "wet"}))
    for words in ("Count of bay F5", "2 things on record, 16.3 m²", "25 Nov 2026", "C-004M", "C-005K", "unknown"):
        assert words in text
    assert "1.20 × 6.805" in text
    assert "wet" in text


def test_a_long_tag_is_never_cut_short() -> None:
    for tag in ("C-12 by the far gate", "C-12 the old tag of the one by the far gate"):
        said = pages(count_sheet_pdf("F5", [item(tag)], DAY))[0]
        assert tag in said.replace("\r\n", "")


def test_batches_and_products_that_begin_alike_are_told_apart() -> None:
    products = ("PLUSH-40-EXTRA-DEEP-GREEN-4-TONE", "PLUSH-30-EXTRA-DEEP-GREEN-4-TONE")
    things = [replace(item(f"C-00{number}", f"2026-LN-001{number}-B"), product=products[number]) for number in (0, 1)]
    said = pages(count_sheet_pdf("F5", things, DAY))[0].replace("\r\n", "")
    for words in (*products, "2026-LN-0010-B", "2026-LN-0011-B"):
        assert words in said


def test_for_whom_a_thing_is_held_and_how_long_is_all_there() -> None:
    held = "plan 12, held for Q-1234 until 2026-12-31, wet"
    assert held in pages(count_sheet_pdf("F5", [item("C-004M")], DAY, {"C-004M": held}))[0].replace("\r\n", "")


def test_a_text_too_long_for_two_lines_stays_in_its_column() -> None:
    said = pages(count_sheet_pdf("F5", [item("C-004M")], DAY, {"C-004M": "held for " + "W" * 40}))[0]
    assert "…" in said
    assert "held for W" in said


def test_a_long_tag_is_large_enough_to_read() -> None:
    text = pypdfium2.PdfDocument(count_sheet_pdf("F5", [item("C-12-OLD-TAG-OF-THE-ONE-BY-THE-FAR-GATE-")], DAY))[0]
    page = text.get_textpage()
    boxes = [page.get_rect(number) for number in range(page.count_rects())]
    tall = [top - low for left, low, right, top in boxes if "GATE" in page.get_text_bounded(left, low, right, top)]
    assert tall
    assert min(tall) > 3.0  # points, of capitals: letters of 4 points and more


def test_a_long_name_of_a_bay_leaves_room_to_sign() -> None:
    text = pypdfium2.PdfDocument(count_sheet_pdf("second yard, behind the containers", [], DAY))[0].get_textpage()
    rights, lefts = [], []
    for number in range(text.count_rects()):
        left, _, right, _ = text.get_rect(number)
        words = text.get_text_bounded(*text.get_rect(number))
        (rights if "containers" in words else lefts if "counted" in words else []).append((left, right))
    assert rights
    assert lefts
    assert max(right for _, right in rights) < min(left for left, _ in lefts)


def test_a_large_bay_goes_on_with_headings_on_every_page() -> None:
    items = [item(f"C-{number:03}K") for number in range(60)]
    found = pages(count_sheet_pdf("F5", items, DAY))
    assert len(found) == 3
    assert all("across now" in text and f"page {number} of 3" in text for number, text in enumerate(found, 1))
    assert all(sum(one.tag in text for text in found) == 1 for one in items)


def test_an_empty_bay_still_has_lines_to_write_on() -> None:
    (text,) = pages(count_sheet_pdf("F9", [], DAY))
    assert "0 things on record" in text
    assert EMPTY_LINES > 0


def test_the_same_bay_gives_the_same_file() -> None:
    assert count_sheet_pdf("F5", [item("C-004M")], DAY) == count_sheet_pdf("F5", [item("C-004M")], DAY)
