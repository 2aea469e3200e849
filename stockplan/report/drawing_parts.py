"""What a drawing is made of: rectangles, lines and labels in millimetres on the page, and how they become SVG.

Text is placed by estimate, since no font is at hand: a character is taken as 0.62 of the font size wide, a capital as
0.75, the widest letters and wide East Asian ones as 1.0, and bold ones as a tenth wider; about what the widest of the
common sans-serif faces takes.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from xml.etree import ElementTree

SMALL = 3.5  # mm; nothing on a page is smaller
BODY = 4.2
TITLE = 6.0
LINE = 1.25  # line height in font sizes
CHARACTER, CAPITAL, WIDEST = 0.62, 0.75, 1.0  # of the font size
WIDE_LETTERS = "MWmw@%…—"
BOLDER = 1.1
INK = "#1a1a1a"
PAPER = "#ffffff"
KEEP_FILL = "#f1f6e8"
HATCHING = "#6b6b6b"
HATCH_STEP = 2.4  # mm between hatching lines, along either side

# Paul Tol's 'light' qualitative scheme, made for filling labelled cells and safe for colour-blind readers (from
# memory). Labels say what the colour says: colours repeat from the ninth job on.
JOB_COLOURS = ("#77aadd", "#ee8866", "#eedd88", "#ffaabb", "#99ddff", "#44bb99", "#bbcc33", "#aaaa00")


def text_width(text: str, font_size: float, *, bold: bool = False) -> float:
    """Estimated width of a line of text, mm.

    Parameters
    ----------
    text
        The line.
    font_size
        In mm.
    bold
        Whether it is bold; default not.
    """
    return font_size * sum(map(_share, text)) * (BOLDER if bold else 1)


def lines_width(lines: Sequence[str], font_size: float) -> float:
    """Estimated width of lines below each other, the first in bold where there are several, mm.

    Parameters
    ----------
    lines
        From the top.
    font_size
        In mm.
    """
    return max(text_width(line, font_size, bold=index == 0 and len(lines) > 1) for index, line in enumerate(lines))


def _share(character: str) -> float:
    """Width of a character as a share of the font size."""
    if character in WIDE_LETTERS or unicodedata.east_asian_width(character) in "WF":
        return WIDEST
    return CAPITAL if character.isupper() else CHARACTER


def shortened(text: str, font_size: float, room: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits in `room` millimetres with an ellipsis."""
    if text_width(text, font_size, bold=bold) <= room:
        return text
    while text and text_width(text + "…", font_size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, font_size: float, room: float) -> list[str]:
    """The text in as many lines as it takes, each within `room` millimetres where its words allow it."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", font_size) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def number(value: float) -> str:
    """A coordinate to the thousandth of a millimetre, without idle zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle; `marks` are further attributes, `title` is shown where a reader points at it."""

    x: float
    y: float
    width: float
    height: float
    fill: str
    stroke: str = INK
    stroke_width: float = 0.25
    dashed: bool = False
    hatched: bool = False
    marks: Mapping[str, str] = field(default_factory=dict)
    title: str = ""

    def shifted(self, x: float, y: float) -> Rect:
        """The same, elsewhere."""
        return replace(self, x=self.x + x, y=self.y + y)

    def emit(self, parent: ElementTree.Element) -> None:
        """Add it to a drawing."""
        attributes = {
            "x": number(self.x),
            "y": number(self.y),
            "width": number(self.width),
            "height": number(self.height),
            "fill": self.fill,
            "stroke": self.stroke,
            "stroke-width": number(self.stroke_width),
            **self.marks,
        }
        if self.dashed:
            attributes["stroke-dasharray"] = "1.6 1"
        element = ElementTree.SubElement(parent, "rect", attributes)
        if self.title:
            ElementTree.SubElement(element, "title").text = self.title
        if self.hatched:
            attributes = {"d": self._hatching(), "stroke": HATCHING, "stroke-width": "0.35", "fill": "none"}
            ElementTree.SubElement(parent, "path", attributes)

    def _hatching(self) -> str:
        """Strokes rising to the right inside the rectangle; drawn out, since printers blur pattern fills."""
        strokes = []
        reach = self.width + self.height
        for index in range(int(reach / HATCH_STEP) + 1):
            # Each stroke is a stretch of x + y = s, with x and y measured from the top left corner.
            total = (index + 0.5) * reach / (int(reach / HATCH_STEP) + 1)
            left, right = max(0.0, total - self.height), min(self.width, total)
            begin = f"M{number(self.x + left)} {number(self.y + total - left)}"
            strokes.append(f"{begin}L{number(self.x + right)} {number(self.y + total - right)}")
        return "".join(strokes)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line, with an arrow head at its far end or a dot at its near end when asked for."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float = 0.25
    colour: str = INK
    arrow: bool = False
    dot: bool = False

    def shifted(self, x: float, y: float) -> Line:
        """The same, elsewhere."""
        return replace(self, x1=self.x1 + x, y1=self.y1 + y, x2=self.x2 + x, y2=self.y2 + y)

    def emit(self, parent: ElementTree.Element) -> None:
        """Add it to a drawing; an arrow points right."""
        end = self.x2 - 3 if self.arrow else self.x2
        attributes = {
            "x1": number(self.x1),
            "y1": number(self.y1),
            "x2": number(end),
            "y2": number(self.y2),
            "stroke": self.colour,
            "stroke-width": number(self.width),
        }
        ElementTree.SubElement(parent, "line", attributes)
        if self.dot:
            place = {"cx": number(self.x1), "cy": number(self.y1), "r": "0.6", "fill": self.colour}
            ElementTree.SubElement(parent, "circle", place)
        if self.arrow:
            corners = ((self.x2, self.y2), (end, self.y2 - 1.5), (end, self.y2 + 1.5))
            points = " ".join(f"{number(x)},{number(y)}" for x, y in corners)
            ElementTree.SubElement(parent, "polygon", {"points": points, "fill": self.colour})


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text, its middle height at `y`.

    Parameters
    ----------
    x, y
        Where; `x` is its left edge, middle or right edge as `anchor` says.
    text, font_size, anchor, bold
        What and how; `anchor` is `start`, `middle` or `end`.
    upward
        Turned to read from bottom to top, its middle at (x, y).
    background
        Colour laid under it, so that no line runs through the letters; none when empty.
    """

    x: float
    y: float
    text: str
    font_size: float = SMALL
    anchor: str = "start"
    bold: bool = False
    upward: bool = False
    background: str = ""

    def shifted(self, x: float, y: float) -> Label:
        """The same, elsewhere."""
        return replace(self, x=self.x + x, y=self.y + y)

    def emit(self, parent: ElementTree.Element) -> None:
        """Add it to a drawing."""
        if self.background:
            self._plate().emit(parent)
        # Capitals and figures are about 0.7 of the font size tall: the baseline lies half of that below the middle.
        drop = 0.35 * self.font_size
        attributes = {
            "x": number(self.x + drop if self.upward else self.x),
            "y": number(self.y if self.upward else self.y + drop),
            "font-size": number(self.font_size),
            "text-anchor": self.anchor,
            "fill": INK,
        }
        if self.bold:
            attributes["font-weight"] = "bold"
        if self.upward:
            attributes["transform"] = f"rotate(-90 {attributes['x']} {attributes['y']})"
        ElementTree.SubElement(parent, "text", attributes).text = self.text

    def _plate(self) -> Rect:
        width, height = text_width(self.text, self.font_size, bold=self.bold) + 0.6, self.font_size * 1.05
        left = {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        box = (self.x - height / 2, self.y - width / 2, height, width)
        if not self.upward:
            box = (self.x - left, self.y - height / 2, width, height)
        return Rect(*box, fill=self.background, stroke="none", marks={"class": "plate"})


Part = Rect | Line | Label


def blank_drawing(width: float, height: float, title: str) -> ElementTree.Element:
    """An empty drawing whose units are millimetres on paper.

    Parameters
    ----------
    width, height
        In mm.
    title
        What it shows, for readers that cannot see it.
    """
    svg = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{number(width)}mm",
            "height": f"{number(height)}mm",
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "font-family": "Arial, 'Liberation Sans', Helvetica, 'DejaVu Sans', sans-serif",
        },
    )
    ElementTree.SubElement(svg, "title").text = title
    return svg


def svg_text(svg: ElementTree.Element) -> str:
    """The drawing as a file, one element a line, ending with a newline."""
    ElementTree.indent(svg, " ")
    body = ElementTree.tostring(svg, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'
