"""Labels as a PDF: one a page for a label printer, or in rows and columns on sheets of A4."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from stockplan.errors import StockplanError
from stockplan.report.label import HEIGHT_MM, LEAST_HEIGHT_MM, LEAST_WIDTH_MM, WIDTH_MM, draw_label
from stockplan.report.label_facts import LabelFacts
from stockplan.report.paper import MM

A4_WIDTH_MM, A4_HEIGHT_MM = 210.0, 297.0


@dataclass(frozen=True, slots=True)
class LabelPages:
    """How labels lie on paper.

    Parameters
    ----------
    page_mm
        Width and height of a page.
    rows, columns
        Labels on it; positive.
    margin_mm
        Free at the left and right edge and at the top and bottom edge of a page.
    """

    page_mm: tuple[float, float]
    rows: int = 1
    columns: int = 1
    margin_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def label_mm(self) -> tuple[float, float]:
        """Width and height of one label."""
        across = (self.page_mm[0] - 2 * self.margin_mm[0]) / self.columns
        return across, (self.page_mm[1] - 2 * self.margin_mm[1]) / self.rows

    def place(self, index: int) -> tuple[float, float]:
        """Lower left corner of a label, counted along the rows from the top left."""
        row, column = divmod(index, self.columns)
        across, down = self.label_mm
        return self.margin_mm[0] + column * across, self.page_mm[1] - self.margin_mm[1] - (row + 1) * down


LABEL_PRINTER = LabelPages((WIDTH_MM, HEIGHT_MM))


def a4_pages(rows: int = 5, columns: int = 2, margin_mm: tuple[float, float] = (5.0, 13.5)) -> LabelPages:
    """Lay labels out on A4; without arguments ten of 100 × 54 mm, clear of the edges most printers cannot reach.

    Parameters
    ----------
    rows, columns
        Labels on a sheet, 1 or more; default 5 × 2.
    margin_mm
        As for `LabelPages`; default 5 and 13.5.

    Raises
    ------
    StockplanError
        When a label would be smaller than a label can be read at.
    """
    pages = LabelPages((A4_WIDTH_MM, A4_HEIGHT_MM), rows, columns, margin_mm)
    across, down = pages.label_mm
    if across < LEAST_WIDTH_MM or down < LEAST_HEIGHT_MM:
        raise StockplanError(
            f"{rows} rows × {columns} columns make labels of {across:.0f} × {down:.0f} mm; a label needs at least "
            f"{LEAST_WIDTH_MM:.0f} × {LEAST_HEIGHT_MM:.0f} mm to be read: take fewer rows or columns"
        )
    return pages


def label_pdf(labels: Sequence[LabelFacts], pages: LabelPages = LABEL_PRINTER, skip: int = 0) -> bytes:
    """Print labels; the same labels give the same file, byte for byte.

    Parameters
    ----------
    labels
        At least one.
    pages
        How they lie; default one a page of 100 × 50 mm.
    skip
        How many places of the first sheet are used up already; 0 or more, fewer than a sheet has.

    Raises
    ------
    StockplanError
        When there is none, as many are skipped as a sheet has, or a tag is too long for its label.
    """
    on_a_page = pages.rows * pages.columns
    if not labels:
        raise StockplanError("there is nothing to print labels for")
    if not 0 <= skip < on_a_page:
        raise StockplanError(f"a sheet has {on_a_page} places; {skip} of them cannot be skipped")
    out = BytesIO()
    canvas = Canvas(out, pagesize=tuple(side * MM for side in pages.page_mm), invariant=1)
    canvas.setTitle("Labels: " + ", ".join(label.code for label in labels[:3]) + ("…" if len(labels) > 3 else ""))
    for index, label in enumerate(labels, skip):
        if index > skip and index % on_a_page == 0:
            canvas.showPage()
        draw_label(canvas, label, pages.place(index % on_a_page), pages.label_mm)
    canvas.save()
    return out.getvalue()
