"""One label: what a thing is, how large, how heavy and where it belongs, readable at arm's length and by a phone.

Laid out for 100 × 50 mm and scaled to other sizes; at every size each line is fitted to its room by the widths of the
face it is set in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from stockplan.domain.units import metres
from stockplan.report.handling import GUIDANCE, lifting_note
from stockplan.report.label_facts import LabelFacts
from stockplan.report.paper import BOLD, MM, REGULAR, fitting, halves, latin, loses_letters, shortened, width_mm
from stockplan.report.qr_code import qr_code

WIDTH_MM, HEIGHT_MM = 100.0, 50.0
LEAST_WIDTH_MM, LEAST_HEIGHT_MM = 70.0, 35.0
EDGE = 3.0  # mm kept free at every side of a label of 100 × 50
CODE = 29.2  # mm, side of the square for the large QR code; two of half its size stand below
ARROW = 8.0  # mm, width of the pile arrow's column
LEAST_SHARE = 0.6  # a line shrinks to this share of its size before it is cut short


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text on a label.

    Parameters
    ----------
    text, face, points
        What and how; `text` is `latin`.
    left_mm, base_mm
        Where it begins and its base line, mm from the label's lower left corner.
    room_mm
        How wide it may be.
    """

    text: str
    face: str
    points: float
    left_mm: float
    base_mm: float
    room_mm: float


def draw_label(canvas: Any, facts: LabelFacts, place: tuple[float, float], size: tuple[float, float]) -> None:
    """Draw one label on a reportlab canvas.

    Parameters
    ----------
    canvas
        Where to.
    facts
        What it says.
    place
        Its lower left corner on the page, mm.
    size
        Width and height, mm; at least `LEAST_WIDTH_MM` × `LEAST_HEIGHT_MM`.

    Raises
    ------
    StockplanError
        When the code is too long for the label.
    """
    scale = min(size[0] / WIDTH_MM, size[1] / HEIGHT_MM)
    code = qr_code(facts.code, CODE * scale)
    left, bottom = place
    right, top = left + size[0] - scale, bottom + size[1] - scale
    code.draw(canvas, right - code.side_mm, top - code.side_mm)
    if small := code.half():
        for number in (1, 2):
            small.draw(canvas, right - number * small.side_mm, top - code.side_mm - small.side_mm)
    for line in label_lines(facts, size):
        canvas.setFont(line.face, line.points)
        canvas.drawString((left + line.left_mm) * MM, (bottom + line.base_mm) * MM, line.text)
    _pile_arrow(canvas, left + EDGE * scale, bottom + 11 * scale, scale)


def label_lines(facts: LabelFacts, size: tuple[float, float]) -> list[Line]:
    """Set the text of a label; a tag is never cut short, everything else is before it would run over.

    Parameters
    ----------
    facts, size
        As for `draw_label`.
    """
    width, height = size
    scale = min(width / WIDTH_MM, height / HEIGHT_MM)
    top, left = height - EDGE * scale, EDGE * scale
    room = width - left - CODE * scale - scale
    lines = _tag_lines(latin(facts.code), left, top, room, scale)
    indent, beside = left + ARROW * scale, room - ARROW * scale
    rows = (
        (_grass(facts, 13.0 * LEAST_SHARE * scale, beside), BOLD, 13.0, 22.0),
        (f"{metres(facts.width_mm)} × {metres(facts.length_mm)} m", BOLD, 19.0, 29.5),
        ("across × along the pile", REGULAR, 9.0, 33.3),
        (_where(facts), REGULAR, 13.0, 38.8),
    )
    for text, face, points, down in rows:
        base = top + (EDGE - down) * scale
        lines.append(_line(text, face, points * scale, (indent, base, beside)))
    for text, face, points, base, wide in (
        (_weight(facts), BOLD, 11.0, 6.2, room),
        (GUIDANCE, REGULAR, 7.0, 2.2, width - 2 * left),  # runs on below the codes
    ):
        set_at = fitting(text, face, points * scale, wide)  # a caution is never cut short
        lines.append(Line(text, face, set_at, left, base * scale, wide))
    return lines


def _tag_lines(tag: str, left: float, top: float, room: float, scale: float) -> list[Line]:
    most = 40 * scale
    whole = fitting(tag, BOLD, most, room)
    if whole >= most / 2 or len(tag) < 2:
        return [Line(tag, BOLD, whole, left, top - whole * 0.72 / MM, room)]
    points = min(fitting(part, BOLD, most / 2, room) for part in halves(tag))
    return [
        Line(part, BOLD, points, left, top - points * drop / MM, room)
        for part, drop in zip(halves(tag), (0.72, 1.72), strict=True)
    ]


def _line(text: str, face: str, points: float, place: tuple[float, float, float]) -> Line:
    left, base, room = place
    text = latin(text)
    set_at = max(points * LEAST_SHARE, fitting(text, face, points, room))
    return Line(shortened(text, face, set_at, room), face, set_at, left, base, room)


def _grass(facts: LabelFacts, least_points: float, room: float) -> str:
    """Product and batch; where there is no room for both the product is cut short, as the batch tells things apart."""
    batch = latin(f", batch {facts.batch}")
    left = room - width_mm(batch, BOLD, least_points)
    product = shortened(latin(facts.product), BOLD, least_points, max(left, room / 4))
    return product + batch


def _where(facts: LabelFacts) -> str:
    bay = f"bay {facts.bay}" if facts.bay else ""
    return ", ".join(part for part in (facts.what, bay, f"for {facts.job}" if facts.job else "") if part)


def loses_letters_of(facts: LabelFacts) -> bool:
    """Whether question marks stand for letters on a label; its code holds them all."""
    return loses_letters(facts.code, facts.product, facts.batch, facts.bay, facts.job)


def _weight(facts: LabelFacts) -> str:
    if facts.weight_kg is None:
        return "weight not known: find out before lifting"
    note = lifting_note(facts.weight_kg)
    return f"about {facts.weight_kg} kg; {note}" if note else f"about {facts.weight_kg} kg"


def _pile_arrow(canvas: Any, left: float, bottom: float, scale: float) -> None:
    """An arrow the way the pile leans: the label goes on with it pointing that way."""
    tall, middle, head = 20 * scale, left + 2.5 * scale, 5 * scale
    canvas.setFillGray(0)
    canvas.rect((middle - 0.8 * scale) * MM, bottom * MM, 1.6 * scale * MM, (tall - head + 0.2) * MM, 0, 1)
    path = canvas.beginPath()
    path.moveTo(middle * MM, (bottom + tall) * MM)
    path.lineTo((middle - 2.5 * scale) * MM, (bottom + tall - head) * MM)
    path.lineTo((middle + 2.5 * scale) * MM, (bottom + tall - head) * MM)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
