"""What is cut for one lane of a lawn: sizes with allowances, and head seams where a run is longer than any stock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.cutting.strips_outline import Part
from stockplan.domain.layout import CUT_STEP_MM, LayoutSettings, rounded_up


@dataclass(frozen=True)
class Grass:
    """What strips of one product can be cut from, and what a square metre costs.

    Parameters
    ----------
    rolls
        Widths that a lane may be laid in full, mm, widest first, in whole `CUT_STEP_MM`; at least one.
    sizes
        Width and length of everything on offer or in the yard, mm.
    pence_per_m2
        What new grass costs at its cheapest, to weigh waste against seams; 0 when nothing is on offer.
    """

    rolls: tuple[int, ...]
    sizes: tuple[tuple[int, int], ...]
    pence_per_m2: int

    def longest(self, width_mm: int) -> int:
        """The longest thing that is wide enough, mm; 0 when nothing is."""
        return max((length for width, length in self.sizes if width >= width_mm), default=0)

    def taken_from(self, width_mm: int) -> int:
        """Width of the narrowest thing that is wide enough, mm."""
        return min((width for width, _ in self.sizes if width >= width_mm), default=0)

    def odd_widths(self) -> list[int]:
        """Widths in the yard that no lane is laid in full, widest first, in whole `CUT_STEP_MM`."""
        found = {width // CUT_STEP_MM * CUT_STEP_MM for width, _ in self.sizes}
        return sorted(found - set(self.rolls), reverse=True)


@dataclass(frozen=True, slots=True)
class Lane:
    """One lane of a lawn's grid.

    Parameters
    ----------
    start_mm, end_mm
        Its two borders across.
    first, last
        Whether nothing lies to the left of it, or to the right.
    """

    start_mm: int
    end_mm: int
    first: bool
    last: bool

    @property
    def alone(self) -> bool:
        """Whether it is the only lane."""
        return self.first and self.last

    def sides_mm(self, part: Part, settings: LayoutSettings) -> int:
        """Grass beyond the two sides of what covers a part: it never reaches into the next lane."""
        left = _side(part.across_from - self.start_mm, self.first, settings)
        return left + _side(self.end_mm - part.across_to, self.last, settings)


def _side(gap: int, outermost: bool, settings: LayoutSettings) -> int:
    if outermost:
        return settings.free_side_mm
    return min(settings.free_side_mm, settings.selvedge_mm + gap) if gap > 0 else settings.selvedge_mm


@dataclass(frozen=True, slots=True)
class Run:
    """One run of grass in a lane: the part of the lawn it covers, and its head seams.

    Parameters
    ----------
    part
        What it covers.
    joints
        Places of head seams along the pile; none where it is one piece.
    """

    part: Part
    joints: tuple[int, ...] = ()

    def segments(self, settings: LayoutSettings) -> list[tuple[int, int, int]]:
        """From, to and length as cut of each piece, from the near end."""
        places = [self.part.along_from, *self.joints, self.part.along_to]
        found = []
        for number in range(len(places) - 1):
            start, end = places[number], places[number + 1]
            extra = settings.end_mm if number == 0 else settings.head_trim_mm
            extra += settings.end_mm if number == len(places) - 2 else settings.head_trim_mm
            found.append((start, end, rounded_up(end - start + extra)))
        return found


def cut_width(part: Part, lane: Lane, settings: LayoutSettings) -> int:
    """Width as cut of what covers a part."""
    return rounded_up(part.across_to - part.across_from + lane.sides_mm(part, settings))


def cut_length(part: Part, settings: LayoutSettings) -> int:
    """Length as cut of one piece that covers a part."""
    return rounded_up(part.along_to - part.along_from + 2 * settings.end_mm)


def joined_parts(parts: Sequence[Part], lane: Lane, settings: LayoutSettings) -> list[Part]:
    """Parts of a lane as they are cut: two in one piece where they overlap, or that takes no more grass than two."""

    def area(part: Part) -> int:
        return cut_width(part, lane, settings) * cut_length(part, settings)

    found = list(parts)
    at = 1
    while at < len(found):
        for before in range(at):
            both = around(found[before], found[at])
            if overlap(found[before], found[at]) or area(both) <= area(found[before]) + area(found[at]):
                found[before] = both
                del found[at]
                at = 0
                break
        at += 1
    return found


def around(one: Part, other: Part) -> Part:
    """The rectangle around two parts."""
    return Part(
        min(one.across_from, other.across_from),
        max(one.across_to, other.across_to),
        min(one.along_from, other.along_from),
        max(one.along_to, other.along_to),
    )


def overlap(one: Part, other: Part) -> bool:
    """Whether two rectangles share more than an edge."""
    across = one.across_from < other.across_to and other.across_from < one.across_to
    return across and one.along_from < other.along_to and other.along_from < one.along_to


def too_narrow(part: Part, lane: Lane, settings: LayoutSettings) -> bool:
    """Whether a strip beside another would cover too little across."""
    beside = not lane.alone and (part.across_from == lane.start_mm or part.across_to == lane.end_mm)
    return beside and part.across_to - part.across_from < settings.least_narrow_mm


def run_of(part: Part, lane: Lane, grass: Grass, settings: LayoutSettings, avoid: Sequence[int]) -> Run | None:
    """The run that covers a part; None where no grass is wide enough or head seams have no place.

    Parameters
    ----------
    part, lane, grass, settings
        What is to be covered, and how.
    avoid
        Places of head seams in the lane before.
    """
    width = cut_width(part, lane, settings)
    longest = grass.longest(width)
    if longest == 0 or too_narrow(part, lane, settings):
        return None
    if cut_length(part, settings) <= longest:
        return Run(part)
    joints = _head_joints(part, longest // CUT_STEP_MM * CUT_STEP_MM, settings, avoid)
    return None if joints is None else Run(part, joints)


def _head_joints(part: Part, longest: int, settings: LayoutSettings, avoid: Sequence[int]) -> tuple[int, ...] | None:
    """Places of head seams, each as far along as stock reaches and the rules allow; None where there is none."""
    joints: list[int] = []
    begin, extra = part.along_from, settings.end_mm
    last_place = part.along_to - settings.head_from_end_mm
    while rounded_up(part.along_to - begin + extra + settings.end_mm) > longest:
        place = min(begin + longest - extra - settings.head_trim_mm, last_place)
        for other in sorted(avoid, reverse=True):
            if abs(place - other) < settings.head_stagger_mm:
                place = other - settings.head_stagger_mm
        if place <= begin or place < part.along_from + settings.head_from_end_mm:
            return None
        joints.append(place)
        begin, extra = place, settings.head_trim_mm
    return tuple(joints)
