"""From tape notes to a lawn: the outline, its holes in their places, rounded corners, named sides."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, degrees, radians, sin, sqrt

from shapely.geometry import Point as Spot
from shapely.geometry import Polygon

from stockplan.domain.lawn import EdgeNote, Lawn, Point, Ring
from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.domain.units import metres
from stockplan.surveying.curves import Place, rounded_corner
from stockplan.surveying.drawn import Corner, Drawn, by_name, draw, length
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.lengths import Unit
from stockplan.surveying.notes import parse_notes
from stockplan.surveying.notes_forms import Corners, Keyed, Notes, Placing, Remark, Section
from stockplan.surveying.outline_faults import outline_faults

FULL_CIRCLE = 360.0


def read_tape_notes(text: str, label: str, settings: SurveySettings, unit: Unit | None = None) -> Measured:
    """Work out the lawn that tape notes describe.

    Parameters
    ----------
    text
        The notes.
    label
        What messages call them.
    settings
        Tolerances.
    unit
        What bare numbers count; None for notes that have to say it.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault that can be told at once.
    """
    faults = FaultList(label)
    notes = parse_notes(text, faults, unit)
    if notes.outline is None or not notes.forms_read:
        faults.raise_if_any()
    assert notes.outline is not None  # parse_notes notes the fault otherwise
    outline = draw(notes.outline, settings, faults, hole=False)
    holes = [(section, draw(section, settings, faults, hole=True)) for section in notes.holes]
    if outline is None:
        faults.raise_if_any()
    assert outline is not None  # draw notes the fault otherwise
    corners = _with_remarks(outline.corners, notes.sides, faults)
    placed = [_placed(section, hole, outline, faults) for section, hole in holes if hole is not None]
    corners = _rounded(corners, notes.rounded, settings, faults)
    bearing = _y_bearing(notes, outline, faults)
    faults.raise_if_any()
    edge, remarks, lines = _whole_millimetres(corners)
    rings = [_whole_millimetres(hole) for hole in placed]
    for fault in outline_faults(edge, [ring for ring, _, _ in rings]):
        ring_lines = lines if fault.ring == 0 else rings[fault.ring - 1][2]
        faults.add(fault.what, fault.found, fault.right, ring_lines[fault.corner or 0] if ring_lines else 0)
    faults.raise_if_any()
    lawn = Lawn(
        notes.label,
        edge,
        tuple(ring for ring, _, _ in rings),
        tuple(EdgeNote(number, one.name, one.no_seam) for number, one in enumerate(remarks) if one != Remark()),
        notes.place,
        bearing,
        notes.pile,
        tuple(notes.unseen_from),
    )
    said = [*outline.said, *_said_of_holes(holes)]
    return Measured(lawn, outline.misclosure, outline.tapes, outline.areas, tuple(said))


def _said_of_holes(holes: list[tuple[Section, Drawn | None]]) -> list[str]:
    said = []
    for section, hole in holes:
        if hole is not None:
            said += [f"Hole in line {section.line}: {words}" for words in hole.said]
            if hole.misclosure is not None:
                said.append(f"Hole in line {section.line}: misclosure {hole.misclosure}")
    return said


def _with_remarks(corners: tuple[Corner, ...], sides: list[Keyed], faults: FaultList) -> list[Corner]:
    changed = list(corners)
    for said in sides:
        number = _side_number(corners, said.key)
        if number is None:
            right = f"a side's number from 1 to {len(corners)}, or its two corners, such as 1-2"
            faults.add("no such side", quoted(said.key), right, said.line)
            continue
        before = changed[number].remark
        name = said.remark.name or before.name
        changed[number] = replace(changed[number], remark=Remark(name, said.remark.no_seam or before.no_seam))
    return changed


def _side_number(corners: tuple[Corner, ...], key: str) -> int | None:
    if key.isascii() and key.isdigit():
        return int(key) - 1 if 1 <= int(key) <= len(corners) else None
    pair = key.split("-") if "-" in key else list(key)
    if len(pair) != 2:
        return None
    one, other = (by_name(corners, name) for name in pair)
    if one is None or other is None:
        return None
    if (one + 1) % len(corners) == other:
        return one
    return other if (other + 1) % len(corners) == one else None


def _rounded(corners: list[Corner], rounded: list[Keyed], settings: SurveySettings, faults: FaultList) -> list[Corner]:
    left = _signed_area([corner.place for corner in corners]) > 0
    for said in rounded:
        number = by_name(tuple(corners), said.key)
        if number is None:
            named = ", ".join(corner.name for corner in corners if corner.name) or "none on a curve"
            faults.add("no such corner, or one rounded already", quoted(said.key), f"one of {named}", said.line)
            continue
        corner, before, after = corners[number], corners[number - 1], corners[(number + 1) % len(corners)]
        try:
            places = rounded_corner(
                before.place, corner.place, after.place, said.radius_mm, settings.curve_gap_mm, left=left
            )
        except ValueError as error:
            found = f"corner {said.key} with a radius of {metres(said.radius_mm)} m"
            faults.add("a corner that cannot be rounded", found, str(error), said.line)
            continue
        arc = [Corner(place, line=said.line) for place in places[:-1]]
        corners[number : number + 1] = [*arc, Corner(places[-1], remark=corner.remark, line=said.line)]
    return corners


def _placed(section: Section, hole: Drawn, outline: Drawn, faults: FaultList) -> list[Corner]:
    """Bring a hole from its own axes to where it lies in the lawn."""
    first = (0.0, 0.0) if _is_curve(outline) else outline.corners[0].place
    direction = 0.0 if _is_curve(outline) else _direction(outline)
    placing = section.placing
    if isinstance(section.form, Corners):
        return [replace(one, place=_moved(one.place, first, direction)) for one in hole.corners]
    anchor = _anchor(placing, outline, first, direction, section.line, faults)
    if hole.by_bearings and not outline.by_bearings:
        right = "turns, or the lawn walked by bearings as well"
        faults.add("a hole walked by bearings in a lawn that is not", "bearings", right, section.line)
    if anchor is None:
        return list(hole.corners)
    turned = 0.0 if hole.by_bearings else direction + radians(placing.heading)
    return [replace(one, place=_moved(one.place, anchor, turned)) for one in hole.corners]


def _anchor(
    placing: Placing, outline: Drawn, first: Place, direction: float, line: int, faults: FaultList
) -> Place | None:
    if placing.along_mm is not None:
        return _moved((placing.along_mm, placing.left_mm), first, direction)
    ends = []
    for name, tape in placing.ties:
        number = by_name(outline.corners, name)
        if number is None:
            named = ", ".join(corner.name for corner in outline.corners if corner.name) or "none on a curve"
            faults.add("a corner nobody named", quoted(name), f"one of {named}", line)
            return None
        ends.append((outline.corners[number].place, tape))
    (one, first_tape), (other, second_tape) = ends
    apart = length(one, other)
    if not abs(first_tape - second_tape) <= apart <= first_tape + second_tape or apart == 0:
        found = f"{metres(first_tape)} m and {metres(second_tape)} m from corners {metres(round(apart))} m apart"
        faults.add("two tapes that do not meet", found, "tapes from two corners to the same point", line)
        return None
    along = (first_tape**2 - second_tape**2 + apart**2) / (2 * apart)
    aside = sqrt(max(first_tape**2 - along**2, 0.0))
    ways = [_moved((along, sign * aside), one, atan2(other[1] - one[1], other[0] - one[0])) for sign in (1, -1)]
    inside = [way for way in ways if _encloses([corner.place for corner in outline.corners], way)]
    if len(inside) != 1 and aside > 0:
        found = "no such point inside" if not inside else "two such points inside"
        right = "tapes from two neighbouring corners to a point inside"
        faults.add("two tapes that do not say where", found, right, line)
        return None
    return inside[0] if inside else ways[0]


def _encloses(places: list[Place], place: Place) -> bool:
    return bool(Polygon(places).covers(Spot(place)))


def _is_curve(outline: Drawn) -> bool:
    return not outline.corners[0].name


def _direction(outline: Drawn) -> float:
    (x1, y1), (x2, y2) = outline.corners[0].place, outline.corners[1].place
    return atan2(y2 - y1, x2 - x1)


def _moved(place: Place, anchor: Place, angle: float) -> Place:
    x, y = place
    return anchor[0] + x * cos(angle) - y * sin(angle), anchor[1] + x * sin(angle) + y * cos(angle)


def _y_bearing(notes: Notes, outline: Drawn, faults: FaultList) -> float | None:
    if outline.by_bearings:
        if notes.first_side_bears is not None:
            found = f"{notes.first_side_bears:g} degrees"
            faults.add("the first side's bearing given twice", found, "only the bearings of the walk itself")
        return 0.0
    if notes.first_side_bears is None:
        return None
    if _is_curve(outline):
        faults.add("a first side's bearing without a first side", "a circle", "no such line")
        return None
    bearing = (notes.first_side_bears - 90.0 + degrees(_direction(outline))) % FULL_CIRCLE
    return round(bearing, 3) % FULL_CIRCLE


def _whole_millimetres(corners: list[Corner]) -> tuple[Ring, list[Remark], list[int]]:
    """Round to whole millimetres; a corner on a curve that falls on its neighbour is left out."""
    points = [Point(round(corner.place[0]), round(corner.place[1])) for corner in corners]
    kept = []
    for number, corner in enumerate(corners):
        following = (number + 1) % len(corners)
        on_curve = not corner.name or not corners[following].name
        if not (on_curve and points[number] == points[following]):
            kept.append(number)
    ring = tuple(points[number] for number in kept)
    return ring, [corners[number].remark for number in kept], [corners[number].line for number in kept]


def _signed_area(places: list[Place]) -> float:
    following = [*places[1:], places[0]]
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(places, following, strict=True)) / 2
