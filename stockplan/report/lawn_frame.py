"""What stands round the map on every sheet of a lawn: title, address, notes, the scale and what the lines stand for."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.domain.layout import SeamKind
from stockplan.domain.units import metres
from stockplan.report.drawing import EDGE, PAGE_HEIGHT, PAGE_WIDTH, ROW
from stockplan.report.drawing_parts import (
    BODY,
    HATCHING,
    INK,
    LINE,
    PAPER,
    SMALL,
    TITLE,
    Label,
    Rect,
    shortened,
    text_width,
    wrapped,
)
from stockplan.report.lawn_drawing_parts import Spot, Stroke
from stockplan.report.lawn_map import SEAM_DASHES, SEAM_WIDTH, TRIM, LawnMap
from stockplan.report.words import printable

NOTES = (
    "Sizes: across × along the pile, metres, as cut. Pile arrow on the backing before any cut.",
    "Knives, adhesives, stone dust, heavy rolls: follow your risk assessment, the data sheets and local codes.",
)
BOTTOM = PAGE_HEIGHT - EDGE - len(NOTES) * ROW - 2
ROOM = PAGE_WIDTH - 2 * EDGE
FULL_SIZE = "Print at full size."

Part = Stroke | Label | Rect


def scale_and_key(drawn: LawnMap, fitted: bool) -> list[Part]:
    """The scale of a lawn's map, and what its lines stand for.

    Parameters
    ----------
    drawn
        The map.
    fitted
        Whether the sheet's size, and with it the scale, will be changed.
    """
    y = BOTTOM - ROW / 2 - 0.5
    bar_mm = next((bar for bar in (200, 500, 1000, 2000, 5000, 10_000) if bar / drawn.scale >= 10), 20_000)
    end = EDGE + bar_mm / drawn.scale
    ticks = [Stroke(Spot(x, y - 1.2), Spot(x, y + 1.2), 0.4) for x in (EDGE, end)]
    parts: list[Part] = [Stroke(Spot(EDGE, y), Spot(end, y), 0.8), *ticks]
    words = f"{metres(bar_mm, 1)} m" if fitted else f"{metres(bar_mm, 1)} m, scale 1:{drawn.scale}"
    parts.append(Label(end + 2, y, words))
    x = max(end + 2 + text_width(words, SMALL) + 8, EDGE + 60)
    for kind, name in ((SeamKind.LONG, "seam"), (SeamKind.HEAD, "head seam")):
        parts.append(Stroke(Spot(x, y), Spot(x + 10, y), SEAM_WIDTH[kind], INK, SEAM_DASHES[kind]))
        parts.append(Label(x + 12, y, name))
        x += 12 + text_width(name, SMALL) + 6
    parts.append(Rect(x, y - 1.8, 8, 3.6, PAPER, TRIM, dashed=True))
    parts.append(Label(x + 10, y, "trimmed to the edge"))
    x += 10 + text_width("trimmed to the edge", SMALL) + 6
    parts.append(Rect(x, y - 1.8, 8, 3.6, PAPER, HATCHING, hatched=True))
    parts.append(Label(x + 10, y, "hole"))
    return parts


def about_lines(about: str) -> list[str]:
    """What stands under the title, in as many lines as a long address takes."""
    return [shortened(line, SMALL, ROOM) for line in wrapped(printable(about), SMALL, ROOM)]


def frame(title: str, about: Sequence[str], page: str, fitted: bool) -> list[Part]:
    """The frame of a sheet with its title and notes.

    Parameters
    ----------
    title
        In large letters.
    about
        Lines under it; see `about_lines`.
    page
        Which of how many.
    fitted
        As for `scale_and_key`.
    """
    room = ROOM - text_width(page, BODY) - 4
    heading_y, about_y = EDGE + TITLE * LINE / 2, EDGE + TITLE * LINE + ROW / 2
    return [
        Rect(4, 4, PAGE_WIDTH - 8, PAGE_HEIGHT - 8, PAPER, "#9a9a9a", marks={"class": "page"}),
        Label(EDGE, heading_y, shortened(title, TITLE, room, bold=True), TITLE, bold=True),
        Label(EDGE + ROOM, heading_y, page, BODY, "end"),
        *(Label(EDGE, about_y + ROW * number, line) for number, line in enumerate(about)),
        Label(EDGE, BOTTOM + 2 + ROW / 2, NOTES[0] if fitted else f"{NOTES[0]} {FULL_SIZE}"),
        Label(EDGE, BOTTOM + 2 + ROW * 1.5, NOTES[1]),
    ]
