"""Yards put together by hand for the estimator's tests, and what cutting costs when every way is gone through."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache

from builders import is_full, worth
from every_way_to_cut import ExactCuts, Ground, Prices

from stockplan.domain.cover_promise import Item, Load, LoadDrop, LoadLane
from stockplan.domain.cover_source import Source, source_of
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Pieces, Size, in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import StockForm, StockItem, SupplyForm

WIDEST = 4000
PENCE = 6  # one a leftover: worth is rounded down leftover by leftover
LAYOUT = LayoutSettings(free_side_mm=0, selvedge_mm=0, least_narrow_mm=500, warn_narrow_mm=500)


def lying(tag: str, width: int, length: int, batch: str = "B1", form: str = "offcut", pence: int = 1000) -> Source:
    """Something in the yard."""
    return source_of(StockItem(tag, "G30", batch, StockForm(form), width, length, "A1", pence), WIDEST)


def loaded(source: Source, *items: Item, here: bool = True) -> Load:
    """Something that a plan cuts into drops of one piece each, in this order."""
    drops = tuple(LoadDrop(item[1][1], (LoadLane(item[1][0], (item,)),)) for item in items)
    return Load(source, 3, drops, here)


def whole(source: Source) -> bool:
    """Whether it is worth what it cost."""
    return source.form in (StockForm.ROLL, SupplyForm.ROLL, SupplyForm.CUT_LENGTH)


@cache
def exact_cost(source: Source, pieces: Pieces, costs: CostSettings) -> float:
    """Every way to cut, on a grid of half a metre; infinite where there is none."""
    if any(width > source.width_mm or length > source.length_mm for width, length in pieces):
        return math.inf
    if sum(width * length for width, length in pieces) > source.width_mm * source.length_mm:
        return math.inf
    prices = Prices(costs.crosscut_pence, costs.rip_pence, WIDEST, True)
    pence = Fraction(source.cost.pence * 1_000_000, source.cost.area_mm2)
    full = is_full(source.width_mm, source.on_core, WIDEST)
    touch = pence * source.width_mm * source.length_mm / 1_000_000
    before = math.floor(touch) if whole(source) else worth(source.width_mm, source.length_mm, full, pence)
    ground = Ground(source.width_mm, source.length_mm, before, pence, source.on_core)
    return ExactCuts(ground, prices).cost(in_order(pieces)[::-1])


def kept_cost(load: Load, lifted: tuple[Item, ...], costs: CostSettings) -> tuple[int, list[tuple[Size, bool, int]]]:
    """What a load of one piece a drop costs without some of them, and what it leaves: size, on core, worth."""
    source = load.source
    pence = Fraction(source.cost.pence * 1_000_000, source.cost.area_mm2)
    stays = list(load.items())
    for item in lifted:
        stays.remove(item)
    if not stays:
        return 0, [((source.width_mm, source.length_mm), source.on_core, source.touch_pence)]
    cuts, tail, left = 0, source.length_mm, []
    for _, (width, length) in stays:
        tail -= length
        cuts += costs.crosscut_pence if tail else 0
        if width < source.width_mm:
            cuts += costs.rip_pence
            left.append(((source.width_mm - width, length), False))
    if tail:
        left.append(((source.width_mm, tail), source.on_core))
    worths = [(size, core, worth(*size, is_full(size[0], core, WIDEST), pence)) for size, core in left]
    return source.touch_pence + cuts - sum(one[2] for one in worths), worths
