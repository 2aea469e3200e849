"""Lawns laid out the plainest way, for the tests of their drawings: lanes of one width from the left."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import date
from itertools import pairwise

from shapely.geometry import Polygon, box

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.lawn import EdgeNote, Lawn, Point, Ring
from stockplan.domain.layout import LaidLawn, Layout, PlacedStrip, Seam, SeamKind, rounded_up, turned

Sample = tuple[Job, Layout]


def ring(*corners: tuple[float, float]) -> Ring:
    """Corners in metres."""
    return tuple(Point(round(x * 1000), round(y * 1000)) for x, y in corners)


def round_ring(x: float, y: float, radius: float, corners: int, wobble: float = 0.0) -> Ring:
    """A circle of so many corners, or a star-like thing when it wobbles."""
    points = []
    for index in range(corners):
        angle = 2 * math.pi * index / corners
        reach = radius * (1 + wobble * math.sin(5 * angle))
        points.append((x + reach * math.cos(angle), y + reach * math.sin(angle)))
    return ring(*points)


def laid_in_lanes(lawn: Lawn, bearing: float, lane_mm: int, longest_mm: int = 25_000) -> LaidLawn:
    """Lanes from the left, each piece of lawn in a lane one strip, cut in two by a head seam where it is too long."""

    def shape(corners: Ring) -> list[tuple[float, float]]:
        return [turned(x, y, bearing) for x, y in corners]

    ground = Polygon(shape(lawn.edge), [shape(hole) for hole in lawn.holes])
    left, near, right, far = ground.bounds
    strips: list[PlacedStrip] = []
    seams: list[Seam] = []
    edges = [round(left) + index * lane_mm for index in range(math.ceil((right - left) / lane_mm))] + [round(right)]
    letters: dict[tuple[int, int], list[int]] = {}
    for lane, (begin, end) in enumerate(pairwise(edges)):
        part = ground.intersection(box(begin, near - 1, end, far + 1))
        for polygon in sorted(getattr(part, "geoms", [part]), key=lambda one: one.bounds[1]):
            if polygon.area < 1:
                continue
            _, low, _, high = polygon.bounds
            cuts = [round(low), *([round((low + high) / 2)] if high - low > longest_mm else []), round(high)]
            for start, stop in pairwise(cuts):
                cut = (rounded_up(end - begin), rounded_up(stop - start + 200))
                number = letters.setdefault(cut, [len(letters), 0])
                number[1] += 1
                label = chr(ord("A") + number[0] % 26) + ("" if number[0] < 26 else str(number[0] // 26))
                place = (begin, end, start, stop)
                strips.append(PlacedStrip(lawn.label, label, number[1], lane, *place, *cut, lane_mm))
            for middle in cuts[1:-1]:
                seams.append(Seam(lawn.label, SeamKind.HEAD, begin, middle, end, middle))
        if lane:
            line = ground.intersection(box(begin, near - 1, begin + 0.001, far + 1))
            for stretch in getattr(line, "geoms", [line]):
                if not stretch.is_empty:
                    _, low, _, high = stretch.bounds
                    seams.append(Seam(lawn.label, SeamKind.LONG, begin, round(low), begin, round(high)))
    return LaidLawn(lawn.label, bearing, lawn.area_mm2, tuple(strips), tuple(seams), tuple(edges))


def sample(lawn: Lawn, bearing: float = 0.0, lane_mm: int = 4000, longest_mm: int = 25_000) -> Sample:
    job = Job("J301", "5 Quince Court, back", "K30", date(2026, 12, 1), "house", BatchRule.ONE, (), (lawn,))
    layout = Layout("1", (laid_in_lanes(lawn, bearing, lane_mm, longest_mm),), 0)
    return replace(job, layouts=(layout,)), layout


PLAIN = Lawn("back", ring((0, 0), (6, 0), (6, 10), (0, 10)))
L_SHAPED = Lawn(
    "back",
    ring((0, 0), (9.4, 0), (9.4, 4.2), (5.6, 4.2), (5.6, 8.8), (0, 8.8)),
    holes=(round_ring(2, 6.4, 0.45, 12), ring((6.2, 0.9), (8.3, 0.9), (8.3, 2.1), (6.2, 2.1))),
    notes=(EdgeNote(0, "house"), EdgeNote(3, "path", no_seam=True)),
    y_bearing=200.0,
)
BOW = [(index * 0.5, 2.6 + 1.8 * math.sin(math.pi * index / 24)) for index in range(24, -1, -1)]
CURVED = Lawn("front", ring((0, 0), (12, 0), *BOW), notes=(EdgeNote(0, "road"),), y_bearing=0.0)
SKEW = Lawn("side", ring((0, 0), (14.2, 2.3), (12.9, 21.4), (-1.8, 19.6)), notes=(EdgeNote(2, "neighbour's fence"),))
LARGE = Lawn(
    "field",
    round_ring(0, 0, 22, 200, 0.08),
    holes=tuple(
        round_ring(*at, 0.8, 9)
        for at in [(-12, -9), (-12, 3), (-6, 11), (-3, -14), (0, 0), (4, 9), (7, -6), (11, 3), (14, -11), (-16, 6)]
    ),
)
RUDE = replace(PLAIN, label="<b>&\x1b[31m", notes=(EdgeNote(1, "</text><script>" + "long " * 30),))


def at_random(seed: int) -> Sample:
    """An L of any size and any direction, with a bed in its foot and lanes of any width."""
    pick = random.Random(seed)
    wide, long = pick.uniform(3, 16), pick.uniform(3, 16)
    across, up = pick.uniform(0.8, wide - 0.8), pick.uniform(1.4, long - 0.8)
    edge = ring((0, 0), (wide, 0), (wide, up), (across, up), (across, long), (0, long))
    bed = ring((0.3, 0.3), (across - 0.2, 0.3), (0.3, up - 0.3))
    lawn = Lawn("back", edge, (bed,), (EdgeNote(pick.randrange(6), "garden wall", no_seam=True),), y_bearing=seed * 7.0)
    return sample(lawn, pick.choice((0.0, 90.0, pick.uniform(0, 360))), pick.choice((1000, 2000, 4000)), 9000)


SAMPLES: dict[str, Sample] = {
    "a plain rectangle": sample(PLAIN),
    "an L with a tree and a bed": sample(L_SHAPED, 180.0),
    "the same across": sample(L_SHAPED, 270.0),
    "a curved front": sample(CURVED, 180.0),
    "a circle": sample(Lawn("round", round_ring(3, 3, 3, 48)), 90.0, 2000),
    "askew, with head seams": sample(SKEW, 37.5, 4000, 9000),
    "narrow lanes": sample(Lawn("long", ring((0, 0), (30, 0), (30, 3), (0, 3))), 0.0, 1000),
    "tiny": sample(Lawn("balcony", ring((0, 0), (1.2, 0), (1.2, 0.9), (0, 0.9)))),
    "a thin path": sample(Lawn("path", ring((0, 0), (24, 0), (24, 0.7), (0, 0.7))), 90.0),
    "200 corners and 10 holes": sample(LARGE, 15.0),
    "rude names": sample(RUDE),
    **{f"at random, seed {seed}": at_random(seed) for seed in range(12)},
}
