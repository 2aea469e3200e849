"""Text on printed pages: fonts, what they can print, and lines that never run over their room.

The standard PDF faces need no file and hold every character of Windows-1252: ×, –, ², the accents of western Europe.
Other letters lose their accents (ř becomes r), and what is left over becomes a question mark: whoever prints is told.
"""

from __future__ import annotations

import unicodedata

from reportlab import rl_config
from reportlab.pdfbase.pdfmetrics import stringWidth

rl_config.useA85 = 0  # pages as bytes: in printable characters they are a quarter longer, and slow to write
REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
MM = 72 / 25.4  # points
_PLAIN = str.maketrans({"ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ħ": "h", "ı": "i", "İ": "I", "−": "–"})


def latin(text: str) -> str:
    """Write a text with the characters that the standard faces hold."""
    text = text.translate(_PLAIN)
    return text if _holds(text) else "".join(map(_latin_character, text))


def loses_letters(*texts: str) -> bool:
    """Whether question marks stand for letters of a text when it is `latin`."""
    return any(latin(text).count("?") > text.count("?") for text in texts)


def halves(text: str) -> tuple[str, str]:
    """A text in two parts of one length, the first a character longer where that cannot be."""
    middle = (len(text) + 1) // 2
    return text[:middle], text[middle:]


def _latin_character(character: str) -> str:
    """The character, else all that it stands for, accents aside (Ⅳ becomes IV); a part would be another name."""
    if unicodedata.combining(character):
        return ""
    plain = "".join(one for one in unicodedata.normalize("NFKD", character) if not unicodedata.combining(one))
    return next((candidate for candidate in (character, plain) if candidate and _holds(candidate)), "?")


def _holds(text: str) -> bool:
    """Whether the standard faces hold all of it."""
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return text.isprintable()


def width_mm(text: str, face: str, points: float) -> float:
    """Width of a line, mm.

    Parameters
    ----------
    text
        The line.
    face
        Name of the typeface.
    points
        Its size.
    """
    return float(stringWidth(text, face, points)) / MM


def fitting(text: str, face: str, most_points: float, room_mm: float) -> float:
    """Largest size at which a line is no wider than its room, in points; no less than nothing.

    Parameters
    ----------
    text
        The line, already `latin`.
    face
        `REGULAR` or `BOLD`.
    most_points
        The size wanted.
    room_mm
        Its room, mm; positive.
    """
    needed = width_mm(text, face, most_points)
    return (
        most_points if needed <= room_mm else most_points * room_mm / needed * 0.9999
    )  # so that it is not a hair over


def shortened(text: str, face: str, points: float, room_mm: float) -> str:
    """The line, or as much of it as fits with an ellipsis.

    Parameters
    ----------
    text, face, points
        As for `width_mm`.
    room_mm
        How wide it may be.
    """
    if width_mm(text, face, points) <= room_mm:
        return text
    while text and width_mm(text + "…", face, points) > room_mm:
        text = text[:-1]
    return text.rstrip() + "…"
