"""From one form of tape notes to corners on the ground."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot

from stockplan.domain.measured import Misclosure, OffsetAreas, TapeResult
from stockplan.domain.survey import SurveySettings
from stockplan.domain.units import metres
from stockplan.surveying.curves import Place, circle
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.notes_forms import Baseline, Circle, Corners, Plot, Rectangle, Remark, Section, Walk
from stockplan.surveying.offsets import offset_areas
from stockplan.surveying.tape_plot import settle
from stockplan.surveying.traverse import leg_too_long, likely_slips, walk


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner of a drawn form.

    Parameters
    ----------
    place
        mm.
    name
        By which notes may call it: a letter of a plot, else its number from 1; empty on a curve.
    remark
        On the side from here to the next corner.
    line
        Where it stands in the notes.
    """

    place: Place
    name: str = ""
    remark: Remark = field(default_factory=Remark)
    line: int = 0


@dataclass(frozen=True, slots=True)
class Drawn:
    """A form worked out.

    Parameters
    ----------
    corners
        In the order walked.
    by_bearings
        Whether y points north because it was walked by bearings.
    misclosure, tapes, areas, said
        As in `Measured`.
    """

    corners: tuple[Corner, ...]
    by_bearings: bool = False
    misclosure: Misclosure | None = None
    tapes: tuple[TapeResult, ...] = ()
    areas: OffsetAreas | None = None
    said: tuple[str, ...] = ()


def draw(section: Section, settings: SurveySettings, faults: FaultList, *, hole: bool) -> Drawn | None:
    """Work out a form, in axes of its own: from its first corner, along its first side.

    Parameters
    ----------
    section
        The form and the line it begins on.
    settings
        Tolerances.
    faults
        Where to note what is wrong.
    hole
        Whether it is left out of a lawn: its curves then lie within the true ones.

    Returns
    -------
    Drawn or None
        None when something is wrong.
    """
    form, line = section.form, section.line
    if isinstance(form, Rectangle):
        a, b = form.along_mm, form.aside_mm
        return Drawn(_numbered([(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)], line=line))
    if isinstance(form, Circle):
        if form.radius_mm <= 2 * settings.curve_gap_mm:
            right = f"a radius over {metres(2 * settings.curve_gap_mm)} m, in the unit stated"
            faults.add("a circle too small to draw", f"{metres(round(form.radius_mm), 3)} m", right, line)
            return None
        places = circle((0.0, 0.0), form.radius_mm, settings.curve_gap_mm, outside=not hole)
        return Drawn(tuple(Corner(place, line=line) for place in places))
    if isinstance(form, Corners):
        places = [(float(x), float(y)) for x, y in form.places]
        if len(places) < 3:
            faults.add("an outline with too few corners", f"{len(places)}", "three corners or more, one a line", line)
            return None
        return Drawn(_numbered(places, form.remarks, line=line))
    if isinstance(form, Walk):
        return _walked(form, line, settings, faults)
    if isinstance(form, Baseline):
        return _from_baseline(form, line, faults)
    return _plotted(form, line, settings, faults)


def _numbered(
    places: list[Place], remarks: list[Remark] | None = None, *, line: int, lines: list[int] | None = None
) -> tuple[Corner, ...]:
    return tuple(
        Corner(place, str(number + 1), remarks[number] if remarks else Remark(), lines[number] if lines else line)
        for number, place in enumerate(places)
    )


def _walked(form: Walk, line: int, settings: SurveySettings, faults: FaultList) -> Drawn | None:
    before = len(faults)
    by_bearings = bool(form.legs) and form.legs[0].bearing is not None
    if len(form.legs) < 3:
        faults.add("a walk too short to enclose anything", f"{len(form.legs)} legs", "three legs or more", line)
    for number, (leg, leg_line) in enumerate(zip(form.legs, form.lines, strict=True)):
        last = number == len(form.legs) - 1
        if by_bearings != (leg.bearing is not None) and not (by_bearings and leg.turn is None and leg.bearing is None):
            found = "a turn" if by_bearings else "a bearing"
            faults.add("turns and bearings mixed in one walk", found, "all turns, or all bearings", leg_line)
        elif by_bearings and leg.bearing is None:
            faults.add("a leg without its bearing", "none", "bearing and degrees after the length", leg_line)
        elif not by_bearings and leg.turn is None and not last:
            right = "left or right after the length, or straight; only the last leg may do without"
            found = f"{quoted(form.remarks[number].name)}, taken as a name" if form.remarks[number].name else "none"
            faults.add("a leg without the turn at its end", found, right, leg_line)
    if len(faults) > before:
        return None
    longest = leg_too_long(form.legs, settings)
    if longest is not None:
        rest = sum(leg.length_mm for leg in form.legs) - form.legs[longest].length_mm
        found = f"leg {longest + 1} of {metres(round(form.legs[longest].length_mm))} m"
        right = f"no leg longer than all others together, {metres(round(rest))} m"
        faults.add("legs that cannot close", found, right, form.lines[longest])
        return None
    walked = walk(form.legs, settings)
    if not walked.misclosure.allowed:
        _note_misclosure(form, walked.misclosure, line, settings, faults)
        return None
    places = list(walked.corners) if by_bearings else _along_x(walked.corners)
    corners = _numbered(places, form.remarks, line=line, lines=form.lines)
    return Drawn(corners, by_bearings, walked.misclosure)


def _along_x(corners: tuple[Place, ...]) -> list[Place]:
    """Turn corners about the first so that the first side lies along x, which spreading may have turned a little."""
    x, y = corners[1]
    side = hypot(x, y)
    return [((x * a + y * b) / side, (x * b - y * a) / side) for a, b in corners]


def _note_misclosure(form: Walk, missed: Misclosure, line: int, settings: SurveySettings, faults: FaultList) -> None:
    slips = likely_slips(form.legs, settings)
    if slips:
        right = "the leg or turn measured again; one slip that would explain it: " + "; or ".join(slips)
    else:
        right = "legs and turns measured again; no single slip explains it"
    if not missed.turns_allowed:
        allowed = f"{missed.allowed_degrees:.0f} degrees from a full circle at most; {right}"
        faults.add("turns that do not come round", f"{missed.turns_degrees:+.1f} degrees", allowed, line)
    else:
        allowed = f"at most {metres(round(missed.allowed_mm))} m; {right}"
        faults.add("a walk that misses its start", str(missed), allowed, line)


def _from_baseline(form: Baseline, line: int, faults: FaultList) -> Drawn | None:
    length = float(form.length_mm)
    sides = {side: _whole_length(offsets, form.length_mm) for side, offsets in _offsets(form).items() if offsets}
    if not sides or not any(height for side in sides.values() for _, height in side):
        faults.add("a baseline without offsets", "none", "a line for each: 2.5 left 1.80", line)
        return None
    left = [(x, y) for x, y in sides.get("left", [])]
    right = [(x, -y) for x, y in sides.get("right", [])]
    areas = [offset_areas(side) for side in sides.values()]
    trapezoidal = sum(area.trapezoidal_mm2 for area in areas)
    simpsons = [area.simpson_mm2 for area in areas]
    simpson = None if None in simpsons else sum(area for area in simpsons if area is not None)
    if left and right:
        if form.remark != Remark():
            found = f"'{form.remark.name or 'no seam'}'"
            faults.add("a baseline that is no edge", found, "nothing said of it: offsets lie on both sides", line)
        places = [*right, *reversed(left)]
    elif left:
        places = [(0.0, 0.0), (length, 0.0), *reversed(left)]
    else:
        places = [(length, 0.0), (0.0, 0.0), *right]
    kept = [place for place, after in zip(places, [*places[1:], places[0]], strict=True) if place != after]
    remarks = [Remark()] * len(kept)
    if not (left and right):
        remarks[kept.index((0.0, 0.0)) if left else kept.index((length, 0.0))] = form.remark
    return Drawn(_numbered(kept, remarks, line=line), areas=OffsetAreas(trapezoidal, simpson))


def _offsets(form: Baseline) -> dict[str, list[tuple[int, int]]]:
    return {"left": form.left, "right": form.right}


def _whole_length(offsets: list[tuple[int, int]], length: int) -> list[Place]:
    """Bring offsets back to the baseline at both of its ends where none was measured there."""
    whole = list(offsets)
    if whole[0][0] > 0:
        whole.insert(0, (0, 0))
    if whole[-1][0] < length:
        whole.append((length, 0))
    return [(float(x), float(y)) for x, y in whole]


def _plotted(form: Plot, line: int, settings: SurveySettings, faults: FaultList) -> Drawn | None:
    settled = settle(form, line, settings, faults)
    if settled is None:
        return None
    adjusted, results, said = settled
    sides = [*pairwise(range(len(form.corners))), (len(form.corners) - 1, 0)]
    remarks = [form.remarks.get((a, b)) or form.remarks.get((b, a)) or Remark() for a, b in sides]
    diagonals = [(a, b) for a, b in form.remarks if (a, b) not in sides and (b, a) not in sides]
    for a, b in diagonals:
        found = f"'{form.remarks[a, b].name or 'no seam'}' on {form.corners[a]}–{form.corners[b]}"
        faults.add("something said of a diagonal", found, "names on sides only", line)
    if diagonals:
        return None
    corners = tuple(
        Corner((float(x), float(y)), name, remark, line)
        for (x, y), name, remark in zip(adjusted.corners, form.corners, remarks, strict=True)
    )
    return Drawn(corners, tapes=results, said=said)


def by_name(corners: tuple[Corner, ...], name: str) -> int | None:
    """Find a corner by its name, letter case aside."""
    return next((number for number, one in enumerate(corners) if one.name.casefold() == name.casefold()), None)


def length(one: Place, other: Place) -> float:
    """Distance between two places, mm."""
    return hypot(other[0] - one[0], other[1] - one[1])
