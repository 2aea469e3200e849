"""The sheet to count a bay by, as a PDF to write on with gloves on.

Every thing on record has a line with a box to tick and room for what it measures now; empty lines follow for what lies
there without being on record. Headings stand on every page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from io import BytesIO
from typing import Any

from reportlab.lib.colors import black, grey
from reportlab.lib.pagesizes import A4
from reportlab.platypus import SimpleDocTemplate, Table, TableStyle

from stockplan.domain.stock import StockItem
from stockplan.domain.units import size, square_metres
from stockplan.report.paper import BOLD, MM, REGULAR, fitting, halves, latin, shortened, width_mm
from stockplan.report.words import counted, day, form_words

EMPTY_LINES = 6
ROW_MM, POINTS = 9.0, 10.0
EDGE_MM, TOP_MM, BOTTOM_MM = 12.0, 30.0, 16.0
COLUMNS = (  # heading and width, mm
    ("seen", 11.0), ("tag", 27.0), ("product", 20.0), ("batch", 21.0), ("lies as", 18.0),
    ("across × along, m", 29.0), ("across now", 20.0), ("along now", 20.0), ("remarks", 20.0),
)  # fmt: skip
WRITTEN = ("across now", "along now")
TAG = 1
PADDING_MM = 3.0
LEAST_SHARE = 0.7  # a text shrinks to this share of its size before it takes two lines
LEAST_POINTS = 4.0  # what is longer still is cut short, tags aside
SIGNED = "counted by ____________________  on ______________"
HOW = (
    "Tick what lies here; write sizes only where they differ, across then along the pile. What is not on record goes "
    "on the empty lines."
)


def count_sheet_pdf(
    bay: str, items: Sequence[StockItem], printed: date, remarks: Mapping[str, str] | None = None
) -> bytes:
    """Print the sheet of one bay; the same bay gives the same file, byte for byte.

    Parameters
    ----------
    bay
        Its name.
    items
        What should lie there, in the order to print.
    printed
        The day, for the heading.
    remarks
        By tag, such as `wet` or `plan 12`; default none.
    """
    table = _table(items, remarks or {})
    area = square_metres(sum(item.area_mm2 for item in items))
    heading = f"{counted(len(items), 'thing')} on record, {area} m²; printed {day(printed)} {printed.year}"
    _, pages = _print(table, bay, heading, 0)
    return _print(table, bay, heading, pages)[0]


def _print(table: Table, bay: str, heading: str, pages: int) -> tuple[bytes, int]:
    """Print a table that takes so many pages, and say how many it does take."""
    out = BytesIO()
    document = SimpleDocTemplate(
        out, pagesize=A4, leftMargin=EDGE_MM * MM, rightMargin=EDGE_MM * MM, topMargin=TOP_MM * MM,
        bottomMargin=BOTTOM_MM * MM, title=f"Count of bay {bay}", invariant=1,
    )  # fmt: skip

    def furnish(canvas: Any, page: Any) -> None:
        _furniture(canvas, latin(f"Count of bay {bay}"), latin(heading), f"page {page.page} of {pages}")

    document.build([table], onFirstPage=furnish, onLaterPages=furnish)
    return out.getvalue(), document.page


def _table(items: Sequence[StockItem], told: Mapping[str, str]) -> Table:
    rows = [[name for name, _ in COLUMNS]]
    for item in items:
        facts = (
            item.tag,
            item.product,
            item.batch or "unknown",
            form_words(item.form),
            size(item.width_mm, item.length_mm),
        )
        rows.append(["", *facts, "", "", told.get(item.tag, "")])
    rows += [[""] * len(COLUMNS) for _ in range(EMPTY_LINES)]
    cells = [
        [_set(latin(text), name, width - PADDING_MM) for text, (name, width) in zip(row, COLUMNS, strict=True)]
        for row in rows[1:]
    ]
    table = Table(
        [rows[0], *([text for text, _ in row] for row in cells)],
        [width * MM for _, width in COLUMNS],
        [ROW_MM * MM] * len(rows),
        repeatRows=1,
    )
    table.setStyle(_style([[points for _, points in row] for row in cells]))
    return table


def _set(text: str, column: str, room_mm: float) -> tuple[str, float]:
    """A text and its size: smaller where it is long, then in two lines, as the beginning of a name is another name."""
    face = BOLD if column == "tag" else REGULAR
    points = fitting(text, face, POINTS, room_mm)
    if points >= POINTS * LEAST_SHARE:
        return text, points
    lines = _two_lines(text)
    points = min(fitting(line, face, POINTS - 1, room_mm) for line in lines)
    if points < LEAST_POINTS and column != "tag":
        points, lines = LEAST_POINTS, tuple(shortened(line, face, LEAST_POINTS, room_mm) for line in lines)
    return "\n".join(lines), points


def _two_lines(text: str) -> tuple[str, ...]:
    """A text in two lines, broken between words where that leaves neither much longer."""
    breaks = [place + 1 for place, letter in enumerate(text) if letter == " "]
    best = min(breaks, key=lambda place: abs(2 * place - len(text)), default=0)
    uneven = max(best, len(text) - best) > len(text) * LEAST_SHARE
    return halves(text) if uneven else (text[:best], text[best:])


def _style(sizes: Sequence[Sequence[float]]) -> TableStyle:
    written = [name for name, _ in COLUMNS].index(WRITTEN[0])
    smaller = [
        (what, (column, row), (column, row), points * leading)
        for row, line in enumerate(sizes, 1)
        for column, points in enumerate(line)
        for what, leading in (("FONTSIZE", 1.0), ("LEADING", 1.2))
        if points < POINTS
    ]
    return TableStyle(
        [
            ("FONT", (0, 0), (-1, -1), REGULAR, POINTS),
            ("FONT", (0, 0), (-1, 0), BOLD, POINTS - 2),
            ("FONT", (TAG, 1), (TAG, -1), BOLD, POINTS),
            *smaller,
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("LEFTPADDING", (0, 0), (-1, -1), PADDING_MM / 2 * MM),
            ("RIGHTPADDING", (0, 0), (-1, -1), PADDING_MM / 2 * MM),
            ("LINEBELOW", (0, 0), (-1, 0), 1.2, black),
            ("LINEBELOW", (0, 1), (-1, -1), 0.4, grey),
            ("BOX", (0, 1), (0, -1), 0.8, black),
            ("INNERGRID", (0, 1), (0, -1), 0.8, black),
            ("BOX", (written, 1), (written + len(WRITTEN) - 1, -1), 0.8, black),
            ("INNERGRID", (written, 1), (written + len(WRITTEN) - 1, -1), 0.8, black),
        ]
    )


def _furniture(canvas: Any, title: str, heading: str, page: str) -> None:
    width, height = A4
    room = width / MM - 2 * EDGE_MM - width_mm(SIGNED, REGULAR, 10) - PADDING_MM
    canvas.setFont(BOLD, fitting(title, BOLD, 16, room))
    canvas.drawString(EDGE_MM * MM, height - 15 * MM, title)
    canvas.setFont(REGULAR, 10)
    canvas.drawString(EDGE_MM * MM, height - 22 * MM, heading)
    canvas.drawRightString(width - EDGE_MM * MM, height - 15 * MM, SIGNED)
    canvas.setFont(REGULAR, 8)
    canvas.drawString(EDGE_MM * MM, 9 * MM, HOW)
    canvas.drawRightString(width - EDGE_MM * MM, height - 22 * MM, page)
