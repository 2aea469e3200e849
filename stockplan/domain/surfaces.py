"""What a take-off needs to know of a job: its lawns as measured, and their strips and seams where they are laid out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import Lawn
from stockplan.domain.layout import LaidLawn, Layout, turned
from stockplan.domain.strip import Strip


@dataclass(frozen=True, slots=True)
class Ground:
    """One lawn as measured.

    Parameters
    ----------
    label
        The lawn's label within its job.
    area_mm2
        Without its holes.
    edge_mm
        Length of the outer edge.
    holes_mm
        Length of the edges of all holes.
    width_mm, length_mm
        Of the rectangle around it, across and along the pile; of any rectangle around it while the pile is open.
    """

    label: str
    area_mm2: int
    edge_mm: int
    holes_mm: int
    width_mm: int
    length_mm: int


@dataclass(frozen=True, slots=True)
class Surface:
    """One lawn of a job, or the strips that a job was given without an outline.

    Parameters
    ----------
    ground
        The lawn as measured; None where only strips are known.
    strips
        Its strips as cut; None where they are not worked out yet.
    seam_mm
        Length of its seams; None where they are not worked out.
    seams_assumed
        Whether that is as if the strips lay side by side in the order listed.
    """

    ground: Ground | None
    strips: tuple[Strip, ...] | None
    seam_mm: int | None
    seams_assumed: bool = False


def surfaces_of(job: Job, layout: Layout | None) -> tuple[Surface, ...]:
    """The surfaces of a job, each lawn on its own; strips that were given count with the first, or stand alone.

    Parameters
    ----------
    job
        The job.
    layout
        How its lawns are laid; None where that is not known.
    """
    if layout is None and job.strips:
        grounds: list[Ground | None] = [_ground(lawn, 0.0) for lawn in job.lawns]
        first, *others = grounds or [None]
        listed = Surface(first, job.strips, side_by_side_seams_mm(job.strips), seams_assumed=True)
        return (listed, *(Surface(ground, (), 0) for ground in others))
    laid = {one.lawn: one for one in layout.lawns} if layout else {}
    return tuple(_surface(lawn, laid.get(lawn.label)) for lawn in job.lawns)


def side_by_side_seams_mm(strips: Iterable[Strip]) -> int:
    """Length of the seams of strips laid side by side in the order listed: of two neighbours, the shorter's length."""
    lengths = [strip.length_mm for strip in strips for _ in range(strip.count)]
    return sum(min(pair) for pair in pairwise(lengths))


MEASURED_LEVEL = (
    "measured level on sloping ground: areas and lengths are those along the slope; strips must be measured along it "
    "before any is cut, so grass, waste, tape and adhesive are not known"
)


@dataclass(frozen=True, slots=True)
class Slope:
    """How far the ground rises over how much level, mm; `run_mm` is positive."""

    rise_mm: int
    run_mm: int


def along_slope(surface: Surface, slope: Slope) -> Surface:
    """A lawn that was measured level, from a map say, as it lies on ground that rises one way.

    Area grows by √(rise² + run²) / run. So does at most every length, and each is taken to. Its strips, worked out on
    the level, would be too short and are left out.

    Parameters
    ----------
    surface
        As measured; one without a lawn is returned as it is.
    slope
        Of the ground.
    """
    ground = surface.ground
    if ground is None:
        return surface
    length = slope_length_mm(slope.run_mm, slope.rise_mm)

    def grown(amount: int) -> int:
        return -(-amount * length // slope.run_mm)

    steep = replace(
        ground,
        area_mm2=grown(ground.area_mm2),
        edge_mm=grown(ground.edge_mm),
        holes_mm=grown(ground.holes_mm),
        width_mm=grown(ground.width_mm),
        length_mm=grown(ground.length_mm),
    )
    return Surface(steep, None, None)


def slope_length_mm(run_mm: int, rise_mm: int) -> int:
    """Length along a slope of a run measured level, rounded up to the millimetre.

    Parameters
    ----------
    run_mm, rise_mm
        Level, and upright; 0 or more.
    """
    square = run_mm * run_mm + rise_mm * rise_mm
    root = math.isqrt(square)
    return root if root * root == square else root + 1


def _surface(lawn: Lawn, laid: LaidLawn | None) -> Surface:
    if laid is None:
        return Surface(_ground(lawn, 0.0), None, None)
    strips = tuple(Strip(strip.name, strip.width_mm, strip.length_mm) for strip in laid.strips)
    return Surface(_ground(lawn, laid.bearing), strips, sum(seam.mm for seam in laid.seams))


def _ground(lawn: Lawn, bearing: float) -> Ground:
    places = [turned(corner.x_mm, corner.y_mm, bearing) for corner in lawn.edge]
    across, along = zip(*places, strict=True)
    return Ground(
        label=lawn.label,
        area_mm2=lawn.area_mm2,
        edge_mm=lawn.perimeter_mm,
        holes_mm=lawn.holes_perimeter_mm,
        width_mm=math.ceil(max(across) - min(across)),
        length_mm=math.ceil(max(along) - min(along)),
    )
