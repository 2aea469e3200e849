"""Data as it comes: odd millimetres, nothing in the yard, nothing on offer, nothing to pay, hundreds of strips."""

from __future__ import annotations

import time
from dataclasses import replace
from random import Random

import pytest
from small_problems import (
    MONDAY,
    NO_CUTTING,
    QUICK,
    cut_lengths,
    item,
    job,
    problem,
    rolls,
    sound_plan,
)

from stockplan.cutting.planner import plan_cuts
from stockplan.domain.check import check
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import PlanStatus, ProductPlan
from stockplan.domain.request import CostSettings, PlanRequest, SearchLimits
from stockplan.domain.stock import StockForm

ROLLS = rolls("4000x25000", 110_000)


def only(request: PlanRequest, limits: SearchLimits = QUICK) -> ProductPlan:
    (product,) = sound_plan(request, limits).products
    return product


# --- nothing ----------------------------------------------------------------------------------------------------------


def test_no_jobs_no_plan() -> None:
    assert sound_plan(problem([], [item("P1", "4000x9000")], [ROLLS])).products == ()


def test_nothing_in_the_yard() -> None:
    product = only(problem([job("J1", "4000x3000*2 1500x2000")], (), [ROLLS]))
    assert product.short == ()
    assert len(product.orders) == 1


def test_nothing_on_offer() -> None:
    product = only(problem([job("J1", "4000x3000*2")], [item("P1", "4000x9000", form="part_roll")]))
    assert product.short == ()
    assert product.orders == ()


def test_neither_yard_nor_offer_leaves_everything_short_at_no_cost() -> None:
    product = only(problem([job("J1", "4000x3000*2"), job("J2", "1500x2000", rule=BatchRule.ANY)]))
    assert product.status is PlanStatus.SHORT
    assert {(s.job, s.count) for s in product.short} == {("J1", 2), ("J2", 1)}
    assert (product.net_cost_pence, product.lower_bound_pence) == (0, 0)
    assert all(s.reason for s in product.short)


def test_only_another_products_grass_is_there() -> None:
    product = only(problem([job("J1", "4000x3000", product="S20")], [item("P1", "4000x9000")], [ROLLS]))
    assert product.product == "S20"
    assert len(product.short) == 1


def test_products_are_planned_each_on_its_own_with_order_keys_that_differ() -> None:
    supply = [ROLLS, rolls("4000x25000", 90_000)]
    other = [replace(option, product="S20") for option in supply[1:]]
    jobs = [job("J1", "4000x3000"), job("K1", "4000x4000", product="S20"), job("K2", "3000x20000*2", product="S20")]
    plan = sound_plan(problem(jobs, (), [supply[0], *other]))
    assert [product.product for product in plan.products] == ["G30", "S20"]
    keys = [order.key for order in plan.orders()]
    assert len(keys) == len(set(keys)) == 3


# --- counts -----------------------------------------------------------------------------------------------------------


def test_a_job_of_forty_pieces() -> None:
    sizes = " ".join(f"{1000 + 70 * n}x{2000 + 130 * n}" for n in range(40))
    product = only(problem([job("J1", sizes)], (), [ROLLS]))
    assert product.short == ()
    assert len({piece.batch for cuts in product.cuts for piece in cuts.pieces()}) == 1


def test_two_hundred_equal_strips() -> None:
    # Eight drops of 3 m to a roll of 25 m.
    began = time.monotonic()
    product = only(problem([job("J1", "4000x3000*200")], (), [ROLLS]))
    assert time.monotonic() - began <= QUICK.seconds + 1
    assert product.short == ()
    assert len(product.orders) == 25
    assert product.lower_bound_pence <= product.net_cost_pence


def test_jobs_that_share_sizes_get_every_piece_of_their_own() -> None:
    jobs = [
        job(f"J{n}", "2000x3000*2 1500x2500 1500x2500", rule=[BatchRule.ONE, BatchRule.ANY][n % 2]) for n in range(6)
    ]
    stock = [item("P1", "4000x8000", "B1", "part_roll"), item("P2", "4000x8000", "B2", "part_roll")]
    assert only(problem(jobs, stock, [ROLLS])).short == ()


def test_many_alike_stock_items_are_each_cut_once() -> None:
    stock = [item(f"C{n:02}", "2000x3000") for n in range(20)]
    product = only(problem([job(f"J{n}", "1900x2900") for n in range(15)], stock))
    assert product.short == ()
    assert len(product.cuts) == 15


# --- millimetres ------------------------------------------------------------------------------------------------------

#   0        2000      4000
#   +---------+---------+ 0
#   |    A    |    B    |       one more millimetre across, and B must lie behind A
#   +---------+---------+ 2


@pytest.mark.parametrize(("width_mm", "beside"), [(2000, 2), (2001, 1)])
def test_a_millimetre_decides_whether_two_lie_side_by_side(width_mm: int, beside: int) -> None:
    stock = [item("P1", "4000x6000", form="part_roll")]
    product = only(problem([job("J1", f"{width_mm}x2000 2000x2000")], stock))
    assert product.short == ()
    assert [piece.along_mm for cuts in product.cuts for piece in cuts.pieces()].count(0) == beside


@pytest.mark.parametrize(("size", "short"), [("2999x3001", 0), ("3000x3001", 0), ("3001x3001", 1), ("2999x3002", 1)])
def test_a_millimetre_too_much_is_too_much(size: str, short: int) -> None:
    product = only(problem([job("J1", size)], [item("C1", "3000x3001"), item("F1", "4000x1000", "B2", "roll")]))
    assert len(product.short) == short


@pytest.mark.parametrize("seed", range(8))
def test_sizes_with_no_common_step(seed: int) -> None:
    random = Random(seed)
    sizes = [
        " ".join(f"{random.randint(301, 3970)}x{random.randint(501, 7999)}" for _ in range(random.randint(1, 4)))
        for _ in range(3)
    ]
    jobs = [job(f"J{n}", text, day=n) for n, text in enumerate(sizes)]
    stock = [
        item(f"C{n}", f"{random.randint(601, 3997)}x{random.randint(1001, 8999)}", f"B{n % 2}", pence=997)
        for n in range(4)
    ]
    supply = [rolls("3973x24970", 104_729), cut_lengths("3989x11990", 5_003)]
    assert only(problem(jobs, stock, supply), SearchLimits(seconds=5, work=40)).short == ()


#    0          2.321   3.355     two drops with a rip each, or one drop ripped once and crosscut at 10.001 m
#  0 +-------------+------+
#    |      A      |      |
#    +-------------+      |
#    |      A      |      |
# 20 +-------------+------+
@pytest.mark.parametrize("pence", [0, 1000])
def test_pieces_of_one_width_come_off_one_drop_though_sizes_have_no_common_step(pence: int) -> None:
    stock = [item("P1", "3355x34999", form="part_roll", pence=pence)]
    product = only(problem([job("J1", "2321x10001*2")], stock))
    ((cuts,), (drop,)) = product.cuts, product.cuts[0].drops
    assert (cuts.crosscuts, cuts.rips, drop.length_mm) == (2, 1, 20_002)


def test_an_offcut_wider_than_any_roll_is_full_width_and_counts() -> None:
    product = only(problem([job("J1", "4400x2000")], [item("C1", "4500x5000")], [ROLLS]))
    assert product.short == ()
    assert [left.width_mm for left in product.leftovers if left.length_mm == 3000] == [4500]


def test_an_offcut_of_twice_full_width_is_ripped_from_end_to_end() -> None:
    # 2 × 10.75 m behind the piece and 2 × 11.75 m beside it are worth 0.90 of their cost, as 4 × 10.75 m is, but not
    # 2 × 1 m: 1 rip and 1 crosscut. The narrow pieces come from T2: 2 rips, 1 crosscut.
    stock = [item("T1", "4000x11750", "B2", pence=1333), item("T2", "1750x8000", "B1")]
    jobs = [job("J1", "2000x1000"), job("J2", "750x1000*2", rule=BatchRule.ANY)]
    product = only(problem(jobs, stock, [rolls("2000x9250", 110_000)]))
    of_t1 = 4 * 11.75 - 2 * 10.75 - 2 * 11.75
    of_t2 = 1.75 * 8 * 0.446875 - 1.75 * 7 * 0.446875
    assert product.net_cost_pence == pytest.approx(0.90 * 1333 * of_t1 + 1000 * of_t2 + 3 * 300 + 2 * 200, abs=3)
    assert product.status is PlanStatus.OPTIMAL


@pytest.mark.slow
def test_pieces_of_a_few_millimetres() -> None:
    assert only(problem([job("J1", "7x9*3 11x13")], [item("C1", "4000x5003")])).short == ()


# --- money ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("costs", [CostSettings(), NO_CUTTING, CostSettings(0, 0, leftovers_have_worth=False)])
def test_stock_that_cost_nothing(costs: CostSettings) -> None:
    stock = [item("P1", "4000x9000", form="part_roll", pence=0), item("C1", "2000x3000", "B2", pence=0)]
    product = only(problem([job("J1", "4000x3000 1500x2000")], stock, [ROLLS], costs))
    assert product.short == ()
    assert product.orders == ()


@pytest.mark.parametrize("costs", [CostSettings(), NO_CUTTING, CostSettings(0, 0, leftovers_have_worth=False)])
def test_grass_that_is_given_away(costs: CostSettings) -> None:
    supply = [rolls("4000x25000", 0), cut_lengths("4000x10000", 0)]
    product = only(problem([job("J1", "4000x3000 1500x2000"), job("J2", "4000x6000*3")], (), supply, costs))
    assert product.short == ()
    assert product.net_cost_pence == product.cutting_cost_pence


def test_one_penny_a_metre() -> None:
    product = only(problem([job("J1", "4000x3050 1500x2000")], (), [cut_lengths("4000x9000", 1)]))
    assert product.short == ()


#    0       0.6      1.2         2.0       the least that is sold is 1 m: left as long as that, what lies beside the
#  0 +--------+--------+-----------+        two is kept; 28.10 for the metre, 2 rips, 2 crosscuts, less
#    |   J1   |   J1   |   kept    |        0.8 m² at 14.05 · (0.25 + 0.45 · 0.8 / 4) · (0.6 + 0.4 · 1 / 6)
# 0.7+--------+--------+           |
#  1 +--------+--------+-----------+
def test_what_lies_beside_pieces_shorter_than_the_least_that_is_sold_is_kept() -> None:
    product = only(problem([job("J1", "600x700*2")], (), [cut_lengths("2000x1000", 2810)]))
    assert product.net_cost_pence == 2810 + 2 * 300 + 2 * 200 - 254
    assert product.status is PlanStatus.OPTIMAL


#    0  0.5 1.0 1.5 2.0     4.0    all in one drop of 3.5 m, a crosscut behind it and one behind B; or in two,
#  0 +---+-------------------+     of which the second ends where the grass does: 4 rips either way
#    | B |                   |
#  2 +---+---+---+-----------+
#    | A | A | A |           |
# 5.5+---+---+---+-----------+
def test_a_second_drop_that_ends_where_worthless_grass_does_saves_a_crosscut() -> None:
    costs = CostSettings(leftovers_have_worth=False)
    stock = [item("P1", "4000x5500", form="part_roll", pence=1000)]
    product = only(problem([job("J1", "500x3500*3 500x2000")], stock, costs=costs))
    assert product.net_cost_pence == 22_000 * 90 // 100 + 4 * 300 + 200
    assert product.status is PlanStatus.OPTIMAL


def test_very_dear_grass() -> None:
    product = only(problem([job("J1", "4000x3000*2")], (), [rolls("4000x25000", 900_000_000)]))
    assert product.short == ()


def test_very_dear_rolls_beside_grass_for_a_penny() -> None:
    stock = [item("T1", "1000x500"), item("T2", "500x5500"), item("T3", "2000x1000", "B2", "roll", 1333)]
    jobs = [job("J1", "1500x3000 2000x6000"), job("J2", "2000x3000")]
    supply = [rolls("3970x9000", 10**9), rolls("3970x7500", 64_625), cut_lengths("2000x2150", 1)]
    product = only(problem(jobs, stock, supply, CostSettings(0, 0, leftovers_have_worth=False)))
    assert product.net_cost_pence == 2 * 64_625


# --- dates and names --------------------------------------------------------------------------------------------------


def test_no_lead_days_but_the_job_is_laid_today() -> None:
    request = problem([job("J1", "4000x3000")], (), [rolls("4000x25000", 110_000, lead_days=0)])
    late = PlanRequest(request.window, MONDAY, request.products, request.supply, request.stock, request.jobs)
    assert len(only(late).short) == 1
    assert only(request).short == ()


#    P1 (batch 'unknown (C1)')     C1 (batch unknown)
#   +--------+                    +--------+
#   | 4 × 3  |                    | 4 × 3  |      two batches, whatever one of them is called
#   +--------+                    +--------+
def test_a_batch_named_as_an_unknown_one_is_shown_is_not_that_one() -> None:
    stock = [item("P1", "4000x3000", "unknown (C1)", "part_roll"), item("C1", "4000x3000", "")]
    request = problem([job("J1", "4000x3000*2")], stock)
    assert check(request, plan_cuts(request, QUICK)) == ()


def test_every_form_of_stock_at_once_with_one_batch_name_and_odd_tags() -> None:
    stock = [item(f"{form.value} #{n}", "4000x5000", "B 1/x", form.value) for n, form in enumerate(StockForm)]
    assert only(problem([job("J1", "4000x3000*3")], stock)).short == ()
