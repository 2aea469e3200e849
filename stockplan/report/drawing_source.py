"""One source to scale: header, drop positions, drops with their pieces and leftovers, scale bar and key.

The cut end is on the left and the pile runs to the right; looking along it, the left edge is at the top of the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from stockplan.domain.lettering import letters
from stockplan.domain.lifting import weight_kg
from stockplan.domain.plan import Piece, PlannedLeftover, SourceCuts
from stockplan.domain.units import metres, size
from stockplan.report.drawing_labels import MARGIN, Spot, in_rows, labels_inside, side_by_side
from stockplan.report.drawing_parts import (
    BODY,
    KEEP_FILL,
    LINE,
    PAPER,
    SMALL,
    Label,
    Line,
    Part,
    Rect,
    shortened,
    text_width,
    wrapped,
)
from stockplan.report.handling import lift_words
from stockplan.report.words import PieceLabels, SourceFacts, printable, unsound_words

FULL, HALF, THIRD = 277.0, 135.0, 88.0  # mm; widths of a block on the page
TALLEST = 44.0  # mm a source may take across on the page
LEFT, RIGHT = 2.0, 6.0  # mm beside the source, for half of a figure above its ends
ROW = SMALL * LINE
ARROW_ROOM = 40.0  # mm at the right of the first header line
LARGE_SCALES = (20, 25, 50)
SCALES = (50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000)
LEADER = "#5a5a5a"


@dataclass(frozen=True, slots=True)
class Block:
    """Something to put on a page, drawn from its own corner.

    Parameters
    ----------
    width, height
        Room it takes, mm.
    parts
        What it is made of.
    rows
        Lines of a key that follow it, when they did not fit with it; empty otherwise.
    """

    width: float
    height: float
    parts: tuple[Part, ...]
    rows: tuple[str, ...] = ()


def scale_for(width_mm: int, length_mm: int) -> int:
    """The usual scale, as the N of 1:N, at which a source fits its room on the page.

    The largest at which it takes half a page's width, if 1:50 or larger; else the largest at which it fits at all.

    Parameters
    ----------
    width_mm, length_mm
        Of the source.
    """
    for scale in LARGE_SCALES:
        if length_mm <= scale * (HALF - LEFT - RIGHT) and width_mm <= scale * TALLEST:
            return scale
    for scale in SCALES:
        if length_mm <= scale * (FULL - LEFT - RIGHT) and width_mm <= scale * TALLEST:
            return scale
    # Nothing is sold so long; the next whole thousand keeps even that on the page.
    return 1000 * max(-(-length_mm // (1000 * int(FULL - LEFT - RIGHT))), -(-width_mm // (1000 * int(TALLEST))))


@dataclass(slots=True)
class _Canvas:
    """Parts so far, in layers from the bottom up, and the key."""

    top: float
    shapes: list[Part] = field(default_factory=list)
    leaders: list[Part] = field(default_factory=list)
    labels: list[Part] = field(default_factory=list)
    key: list[str] = field(default_factory=list)
    outside: list[tuple[Rect, str]] = field(default_factory=list)


def source_block(
    cuts: SourceCuts,
    leftovers: Sequence[PlannedLeftover],
    facts: SourceFacts,
    colours: dict[str, str],
    labels: PieceLabels,
) -> Block:
    """Draw one source.

    Parameters
    ----------
    cuts, leftovers
        Its cuts and its own leftovers.
    facts
        What it is and where it lies.
    colours
        Fill of each job.
    labels
        How pieces are labelled.
    """
    scale = scale_for(cuts.width_mm, cuts.length_mm)
    header = _header_lines(facts)
    width = _block_width(cuts.length_mm / scale, header)
    canvas = _Canvas(top=0.0)
    _header(canvas, header, width, LEFT + cuts.length_mm / scale)
    _ticks(canvas, cuts, scale, width)
    for piece in cuts.pieces():
        _piece(canvas, piece, scale, colours[piece.job], labels)
    for leftover in leftovers:
        _leftover(canvas, leftover, scale)
    _outline(canvas, cuts, scale)
    bottom = _outside(canvas, canvas.top + cuts.width_mm / scale, width)
    bottom = _scale_bar(canvas, scale, bottom)
    parts = (*canvas.shapes, *canvas.leaders, *canvas.labels)
    return Block(width, bottom, parts, tuple(canvas.key))


def _header_lines(facts: SourceFacts) -> tuple[str, ...]:
    weight = weight_kg(facts.width_mm, facts.length_mm, facts.weight_g_m2)
    lift = lift_words(weight)
    dimensions = f"{size(facts.width_mm, facts.length_mm)} m, about {weight} kg{f' ({lift})' if lift else ''}"
    careful = wrapped(f"CAREFUL: {unsound_words(facts.condition)}", SMALL, THIRD) if facts.condition else []
    return f"{facts.key}: {facts.what}", facts.where, dimensions, *careful


def _block_width(drawn: float, header: Sequence[str]) -> float:
    needed = max(
        drawn + LEFT + RIGHT,
        text_width(header[0], BODY, bold=True) + ARROW_ROOM,
        *(text_width(h, SMALL) for h in header[1:]),
    )
    return usual_width(needed)


def usual_width(needed: float) -> float:
    """The narrowest of the usual widths of a block that is enough; the full one where none is."""
    return next((width for width in (THIRD, HALF) if needed <= width), FULL)


def _header(canvas: _Canvas, header: Sequence[str], width: float, source_end: float) -> None:
    first = shortened(header[0], BODY, width - ARROW_ROOM, bold=True)
    middle = BODY * LINE / 2
    canvas.labels.append(Label(0, middle, first, BODY, bold=True))
    end = max(source_end, text_width(first, BODY, bold=True) + ARROW_ROOM)
    canvas.labels.append(Label(end - 22, middle, "pile", SMALL, "end"))
    canvas.shapes.append(Line(end - 20, middle, end, middle, 0.6, arrow=True))
    canvas.top = BODY * LINE
    for line in header[1:]:
        canvas.labels.append(Label(0, canvas.top + ROW / 2, shortened(line, SMALL, width)))
        canvas.top += ROW


def _ticks(canvas: _Canvas, cuts: SourceCuts, scale: int, width: float) -> None:
    ends = {0, cuts.length_mm} | {drop.along_mm + drop.length_mm for drop in cuts.drops}
    spots = [Spot(LEFT + end / scale, metres(end) if end else "0") for end in sorted(ends)]
    placed = in_rows(spots, 0, width)
    rows = max(row for row, _ in placed) + 1
    source_top = canvas.top + rows * ROW + 1.6
    for spot, (row, middle) in zip(spots, placed, strict=True):
        # The lowest row is the first: its figures stand right above their ticks.
        y = source_top - 1.6 - (row + 0.5) * ROW
        canvas.leaders.append(Line(spot.at, y + SMALL / 2, spot.at, source_top, 0.2))
        canvas.labels.append(Label(middle, y, spot.text, anchor="middle", background=PAPER))
    canvas.top = source_top


def _placed(canvas: _Canvas, part: Piece | PlannedLeftover, scale: int) -> tuple[float, float, float, float]:
    x, y = LEFT + part.along_mm / scale, canvas.top + part.across_mm / scale
    return x, y, part.length_mm / scale, part.width_mm / scale


def _piece(canvas: _Canvas, piece: Piece, scale: int, colour: str, labels: PieceLabels) -> None:
    name, dimensions = labels.of(piece), size(piece.width_mm, piece.length_mm)
    marks = {
        "class": "piece",
        "data-job": printable(piece.job),
        "data-strip": printable(piece.strip),
        "data-number": str(piece.number),
        "data-source": printable(piece.source),
    }
    title = f"{name}, {dimensions} m from {printable(piece.source)}"
    rect = Rect(*_placed(canvas, piece, scale), fill=colour, marks=marks, title=title)
    canvas.shapes.append(rect)
    _name(canvas, rect, (name, dimensions), colour)


def _leftover(canvas: _Canvas, leftover: PlannedLeftover, scale: int) -> None:
    dimensions = size(leftover.width_mm, leftover.length_mm)
    # Its worth stays off the sheet: beside the sizes it would be taken for metres.
    name = "keep" if leftover.keep else "bin"
    rect = Rect(
        *_placed(canvas, leftover, scale),
        fill=KEEP_FILL if leftover.keep else PAPER,
        dashed=leftover.keep,
        hatched=not leftover.keep,
        marks={"class": "keep" if leftover.keep else "bin", "data-source": printable(leftover.source)},
        title=f"{name}, {dimensions} m, {printable(leftover.reason)}",
    )
    canvas.shapes.append(rect)
    _name(canvas, rect, (name, dimensions), KEEP_FILL if leftover.keep else PAPER, sliver=not leftover.keep)


def _name(canvas: _Canvas, rect: Rect, lines: tuple[str, str], background: str, sliver: bool = False) -> None:
    """Label a rectangle; a sliver for the bin too small even for a letter of the key keeps its hatching alone.

    Letters, as numbers are what the cut sheet gives leftovers: by those it is said what became of one.
    """
    inside = labels_inside(rect, lines, background)
    if inside:
        canvas.labels.extend(inside)
        return
    key = letters(len(canvas.key)).lower()
    roomy = text_width(key, SMALL) + 2 * MARGIN <= rect.width and rect.height >= SMALL + MARGIN
    if sliver and not roomy:
        return
    room = FULL - text_width(f"{key}: , {lines[1]}", SMALL)
    canvas.key.append(f"{key}: {shortened(lines[0], SMALL, room)}, {lines[1]}")  # a size is never cut short
    if roomy:
        middle = (rect.x + rect.width / 2, rect.y + rect.height / 2)
        canvas.labels.append(Label(*middle, key, SMALL, "middle", bold=True, background=background))
    else:
        canvas.outside.append((rect, key))


def _outline(canvas: _Canvas, cuts: SourceCuts, scale: int) -> None:
    length, width = cuts.length_mm / scale, cuts.width_mm / scale
    marks = {"class": "source", "data-source": printable(cuts.source)}
    canvas.shapes.append(Rect(LEFT, canvas.top, length, width, "none", stroke_width=0.5, marks=marks))
    canvas.shapes.append(Line(LEFT, canvas.top, LEFT, canvas.top + width, 1.2))
    for drop in cuts.drops:
        x = LEFT + (drop.along_mm + drop.length_mm) / scale
        canvas.shapes.append(Line(x, canvas.top, x, canvas.top + width, 0.5))


def _outside(canvas: _Canvas, bottom: float, width: float) -> float:
    """Letters of the key below the source, each at the end of a leader; returns where they end."""
    if not canvas.outside:
        return bottom
    wanted = sorted(canvas.outside, key=lambda one: (one[0].x + one[0].width / 2, one[0].y))
    spots = [Spot(rect.x + rect.width / 2, key) for rect, key in wanted]
    placed = side_by_side(spots, 0, width)
    for (rect, key), spot, (row, middle) in zip(wanted, spots, placed, strict=True):
        y = bottom + 3 + (row + 0.5) * ROW
        canvas.leaders.append(Line(spot.at, rect.y + rect.height / 2, middle, y - SMALL / 2, 0.2, LEADER, dot=True))
        canvas.labels.append(Label(middle, y, key, SMALL, "middle", bold=True, background=PAPER))
    return bottom + 3 + (max(row for row, _ in placed) + 1) * ROW


def _scale_bar(canvas: _Canvas, scale: int, bottom: float) -> float:
    bar_mm = next((bar for bar in (200, 500, 1000, 2000, 5000, 10_000) if bar / scale >= 10), 20_000)
    y, end = bottom + 1 + ROW / 2, LEFT + bar_mm / scale
    canvas.shapes.append(Line(LEFT, y, end, y, 0.8))
    for x in (LEFT, end):
        canvas.shapes.append(Line(x, y - 1.2, x, y + 1.2, 0.4))
    canvas.labels.append(Label(end + 2, y, f"{metres(bar_mm, 1)} m, scale 1:{scale}"))
    return bottom + 1 + ROW
