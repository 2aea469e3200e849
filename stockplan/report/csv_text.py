"""CSV that spreadsheet programs open as it is meant, and its cells as they were before.

Without a byte-order mark such a program takes UTF-8 for the machine's old encoding, and a text that begins with a sign
for a formula, which shows its result in the place of a tag.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

BYTE_ORDER_MARK = "\ufeff"
_TAKEN_FOR_FORMULA = re.compile(r"'*[=+@-].+", re.DOTALL)


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Write rows, the header first; an apostrophe stands before what would be taken for a formula."""
    text = io.StringIO()
    text.write(BYTE_ORDER_MARK)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([[f"'{cell}" if _TAKEN_FOR_FORMULA.fullmatch(cell) else cell for cell in row] for row in rows])
    return text.getvalue()


def without_apostrophe(cell: str) -> str:
    """Give a cell as it was before `csv_text` wrote it, also where a spreadsheet program took the apostrophe out."""
    return cell[1:] if cell.startswith("'") and _TAKEN_FOR_FORMULA.fullmatch(cell) else cell
