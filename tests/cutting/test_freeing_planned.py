"""What the estimator says that freeing costs, against plans made of the same jobs and things by the planner."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest
from estimator_yards import WIDEST, kept_cost, loaded

from stockplan.cutting import plan_cuts
from stockplan.domain.cover import Question
from stockplan.domain.cover_freeing import FreeingSearch
from stockplan.domain.cover_promise import Item, Load, PromisedJob, drops_of
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import purchase, source_of
from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.pieces import Size
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import CostSettings, Pin, PlanRequest, SearchLimits
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

TODAY = date(2026, 11, 26)
LAST = TODAY + timedelta(days=9)
# Bought full width, so that every yard knows the width of the widest roll.
ROLLS = SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, WIDEST, 6000, 24_000, 4)
LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, WIDEST, 4000, 5500, 2)


def item(random: Random, tag: str) -> StockItem:
    form = random.choice([StockForm.OFFCUT, StockForm.PART_ROLL, StockForm.ROLL])
    width = 500 * random.randint(2, 6) if form is StockForm.OFFCUT else WIDEST
    batch, pence = random.choice(["B1", "B2"]), random.choice([900, 1000, 1200])
    return StockItem(tag, "G30", batch, form, width, 500 * random.randint(3, 10), "A1", pence)


def promised(random: Random, lying: StockItem) -> Iterator[Item]:
    """Pieces of two jobs, one behind the other."""
    left = lying.length_mm
    for code in ("J1", "J1", "J2"):
        size = (500 * random.randint(1, lying.width_mm // 500), 500 * random.randint(1, 4))
        if size[1] <= left:
            left -= size[1]
            yield code, size


def best_plan(
    stock: tuple[StockItem, ...], jobs: tuple[Job, ...], costs: CostSettings, pins: tuple[Pin, ...] = ()
) -> ProductPlan | None:
    """The best plan there is for some jobs; None where some are short, or it is not proven."""
    request = PlanRequest(
        window=Window(TODAY, LAST),
        today=TODAY,
        products=(Product("G30", "30 mm", 2500),),
        supply=(ROLLS, LENGTHS),
        stock=stock,
        jobs=jobs,
        costs=costs,
        pins=pins,
    )
    (plan,) = plan_cuts(request, SearchLimits(seconds=10)).products
    return None if plan.short or plan.lower_bound_pence < plan.net_cost_pence else plan


def question_job(size: Size) -> Job:
    return Job("Q", "", "G30", LAST, "", BatchRule.ONE, (Strip("A", *size, 1),))


def planned_pence(
    stock: tuple[StockItem, ...], load: Load, jobs: dict[str, PromisedJob], size: Size, costs: CostSettings
) -> int | None:
    """The cost of the best plan for the jobs of one thing, and the question cut from it; None when it is not proven."""
    wanted = [
        Job(
            code, "", "G30", job.lay_on, "", BatchRule.ONE if job.one_batch else BatchRule.ANY,
            tuple(Strip(f"S{place}", *one, 1) for place, (owner, one) in enumerate(load.items()) if owner == code),
        )
        for code, job in jobs.items()
    ]  # fmt: skip
    asked = (*(job for job in wanted if job.strips), question_job(size))
    plan = best_plan(stock, asked, costs, (Pin("Q", load.source.key),))
    return plan.net_cost_pence if plan else None


def judge(seed: int) -> bool:
    random = Random(seed)
    stock = tuple(item(random, f"T{number}") for number in range(random.randint(1, 4)))
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    load = loaded(source_of(stock[0], WIDEST), *promised(random, stock[0]))
    jobs = {code: PromisedJob(TODAY + timedelta(random.randint(1, 7)), random.random() < 0.7) for code in ("J1", "J2")}
    size = (500 * random.randint(1, 8), 500 * random.randint(2, 6))
    free = [source_of(one, WIDEST) for one in stock[1:]]
    question = Question((size,), ("G30",), TODAY)
    search = FreeingSearch(Desk(WIDEST, costs), [load], jobs, free, (ROLLS, LENGTHS), question)
    take = search.desk.take(load.source, (size,))
    freeing = search.freeing((take,)) if take and load.items() else None
    if take is None or freeing is None or freeing.cost_pence is None:
        return False
    best = planned_pence(stock, load, jobs, size, costs)
    if best is None:
        return False
    told = freeing.cost_pence + take.cost_pence + kept_cost(load, (), costs)[0]
    assert freeing.proven, seed
    assert told == best, (seed, told, best)
    return True


def test_freeing_costs_what_the_best_plan_costs_more_than_the_one_there_is() -> None:
    assert sum(judge(seed) for seed in range(12)) >= 6


def random_job(random: Random, code: str) -> Job:
    strips = tuple(
        Strip(f"S{place}", 500 * random.randint(1, 8), 500 * random.randint(2, 5), random.randint(1, 2))
        for place in range(random.randint(1, 2))
    )
    rule = BatchRule.ONE if random.random() < 0.8 else BatchRule.ANY
    return Job(code, "", "G30", TODAY + timedelta(random.randint(3, 7)), "", rule, strips)


def loads_of(plan: ProductPlan, stock: tuple[StockItem, ...]) -> list[Load]:
    """What a plan cuts, orders among it, which have only been drafted."""
    lying = {one.tag: source_of(one, WIDEST) for one in stock}
    orders = {}
    for order in plan.orders:
        option = ROLLS if order.form is SupplyForm.ROLL else LENGTHS
        bought = purchase(option, order.length_mm, TODAY)
        orders[order.key] = replace(bought, key=order.key, from_day=order.arrives_on)
    jobs = {piece.job for cuts in plan.cuts for piece in cuts.pieces()}
    sources = {**lying, **orders}
    return [Load(sources[one.source], 1, drops_of(one, jobs), one.source in lying) for one in plan.cuts]


def judge_planned(seed: int) -> str:
    """Free each thing of a best plan in turn."""
    random = Random(seed)
    stock = tuple(item(random, f"T{number}") for number in range(random.randint(2, 4)))
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    wanted = tuple(random_job(random, f"J{number}") for number in range(random.randint(1, 3)))
    plan = best_plan(stock, wanted, costs)
    if plan is None:
        return "none"
    loads = loads_of(plan, stock)
    sources = [load.source for load in loads]
    used = {source.key for source in sources}
    jobs = {job.code: PromisedJob(job.lay_on, job.batch_rule is BatchRule.ONE) for job in wanted}
    size = (500 * random.randint(1, 8), 500 * random.randint(2, 6))
    free = [source_of(one, WIDEST) for one in stock if one.tag not in used]
    question = Question((size,), ("G30",), TODAY)
    search = FreeingSearch(Desk(WIDEST, costs), loads, jobs, free, (ROLLS, LENGTHS), question)
    said = "none"
    for load in loads:
        take = search.desk.take(load.source, (size,)) if load.here else None
        freeing = search.freeing((take,)) if take else None
        best = best_plan(stock, (*wanted, question_job(size)), costs, (Pin("Q", load.source.key),)) if take else None
        if take is None or freeing is None or freeing.cost_pence is None or best is None:
            continue
        told = freeing.cost_pence + take.cost_pence + plan.net_cost_pence
        # What a plan leaves over can be cut again later; a plan for all at once cuts pieces out of no leftover.
        again = [*freeing.together, *(move.take for move in freeing.moves)]
        left_over = any(take.source not in sources for take in again if take.source.key in used)
        assert told >= best.net_cost_pence or left_over, (seed, load.source.key)
        concerned = {code for code, _ in load.items()} == set(jobs) and len(loads) == 1
        assert told == best.net_cost_pence or not concerned or not freeing.proven, (seed, load.source.key)
        said = "best" if told == best.net_cost_pence else "dearer"
    return said


def test_freeing_things_of_a_best_plan_is_never_told_too_cheap() -> None:
    found = [judge_planned(seed) for seed in range(6)]
    assert found.count("best") >= 2


@pytest.mark.slow
def test_freeing_costs_what_the_best_plan_costs_many_times() -> None:
    assert sum(judge(seed) for seed in range(100, 160)) >= 25
    found = [judge_planned(seed) for seed in range(100, 115)]
    assert found.count("best") >= 5
