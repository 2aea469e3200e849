"""Tiny whole problems, solved by going through every assignment and every way to cut.

Worth is rounded down leftover by leftover and the planner may cut where `every_way_to_cut` does not, so the two may
differ by a few pence; everything else is exact.
"""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import pytest
from every_way_to_cut import WholeProblem
from small_problems import GRASS, a_little_smaller, cut_lengths, item, job, problem, rolls, sound_plan

from stockplan.cutting.ascent import first_price
from stockplan.cutting.bounds import lagrangian_bound
from stockplan.cutting.boxed import Boxed
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.pricers import Pricers
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import PlanStatus, ProductPlan
from stockplan.domain.request import CostSettings, PlanRequest, SearchLimits
from stockplan.domain.stock import StockForm, StockItem, SupplyOption

PENCE = 4
LIMITS = SearchLimits(seconds=20, work=120)


def random_stock(random: Random, number: int) -> StockItem:
    form = random.choice([StockForm.OFFCUT, StockForm.OFFCUT, StockForm.PART_ROLL, StockForm.ROLL])
    width = 500 * random.randint(2, 6) if form is StockForm.OFFCUT else random.choice([2000, 3000])
    length = 500 * random.randint(2, 10)
    batch = random.choice(["B1", "B1", "B2", ""])
    return item(f"T{number}", f"{width}x{length}", batch, form.value, random.choice([0, 700, 1000, 1010]))


def random_job(random: Random, number: int, pieces: int) -> Job:
    sizes = [f"{500 * random.randint(1, 6)}x{500 * random.randint(2, 8)}" for _ in range(pieces)]
    rule = BatchRule.ANY if random.random() < 0.3 else BatchRule.ONE
    return job(f"J{number}", " ".join(sizes), rule=rule, day=random.randint(0, 3))


def random_supply(random: Random) -> list[SupplyOption]:
    kind = random.randint(0, 3)
    lead = random.choice([3, 3, 3, 8])
    if kind == 0:
        return []
    if kind == 1:
        return [cut_lengths(f"3000x{500 * random.randint(4, 8)}", 200 * random.randint(10, 20), lead)]
    return [rolls(f"{random.choice([2000, 3000])}x{500 * random.randint(4, 12)}", random.randint(5000, 20000), lead)]


def random_request(seed: int) -> PlanRequest:
    """One to three jobs of at most five pieces, up to three stock items in up to three batches, perhaps one offer."""
    random = Random(seed)
    jobs, left = [], 5
    for number in range(random.randint(1, 3)):
        pieces = random.randint(1, min(3, left)) if left else 0
        left -= pieces
        if pieces:
            jobs.append(random_job(random, number, pieces))
    stock = [random_stock(random, n) for n in range(random.randint(0, 3))]
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]), random.random() < 0.85)
    return problem(jobs, stock, random_supply(random), costs)


def pieces_short(planned: ProductPlan) -> int:
    return sum(shortfall.count for shortfall in planned.short)


def brackets_the_best(seed: int) -> bool:
    """Judge one problem; True when the best there is was found."""
    request = random_request(seed)
    (planned,) = sound_plan(request, LIMITS).products
    best = WholeProblem(request).solve()
    assert pieces_short(planned) >= best.pieces_short, seed
    if pieces_short(planned) > best.pieces_short:
        return False
    assert planned.lower_bound_pence <= best.net_cost, seed
    assert best.net_cost <= planned.net_cost_pence + PENCE, seed
    if planned.status is PlanStatus.OPTIMAL:
        assert planned.net_cost_pence <= best.net_cost, seed
    return planned.net_cost_pence <= best.net_cost


@pytest.mark.parametrize("block", range(5))
def test_as_many_pieces_are_covered_as_can_be(block: int) -> None:
    for seed in range(20 * block, 20 * block + 20):
        request = random_request(seed)
        (planned,) = sound_plan(request, SearchLimits(seconds=20, work=30)).products
        assert pieces_short(planned) == WholeProblem(request).solve().pieces_short, seed


@pytest.mark.parametrize("block", range(10))
def test_bound_and_cost_bracket_the_best_of_all_plans(block: int) -> None:
    found = [brackets_the_best(seed) for seed in range(20 * block, 20 * block + 20)]
    assert sum(found) >= 16, "problems as small as these are nearly all solved to the best there is"


@pytest.mark.slow
def test_bound_and_cost_bracket_the_best_of_all_plans_many_times() -> None:
    found = [brackets_the_best(seed) for seed in range(1000, 1600)]
    assert sum(found) >= 0.9 * len(found)


@pytest.mark.parametrize("block", range(4))
def test_at_any_prices_the_bound_from_prices_is_below_the_best(block: int) -> None:
    """Prices good or bad, purchases that would gain among them: the bound may be poor, but never wrong."""
    for seed in range(25 * block, 25 * block + 25):
        request, random = random_request(seed), Random(seed)
        best = WholeProblem(request).solve()
        instance = build_instance(request, GRASS)
        per_piece = instance.penalties[0] / instance.jobs[0].piece_count
        most = best.net_cost + best.pieces_short * per_piece
        pricers = Pricers(instance).each
        for scale in (300, 1500, 4000):
            prices = {
                t: random.uniform(0, scale) * t.width_mm * t.length_mm / 1_000_000 for t in instance.piece_types()
            }
            priced = [one for pricer in pricers for one in pricer.price(prices)]
            assert lagrangian_bound(instance, prices, priced) <= most + PENCE, seed


@pytest.mark.parametrize("block", range(4))
def test_of_sizes_to_the_millimetre_the_bound_is_below_the_best_and_not_far(block: int) -> None:
    """Cuts off the steps are not tried, so that the least cost found may be above the least there is."""
    near = tried = 0
    for seed in range(25 * block, 25 * block + 25):
        request = a_little_smaller(random_request(seed), Random(seed))
        best = WholeProblem(request).solve()
        instance = build_instance(request, GRASS)
        pricers = Pricers(instance)
        if best.pieces_short or pricers.exact:
            continue
        prices = {t: first_price(instance, t) for t in instance.piece_types()}
        boxed = Boxed(instance, pricers, prices, Budget(math.inf), share=0.5)
        boxed.run(lambda _: None)
        assert boxed.bound <= best.net_cost + PENCE, seed
        tried += 1
        near += boxed.bound >= 0.5 * best.net_cost
    assert tried > 4
    assert near >= tried / 3


def test_going_through_every_plan_agrees_with_a_sum_by_hand() -> None:
    # A roll of 3 × 4 m at 10.00 a m² is worth 120.00; two pieces of 1.5 × 2 m come off one drop of 2 m with a crosscut
    # and a rip; the tail of 3 × 2 m on its core keeps 0.825 of 60.00.
    request = problem([job("J1", "1500x2000*2")], [item("T1", "3000x4000", form="roll")])
    best = WholeProblem(request).solve()
    assert (best.pieces_short, best.net_cost) == (0, 12_000 + 200 + 300 - 4_950)
    (planned,) = sound_plan(request).products
    assert planned.net_cost_pence == best.net_cost
    twice = replace(request, jobs=(job("J1", "1500x2000*5"),))
    assert WholeProblem(twice).solve().pieces_short == 5
