"""What a lawn's drawing has beside rectangles, lines and labels: shapes with holes, strokes, arrows of any direction.

And where its labels go: `Places` keeps the room that is taken, so that no label lies on another.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple
from xml.etree import ElementTree

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from stockplan.report.drawing_parts import HATCH_STEP, HATCHING, INK, LINE, Label, lines_width, number


class Spot(NamedTuple):
    """A place on the page, mm, y growing downwards."""

    x: float
    y: float


Outline = Sequence[Spot]
Coordinates = tuple[float, float]


def path_data(rings: Iterable[Outline]) -> str:
    """Closed rings as SVG path data."""
    return "".join("M" + "L".join(f"{number(x)} {number(y)}" for x, y in ring) + "Z" for ring in rings)


@dataclass(frozen=True, slots=True)
class Shape:
    """A filled outline; further rings are holes in it."""

    rings: tuple[Outline, ...]
    fill: str
    stroke: str = "none"
    stroke_width: float = 0.25
    dashes: str = ""
    marks: Mapping[str, str] = field(default_factory=dict)
    title: str = ""

    def shifted(self, x: float, y: float) -> Shape:
        """The same, elsewhere."""
        return replace(self, rings=tuple(tuple(Spot(a + x, b + y) for a, b in ring) for ring in self.rings))

    def emit(self, parent: ElementTree.Element) -> None:
        """Add it to a drawing."""
        attributes = {
            "d": path_data(self.rings),
            "fill": self.fill,
            "fill-rule": "evenodd",
            "stroke": self.stroke,
            "stroke-width": number(self.stroke_width),
            "stroke-linejoin": "round",
            **self.marks,
        }
        if self.dashes:
            attributes["stroke-dasharray"] = self.dashes
        element = ElementTree.SubElement(parent, "path", attributes)
        if self.title:
            ElementTree.SubElement(element, "title").text = self.title


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line, dashed when asked for, with an arrow head at its far end when asked for."""

    start: Spot
    end: Spot
    width: float = 0.25
    colour: str = INK
    dashes: str = ""
    arrow: bool = False
    marks: Mapping[str, str] = field(default_factory=dict)

    def shifted(self, x: float, y: float) -> Stroke:
        """The same, elsewhere."""
        start, end = (Spot(spot.x + x, spot.y + y) for spot in (self.start, self.end))
        return replace(self, start=start, end=end)

    def emit(self, parent: ElementTree.Element) -> None:
        """Add it to a drawing."""
        attributes = {
            "x1": number(self.start.x),
            "y1": number(self.start.y),
            "x2": number(self.end.x),
            "y2": number(self.end.y),
            "stroke": self.colour,
            "stroke-width": number(self.width),
            **self.marks,
        }
        if self.dashes:
            attributes["stroke-dasharray"] = self.dashes
        ElementTree.SubElement(parent, "line", attributes)
        if self.arrow:
            corners = " ".join(f"{number(x)},{number(y)}" for x, y in self._head())
            ElementTree.SubElement(parent, "polygon", {"points": corners, "fill": self.colour})

    def _head(self) -> tuple[Spot, Spot, Spot]:
        length = math.dist(self.start, self.end) or 1.0
        along = Spot((self.end.x - self.start.x) / length, (self.end.y - self.start.y) / length)
        neck = Spot(self.end.x - 3 * along.x, self.end.y - 3 * along.y)
        half = Spot(-1.5 * along.y, 1.5 * along.x)
        return self.end, Spot(neck.x + half.x, neck.y + half.y), Spot(neck.x - half.x, neck.y - half.y)


def arrow_at(middle: Spot, clockwise: float, length: float, width: float, kind: str) -> Stroke:
    """An arrow through a place, pointing so many degrees clockwise from upwards on the page.

    Parameters
    ----------
    middle
        Of the arrow, mm on the page.
    clockwise
        In degrees.
    length, width
        Of the arrow and of its line, mm.
    kind
        Its class in the drawing.
    """
    turn = math.radians(clockwise)
    reach = Spot(math.sin(turn) * length / 2, -math.cos(turn) * length / 2)
    start, end = Spot(middle.x - reach.x, middle.y - reach.y), Spot(middle.x + reach.x, middle.y + reach.y)
    return Stroke(start, end, width, arrow=True, marks={"class": kind})


def hatching(corners: Outline) -> list[Stroke]:
    """Strokes rising to the right inside an outline; drawn out, since printers blur pattern fills."""
    shape = Polygon(corners)
    left, top, right, bottom = shape.bounds
    strokes = []
    for index in range(1, int((right - left + bottom - top) / HATCH_STEP) + 1):
        total = left + top + index * HATCH_STEP
        within = LineString([(left, total - left), (right, total - right)]).intersection(shape)
        strokes += [Stroke(Spot(*a), Spot(*b), 0.3, HATCHING) for a, b in _ends(within)]
    return strokes


def _ends(shape: BaseGeometry) -> Iterator[tuple[Coordinates, Coordinates]]:
    if isinstance(shape, LineString):
        if not shape.is_empty:
            yield shape.coords[0], shape.coords[-1]
    else:
        for part in getattr(shape, "geoms", ()):
            yield from _ends(part)


class Box(NamedTuple):
    """Room on the page."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether they share more than an edge."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def within(self, other: Box) -> bool:
        """Whether it lies wholly inside."""
        across = other.left <= self.left and self.right <= other.right
        return across and other.top <= self.top and self.bottom <= other.bottom

    def corners(self) -> tuple[Spot, Spot, Spot, Spot]:
        """Its corners, in order."""
        return (
            Spot(self.left, self.top),
            Spot(self.right, self.top),
            Spot(self.right, self.bottom),
            Spot(self.left, self.bottom),
        )


def room_for(middle: Spot, lines: Sequence[str], font_size: float, upward: bool = False) -> Box:
    """Room that lines of text take around their common middle.

    Parameters
    ----------
    middle
        Of all lines, mm on the page.
    lines
        From the top.
    font_size
        In mm.
    upward
        Whether they are read from below; default from the left.
    """
    wide = lines_width(lines, font_size) + 1.0
    tall = len(lines) * font_size * LINE
    across, down = (tall, wide) if upward else (wide, tall)
    return Box(middle.x - across / 2, middle.y - down / 2, middle.x + across / 2, middle.y + down / 2)


@dataclass(slots=True)
class Places:
    """Room that is taken on the page.

    Parameters
    ----------
    bounds
        Where labels may lie.
    taken
        Room taken so far.
    """

    bounds: Box
    taken: list[Box] = field(default_factory=list)

    def free(self, box: Box) -> bool:
        """Whether nothing lies there yet."""
        return box.within(self.bounds) and not any(box.meets(other) for other in self.taken)

    def take(self, box: Box) -> None:
        """Mark as taken."""
        self.taken.append(box)


def text_lines(
    middle: Spot, lines: Sequence[str], font_size: float, background: str, upward: bool = False
) -> list[Label]:
    """Lines of text around their common middle, the first in bold where there are several.

    Parameters
    ----------
    middle, lines, font_size, upward
        As for `room_for`.
    background
        Colour of what they lie on.
    """
    labels = []
    for index, line in enumerate(lines):
        offset = (index - (len(lines) - 1) / 2) * font_size * LINE
        x, y = (middle.x + offset, middle.y) if upward else (middle.x, middle.y + offset)
        bold = index == 0 and len(lines) > 1
        labels.append(Label(x, y, line, font_size, "middle", bold, upward, background))
    return labels
