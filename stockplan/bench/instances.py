"""Published cutting-stock instances: read from JSON, and stated as plans asked for.

A file holds one instance or a list of them: `{"name", "stock": [{"width", "height" or "length", "cost", "copies"}],
"items": [{"width", "height" or "length", "demand"}]}`. `copies` null means without end, `cost` null that sheets are
counted. What is published of them is read by `known_values.py`.

How they are stated:

- One unit of length is one millimetre. An instance with one dimension becomes full-width strips.
- Sheets without end are rolls on offer, sheets with a number of copies are rolls in the yard, all of one batch. Cuts
  cost nothing and leftovers are worth nothing.
- Every size is a job of its own; with one batch that binds nothing.
- The greatest amount of which all costs are whole multiples is one `STEP`, 100.00, so a sheet costs what a roll of
  grass might. Every plan costs whole steps, so the planner's bound is rounded up to the next one here, and the search
  is stopped once that meets the cost. A penny a sheet would leave the rounding to the planner, but would also let the
  thousandth of a penny that it charges a purchase to break ties weaken its bound by a hundredth.
- The first cut is across the roll. With `along="width"` the instance's width runs along it, so published figures for a
  vertical first cut compare; `"height"` swaps the two for those with a horizontal one. A figure for whichever first cut
  is better compares with a plan's cost either way, and not with a bound.
- Three stages and a trim ('3-stage non-exact') are what the planner cuts. Plans in two stages can be cut so too, so
  their costs compare; what no plan in two stages can undercut, one in three may.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import gcd
from pathlib import Path
from typing import Any, Literal

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import stock_worth

GRASS = "published"
TODAY = date(2026, 1, 5)
LAID = TODAY + timedelta(days=7)
STEP = 100_00  # pence
STRIP_WIDTH = 1000  # of an instance with one dimension; any would do

Along = Literal["width", "height"]


class NotStated(Exception):
    """Raised when an instance cannot be put in the planner's terms; the message says why."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A size to cut from.

    Parameters
    ----------
    width, height
        In units of the instance; height is None when there is one dimension, and width is then the length.
    cost
        None when sheets are counted.
    copies
        None when without end.
    """

    width: int
    height: int | None
    cost: Fraction | None
    copies: int | None


@dataclass(frozen=True, slots=True)
class Instance:
    """A published instance.

    Parameters
    ----------
    name
        As published.
    sheets
        What to cut from.
    demands
        Width, height (None with one dimension) and how many.
    optimum
        Where the file itself holds it.
    """

    name: str
    sheets: tuple[Sheet, ...]
    demands: tuple[tuple[int, int | None, int], ...]
    optimum: Fraction | None = None

    @property
    def pieces(self) -> int:
        """How many pieces are asked for."""
        return sum(count for _, _, count in self.demands)

    @property
    def flat(self) -> bool:
        """Whether it has two dimensions."""
        return any(sheet.height is not None for sheet in self.sheets)


@dataclass(frozen=True, slots=True)
class Stated:
    """An instance in the planner's terms.

    Parameters
    ----------
    request
        The plan asked for.
    unit
        What a `STEP` of it is in the instance's own units of cost.
    """

    request: PlanRequest
    unit: Fraction


def read_instances(file: Path) -> list[Instance]:
    """Read every instance of a file.

    Raises
    ------
    ValueError, KeyError
        When the file is not in the form described above.
    """
    document = json.loads(file.read_text(encoding="utf-8"))
    return [_instance(record) for record in (document if isinstance(document, list) else [document])]


def _instance(record: Mapping[str, Any]) -> Instance:
    optimum = record.get("optimum")
    return Instance(
        name=record["name"],
        sheets=tuple(
            Sheet(*_sides(sheet), None if sheet["cost"] is None else Fraction(str(sheet["cost"])), sheet["copies"])
            for sheet in record["stock"]
        ),
        demands=tuple(_demand(item) for item in record["items"]),
        optimum=None if optimum is None else Fraction(str(optimum)),
    )


def _sides(thing: Mapping[str, Any]) -> tuple[int, int | None]:
    if "length" in thing:
        return thing["length"], None
    return thing["width"], thing["height"]


def _demand(item: Any) -> tuple[int, int | None, int]:
    """A demand, written in full or, with one dimension, as length and count."""
    if isinstance(item, list):
        length, count = item
        return length, None, count
    return (*_sides(item), item["demand"])


def state(instance: Instance, along: Along = "width") -> Stated:
    """Put an instance in the planner's terms.

    Parameters
    ----------
    instance
        The instance.
    along
        Which of its sides runs along the roll.

    Raises
    ------
    NotStated
        When lengths are no whole numbers or a cost cannot be kept to the penny.
    """
    _refuse_fractions(instance)
    unit = _unit(instance.sheets)
    supply, stock = [], []
    for number, sheet in enumerate(instance.sheets):
        across_mm, along_mm = _turned(sheet.width, sheet.height, along)
        pence = STEP * int((sheet.cost if sheet.cost is not None else Fraction(1)) / unit)
        if sheet.copies is None:
            supply.append(SupplyOption(GRASS, "published", SupplyForm.ROLL, across_mm, along_mm, pence, 1))
        else:
            tags = (f"{number + 1}-{copy + 1}" for copy in range(sheet.copies))
            stock += [_in_the_yard(tag, across_mm, along_mm, pence) for tag in tags]
    jobs = []
    for number, (width, height, count) in enumerate(instance.demands):
        strip = Strip("A", *_turned(width, height, along), count)
        jobs.append(Job(f"{number + 1:04d}", "", GRASS, LAID, "", BatchRule.ONE, (strip,)))
    request = PlanRequest(
        window=Window(LAID, LAID),
        today=TODAY,
        products=(Product(GRASS, instance.name, 1),),
        supply=tuple(supply),
        stock=tuple(stock),
        jobs=tuple(jobs),
        costs=CostSettings(crosscut_pence=0, rip_pence=0, leftovers_have_worth=False),
    )
    return Stated(request, unit)


def _turned(width: int, height: int | None, along: Along) -> tuple[int, int]:
    """Size across and along the roll."""
    if height is None:
        return STRIP_WIDTH, width
    return (height, width) if along == "width" else (width, height)


def _refuse_fractions(instance: Instance) -> None:
    sizes = [side for sheet in instance.sheets for side in (sheet.width, sheet.height)]
    sizes += [side for width, height, _ in instance.demands for side in (width, height)]
    broken = [size for size in sizes if size is not None and not isinstance(size, int)]
    if broken:
        raise NotStated(f"size {broken[0]} is no whole number")


def _unit(sheets: Iterable[Sheet]) -> Fraction:
    """The greatest amount of which every cost is a whole multiple."""
    costs = [sheet.cost if sheet.cost is not None else Fraction(1) for sheet in sheets]
    below = 1
    for cost in costs:
        below = below * cost.denominator // gcd(below, cost.denominator)
    return Fraction(gcd(*(int(cost * below) for cost in costs)), below)


def _in_the_yard(tag: str, across_mm: int, along_mm: int, pence: int) -> StockItem:
    """An unopened roll that is worth just what the sheet costs."""
    rate = -(-pence * MM2_PER_M2 // (across_mm * along_mm))
    item = StockItem(tag, GRASS, "one", StockForm.ROLL, across_mm, along_mm, "", rate)
    if stock_worth(item, across_mm) != pence:
        raise NotStated(f"a cost of {pence} cannot be kept to the penny on a sheet of {across_mm} × {along_mm}")
    return item
