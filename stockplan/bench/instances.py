"""Published cutting-stock instances: read from JSON, and stated as plans asked for.

A file holds one instance or a list of them: `{"name", "stock": [{"width", "height" or "length", "cost", "copies"}],
"items": [{"width", "height" or "length", "demand"}]}`. `copies` null means without end, `cost` null that sheets are
counted. Beside the folder may stand `known_values.csv` with the columns family (the folder's name), instance,
objective_meaning, known_optimum_or_LB, UB, source.

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

import csv
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
SIDES: tuple[Along, ...] = ("width", "height")


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


@dataclass(frozen=True, slots=True)
class Known:
    """What is published for a way of cutting that compares with the planner's.

    Parameters
    ----------
    lower, upper
        No plan costs less than the first, some plan costs the second; None where nothing is published.
    same_side
        Whether the second is known to have its first cut where the planner's plan has it, so that no bound of the
        planner's may be above it; default True.
    """

    lower: Fraction | None
    upper: Fraction | None
    same_side: bool = True

    def words(self) -> str:
        """The value, or the range it lies in."""
        if self.lower is not None and self.upper is not None and self.lower != self.upper:
            return f"{self.lower} to {self.upper}"
        if self.upper is not None:
            return f"{self.upper}" if self.lower is not None else f"at most {self.upper}"
        return "-" if self.lower is None else f"at least {self.lower}"


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


class KnownValues:
    """Published values of one family of instances.

    Parameters
    ----------
    rows
        Rows of `known_values.csv` that belong to the family.
    """

    def __init__(self, rows: Iterable[Mapping[str, str]]) -> None:
        self.rows = [dict(row) for row in rows]

    @classmethod
    def of(cls, folder: Path) -> KnownValues:
        """Read what stands beside a folder of instances; empty when there is no such file."""
        file = folder.resolve().parent / "known_values.csv"
        if not file.is_file():
            return cls([])
        with file.open(encoding="utf-8-sig", newline="") as opened:
            return cls(row for row in csv.DictReader(opened) if row["family"] == folder.resolve().name)

    def another_aim(self) -> str:
        """What the family asks for when it is not to cover every demand at the least cost; else empty."""
        aims = {row["objective_meaning"].split(";")[0] for row in self.rows}
        others = sorted(aim for aim in aims if not aim.startswith("min"))
        return others[0] if others and len(others) == len(aims) else ""

    def along(self, instance: Instance) -> Along:
        """Which side to run along the roll: the width, unless figures are published for a horizontal first cut only."""
        published = {side: self.known(instance, side).upper is not None for side in SIDES}
        return "height" if instance.flat and published["height"] and not published["width"] else "width"

    def known(self, instance: Instance, along: Along) -> Known:
        """What compares with the planner's three stages and a trim, the first cut across the roll.

        Plans in fewer stages can be cut in three, so their cost compares and their bound does not.
        """
        lowers, uppers, either = ([instance.optimum] if instance.optimum is not None else [] for _ in range(3))
        for row in self.rows:
            if row["instance"] != instance.name:
                continue
            if _compares(row, flat=instance.flat, along=along):
                if row["UB"]:
                    uppers.append(Fraction(row["UB"]))
                if row["known_optimum_or_LB"] and _bounds_ours(row, flat=instance.flat):
                    lowers.append(Fraction(row["known_optimum_or_LB"]))
            elif row["UB"] and _first_cut_is_free(row):
                either.append(Fraction(row["UB"]))
        upper = min(uppers, default=None)
        best = min([*uppers, *either], default=None)
        return Known(max(lowers, default=None), best, same_side=upper == best)


def _compares(row: Mapping[str, str], *, flat: bool, along: Along) -> bool:
    aim = row["objective_meaning"].lower()
    if not aim.startswith("min") or "non-guillotine" in aim:
        return False
    first_cut = "first cut " + ("vertical" if along == "width" else "horizontal")
    return not flat or first_cut in aim


def _first_cut_is_free(row: Mapping[str, str]) -> bool:
    aim = row["objective_meaning"].lower()
    return aim.startswith("min") and "non-guillotine" not in aim and "any first cut" in aim


def _bounds_ours(row: Mapping[str, str], *, flat: bool) -> bool:
    aim, source = row["objective_meaning"].lower(), row["source"].lower()
    three_stages = "3-stage non-exact" in aim and "homogenous" not in aim + source
    return not flat or three_stages
