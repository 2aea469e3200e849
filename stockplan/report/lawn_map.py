"""One lawn to scale, as it was measured: strips, seams, holes, and the length and name of every edge.

The page shows the lawn's own x to the right and y upwards, as on the sketch it was measured from. What a strip covers
is its rectangle within the outline; the rest of the rectangle, dashed, is trimmed off on site.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stockplan.domain.lawn import Lawn, Ring
from stockplan.domain.layout import LaidLawn, PlacedStrip, SeamKind
from stockplan.domain.units import metres, size
from stockplan.report.drawing_labels import MARGIN
from stockplan.report.drawing_parts import BODY, INK, LINE, PAPER, SMALL, Label, lines_width
from stockplan.report.lawn_drawing_parts import (
    Box,
    Outline,
    Places,
    Shape,
    Spot,
    Stroke,
    arrow_at,
    hatching,
    room_for,
    text_lines,
)
from stockplan.report.lawn_edges import EdgeLabel, edge_labels

STRIP_FILLS = ("#e3edd6", "#f6f9f0")  # two pale greens for neighbouring lanes: both print as near white
TRIM = "#6b6b6b"
SEAM_DASHES = {SeamKind.LONG: "3.2 0.9 0.8 0.9", SeamKind.HEAD: "0.9 0.9"}
SEAM_WIDTH = {SeamKind.LONG: 0.7, SeamKind.HEAD: 1.0}
SCALES = (10, 20, 25, 40, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000)
AS_ROOMY = 0.95  # of the room of the roomiest place
CLEARLY_SMALLER = 0.95  # of the rectangle along the page
GRID = 9  # places tried across and down a strip for its label
ARROW = 9.0
_IN_LINE = tuple(sign * way for way in (9.0, 12.0, 15.0, 20.0, 26.0) for sign in (-1, 1))  # mm from a strip's name

Part = Shape | Stroke | Label


@dataclass(frozen=True, slots=True)
class LawnMap:
    """A lawn drawn.

    Parameters
    ----------
    parts
        What it is made of, from the bottom up.
    scale
        The N of 1:N.
    key
        Lines about what had no room for more than a number.
    """

    parts: tuple[Part, ...]
    scale: int
    key: tuple[str, ...]


@dataclass(slots=True)
class _Sheet:
    """The lawn on the page, and what has been drawn of it."""

    lawn: Lawn
    laid: LaidLawn
    names: dict[tuple[str, int], str]
    scale: int
    origin: Spot
    ground: Polygon
    places: Places
    shapes: list[Part] = field(default_factory=list)
    lines: list[Part] = field(default_factory=list)
    labels: list[Part] = field(default_factory=list)
    named: dict[tuple[str, int], Spot] = field(default_factory=dict)
    key: list[str] = field(default_factory=list)


def draw_map(lawn: Lawn, laid: LaidLawn, names: dict[tuple[str, int], str], either_way: bool, room: Box) -> LawnMap:
    """Draw one lawn.

    Parameters
    ----------
    lawn, laid
        The lawn, and the same lawn laid out.
    names
        What each strip is called, by letter and number.
    either_way
        Whether the pile may as well lean the opposite way.
    room
        Where on the page.
    """
    edges = edge_labels(lawn)
    sheet = _sheet(lawn, laid, names, room, edges)
    for strip in laid.strips:
        _strip(sheet, strip)
    for hole in lawn.holes:
        _hole(sheet, [_on_page(sheet, *corner) for corner in hole])
    outline = (_rings(sheet.ground)[0],)
    sheet.shapes.append(Shape(outline, "none", INK, 0.6, marks={"class": "lawn"}))
    _seams(sheet)
    for strip in laid.strips:
        _strip_label(sheet, strip)
    for hole in lawn.holes:
        _hole_label(sheet, [_on_page(sheet, *corner) for corner in hole])
    for strip in laid.strips:
        _strip_arrow(sheet, strip, either_way)
    for label in edges:
        _edge_label(sheet, label)
    return LawnMap((*sheet.shapes, *sheet.lines, *sheet.labels), sheet.scale, tuple(sheet.key))


def _sheet(
    lawn: Lawn, laid: LaidLawn, names: dict[tuple[str, int], str], room: Box, edges: Sequence[EdgeLabel]
) -> _Sheet:
    corners = [*lawn.edge, *(corner for strip in laid.strips for corner in laid.corners(strip))]
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    bottom, top = min(y for _, y in corners), max(y for _, y in corners)
    widest = max(lines_width(label.lines, SMALL) for label in edges)
    beside, above = widest + 4, 2 * SMALL * LINE + 2
    across, down = room.right - room.left - 2 * beside, room.bottom - room.top - 2 * above
    needed = max((right - left) / across, (top - bottom) / down)
    scale = next((scale for scale in SCALES if scale >= needed), 100 * math.ceil(needed / 100))
    middle = Spot((room.left + room.right) / 2, (room.top + room.bottom) / 2)
    origin = Spot(middle.x - (left + right) / 2 / scale, middle.y + (bottom + top) / 2 / scale)

    def ring(corners: Ring) -> list[Spot]:
        return [Spot(origin.x + x / scale, origin.y - y / scale) for x, y in corners]

    ground = Polygon(ring(lawn.edge), [ring(hole) for hole in lawn.holes])
    return _Sheet(lawn, laid, names, scale, origin, ground, Places(room))


def _on_page(sheet: _Sheet, x_mm: float, y_mm: float) -> Spot:
    return Spot(sheet.origin.x + x_mm / sheet.scale, sheet.origin.y - y_mm / sheet.scale)


def _rings(polygon: Polygon) -> tuple[Outline, ...]:
    rings = (polygon.exterior, *polygon.interiors)
    return tuple([Spot(x, y) for x, y in ring.coords[:-1]] for ring in rings)


def _polygons(shape: BaseGeometry) -> Iterator[Polygon]:
    if isinstance(shape, Polygon):
        if not shape.is_empty:
            yield shape
    else:
        for part in getattr(shape, "geoms", ()):
            yield from _polygons(part)


def _rectangle(sheet: _Sheet, strip: PlacedStrip) -> list[Spot]:
    return [_on_page(sheet, x, y) for x, y in sheet.laid.corners(strip)]


def _covered(sheet: _Sheet, strip: PlacedStrip) -> MultiPolygon:
    return MultiPolygon(list(_polygons(Polygon(_rectangle(sheet, strip)).intersection(sheet.ground))))


def _fill(strip: PlacedStrip) -> str:
    return STRIP_FILLS[strip.lane % len(STRIP_FILLS)]


def _strip(sheet: _Sheet, strip: PlacedStrip) -> None:
    name = sheet.names[strip.label, strip.number]
    marks = {"class": "strip", "data-strip": strip.label, "data-number": str(strip.number)}
    title = f"{name}, cut {size(strip.width_mm, strip.length_mm)} m"
    for polygon in _covered(sheet, strip).geoms:
        sheet.shapes.append(Shape(_rings(polygon), _fill(strip), marks=marks, title=title))
    sheet.shapes.append(Shape((_rectangle(sheet, strip),), "none", TRIM, 0.3, "1.6 1", {"class": "trim"}))


def _hole(sheet: _Sheet, corners: Outline) -> None:
    sheet.shapes.append(Shape((corners,), PAPER, INK, 0.45, marks={"class": "hole"}))
    sheet.shapes += hatching(corners)


def _hole_label(sheet: _Sheet, corners: Outline) -> None:
    """Its size, in it or else beside it on one strip; a crowd of holes keeps its hatching alone."""
    left, top, right, bottom = hole = Box(*Polygon(corners).bounds)
    words = [" × ".join(metres(round(side * sheet.scale / 10) * 10) for side in _across_and_down(corners))]
    middle = Spot((left + right) / 2, (top + bottom) / 2)
    box = room_for(middle, words, SMALL)
    across, down = (right - left + box.right - box.left) / 2 + 0.5, (bottom - top + box.bottom - box.top) / 2 + 0.5
    for x, y in ((0.0, 0.0), (across, 0.0), (-across, 0.0), (0.0, down), (0.0, -down)):
        spot = Spot(middle.x + x, middle.y + y)
        box = room_for(spot, words, SMALL)
        inside = box.within(hole) if spot == middle else _on_one_strip(sheet, box)
        if inside and sheet.places.free(box):
            sheet.places.take(box)
            sheet.labels += text_lines(spot, words, SMALL, PAPER)
            return


def _across_and_down(corners: Outline) -> tuple[float, float]:
    """Sides of the rectangle around a hole: of the one that lies as it does where that is clearly smaller."""
    hole = Polygon(corners)
    left, top, right, bottom = hole.bounds
    turned = shapely.minimum_rotated_rectangle(hole)
    if not isinstance(turned, Polygon) or turned.area > CLEARLY_SMALLER * (right - left) * (bottom - top):
        return right - left, bottom - top
    one, other, after = (Spot(*corner) for corner in turned.exterior.coords[:3])
    sides = (one, other), (other, after)
    flat, steep = sorted(sides, key=lambda ends: abs(ends[1].y - ends[0].y) / math.dist(*ends))
    return math.dist(*flat), math.dist(*steep)


def _on_one_strip(sheet: _Sheet, box: Box) -> bool:
    wanted = Polygon(box.corners())
    return any(_covered(sheet, strip).covers(wanted) for strip in sheet.laid.strips)


def _seams(sheet: _Sheet) -> None:
    for seam in sheet.laid.seams:
        ends = (
            sheet.laid.on_lawn(seam.across_from_mm, seam.along_from_mm),
            sheet.laid.on_lawn(seam.across_to_mm, seam.along_to_mm),
        )
        start, end = (_on_page(sheet, *one) for one in ends)
        marks = {"class": f"{seam.kind.value} seam"}
        sheet.lines.append(Stroke(start, end, SEAM_WIDTH[seam.kind], INK, SEAM_DASHES[seam.kind], marks=marks))


def _strip_label(sheet: _Sheet, strip: PlacedStrip) -> None:
    """The name and the size as cut where they fit, else the name; else the name at the end of a leader."""
    name, cut = sheet.names[strip.label, strip.number], size(strip.width_mm, strip.length_mm)
    polygon = max(_covered(sheet, strip).geoms, key=lambda one: one.area, default=None)
    if polygon is None:
        return
    ways = [(lines, font, up) for lines in ([name, cut], [f"{name}  {cut}"], [name]) for font, up in _SIZES]
    spots = list(_spots_in(polygon))
    for lines, font_size, upward in ways:
        for spot in spots:
            box = room_for(spot, lines, font_size, upward)
            if sheet.places.free(box) and polygon.covers(Polygon(box.corners())):
                sheet.places.take(box)
                sheet.labels += text_lines(spot, lines, font_size, _fill(strip), upward)
                sheet.named[strip.label, strip.number] = spot
                return
    _at_a_leader(sheet, spots[0], name)


_SIZES = ((BODY, False), (BODY, True), (SMALL, False), (SMALL, True))


def _spots_in(polygon: Polygon) -> Iterator[Spot]:
    """Places inside a polygon, the roomiest first, then the others from there outwards.

    Where its middle has as much room it is the one: of a long strip many places have, up to beside a head seam.
    """
    circle = shapely.maximum_inscribed_circle(polygon)
    middle = polygon.centroid
    roomy = polygon.contains(middle) and polygon.boundary.distance(middle) >= AS_ROOMY * circle.length
    best = (middle if roomy else Point(circle.coords[0])).coords[0]
    yield Spot(*best)
    left, top, right, bottom = polygon.bounds
    steps = [(i + 0.5) / GRID for i in range(GRID)]
    grid = [Spot(left + across * (right - left), top + down * (bottom - top)) for across in steps for down in steps]
    yield from sorted((spot for spot in grid if polygon.contains(Point(spot))), key=lambda spot: math.dist(spot, best))


def _at_a_leader(sheet: _Sheet, target: Spot, text: str) -> None:
    for reach in (8, 12, 17, 23, 30, 40, 55):
        for turn in range(0, 360, 15):
            spot = Spot(
                target.x + reach * math.sin(math.radians(turn)), target.y - reach * math.cos(math.radians(turn))
            )
            box = room_for(spot, [text], SMALL)
            if sheet.places.free(box) and not Polygon(box.corners()).intersects(sheet.ground):
                sheet.places.take(box)
                sheet.lines.append(Stroke(target, spot, 0.25, TRIM))
                sheet.labels += text_lines(spot, [text], SMALL, PAPER)
                return
    sheet.key.append(f"{text}: no room for its name")


def _strip_arrow(sheet: _Sheet, strip: PlacedStrip, either_way: bool) -> None:
    """A small pile arrow where the strip has room for one, in line with its name if it can be."""
    polygon = max(_covered(sheet, strip).geoms, key=lambda one: one.area, default=None)
    if polygon is None:
        return
    spots = list(_spots_in(polygon))
    turn = math.radians(sheet.laid.bearing)
    name = sheet.named.get((strip.label, strip.number), spots[0])
    in_line = [Spot(name.x + way * math.sin(turn), name.y - way * math.cos(turn)) for way in _IN_LINE]
    for spot in (*in_line, *spots):
        arrow = arrow_at(spot, sheet.laid.bearing, ARROW, 0.5, "pile")
        box = _around(arrow)
        if sheet.places.free(box) and polygon.covers(Polygon(box.corners())):
            sheet.places.take(box)
            sheet.lines.append(arrow)
            if either_way:
                sheet.lines.append(arrow_at(spot, sheet.laid.bearing + 180, ARROW, 0.5, "pile"))
            return


def _around(stroke: Stroke) -> Box:
    (x1, y1), (x2, y2) = stroke.start, stroke.end
    room = 1.5 + MARGIN
    return Box(min(x1, x2) - room, min(y1, y2) - room, max(x1, x2) + room, max(y1, y2) + room)


def _edge_label(sheet: _Sheet, label: EdgeLabel) -> None:
    """Beside its edge, outside the lawn if there is room, and never on another label."""
    middle, outward = _on_page(sheet, *label.middle), Spot(label.outward.x, -label.outward.y)
    along = Spot(-outward.y, outward.x)
    half = label.length_mm / sheet.scale / 2
    box = room_for(Spot(0, 0), label.lines, SMALL)
    clear = abs(outward.x) * box.right + abs(outward.y) * box.bottom + 0.8
    for inside in (False, True):
        for away in (0.0, 3.0, 6.0, 10.0, 15.0, 21.0):
            for slide in (0.0, -0.3, 0.3, -0.6, 0.6, -0.9, 0.9, -1.3, 1.3):
                reach, side = clear + away, slide * half
                x, y = middle.x + along.x * side, middle.y + along.y * side
                spot = Spot(x + outward.x * reach, y + outward.y * reach)
                room = room_for(spot, label.lines, SMALL)
                if not sheet.places.free(room) or (not inside and _on_lawn(sheet, room)):
                    continue
                sheet.places.take(room)
                if away > 0 or abs(slide) > 1:
                    sheet.lines.append(Stroke(middle, spot, 0.25, TRIM))
                sheet.labels += text_lines(spot, label.lines, SMALL, PAPER)
                return
    sheet.key.append(f"edge {' '.join(label.lines)}: no room on the drawing")


def _on_lawn(sheet: _Sheet, box: Box) -> bool:
    return bool(Polygon(box.corners()).intersects(sheet.ground))
