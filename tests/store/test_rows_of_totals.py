"""A row that adds up others is told as such, once; nothing is left out without a word, and no thing taken for one."""

from __future__ import annotations

from pathlib import Path

import pytest
from sound_sheets import PRODUCTS, STOCK, STRIPS, write
from sound_workbooks import PRODUCTS as PRODUCT_ROWS
from sound_workbooks import STOCK as STOCK_ROWS
from sound_workbooks import faults, save

from stockplan.store.sheets import read_folder

TOLD = "a row of totals, found {!r}, would be right: rows that each stand for one thing, and none that adds up others"


@pytest.mark.parametrize(
    ("sheet", "row", "place"),
    [
        ("stock", ["Total", None, None, None, None, 25, None, 11.5], "stock:3: tag"),
        ("stock", [None, None, None, "Grand total:", None, 25.0, None, None], "stock:3: form"),
        ("stock", ["SUM", *[None] * 7], "stock:3: tag"),
        ("products", ["Total", None, 2.45], "products:3: product"),
    ],
)
def test_a_row_of_totals_is_one_fault(tmp_path: Path, sheet: str, row: list[object], place: str) -> None:
    rows = {"products": PRODUCT_ROWS, "stock": STOCK_ROWS}
    rows[sheet] = [*rows[sheet], row]
    word = next(cell for cell in row if cell)
    assert faults(save(tmp_path / "yard.xlsx", **rows)) == (f"yard.xlsx {place}: {TOLD.format(word)}",)


def test_in_csv_too(tmp_path: Path) -> None:
    folder = write(tmp_path, strips=f"{STRIPS}Subtotal,,,13.2,4\n")
    row = len(STRIPS.splitlines()) + 1
    assert faults(folder) == (f"strips.csv:{row}: job: {TOLD.format('Subtotal')}",)


def test_a_thing_of_such_a_name_is_none(tmp_path: Path) -> None:
    """Where the row says more than numbers, it says of one thing."""
    folder = write(tmp_path, products=f"{PRODUCTS}Total,all round,2.4\n", stock=f"{STOCK}Sum,G30,,offcut,1,2,A1,5\n")
    contents = read_folder(folder)
    assert "Total" in {product.code for product in contents.products}
    assert "Sum" in {item.tag for item in contents.stock}
