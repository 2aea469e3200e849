"""Sound sheets as rows of a workbook; workbooks like them with cells, sheets or bytes replaced; the faults in one."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import Workbook

from stockplan.errors import SheetFaults
from stockplan.store.sheets import read_folder

PRODUCTS = [["product", "description", "weight_kg_m2"], ["G30", "30 mm pile", 2.45]]
STOCK = [
    ["tag", "product", "batch", "form", "width_m", "length_m", "bay", "cost_per_m2"],
    ["R-1", "G30", "B7", "roll", 4, 25, "A1", 11.5],
]
JOBS = [
    ["job", "site", "product", "lay_on", "pile_towards", "batch_rule"],
    [101, "3 Alder Row", "G30", datetime(2026, 11, 30), "house", None],
]
STRIPS = [["job", "strip", "width_m", "length_m", "count"], [101, "A", 3.6, 5.2, None]]

Rows = list[list[object]]


def save(path: Path, **sheets: Rows) -> Path:
    book = Workbook()
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def faults(path: Path) -> tuple[str, ...]:
    with pytest.raises(SheetFaults) as raised:
        read_folder(path)
    return raised.value.faults


def changed(rows: Rows, column: str, value: object) -> Rows:
    """Copy a sheet with the first row's cell of one column replaced."""
    first = list(rows[1])
    first[rows[0].index(column)] = value
    return [rows[0], first, *rows[2:]]


def rewritten(path: Path, texts: Mapping[str, str]) -> Path:
    """Copy a workbook with texts in its files replaced, as other programs write them."""
    copy = path.with_stem(f"{path.stem}-rewritten")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(copy, "w") as new:
        for member in old.namelist():
            data = old.read(member)
            for before, after in texts.items():
                data = data.replace(before.encode(), after.encode())
            new.writestr(member, data)
    return copy
