"""A lawn laid out in strips: where each strip and each seam lies, how large a strip is cut, and by which settings.

Places are given in the lawn's turned frame: `along` grows the way the pile leans, `across` to the right of somebody who
looks that way. The turned frame has the lawn's own origin, so a bearing of 0 leaves every coordinate as it is. Grass
laid the other way along the same axis is cut the same; a layout that may lie either way is drawn the way it is stated.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from stockplan.domain.strip import Strip

CUT_STEP_MM = 10  # strips are cut to whole centimetres, rounded up, as a yard hand reads a tape


@dataclass(frozen=True, slots=True)
class LayoutSettings:
    """How strips are laid out; every default is common practice, the firm's to set.

    Parameters
    ----------
    end_mm
        Grass beyond each end of a strip, trimmed on site: outlines are never quite as measured; default 100.
    free_side_mm
        Grass beyond a side where the lawn ends, trimmed on site; default 50.
    selvedge_mm
        Cut off each side that is seamed, since the outer tufts of a roll are loose or bare; default 30.
    head_trim_mm
        Cut off each end that is seamed, to square it; default 50.
    warn_narrow_mm
        A strip that covers less than this across is pointed out: it moves underfoot and shows; default 500.
    least_narrow_mm
        A strip beside another that covers less than this is not laid at all; default 300.
    seam_pence_per_m
        Tape, adhesive and labour of a seam along the pile; default 6.00.
    head_seam_pence_per_m
        Of a seam across the pile, which takes more care and shows most; default 12.00.
    head_from_end_mm
        A head seam keeps this far from both ends of its run, where the eye falls and edges lift; default 1000.
    head_stagger_mm
        Head seams of neighbouring strips keep this far apart along the pile; default 1000.
    no_seam_distance_mm
        No seam comes nearer than this to an edge that is to be kept free of seams; default 300.

    Raises
    ------
    ValueError
        When a setting is negative, or strips may be narrower than the width that is pointed out allows.
    """

    end_mm: int = 100
    free_side_mm: int = 50
    selvedge_mm: int = 30
    head_trim_mm: int = 50
    warn_narrow_mm: int = 500
    least_narrow_mm: int = 300
    seam_pence_per_m: int = 600
    head_seam_pence_per_m: int = 1200
    head_from_end_mm: int = 1000
    head_stagger_mm: int = 1000
    no_seam_distance_mm: int = 300

    def __post_init__(self) -> None:
        for name in self.__slots__:
            if getattr(self, name) < 0:
                raise ValueError(f"layout setting {name} is {getattr(self, name)}; would be 0 or more")
        if self.least_narrow_mm > self.warn_narrow_mm:
            raise ValueError("layout settings refuse strips that they would only warn of")


@dataclass(frozen=True, slots=True)
class PlacedStrip:
    """One strip on its lawn.

    Parameters
    ----------
    lawn
        Label of the lawn.
    label, number
        The letter that the piece on the roll bears, and which copy of that size, counted from 1.
    lane
        Which lane of the lawn's grid it lies in, counted from 0 at the left.
    across_from_mm, across_to_mm, along_from_mm, along_to_mm
        The part of the lawn it covers lies inside this rectangle of the turned frame; allowances are not in it.
    width_mm, length_mm
        As cut, allowances in, rounded up to `CUT_STEP_MM`.
    roll_width_mm
        Width of the narrowest roll or offcut it can be taken from, as far as the layout knows.
    """

    lawn: str
    label: str
    number: int
    lane: int
    across_from_mm: int
    across_to_mm: int
    along_from_mm: int
    along_to_mm: int
    width_mm: int
    length_mm: int
    roll_width_mm: int

    @property
    def name(self) -> str:
        """Letter and number."""
        return f"{self.label}{self.number}"

    @property
    def covers_mm(self) -> int:
        """How much it covers across, mm."""
        return self.across_to_mm - self.across_from_mm


class SeamKind(StrEnum):
    """Which way a seam runs."""

    LONG = "long"  # along the pile, between two lanes
    HEAD = "head"  # across the pile, within one lane


@dataclass(frozen=True, slots=True)
class Seam:
    """One straight join between two strips, in the turned frame; a head seam runs across, a long one along.

    Parameters
    ----------
    lawn
        Label of the lawn.
    kind
        Long or head.
    across_from_mm, along_from_mm, across_to_mm, along_to_mm
        Its two ends, rounded to the millimetre.
    """

    lawn: str
    kind: SeamKind
    across_from_mm: int
    along_from_mm: int
    across_to_mm: int
    along_to_mm: int

    @property
    def mm(self) -> int:
        """Its length."""
        return self.across_to_mm - self.across_from_mm + self.along_to_mm - self.along_from_mm


@dataclass(frozen=True, slots=True)
class LaidLawn:
    """One lawn laid out.

    Parameters
    ----------
    lawn
        Its label.
    bearing
        Which way the pile leans, degrees clockwise from the lawn's own y axis.
    area_mm2
        The lawn's area, holes left out.
    strips
        From the left, and in one lane from the near end.
    seams
        In the same order.
    borders
        Where its lanes begin and end across, from the left edge of the lawn to the right.
    """

    lawn: str
    bearing: float
    area_mm2: int
    strips: tuple[PlacedStrip, ...]
    seams: tuple[Seam, ...]
    borders: tuple[int, ...]

    def on_lawn(self, across: float, along: float) -> tuple[float, float]:
        """Take a place from the turned frame to the lawn's own x and y, mm."""
        return turn_back(across, along, self.bearing)

    def corners(self, strip: PlacedStrip) -> tuple[tuple[float, float], ...]:
        """Corners of what a strip covers, in the lawn's own x and y."""
        return (
            self.on_lawn(strip.across_from_mm, strip.along_from_mm),
            self.on_lawn(strip.across_to_mm, strip.along_from_mm),
            self.on_lawn(strip.across_to_mm, strip.along_to_mm),
            self.on_lawn(strip.across_from_mm, strip.along_to_mm),
        )


@dataclass(frozen=True, slots=True)
class Layout:
    """One way to lay all lawns of a job.

    Parameters
    ----------
    label
        Tells the layouts of a job apart: `1`, `2`, …; the first takes the least grass.
    lawns
        In the job's order.
    seam_cost_pence
        What its seams cost by the settings it was made with, rounded half up once over the whole.
    either_way
        Whether all of it may as well lie the opposite way: nobody asked for one of the two.
    """

    label: str
    lawns: tuple[LaidLawn, ...]
    seam_cost_pence: int
    either_way: bool = False

    def placed(self) -> Iterator[PlacedStrip]:
        """Every strip on every lawn."""
        for lawn in self.lawns:
            yield from lawn.strips

    def seams(self) -> Iterator[Seam]:
        """Every seam on every lawn."""
        for lawn in self.lawns:
            yield from lawn.seams

    @property
    def strips(self) -> tuple[Strip, ...]:
        """The pieces it needs, one strip for each letter with its count; letters in order."""
        found: dict[str, tuple[int, int, int]] = {}
        for one in self.placed():
            count = found.get(one.label, (0, 0, 0))[2]
            found[one.label] = (one.width_mm, one.length_mm, count + 1)
        ordered = sorted(found, key=lambda label: (len(label), label))
        return tuple(Strip(label, *found[label]) for label in ordered)

    @property
    def area_cut_mm2(self) -> int:
        """Area of all strips as cut."""
        return sum(one.width_mm * one.length_mm for one in self.placed())

    @property
    def seam_mm(self) -> int:
        """Length of all seams."""
        return sum(seam.mm for seam in self.seams())


def seam_cost(seams: Iterator[Seam], settings: LayoutSettings) -> int:
    """What seams cost in pence, rounded half up once.

    Parameters
    ----------
    seams
        The seams.
    settings
        Rates by the metre.
    """
    rate = {SeamKind.LONG: settings.seam_pence_per_m, SeamKind.HEAD: settings.head_seam_pence_per_m}
    return (sum(seam.mm * rate[seam.kind] for seam in seams) + 500) // 1000


def rounded_up(millimetres: int) -> int:
    """A cut size rounded up to `CUT_STEP_MM`."""
    return -(-millimetres // CUT_STEP_MM) * CUT_STEP_MM


def turned(x: float, y: float, bearing: float) -> tuple[float, float]:
    """Take a place to the turned frame: how far across and how far along; exact for multiples of 90 degrees.

    Parameters
    ----------
    x, y
        On the lawn, mm.
    bearing
        Which way the pile leans, degrees clockwise from the y axis.
    """
    sine, cosine = _sine_and_cosine(bearing)
    return x * cosine - y * sine, x * sine + y * cosine


def turn_back(across: float, along: float, bearing: float) -> tuple[float, float]:
    """Take a place from the turned frame back to the lawn: the inverse of `turned`."""
    sine, cosine = _sine_and_cosine(bearing)
    return across * cosine + along * sine, along * cosine - across * sine


def _sine_and_cosine(bearing: float) -> tuple[float, float]:
    quarter = {0.0: (0.0, 1.0), 90.0: (1.0, 0.0), 180.0: (0.0, -1.0), 270.0: (-1.0, 0.0)}.get(bearing % 360)
    return quarter or (math.sin(math.radians(bearing)), math.cos(math.radians(bearing)))
