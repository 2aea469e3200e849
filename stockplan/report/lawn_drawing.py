"""The lawns of one job, each laid out on a sheet of A4: what goes where, what it takes, and the cautions.

The units of the drawing are millimetres on paper; print it at full size. Strips bear the letters that the pieces bear
in the drawing of the rolls.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import Lawn, lawn_words
from stockplan.domain.layout import LaidLawn, Layout, LayoutSettings, PlacedStrip, SeamKind
from stockplan.domain.pile_direction import job_wish, pile_groups
from stockplan.domain.plan import NEW_BATCH, Piece
from stockplan.domain.units import metres, size, square_metres
from stockplan.report.drawing import EDGE, PAGE_HEIGHT, PAGE_WIDTH, ROW, TOP
from stockplan.report.drawing_parts import (
    BODY,
    LINE,
    SMALL,
    Label,
    Rect,
    blank_drawing,
    shortened,
    svg_text,
    text_width,
    wrapped,
)
from stockplan.report.lawn_drawing_parts import Box, Shape, Spot, Stroke, arrow_at
from stockplan.report.lawn_facing import facing_words
from stockplan.report.lawn_frame import BOTTOM, about_lines, frame, scale_and_key
from stockplan.report.lawn_map import draw_map
from stockplan.report.words import counted, day, printable

PANEL = 205.0  # where the panel of facts begins, mm from the left
PANEL_WIDTH = PAGE_WIDTH - EDGE - PANEL
COMPASS = 24.0  # mm of the panel's height for the arrows of pile and north

Part = Shape | Stroke | Label | Rect


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    parts: tuple[Part, ...]


def draw_lawns(
    job: Job,
    layout: Layout,
    pieces: Iterable[Piece] = (),
    narrow_mm: int = LayoutSettings().warn_narrow_mm,
    *,
    is_short: bool = False,
    number: int | None = None,
) -> str:
    """Draw every lawn of a job as it is laid out, as SVG text, one sheet below the other.

    Parameters
    ----------
    job
        The job, with its lawns.
    layout
        How they are laid.
    pieces
        The pieces of a plan, of any job: each strip then says what it is cut from.
    narrow_mm
        A strip that covers less across is pointed out; default that of `LayoutSettings`.
    is_short
        Whether the plan leaves the job short.
    number
        That of the plan in the store, for telling its sheets from those of another; None where it has none.
    """
    cut = {(piece.strip, piece.number): piece for piece in pieces if piece.job == job.code}
    about = _about(job, "SHORT, not covered, " if is_short else "")
    below = f"{'' if number is None else f'Plan {number}: '}{about}; {job.product}"
    return _drawn(_sheets(job, layout, cut, narrow_mm, below, fitted=False), about)


def draw_sheets(job: Job, layout: Layout, narrow_mm: int) -> tuple[str, ...]:
    """Draw the same as drawings of a sheet each, to be set into pages of another size: only a bar tells the scale.

    Parameters
    ----------
    job, layout, narrow_mm
        As for `draw_lawns`.
    """
    about = _about(job)
    below = f"{about}; {job.product}"
    return tuple(_drawn([sheet], about) for sheet in _sheets(job, layout, {}, narrow_mm, below, fitted=True))


def _about(job: Job, short: str = "") -> str:
    site = f": {job.site}" if job.site else ""
    return f"{job.code}, {short}laid {day(job.lay_on)}{site}"


def _sheets(
    job: Job,
    layout: Layout,
    cut: dict[tuple[str, int], Piece],
    narrow_mm: int,
    below: str,
    *,
    fitted: bool,
) -> list[tuple[Part, ...]]:
    """What is on each sheet, `below` its title; `fitted` where its size, and with it the scale, will be changed."""
    about = about_lines(below)
    top = TOP + (len(about) - 1) * ROW
    pages: list[_Page] = []
    for laid in layout.lawns:
        pages += _pages(job, layout, laid, cut, narrow_mm, top, fitted=fitted)
    return [
        (*frame(page.title, about, f"page {number} of {len(pages)}", fitted), *page.parts)
        for number, page in enumerate(pages, 1)
    ]


def _drawn(sheets: Sequence[Sequence[Part]], about: str) -> str:
    svg = blank_drawing(PAGE_WIDTH, PAGE_HEIGHT * len(sheets), printable(f"Lawns of {about}"))
    for index, parts in enumerate(sheets):
        for part in parts:
            part.shifted(0, index * PAGE_HEIGHT).emit(svg)
    return svg_text(svg)


def strip_names(layout: Layout) -> dict[tuple[str, int], str]:
    """What each strip is called: its letter, with the copy's number where a size has several."""
    several = {strip.label for strip in layout.strips if strip.count > 1}
    return {
        (one.label, one.number): printable(f"{one.label} ({one.number})" if one.label in several else one.label)
        for one in layout.placed()
    }


def _pages(
    job: Job,
    layout: Layout,
    laid: LaidLawn,
    cut: dict[tuple[str, int], Piece],
    narrow_mm: int,
    top: float,
    *,
    fitted: bool,
) -> list[_Page]:
    lawn, names = next(one for one in job.lawns if one.label == laid.lawn), strip_names(layout)
    title = printable(f"{job.code}, {lawn_words(lawn.label)}")
    drawn = draw_map(lawn, laid, names, layout.either_way, Box(EDGE, top, PANEL - 5, BOTTOM - ROW - 1))
    parts: list[Part] = [*drawn.parts, *scale_and_key(drawn, fitted)]
    facts = _facts(lawn, laid, [facing_words(lawn, laid, layout.either_way), *_why(job, lawn), *_batch(laid, cut)])
    y = _lines(parts, facts, top)
    y = _compass(parts, lawn, laid, layout.either_way, y)
    rows = [*_strip_rows(laid, names, cut), *_narrow(laid, names, narrow_mm), *drawn.key]
    fitting = max(0, int((BOTTOM - 2 * ROW - y - BODY * LINE) / ROW))
    heading = f"{counted(len(laid.strips), 'strip')}, as cut"
    _table(parts, heading, rows[:fitting], Spot(PANEL, y), PANEL_WIDTH)
    pages = [_Page(title, tuple(parts))]
    down = int((BOTTOM - top - BODY * LINE) / ROW)
    for begin in range(fitting, len(rows), 3 * down):
        more: list[Part] = []
        for column in range(3):
            some = rows[begin + column * down : begin + (column + 1) * down]
            if some:
                _table(more, f"{heading}, continued", some, Spot(EDGE + column * (PANEL_WIDTH + 8), top), PANEL_WIDTH)
        pages.append(_Page(title, tuple(more)))
    return pages


def _facts(lawn: Lawn, laid: LaidLawn, facing: Sequence[str]) -> list[str]:
    cut = sum(strip.width_mm * strip.length_mm for strip in laid.strips)
    heads = sum(seam.mm for seam in laid.seams if seam.kind is SeamKind.HEAD)
    seams = sum(seam.mm for seam in laid.seams)
    edge = f"edge {metres(_whole_centimetres(lawn.perimeter_mm))} m"
    holes = f" and holes {metres(_whole_centimetres(lawn.holes_perimeter_mm))} m" if lawn.holes else ""
    return [
        f"Lawn {square_metres(laid.area_mm2)} m²",
        f"{edge}{holes}",
        f"Grass as cut: {square_metres(cut)} m²",
        f"Waste {100 * (cut - laid.area_mm2) / cut:.1f} % of the grass cut",
        f"Seams {metres(_whole_centimetres(seams))} m",
        *([f"of them head seams {metres(_whole_centimetres(heads))} m"] if heads else []),
        *(line for words in facing for line in wrapped(words, SMALL, PANEL_WIDTH)),
    ]


def _why(job: Job, lawn: Lawn) -> Iterator[str]:
    """What the direction follows from."""
    for group in pile_groups(job.lawns, job_wish(job)):
        if lawn in group.lawns:
            why = group.direction.why
            yield "No direction was asked for" if why == "open" else printable(f"Asked: {why}")


def _batch(laid: LaidLawn, cut: dict[tuple[str, int], Piece]) -> Iterator[str]:
    """What batch the strips come from, where a plan cuts them."""
    pieces = [cut[strip.label, strip.number] for strip in laid.strips if (strip.label, strip.number) in cut]
    batches = dict.fromkeys("newly ordered" if one.batch == NEW_BATCH else one.batch for one in pieces)
    if len(batches) > 1:
        yield printable(f"Batches {', '.join(batches)} side by side: shades may differ")
    elif batches:
        yield printable(f"Batch {', '.join(batches)}")


def _whole_centimetres(millimetres: int) -> int:
    return (millimetres + 5) // 10 * 10


def _lines(parts: list[Part], lines: Sequence[str], y: float) -> float:
    for index, line in enumerate(lines):
        font, step = (BODY, BODY * LINE) if index in (0, 2) else (SMALL, ROW)
        bold = font == BODY
        parts.append(Label(PANEL, y + step / 2, shortened(line, font, PANEL_WIDTH, bold=bold), font, bold=bold))
        y += step
    return y + 1


def _compass(parts: list[Part], lawn: Lawn, laid: LaidLawn, either_way: bool, y: float) -> float:
    """The pile's arrow, and north's where it is known; both as they lie on the page."""
    middle = y + COMPASS / 2
    pile = Spot(PANEL + 12, middle)
    parts.append(arrow_at(pile, laid.bearing, 18, 0.9, "pile direction"))
    if either_way:
        parts.append(arrow_at(pile, laid.bearing + 180, 18, 0.9, "pile direction"))
    parts.append(Label(PANEL + 24, middle, "pile", BODY, bold=True))
    if lawn.y_bearing is not None:
        parts.append(arrow_at(Spot(PANEL + 52, middle), -lawn.y_bearing, 14, 0.4, "north"))
        parts.append(Label(PANEL + 61, middle, "north", SMALL))
    return y + COMPASS


def _strip_rows(
    laid: LaidLawn, names: dict[tuple[str, int], str], cut: dict[tuple[str, int], Piece]
) -> list[tuple[str, str, str] | str]:
    """One row for the strips of a size that come from one source."""
    ordered = sorted(laid.strips, key=lambda one: (len(one.label), one.label, one.number))
    together: dict[tuple[str, str], list[PlacedStrip]] = {}
    for strip in ordered:
        piece = cut.get((strip.label, strip.number))
        together.setdefault((strip.label, piece.source if piece else ""), []).append(strip)
    rows: list[tuple[str, str, str] | str] = []
    for (label, source), strips in together.items():
        name = names[label, strips[0].number]
        if len(strips) > 1:
            name = printable(f"{label} ({_numbers([strip.number for strip in strips])})")
        rows.append(
            (name, size(strips[0].width_mm, strips[0].length_mm), f"from {printable(source)}" if source else "")
        )
    return rows


def _narrow(laid: LaidLawn, names: dict[tuple[str, int], str], narrow_mm: int) -> Iterator[str]:
    for strip in laid.strips:
        if strip.covers_mm < narrow_mm and len(laid.strips) > 1:
            yield f"{names[strip.label, strip.number]} is narrow: covers {metres(strip.covers_mm)} m"


def _numbers(numbers: Sequence[int]) -> str:
    """Ascending numbers with runs drawn together: `1–3, 5`."""
    runs: list[list[int]] = []
    for one in numbers:
        if runs and one == runs[-1][-1] + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def _table(
    parts: list[Part], heading: str, rows: Sequence[tuple[str, str, str] | str], corner: Spot, width: float
) -> None:
    parts.append(
        Label(corner.x, corner.y + BODY * LINE / 2, shortened(heading, BODY, width, bold=True), BODY, bold=True)
    )
    cells = [row for row in rows if isinstance(row, tuple)]
    first = min(max((text_width(row[0], SMALL, bold=True) for row in cells), default=0) + 4, width / 3)
    second = max((text_width(row[1], SMALL) for row in cells), default=0) + 4
    for index, row in enumerate(rows):
        y = corner.y + BODY * LINE + (index + 0.5) * ROW
        if isinstance(row, str):
            parts.append(Label(corner.x, y, shortened(row, SMALL, width)))
            continue
        parts.append(Label(corner.x, y, shortened(row[0], SMALL, first - 1, bold=True), bold=True))
        parts.append(Label(corner.x + first, y, row[1]))
        if row[2]:
            room = width - first - second
            parts.append(Label(corner.x + first + second, y, shortened(row[2], SMALL, room)))
