"""Stock cut up at random and the pieces asked back: a plan is in hand before the planner begins."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import pytest
from builders import Case, DropSpec, Want, build
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_cases import Pick, random_cuts
from small_problems import GRASS, MONDAY, TODAY, item, problem, rolls
from strategies import picker, sound_cases

from stockplan.cutting.planner import plan_cuts
from stockplan.domain.check import check
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan import Order, Plan, PlanStatus
from stockplan.domain.request import CostSettings, SearchLimits
from stockplan.domain.stock import StockForm, SupplyForm

OFFER = rolls("4000x6000", 24_000)


def coarse(pick: Pick) -> Pick:
    """Sizes in steps of 300 mm, or all there is, so that a plan takes a moment; small numbers as they come."""

    def picked(first: int, last: int) -> int:
        if last - first <= 100:
            return pick(first, last)
        return min(last, -(-pick(first, last) // 300) * 300)

    return picked


def asked_back(pick: Pick, batch: str, wants: list[Want], jobs: list[Job]) -> None:
    """Turn the pieces of a batch into one or two jobs that want one batch."""
    shares: dict[str, list[Want]] = {}
    for want in wants:
        want.job = f"{batch}-{pick(1, 2)}"
        shares.setdefault(want.job, []).append(want)
    for code, share in sorted(shares.items()):
        strips = []
        for number, want in enumerate(share):
            want.strip, want.number = f"S{number}", 1
            strips.append(Strip(want.strip, want.width_mm, want.length_mm))
        jobs.append(Job(code, "somewhere", GRASS, MONDAY, "house", BatchRule.ONE, tuple(strips)))


def small_case(pick: Pick) -> Case:
    """One to three stock items in two batches, perhaps a roll bought; every piece cut from them is asked back."""
    pick = coarse(pick)
    stock = []
    for number in range(pick(1, 3)):
        form = list(StockForm)[pick(0, 2)]
        width = pick(600, 4000) if form is StockForm.OFFCUT else 2000 * pick(1, 2)
        stock.append(item(f"T{number}", f"{width}x{pick(1000, 6000)}", f"B{pick(1, 2)}", form.value, pick(500, 1500)))
    orders = [bought_roll("new-1")] if pick(0, 1) else []
    specs: dict[str, list[DropSpec]] = {}
    wants: dict[str, list[Want]] = {}
    for held in stock:
        specs[held.tag] = random_cuts(pick, held.width_mm, held.length_mm)
        wants.setdefault(held.batch, []).extend(w for _, lanes in specs[held.tag] for _, ws in lanes for w in ws)
    for order in orders:
        specs[order.key] = random_cuts(pick, order.width_mm, order.length_mm)
        wants["new"] = [w for _, lanes in specs[order.key] for _, ws in lanes for w in ws]
    jobs: list[Job] = []
    for batch, group in sorted(wants.items()):
        asked_back(pick, batch, group, jobs)
    costs = CostSettings(100 * pick(0, 2), 100 * pick(0, 3), pick(0, 3) > 0)
    return build(problem(jobs, stock, [OFFER], costs), specs, orders)


def bought_roll(key: str) -> Order:
    arrives: date = MONDAY - timedelta(days=1)
    order_by = arrives - timedelta(days=OFFER.lead_days)
    assert order_by >= TODAY
    size = (OFFER.width_mm, OFFER.length_mm)
    return Order(key, GRASS, OFFER.supplier, SupplyForm.ROLL, *size, OFFER.price_pence, order_by, arrives)


def judge(known: Plan, planned: Plan) -> None:
    """The bound holds for the plan in hand, which leaves nothing short."""
    for one, found in zip(known.products, planned.products, strict=True):
        assert found.lower_bound_pence <= one.net_cost_pence
        if found.status is PlanStatus.OPTIMAL:
            assert found.net_cost_pence <= one.net_cost_pence


@st.composite
def small_cases(draw: st.DrawFn) -> Case:
    return small_case(picker(draw))


@given(small_cases())
@settings(max_examples=8, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
def test_no_plan_in_hand_undercuts_the_bound(case: Case) -> None:
    planned = plan_cuts(case.request, SearchLimits(seconds=3, work=150))
    assert check(case.request, planned) == ()
    judge(case.plan, planned)


@given(sound_cases())
@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
def test_sizes_to_the_millimetre_are_planned_soundly(case: Case) -> None:
    assert check(case.request, plan_cuts(case.request, SearchLimits(seconds=10, work=12))) == ()


@pytest.mark.slow
def test_no_plan_in_hand_undercuts_the_bound_many_times() -> None:
    for seed in range(40):
        case = small_case(Random(seed).randint)
        planned = plan_cuts(case.request, SearchLimits(seconds=3, work=400))
        assert check(case.request, planned) == (), seed
        judge(case.plan, planned)
