"""Small lawns for tests of layouts, each with what makes it special."""

from __future__ import annotations

from datetime import date

from stockplan.cutting.strips_cut import Grass
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.lawn import Lawn, Point
from stockplan.domain.pile import PileKind, PileWish

FOURS_AND_TWOS = Grass((4000, 2000), ((4000, 25000), (2000, 25000), (3000, 6000)), 1000)
UP = PileWish(PileKind.BEARING, bearing=0.0)


def ring(*corners: tuple[int, int]) -> tuple[Point, ...]:
    return tuple(Point(x, y) for x, y in corners)


def rectangle(width: int, length: int, label: str = "back") -> Lawn:
    return Lawn(label, ring((0, 0), (width, 0), (width, length), (0, length)))


SMALL_LAWNS = {
    "one strip": rectangle(3600, 5000),
    "two strips": rectangle(6000, 10000),
    "sizes that are no whole centimetres": rectangle(6005, 5003),
    "an L": Lawn("back", ring((0, 0), (6300, 0), (6300, 2800), (2507, 2800), (2507, 6000), (0, 6000))),
    "a T": Lawn(
        "back",
        ring((0, 0), (7000, 0), (7000, 2000), (4600, 2000), (4600, 5200), (1900, 5200), (1900, 2000), (0, 2000)),
    ),
    "a skew plot": Lawn("back", ring((0, 0), (5600, 1500), (5650, 6500), (40, 5100))),
    "a gable": Lawn("back", ring((0, 0), (6200, 0), (6200, 3000), (3100, 5000), (0, 3000))),
    "a notch from above": Lawn("back", ring((0, 0), (6600, 0), (6600, 4000), (3500, 1900), (0, 4200))),
    "two legs": Lawn(
        "back",
        ring((0, 0), (6800, 0), (6800, 5000), (5200, 5000), (5200, 1500), (1700, 1500), (1700, 4200), (0, 4200)),
    ),
    "legs that lie": Lawn(
        "back",
        ring((0, 0), (5000, 0), (5000, 1500), (1500, 1500), (1500, 4000), (5000, 4000), (5000, 5600), (0, 5600)),
    ),
    "a bed across it": Lawn(
        "back",
        ring((0, 0), (5500, 0), (5500, 6000), (0, 6000)),
        (ring((300, 2500), (2600, 2500), (2600, 3300), (300, 3300)),),
    ),
}


def job_with(*lawns: Lawn, pile: PileWish | None = UP, code: str = "J1") -> Job:
    return Job(code, "somewhere", "G30", date(2026, 12, 1), "", BatchRule.ONE, (), lawns, pile)
