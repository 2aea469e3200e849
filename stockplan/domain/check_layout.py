"""The checker of layouts: strips laid back on the lawn cover it, lie one way, and keep every setting.

It shares no code with what works layouts out: its geometry is its own, and sizes are reckoned again from places.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from itertools import combinations, pairwise

from stockplan.domain.check_facts import Rule, Violation
from stockplan.domain.check_layout_geometry import (
    BESIDE_MM,
    Outline,
    Stretch,
    area_within,
    distance,
    lawn_on_both_sides,
    longest_outside,
    turned_outline,
    turned_side,
)
from stockplan.domain.jobs import Job
from stockplan.domain.lawn import Lawn
from stockplan.domain.layout import CUT_STEP_MM, LaidLawn, Layout, LayoutSettings, PlacedStrip, Seam, SeamKind
from stockplan.domain.pile import FULL_CIRCLE
from stockplan.domain.pile_direction import job_wish, pile_faults, pile_groups
from stockplan.domain.units import MM2_PER_M2, money, size

SAME_BEARING = 1e-6  # degrees
SAME_PLACE_MM = 2  # a seam's ends are whole millimetres
TIGHT_MM = 2.0
NO_AREA_MM2 = 1e-5  # an edge almost along a strip's side leaves little in those two millimetres
HAIR_MM = 1e-6
HALF_CIRCLE = 180.0


def check_layout(
    job: Job, layout: Layout, settings: LayoutSettings, sizes: Collection[tuple[int, int]] = ()
) -> tuple[Violation, ...]:
    """Return everything that is wrong with one layout of a job; none means it is sound.

    Parameters
    ----------
    job
        The job and its lawns.
    layout
        The layout under suspicion.
    settings
        What it must keep.
    sizes
        Width and length of everything strips may be cut from, mm; without it, it is not asked whether they fit
        anything, nor whether a run had to be joined.
    """
    return tuple(_violations(job, layout, settings, sizes))


def _violations(
    job: Job, layout: Layout, settings: LayoutSettings, sizes: Collection[tuple[int, int]]
) -> Iterator[Violation]:
    where = f"{job.code} layout {layout.label}"
    wanted, found = [lawn.label for lawn in job.lawns], [lawn.lawn for lawn in layout.lawns]
    if wanted != found:
        yield _violation(where, f"lays lawns {', '.join(found)}; the job has {', '.join(wanted)}")
    lawns = {lawn.label: lawn for lawn in job.lawns}
    yield from _letters(layout, where)
    yield from _direction(job, layout, where)
    for laid in layout.lawns:
        if laid.lawn in lawns:
            yield from _LawnCheck(lawns[laid.lawn], laid, settings, sizes, f"{where}, lawn {laid.lawn}").run()
    rates = {SeamKind.LONG: settings.seam_pence_per_m, SeamKind.HEAD: settings.head_seam_pence_per_m}
    cost = (sum(_length(seam) * rates[seam.kind] for seam in layout.seams()) + 500) // 1000
    if layout.seam_cost_pence != cost:
        yield _violation(where, f"seams are put at {money(layout.seam_cost_pence)}; they cost {money(cost)}")


def _violation(where: str, message: str) -> Violation:
    return Violation(Rule.LAYOUT, message, where)


def _length(seam: Seam) -> int:
    return (seam.across_to_mm - seam.across_from_mm) + (seam.along_to_mm - seam.along_from_mm)


def _letters(layout: Layout, where: str) -> Iterator[Violation]:
    sizes: dict[str, set[tuple[int, int]]] = {}
    numbers: dict[str, list[int]] = {}
    for strip in layout.placed():
        sizes.setdefault(strip.label, set()).add((strip.width_mm, strip.length_mm))
        numbers.setdefault(strip.label, []).append(strip.number)
    for label, found in sizes.items():
        if len(found) > 1:
            listed = " and ".join(size(*one) for one in sorted(found))
            yield _violation(where, f"letter {label!r} stands for {listed}; one letter, one size")
        if sorted(numbers[label]) != list(range(1, len(numbers[label]) + 1)) or not label:
            yield _violation(where, f"copies of {label!r} are numbered {sorted(numbers[label])}")


def _direction(job: Job, layout: Layout, where: str) -> Iterator[Violation]:
    wish = job_wish(job)
    if pile_faults(job.lawns, wish):
        yield _violation(where, "is laid out, though the job's pile wishes cannot be followed")
        return
    bearings = {laid.lawn: laid.bearing for laid in layout.lawns}
    for group in pile_groups(job.lawns, wish):
        norths = [
            (bearings[lawn.label] + (lawn.y_bearing or 0.0)) % FULL_CIRCLE
            for lawn in group.lawns
            if lawn.label in bearings
        ]
        for one in norths[1:]:
            if not _same(one, norths[0], FULL_CIRCLE):
                yield _violation(where, f"lawns seen together lie at bearings {norths[0]:g} and {one:g}")
        asked = group.direction.bearing
        circle = HALF_CIRCLE if group.direction.either_way else FULL_CIRCLE
        if asked is not None and norths and not _same(norths[0], asked, circle):
            yield _violation(where, f"lies at a bearing of {norths[0]:g}; {asked:g} is asked for")


def _same(one: float, other: float, circle: float) -> bool:
    apart = abs(one - other) % circle
    return min(apart, circle - apart) < SAME_BEARING


class _LawnCheck:
    """The rules for one laid lawn."""

    def __init__(
        self, lawn: Lawn, laid: LaidLawn, settings: LayoutSettings, sizes: Collection[tuple[int, int]], where: str
    ) -> None:
        self.lawn, self.laid, self.settings, self.sizes, self.where = lawn, laid, settings, sizes, where
        self.outline: Outline = turned_outline(lawn, laid.bearing)
        self.lanes = len(laid.borders) - 1
        self.heads = [seam for seam in laid.seams if seam.kind is SeamKind.HEAD]
        self.longs = [seam for seam in laid.seams if seam.kind is SeamKind.LONG]

    def say(self, message: str, strip: PlacedStrip | None = None) -> Violation:
        return _violation(f"{self.where}, strip {strip.name}" if strip else self.where, message)

    def run(self) -> Iterator[Violation]:
        if self.lanes < 1 or any(a >= b for a, b in pairwise(self.laid.borders)) or not self.laid.strips:
            yield self.say(f"has borders {self.laid.borders} and {len(self.laid.strips)} strips")
            return
        if self.laid.area_mm2 != self.lawn.area_mm2:
            yield self.say(f"is put at {self.laid.area_mm2} mm²; is {self.lawn.area_mm2}")
        yield from self.cover()
        for strip in self.laid.strips:
            yield from self.place(strip)
            yield from self.cut(strip)
        yield from self.seams()
        yield from self.clear_edges()
        yield from self.head_seams()

    def cover(self) -> Iterator[Violation]:
        """Strips cover the whole lawn, and no two the same place."""
        for one, other in combinations(self.laid.strips, 2):
            if _meet(one.across_from_mm, one.across_to_mm, other.across_from_mm, other.across_to_mm) and _meet(
                one.along_from_mm, one.along_to_mm, other.along_from_mm, other.along_to_mm
            ):
                yield self.say(f"covers a place that {other.name} covers too", one)
        covered = sum(
            area_within(self.outline, (s.across_from_mm, s.across_to_mm), (s.along_from_mm, s.along_to_mm))
            for s in self.laid.strips
        )
        missing = self.lawn.area_mm2 - covered
        if abs(missing) > 1 + self.lawn.area_mm2 / MM2_PER_M2:
            yield self.say(f"{missing:.0f} mm² of {self.lawn.area_mm2} is not covered")

    def place(self, strip: PlacedStrip) -> Iterator[Violation]:
        """A strip lies in its lane and reaches no further than the lawn does."""
        if not 0 <= strip.lane < self.lanes:
            yield self.say(f"lies in lane {strip.lane} of {self.lanes}", strip)
            return
        start, end = self.laid.borders[strip.lane : strip.lane + 2]
        if not start <= strip.across_from_mm < strip.across_to_mm <= end or strip.along_from_mm >= strip.along_to_mm:
            yield self.say(f"does not lie in its lane from {start} to {end}", strip)
            return
        across, along = (strip.across_from_mm, strip.across_to_mm), (strip.along_from_mm, strip.along_to_mm)
        whole = area_within(self.outline, across, along)
        for side, shrunk in {
            "left": ((across[0] + TIGHT_MM, across[1]), along),
            "right": ((across[0], across[1] - TIGHT_MM), along),
            "near end": (across, (along[0] + TIGHT_MM, along[1])),
            "far end": (across, (along[0], along[1] - TIGHT_MM)),
        }.items():
            if whole - area_within(self.outline, *shrunk) < NO_AREA_MM2:
                yield self.say(f"reaches further than the lawn on its {side}", strip)

    def joined(self, strip: PlacedStrip) -> tuple[bool, bool]:
        """Whether a strip is joined to another of its lane at its near end and at its far end."""
        near = far = False
        for other in self.laid.strips:
            if other.lane == strip.lane:
                near |= other.along_to_mm == strip.along_from_mm and self.meet_on_lawn(strip, other)
                far |= other.along_from_mm == strip.along_to_mm and self.meet_on_lawn(other, strip)
        return near, far

    def meet_on_lawn(self, after: PlacedStrip, before: PlacedStrip) -> bool:
        """Whether there is lawn where one strip ends and the next begins, more than a corner of it."""
        start = max(after.across_from_mm, before.across_from_mm)
        end = min(after.across_to_mm, before.across_to_mm)
        stretches = lawn_on_both_sides(self.outline, 1, after.along_from_mm)
        return any(min(b, end) - max(a, start) > SAME_PLACE_MM for a, b in stretches)

    def cut(self, strip: PlacedStrip) -> Iterator[Violation]:
        """A strip is cut as large as what it covers and the allowances make it."""
        settings = self.settings
        ends = [settings.head_trim_mm if joined else settings.end_mm for joined in self.joined(strip)]
        width = self.width_of(strip.lane, strip.across_from_mm, strip.across_to_mm)
        length = _whole_step(strip.along_to_mm - strip.along_from_mm + sum(ends))
        if (strip.width_mm, strip.length_mm) != (width, length):
            found, right_size = size(strip.width_mm, strip.length_mm), size(width, length)
            yield self.say(f"is cut {found}; by its place and the allowances would be {right_size}", strip)
        if strip.roll_width_mm < strip.width_mm:
            yield self.say(f"is {strip.width_mm} mm wide, off a roll of {strip.roll_width_mm}", strip)
        if self.sizes and not any(w >= strip.width_mm and n >= strip.length_mm for w, n in self.sizes):
            yield self.say(f"fits nothing in the yard or on offer: {size(strip.width_mm, strip.length_mm)}", strip)
        covers = strip.across_to_mm - strip.across_from_mm
        if covers < settings.least_narrow_mm and any(self.beside(strip, seam) for seam in self.longs):
            yield self.say(f"covers {covers} mm across beside a seam; at least {settings.least_narrow_mm}", strip)

    def width_of(self, lane: int, across_from: int, across_to: int) -> int:
        """How wide grass over some stretch of a lane is cut."""
        start, end = self.laid.borders[lane : lane + 2] if 0 <= lane < self.lanes else (0, 0)
        left = _side(across_from - start, lane == 0, self.settings)
        right = _side(end - across_to, lane == self.lanes - 1, self.settings)
        return _whole_step(across_to - across_from + left + right)

    def beside(self, strip: PlacedStrip, seam: Seam) -> bool:
        """Whether a seam along the pile is one of a strip's."""
        borders = (strip.across_from_mm, strip.across_to_mm)
        along = seam.along_from_mm, seam.along_to_mm
        return seam.across_from_mm in borders and _meet(strip.along_from_mm, strip.along_to_mm, *along)

    def seams(self) -> Iterator[Violation]:
        """Seams are where two strips meet on the lawn, and nowhere else."""
        for border in self.laid.borders[1:-1]:
            found = [(s.along_from_mm, s.along_to_mm) for s in self.longs if s.across_from_mm == border]
            yield from self.compare(found, 0, border, f"the seam along the pile at {border} across")
        if any(s.across_from_mm != s.across_to_mm or s.across_from_mm not in self.laid.borders for s in self.longs):
            yield self.say("has a seam along the pile that is on no border of its lanes")
        places = {(s.lane, s.along_to_mm) for s in self.laid.strips if self.joined(s)[1]}
        for lane, place in sorted(places):
            start, end = self.laid.borders[lane : lane + 2]
            found = [
                (s.across_from_mm, s.across_to_mm)
                for s in self.heads
                if s.along_from_mm == place and start <= s.across_from_mm < end
            ]
            yield from self.compare(found, 1, place, f"the head seam at {place} along in lane {lane}", (start, end))
        known = {place for _, place in places}
        if any(s.along_from_mm != s.along_to_mm or s.along_from_mm not in known for s in self.heads):
            yield self.say("has a head seam where no two strips are joined")

    def compare(
        self, found: list[tuple[int, int]], axis: int, at: int, what: str, within: Stretch = (-math.inf, math.inf)
    ) -> Iterator[Violation]:
        """A seam is shown once where there surely is lawn on both sides, and not where there is none.

        Between the two lies where an edge runs almost along the seam, and the lawn beside it is thinner than a hair.
        """
        sure, at_most = (
            [(max(a, within[0]), min(b, within[1])) for a, b in lawn_on_both_sides(self.outline, axis, at, beside)]
            for beside in (BESIDE_MM, HAIR_MM)
        )
        twice = any(one[1] > other[0] for one, other in pairwise(sorted(found)))
        if twice or max(longest_outside(sure, found), longest_outside(found, at_most)) > SAME_PLACE_MM:
            listed = ", ".join(f"{a:.0f} to {b:.0f}" for a, b in sure if b - a > SAME_PLACE_MM) or "nowhere"
            yield self.say(f"{what} is shown at {found}; two strips meet there {listed}")

    def clear_edges(self) -> Iterator[Violation]:
        """No seam comes near an edge that is to be kept free of seams."""
        for number in self.lawn.no_seam_edges():
            side = turned_side(self.lawn, number, self.laid.bearing)
            for seam in self.laid.seams:
                ends = (seam.across_from_mm, seam.along_from_mm), (seam.across_to_mm, seam.along_to_mm)
                near = distance(ends, side)
                if near < self.settings.no_seam_distance_mm - 1:
                    message = f"a {seam.kind} seam comes within {near:.0f} mm of edge {number}"
                    yield self.say(f"{message}; at least {self.settings.no_seam_distance_mm}")

    def head_seams(self) -> Iterator[Violation]:
        """Head seams are staggered, keep off the ends of a run, and are there only for want of longer stock."""
        settings = self.settings
        places = {(s.lane, s.along_to_mm) for s in self.laid.strips if self.joined(s)[1]}
        for (lane, place), (other, elsewhere) in combinations(sorted(places), 2):
            if other == lane + 1 and abs(place - elsewhere) < settings.head_stagger_mm:
                yield self.say(f"head seams of lanes {lane} and {other} are {abs(place - elsewhere)} mm apart")
        for strip in self.laid.strips:
            near, far = self.joined(strip)
            if (near != far) and strip.along_to_mm - strip.along_from_mm < settings.head_from_end_mm:
                yield self.say("has a head seam too near the end of its run", strip)
            if far and not near and self.sizes:
                yield from self.needed(strip)

    def needed(self, strip: PlacedStrip) -> Iterator[Violation]:
        """A run, given by the strip at its near end, is longer than anything as wide."""
        run = [strip]
        for other in sorted(self.laid.strips, key=lambda one: one.along_from_mm):
            follows = other.lane == strip.lane and other.along_from_mm == run[-1].along_to_mm
            if follows and self.meet_on_lawn(other, run[-1]):
                run.append(other)
        width = self.width_of(strip.lane, min(one.across_from_mm for one in run), max(one.across_to_mm for one in run))
        whole = _whole_step(run[-1].along_to_mm - strip.along_from_mm + 2 * self.settings.end_mm)
        if any(wide >= width and long >= whole for wide, long in self.sizes):
            yield self.say(f"its run of {whole} mm is joined though something that long is to be had", strip)


def _meet(a: int, b: int, c: int, d: int) -> bool:
    """Whether two stretches share more than a point."""
    return a < d and c < b


def _side(gap: int, outermost: bool, settings: LayoutSettings) -> int:
    """Grass beyond one side of a strip that lies so far inside its lane; it never reaches into the next lane."""
    if outermost:
        return settings.free_side_mm
    return settings.selvedge_mm if gap == 0 else min(settings.free_side_mm, settings.selvedge_mm + gap)


def _whole_step(millimetres: int) -> int:
    rest = millimetres % CUT_STEP_MM
    return millimetres + (CUT_STEP_MM - rest if rest else 0)
