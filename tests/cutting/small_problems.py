"""Small planning problems typed short, and a planner call that lets no unsound plan through."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from random import Random
from typing import TypeVar

from stockplan.cutting.planner import plan_cuts
from stockplan.domain.check import check
from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import Plan
from stockplan.domain.request import CostSettings, PlanRequest, SearchLimits
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

GRASS = "G30"
Sized = TypeVar("Sized", Strip, StockItem)
TODAY = date(2026, 11, 23)
MONDAY = date(2026, 11, 30)
NO_CUTTING = CostSettings(crosscut_pence=0, rip_pence=0)
BOUGHT_ONLY = CostSettings(crosscut_pence=0, rip_pence=0, leftovers_have_worth=False)
QUICK = SearchLimits(seconds=5, work=60)


def job(code: str, strips: str, *, rule: BatchRule = BatchRule.ONE, day: int = 0, product: str = GRASS) -> Job:
    """A job from text: `4000x3000*2 1500x2000` wants two strips of 4 × 3 m and one of 1.5 × 2 m; `day` after Monday."""
    wanted = []
    for number, text in enumerate(strips.split()):
        size, _, count = text.partition("*")
        width, _, length = size.partition("x")
        wanted.append(Strip(f"S{number + 1}", int(width), int(length), int(count or 1)))
    return Job(code, "Larch Row", product, MONDAY + timedelta(days=day), "house", rule, tuple(wanted))


def item(tag: str, size: str, batch: str = "B1", form: str = "offcut", pence: int = 1000) -> StockItem:
    """A stock item of `width x length` in mm."""
    width, _, length = size.partition("x")
    return StockItem(tag, GRASS, batch, StockForm(form), int(width), int(length), "north", pence)


def rolls(size: str, pence: int, lead_days: int = 3) -> SupplyOption:
    """Whole rolls on offer."""
    width, _, length = size.partition("x")
    return SupplyOption(GRASS, "Fernlea Mills", SupplyForm.ROLL, int(width), int(length), pence, lead_days)


def cut_lengths(size: str, pence_per_metre: int, lead_days: int = 3) -> SupplyOption:
    """Cut lengths on offer, up to a length."""
    width, _, length = size.partition("x")
    return SupplyOption(GRASS, "Ashcombe", SupplyForm.CUT_LENGTH, int(width), int(length), pence_per_metre, lead_days)


def problem(
    jobs: Iterable[Job],
    stock: Iterable[StockItem] = (),
    supply: Iterable[SupplyOption] = (),
    costs: CostSettings | None = None,
) -> PlanRequest:
    """A request of one grass over a fortnight from Monday, asked for a week before."""
    return PlanRequest(
        window=Window(MONDAY, MONDAY + timedelta(days=13)),
        today=TODAY,
        products=(Product(GRASS, "thirty millimetres", 2500),),
        supply=tuple(supply),
        stock=tuple(stock),
        jobs=tuple(jobs),
        costs=costs or CostSettings(),
    )


def a_little_smaller(request: PlanRequest, random: Random) -> PlanRequest:
    """The same with every size of a strip or a stock item up to 9 mm less, so that none lies on a coarse grid."""

    def smaller(thing: Sized) -> Sized:
        less = random.randint(0, 9), random.randint(0, 9)
        return replace(thing, width_mm=thing.width_mm - less[0], length_mm=thing.length_mm - less[1])

    jobs = tuple(replace(one, strips=tuple(map(smaller, one.strips))) for one in request.jobs)
    return replace(request, jobs=jobs, stock=tuple(map(smaller, request.stock)))


def sound_plan(request: PlanRequest, limits: SearchLimits = QUICK) -> Plan:
    """The planner's answer, which the independent checker must find nothing wrong with."""
    plan = plan_cuts(request, limits)
    faults = [str(violation) for violation in check(request, plan)]
    assert not faults, "\n".join(faults)
    return plan
