"""From measured lawns to candidate layouts: one pile direction for all that is seen together, grids of lanes, few kept.

A layout is kept when no other dominates it. One dominates another when it takes no more grass and no more seam, its
narrowest strip is no narrower (beyond the width that is pointed out nobody minds), and each of its pieces fits inside
a piece of its own of the other: whatever stock serves the other then serves it too. What is left may still be many,
most of them alike but for how two strips share a width. The planner tries every layout it is given with every batch,
so at most `MOST_LAYOUTS` go on, those that cost least in new grass and seams; the one that takes the least grass is
always the first, and the cheapest of every direction among them: what no stock is long enough for one way may be laid
the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import atan2, degrees, hypot

import shapely

from stockplan.cutting.strips_cut import Grass
from stockplan.cutting.strips_fit import fits_inside
from stockplan.cutting.strips_grids import SEAM_STEP_MM, Grids
from stockplan.cutting.strips_outline import Outline
from stockplan.cutting.strips_place import laid
from stockplan.domain.jobs import Job
from stockplan.domain.lawn import Lawn
from stockplan.domain.layout import CUT_STEP_MM, LaidLawn, Layout, LayoutSettings, PlacedStrip, seam_cost
from stockplan.domain.pile_direction import PileDirection, SeenTogether, job_wish, pile_groups
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, SupplyForm
from stockplan.domain.units import MM2_PER_M2

MOST_LAYOUTS, LEAST_LAYOUTS = 8, 2
LAYOUTS_OF_ALL_JOBS = 160
MOST_ROLL_WIDTHS = 3
HALF_CIRCLE, QUARTER = 180.0, 90.0
SHORT_EDGES = 10  # an edge below this part of the outline gives no direction: a chord of a curve, say


@dataclass(frozen=True)
class _Laying:
    """Some lawns of a job laid out, still without letters, and what it is compared by."""

    lawns: tuple[LaidLawn, ...]
    either_way: bool
    area: int
    seam: int
    narrowest: int
    pieces: tuple[tuple[int, int], ...]

    @property
    def seams_mm(self) -> int:
        return sum(seam.mm for lawn in self.lawns for seam in lawn.seams)


def grass_of(request: PlanRequest, product: str) -> Grass | None:
    """What strips of a product can be cut from; None when there is neither stock nor supply.

    Parameters
    ----------
    request
        The plan asked for.
    product
        Product code.
    """
    supply = [option for option in request.supply if option.product == product]
    stock = [item for item in request.stock if item.product == product]
    sizes = {(option.width_mm, option.length_mm) for option in supply}
    sizes |= {(item.width_mm, item.length_mm) for item in stock}
    if not sizes:
        return None
    held: dict[int, int] = {}
    for option in supply:
        held[option.width_mm] = held.get(option.width_mm, 0) + 100 * option.width_mm * option.length_mm
    for item in stock:
        if item.form is not StockForm.OFFCUT:
            held[item.width_mm] = held.get(item.width_mm, 0) + item.area_mm2
    if not held:
        held = {max(width for width, _ in sizes): 1}
    by_area = sorted(held, key=lambda width: (-held[width], -width))[:MOST_ROLL_WIDTHS]
    rolls = sorted({width // CUT_STEP_MM * CUT_STEP_MM for width in {*by_area, max(held)}}, reverse=True)
    prices = [
        option.price_pence * MM2_PER_M2 // (option.width_mm * (option.length_mm if _is_roll(option.form) else 1000))
        for option in supply
    ]
    return Grass(tuple(rolls), tuple(sorted(sizes)), min(prices, default=0))


def _is_roll(form: SupplyForm) -> bool:
    return form is SupplyForm.ROLL


def job_layouts(
    job: Job, grass: Grass, settings: LayoutSettings, most: int | None = MOST_LAYOUTS
) -> tuple[Layout, ...]:
    """Ways to lay a job's lawns, the one that takes the least grass first; none where the rules leave no way.

    Parameters
    ----------
    job
        A job with lawns whose pile wishes can be followed.
    grass
        What strips are cut from.
    settings
        How strips are laid out.
    most
        How many to keep at most; None keeps all that are not dominated.
    """
    layings = [_Laying((), True, 0, 0, settings.warn_narrow_mm, ())]
    for group in pile_groups(job.lawns, job_wish(job)):
        options: list[_Laying] = []
        for direction in _directions(group):
            options.extend(_group_layings(group.lawns, direction, grass, settings, most))
        layings = _kept(_combined(layings, options, settings), grass, settings, most)
    order = {lawn.label: number for number, lawn in enumerate(job.lawns)}
    return tuple(_layout(number, one, order, settings) for number, one in enumerate(layings, 1))


def most_layouts(jobs: int) -> int:
    """How many layouts to keep for each of so many jobs: `MOST_LAYOUTS`, and fewer where many jobs have them.

    The planner weighs every layout of every job with every batch; on a week of 30 lawns three of each gave as cheap a
    plan in 20 s as eight.
    """
    return max(LEAST_LAYOUTS, min(MOST_LAYOUTS, LAYOUTS_OF_ALL_JOBS // max(1, jobs)))


def _group_layings(
    lawns: Sequence[Lawn], direction: PileDirection, grass: Grass, settings: LayoutSettings, most: int | None
) -> list[_Laying]:
    """Ways to lay lawns that are seen together in one direction."""
    found = [_Laying((), direction.either_way, 0, 0, settings.warn_narrow_mm, ())]
    for lawn in lawns:
        bearing = direction.on(lawn)
        assert bearing is not None  # open directions have been given one
        ways = _lawn_layings(Outline(lawn, bearing), direction.either_way, grass, settings, most)
        found = _kept(_combined(found, ways, settings), grass, settings, most)
    return found


def _lawn_layings(
    outline: Outline, either_way: bool, grass: Grass, settings: LayoutSettings, most: int | None
) -> list[_Laying]:
    """The ways kept for one lawn in one direction; none of its grids dominates one of them."""
    grids = Grids(outline, grass, settings)
    ways: dict[tuple[int, ...], LaidLawn | None] = {}

    def all_of(some: Iterable[tuple[int, ...]]) -> list[_Laying]:
        chosen = list(dict.fromkeys(some))
        outline.prepare([lane for borders in chosen for lane in pairwise(borders)])
        for borders in chosen:
            if borders not in ways:
                ways[borders] = laid(outline, borders, grass, settings)
        sound = [way for borders in chosen if (way := ways[borders]) is not None]
        return _kept([_laying((way,), either_way, settings) for way in sound], grass, settings, most)

    first = all_of(grids.picks())
    return all_of(grids.bettered(one.lawns[0].borders) for one in first)


def _directions(group: SeenTogether) -> list[PileDirection]:
    """The directions to try: the one asked for, or where any will do the axes of the largest lawn.

    Those are the sides of the smallest rectangle around it and, unless it is all short edges, its longest edge, each
    along and across. The two senses of an axis give the same cuts; the one below 180 degrees is stated and drawn.
    """
    if group.direction.bearing is not None:
        return [group.direction]
    lawn = max(group.lawns, key=lambda one: one.area_mm2)
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.Polygon(lawn.edge)))
    edges = [lawn.side(number) for number in range(len(lawn.edge))]
    longest = max(edges, key=lambda ends: (ends[1].x_mm - ends[0].x_mm) ** 2 + (ends[1].y_mm - ends[0].y_mm) ** 2)
    along_longest = longest[1].x_mm - longest[0].x_mm, longest[1].y_mm - longest[0].y_mm
    sides = [box[1] - box[0]]
    if hypot(*along_longest) * SHORT_EDGES > lawn.perimeter_mm:
        sides.append(along_longest)
    found: list[float] = []
    for east, north in sides:
        for turn in (0.0, QUARTER):
            bearing = round(degrees(atan2(float(east), float(north))) + turn, 9) % HALF_CIRCLE
            if all(min(abs(bearing - other), HALF_CIRCLE - abs(bearing - other)) > 0.01 for other in found):
                found.append(bearing)
    north = lawn.y_bearing or 0.0
    return [PileDirection((bearing + north) % HALF_CIRCLE, True, group.direction.why) for bearing in sorted(found)]


def _laying(lawns: tuple[LaidLawn, ...], either_way: bool, settings: LayoutSettings) -> _Laying:
    strips = [strip for lawn in lawns for strip in lawn.strips]
    seams = sum(seam.mm for lawn in lawns for seam in lawn.seams)
    return _Laying(
        lawns,
        either_way,
        sum(strip.width_mm * strip.length_mm for strip in strips),
        -(-seams // SEAM_STEP_MM),
        min([settings.warn_narrow_mm, *(strip.covers_mm for strip in strips)]),
        tuple(sorted(((strip.width_mm, strip.length_mm) for strip in strips), reverse=True)),
    )


def _combined(some: Iterable[_Laying], others: Iterable[_Laying], settings: LayoutSettings) -> list[_Laying]:
    ways = list(others)
    return [_laying(a.lawns + b.lawns, a.either_way and b.either_way, settings) for a in some for b in ways]


def _kept(ways: Sequence[_Laying], grass: Grass, settings: LayoutSettings, most: int | None) -> list[_Laying]:
    """Those not dominated, and of these the cheapest, first one of every direction; least grass first."""

    def cost(one: _Laying) -> int:
        return one.area * grass.pence_per_m2 // MM2_PER_M2 + one.seams_mm * settings.seam_pence_per_m // 1000

    def least(one: _Laying) -> tuple[int, int, int]:
        return one.area, one.seam, -one.narrowest

    found: list[_Laying] = []
    for one in sorted(ways, key=least):
        if not any(dominates(other, one) for other in found):
            found.append(one)
    if most is None or len(found) <= most:
        return found
    by_cost = [found[0], *sorted(found[1:], key=lambda one: (cost(one), least(one)))]
    of_direction: dict[tuple[float, ...], _Laying] = {}
    for one in by_cost:
        of_direction.setdefault(tuple(lawn.bearing for lawn in one.lawns), one)
    kept = list(of_direction.values())[:most]
    kept += [one for one in by_cost if one not in kept][: most - len(kept)]
    return sorted(kept, key=least)


def dominates(one: _Laying, other: _Laying) -> bool:
    """Whether nothing can speak for the other: neither area nor seams, narrowest strip, or what its pieces fit."""
    better = one.area <= other.area and one.seam <= other.seam and one.narrowest >= other.narrowest
    return better and fits_inside(one.pieces, other.pieces)


def _layout(number: int, laying: _Laying, order: dict[str, int], settings: LayoutSettings) -> Layout:
    """A layout with letters: one for each size, in the order met, and copies numbered."""
    letters: dict[tuple[int, int], str] = {}
    copies: dict[str, int] = {}

    def lettered(strip: PlacedStrip) -> PlacedStrip:
        size = strip.width_mm, strip.length_mm
        letter = letters.setdefault(size, letter_of(len(letters)))
        copies[letter] = copies.get(letter, 0) + 1
        return replace(strip, label=letter, number=copies[letter])

    lawns = sorted(laying.lawns, key=lambda lawn: order[lawn.lawn])
    named = tuple(replace(lawn, strips=tuple(lettered(strip) for strip in lawn.strips)) for lawn in lawns)
    seams = (seam for lawn in named for seam in lawn.seams)
    return Layout(str(number), named, seam_cost(seams, settings), laying.either_way)


def letter_of(number: int) -> str:
    """A, B, … Z, AA, AB, …, counted from 0."""
    text = ""
    number += 1
    while number:
        number, letter = divmod(number - 1, 26)
        text = chr(ord("A") + letter) + text
    return text
