"""From a grid of lanes to strips and seams with their places on the lawn."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import shapely

from stockplan.cutting.strips_cut import Grass, Lane, Run, cut_width, joined_parts, run_of
from stockplan.cutting.strips_outline import Outline
from stockplan.domain.layout import LaidLawn, LayoutSettings, PlacedStrip, Seam, SeamKind

UNNAMED = ""
ROUNDING_MM = 0.5
CORNER_MM = 2  # what is no longer is no seam
BESIDE_MM = 0.01  # how far to either side of a head seam one looks for lawn


def laid(outline: Outline, borders: tuple[int, ...], grass: Grass, settings: LayoutSettings) -> LaidLawn | None:
    """A lawn laid out over a grid, its strips still without letters; None where a rule cannot be kept.

    Parameters
    ----------
    outline
        The lawn, turned.
    borders
        The borders of its lanes across, from the left edge to the right.
    grass
        What strips are cut from.
    settings
        How strips are laid out.
    """
    lanes = [
        Lane(start, end, number == 0, number == len(borders) - 2)
        for number, (start, end) in enumerate(pairwise(borders))
    ]
    runs: list[list[Run]] = []
    joints: list[int] = []
    for lane in lanes:
        of_lane: list[Run] = []
        for part in joined_parts(outline.parts(lane.start_mm, lane.end_mm), lane, settings):
            run = run_of(part, lane, grass, settings, joints)
            if run is None:
                return None
            of_lane.append(run)
        joints = [joint for run in of_lane for joint in run.joints]
        runs.append(of_lane)
    if not all(_joins(outline, run, place) for of_lane in runs for run in of_lane for place in run.joints):
        return None  # a head seam between two parts of the lawn that one run covers
    strips = tuple(strip for strip in _strips(outline, lanes, runs, grass, settings) if strip)
    if len(strips) < sum(len(run.joints) + 1 for of_lane in runs for run in of_lane):
        return None  # a strip between two parts of the lawn that one run covers
    seams = tuple(_seams(outline, borders, runs))
    narrow = [strip for strip in strips if strip.covers_mm < settings.least_narrow_mm]
    if any(_beside(strip, seam) for strip in narrow for seam in seams):
        return None  # a run that tapers beyond a head seam
    if any(
        outline.distance_to_clear_edges(*_ends(seam)) < settings.no_seam_distance_mm - ROUNDING_MM for seam in seams
    ):
        return None
    return LaidLawn(outline.lawn.label, outline.bearing, outline.lawn.area_mm2, strips, seams, borders)


def _ends(seam: Seam) -> tuple[int, int, int, int]:
    return seam.across_from_mm, seam.along_from_mm, seam.across_to_mm, seam.along_to_mm


def _beside(strip: PlacedStrip, seam: Seam) -> bool:
    """Whether a seam along the pile is at a side of a strip."""
    at_a_side = seam.across_from_mm in (strip.across_from_mm, strip.across_to_mm)
    along = seam.along_from_mm < strip.along_to_mm and strip.along_from_mm < seam.along_to_mm
    return seam.kind is SeamKind.LONG and at_a_side and along


def _strips(
    outline: Outline, lanes: list[Lane], runs: list[list[Run]], grass: Grass, settings: LayoutSettings
) -> Iterator[PlacedStrip | None]:
    """Every strip, lane by lane and from the near end; None for one that would cover no lawn."""
    for number, (lane, of_lane) in enumerate(zip(lanes, runs, strict=True)):
        for run in of_lane:
            for start, end, length in run.segments(settings):
                part = outline.within(run.part, start, end) if run.joints else run.part
                if part is None:
                    yield None
                    continue
                width = cut_width(part, lane, settings)
                yield PlacedStrip(
                    lawn=outline.lawn.label,
                    label=UNNAMED,
                    number=0,
                    lane=number,
                    across_from_mm=part.across_from,
                    across_to_mm=part.across_to,
                    along_from_mm=start,
                    along_to_mm=end,
                    width_mm=width,
                    length_mm=length,
                    roll_width_mm=grass.taken_from(width),
                )


def _seams(outline: Outline, borders: tuple[int, ...], runs: list[list[Run]]) -> Iterator[Seam]:
    """Head seams of each lane, then the seam on its right."""
    label = outline.lawn.label
    for lane, of_lane in enumerate(runs):
        for run in of_lane:
            for place in run.joints:
                for start, end in _across(outline, run, place):
                    yield Seam(label, SeamKind.HEAD, start, place, end, place)
        if lane < len(runs) - 1:
            border = borders[lane + 1]
            for start, end in outline.seam_stretches(border):
                yield Seam(label, SeamKind.LONG, border, start, border, end)


def _joins(outline: Outline, run: Run, place: int) -> bool:
    """Whether a head seam joins more than a corner of the lawn."""
    return any(end - start > CORNER_MM for start, end in _across(outline, run, place))


def _across(outline: Outline, run: Run, place: int) -> list[tuple[int, int]]:
    """Where on a line across a run there is lawn on both its sides: along an edge of the lawn nothing is joined."""
    near, far = (_on_line(outline, run, place + beside) for beside in (-BESIDE_MM, BESIDE_MM))
    both = [(round(max(a, c)), round(min(b, d))) for a, b in near for c, d in far]
    return sorted(stretch for stretch in both if stretch[0] < stretch[1])


def _on_line(outline: Outline, run: Run, along: float) -> list[tuple[float, float]]:
    """Where on a line across a run there is lawn."""
    line = shapely.LineString([(run.part.across_from, along), (run.part.across_to, along)])
    found = shapely.get_parts(shapely.intersection(outline.polygon, line))
    return [(x0, x1) for x0, _, x1, _ in shapely.bounds(found[~shapely.is_empty(found)]).tolist()]
