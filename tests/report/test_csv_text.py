"""CSV for spreadsheet programs: nothing is taken for a formula, and every cell comes back as it was."""

from __future__ import annotations

import csv
import io

from hypothesis import example, given
from hypothesis import strategies as st

from stockplan.report.csv_text import BYTE_ORDER_MARK, csv_text, without_apostrophe

CELLS = st.text(st.sampled_from("'=+-@1A,\"é "), max_size=6)


@given(st.lists(CELLS, min_size=1, max_size=4))
@example(["=1+2", "'=1", "''-3", "-", "@x", "+44 20"])
def test_cells_come_back_and_none_begins_like_a_formula(cells: list[str]) -> None:
    text = csv_text([cells])
    assert text.startswith(BYTE_ORDER_MARK)
    (row,) = csv.reader(io.StringIO(text.removeprefix(BYTE_ORDER_MARK), newline=""))
    assert not [cell for cell in row if cell[:1] in ("=", "+", "-", "@") and len(cell) > 1]
    assert list(map(without_apostrophe, row)) == cells


def test_what_a_spreadsheet_program_took_the_apostrophe_from_is_the_same() -> None:
    assert [without_apostrophe(cell) for cell in ("=A1", "'=A1", "'74", "O'=x", "")] == [
        "=A1",
        "=A1",
        "'74",
        "O'=x",
        "",
    ]
