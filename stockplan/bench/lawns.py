"""Invented lawns, the same for the same seed: rectangles out of true, Ls, Ts, legs, curves, some with a bed."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.lawn import Lawn, Point, Ring
from stockplan.domain.pile import PileKind, PileWish
from stockplan.domain.request import PlanRequest


def random_lawn(pick: Random, label: str = "back") -> Lawn:
    """Invent a lawn of 9 to 140 m².

    Parameters
    ----------
    pick
        Where chance comes from.
    label
        Its name.
    """
    wide, long = pick.randint(3000, 11000), pick.randint(3000, 13000)
    kind = pick.choice("RLTUC")
    a, b = pick.randint(1000, wide - 1000), pick.randint(1000, long - 1000)
    c = pick.randint(300, a - 300)
    if kind == "R":
        off = [pick.randint(-80, 80) for _ in range(5)]
        corners = [(0, 0), (wide + off[0], off[1]), (wide + off[2], long + off[3]), (off[4], long)]
    elif kind == "L":
        corners = [(0, 0), (wide, 0), (wide, b), (a, b), (a, long), (0, long)]
    elif kind == "T":
        corners = [(0, 0), (wide, 0), (wide, b), (a, b), (a, long), (c, long), (c, b), (0, b)]
    elif kind == "U":
        corners = [(0, 0), (wide, 0), (wide, long), (a, long), (a, b), (c, b), (c, long), (0, long)]
    else:
        return Lawn(label, curve(wide // 2, long // 2, pick.choice((12, 32))))
    bed = _bed(pick) if kind in "RL" and pick.random() < 0.5 else ()
    return Lawn(label, tuple(Point(x, y) for x, y in corners), bed)


def _bed(pick: Random) -> tuple[Ring, ...]:
    """A bed with a dent, near the first corner."""
    x, y = pick.randint(100, 400), pick.randint(100, 500)
    return (tuple(Point(x + dx, y + dy) for dx, dy in ((0, 0), (500, 0), (500, 400), (250, 150), (0, 400))),)


def curve(across_mm: int, along_mm: int, corners: int, waves: float = 0.0) -> Ring:
    """An ellipse as so many corners, its edge in waves.

    Parameters
    ----------
    across_mm, along_mm
        Half its width and half its length.
    corners
        At least 3.
    waves
        Height of three waves round the edge as a share of the distance from the middle; below 1.
    """
    found = []
    for number in range(corners):
        turn = 2 * math.pi * number / corners
        out = 1 + waves * math.sin(3 * turn)
        found.append(Point(round(across_mm * out * math.cos(turn)), round(along_mm * out * math.sin(turn))))
    return tuple(found)


def curved_lawn_with_beds(corners: int, beds: int) -> Lawn:
    """A large lawn with a wavy edge and round beds in a row, each of twelve corners: the hardest kind to lay out.

    Parameters
    ----------
    corners, beds
        How many of each; at most ten beds.
    """
    holes = []
    for number in range(beds):
        middle = 0.9 * (number - (beds - 1) / 2)
        holes.append(
            tuple(
                Point(p.x_mm + round(1000 * middle * 0.7), p.y_mm + round(1000 * middle)) for p in curve(380, 380, 12)
            )
        )
    return Lawn("field", curve(9000, 8000, corners, 0.2), tuple(holes))


def lawns_for(request: PlanRequest, pick: Random) -> PlanRequest:
    """The same week with an invented lawn for each of its jobs in the place of strips; a third leave the pile open.

    Parameters
    ----------
    request
        An invented week.
    pick
        Where chance comes from.
    """

    def with_lawn(job: Job) -> Job:
        wish = PileWish(PileKind.OPEN) if pick.random() < 1 / 3 else PileWish(PileKind.BEARING, bearing=0.0)
        return replace(job, strips=(), lawns=(random_lawn(pick),), pile=wish, batch_rule=BatchRule.ONE)

    return replace(request, jobs=tuple(with_lawn(job) for job in request.jobs))
