"""Of money and time: one rule, three tests, in the yard of `checked_yard.py`. Cuts are drawn above their tests."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL, SUPPLY, TODAY, Case, build, new_order, read_cuts, small_request
from checked_yard import ALL_OF_J1, REQUEST, broken, said, swap

from stockplan.domain.check import Rule
from stockplan.domain.jobs import Strip
from stockplan.domain.plan import PlanStatus
from stockplan.domain.stock import StockForm

# --- orders and arrival ---------------------------------------------------------------------------------------------


#   today 23rd ... order by 23rd ... arrives Sunday 29th | lay Monday 30th
def test_orders_right_when_the_roll_comes_the_day_before() -> None:
    case = build(REQUEST, {"new-1": read_cuts(REQUEST, *ALL_OF_J1)}, [new_order()])
    assert broken(case) == set()
    assert case.plan.products[0].orders[0].order_by == TODAY


def test_orders_wrong_when_it_comes_on_the_day() -> None:
    case = build(REQUEST, {"new-1": read_cuts(REQUEST, *ALL_OF_J1)}, [new_order(arrives=MONDAY)])
    assert broken(case) == {Rule.ORDERS}
    assert "arrives on 2026-11-30; J1 is laid on 2026-11-30" in said(case)


def test_orders_right_again_when_the_job_is_a_day_later() -> None:
    later = small_request(replace(JOB, lay_on=MONDAY + timedelta(days=1)))
    assert broken(build(later, {"new-1": read_cuts(later, *ALL_OF_J1)}, [new_order(arrives=MONDAY)])) == set()


def test_orders_wrong_when_the_day_to_order_has_gone() -> None:
    late = small_request(today=TODAY + timedelta(days=1))
    case = build(late, {"new-1": read_cuts(late, *ALL_OF_J1)}, [new_order()])
    assert broken(case) == {Rule.ORDERS}
    assert "is to be placed by 2026-11-23, before today, 2026-11-24" in said(case)


@pytest.mark.parametrize(
    ("length", "right"), [(5000, True), (5100, True), (5050, False), (12000, True), (12100, False)]
)
def test_orders_cut_lengths_in_steps_up_to_the_longest(length: int, right: bool) -> None:
    case = build(REQUEST, {"new-1": read_cuts(REQUEST, *ALL_OF_J1)}, [new_order(length_mm=length)])
    assert broken(case) == (set() if right else {Rule.ORDERS})


def test_orders_cut_length_of_less_than_a_metre_is_not_sold() -> None:
    small = small_request(replace(JOB, strips=(Strip("A", 1000, 800),)))
    for length, right in (900, False), (1000, True):
        case = build(small, {"new-1": read_cuts(small, "800: J1.A1")}, [new_order(length_mm=length)])
        assert broken(case) == (set() if right else {Rule.ORDERS})


def test_orders_price_is_rounded_half_up_to_the_penny() -> None:
    """5.1 m at 50.05 a metre is 255.255, so 255.26."""
    order = new_order(length_mm=5100)
    assert order.price_pence == 25526
    specs = {"new-1": read_cuts(REQUEST, *ALL_OF_J1)}
    assert broken(build(REQUEST, specs, [replace(order, price_pence=25525)])) == {Rule.ORDERS}


def test_orders_dear_and_quick_or_cheap_and_slow_but_not_cheap_and_quick() -> None:
    quick = replace(SUPPLY[0], price_pence=130000, lead_days=1)
    request = small_request(supply=(*SUPPLY, quick))
    specs = {"new-1": read_cuts(request, *ALL_OF_J1)}
    cheap = new_order()
    fast = cheap.arrives_on - timedelta(days=1)
    assert broken(build(request, specs, [cheap])) == set()
    assert broken(build(request, specs, [replace(cheap, price_pence=130000, order_by=fast)])) == set()
    assert broken(build(request, specs, [replace(cheap, order_by=fast)])) == {Rule.ORDERS}


# --- leftovers ------------------------------------------------------------------------------------------------------


#   the tail of a roll stays on its core; the tail of a cut length, or of an offcut, is loose
@pytest.mark.parametrize(
    ("source", "becomes"),
    [
        ("roll", StockForm.PART_ROLL),
        ("part_roll", StockForm.PART_ROLL),
        ("offcut", StockForm.OFFCUT),
        ("bought roll", StockForm.PART_ROLL),
        ("bought length", StockForm.OFFCUT),
    ],
)
def test_leftovers_tail_stays_on_a_core_only_where_there_is_one(source: str, becomes: StockForm) -> None:
    if source.startswith("bought"):
        order = new_order(length_mm=25000 if source == "bought roll" else 9000)
        case = build(REQUEST, {"new-1": read_cuts(REQUEST, *ALL_OF_J1)}, [order])
    else:
        request = small_request(stock=[replace(ROLL, form=StockForm(source))])
        case = build(request, {"R-1": read_cuts(request, *ALL_OF_J1)})
    tail = max(case.plan.leftovers(), key=lambda leftover: leftover.length_mm)
    assert tail.becomes is becomes
    assert broken(case) == set()
    other = StockForm.OFFCUT if becomes is StockForm.PART_ROLL else StockForm.PART_ROLL
    assert broken(swap(case, tail, replace(tail, becomes=other))) == {Rule.LEFTOVERS}


#   +-------------+      a drop to the very end of the roll, its piece shorter: what is left is still on the core
#   |  A1 (3 m)   |
#   |- - - - - - -|
#   | lane's rest |
#   +-------------+ 10
def test_leftovers_rest_of_the_last_drop_at_full_width_is_the_tail() -> None:
    one = small_request(replace(JOB, strips=JOB.strips[:1]))
    case = build(one, {"R-1": read_cuts(one, "10000: J1.A1")})
    assert next(case.plan.leftovers()).becomes is StockForm.PART_ROLL
    assert broken(case) == set()


def test_leftovers_narrow_tail_of_a_narrow_roll_counts_as_full_width() -> None:
    """A 2 m part roll is narrow beside 4 m rolls, yet what stays on its core is at its full width."""
    small = small_request(replace(JOB, strips=JOB.strips[1:]), stock=[replace(OTHER_ROLL, width_mm=2000)])
    case = build(small, {"R-2": read_cuts(small, "4000: J1.B1 J1.B2")})
    tail = next(leftover for leftover in case.plan.leftovers() if leftover.width_mm == 2000)
    assert tail.value_pence == 7200  # 2 × 4 m at 10.00 and 0.90
    assert broken(case) == set()


def test_leftovers_worthless_ones_are_binned(whole: Case) -> None:
    wide = small_request(replace(JOB, strips=(JOB.strips[0], Strip("B", 1800, 2000, count=2))))
    case = build(wide, {"R-1": read_cuts(wide, *ALL_OF_J1)})
    sliver = next(leftover for leftover in case.plan.leftovers() if leftover.width_mm == 400)
    assert (sliver.keep, sliver.value_pence) == (False, 0)
    assert broken(case) == set()
    assert broken(swap(case, sliver, replace(sliver, keep=True))) == {Rule.LEFTOVERS}


def test_leftovers_count_for_nothing_when_so_asked() -> None:
    request = small_request(costs=replace(REQUEST.costs, leftovers_have_worth=False))
    case = build(request, {"R-1": read_cuts(request, *ALL_OF_J1)})
    assert case.plan.net_cost_pence == 40_000 + 1_000
    assert broken(case) == set()
    assert Rule.LEFTOVERS in broken(replace(case, request=REQUEST))


# --- area, money, bound, window -------------------------------------------------------------------------------------


def test_area_wrong_when_a_leftover_loses_a_millimetre(whole: Case) -> None:
    tail = max(whole.plan.leftovers(), key=lambda leftover: leftover.length_mm)
    case = swap(whole, tail, replace(tail, length_mm=tail.length_mm - 1))
    assert Rule.AREA in broken(case)
    assert "R-1: pieces and leftovers are 39996000 mm²; it is 40000000" in said(case)


def test_area_wrong_when_an_order_comes_from_nowhere(whole: Case) -> None:
    planned = whole.plan.products[0]
    case = swap(whole, planned, replace(planned, orders=(new_order(),)))
    assert broken(case) == {Rule.AREA, Rule.ORDERS, Rule.MONEY}


def test_money_wrong_by_a_penny_and_right_again_when_two_errors_are_mended(whole: Case) -> None:
    planned = whole.plan.products[0]
    dear = replace(planned, net_cost_pence=planned.net_cost_pence + 1, foreman_cost_pence=None)
    assert broken(swap(whole, planned, replace(dear, lower_bound_pence=dear.net_cost_pence))) == {Rule.MONEY}
    assert broken(swap(whole, planned, replace(planned, foreman_cost_pence=None))) == set()


def test_money_wrong_when_cuts_are_charged_at_another_rate(whole: Case) -> None:
    rates = replace(REQUEST.costs, rip_pence=301)
    assert broken(replace(whole, request=replace(REQUEST, costs=rates))) == {Rule.MONEY}


@pytest.mark.parametrize(
    ("below", "status", "right"),
    [
        (0, PlanStatus.OPTIMAL, True),
        (0, PlanStatus.FEASIBLE, False),
        (1, PlanStatus.FEASIBLE, True),
        (1, PlanStatus.OPTIMAL, False),  # one penny in 224.69 is more than one part in a million
        (0, PlanStatus.SHORT, False),
        (-1, PlanStatus.OPTIMAL, False),
        (10**6, PlanStatus.FEASIBLE, False),  # a bound below nothing
    ],
)
def test_bound_and_status(whole: Case, below: int, status: PlanStatus, right: bool) -> None:
    planned = whole.plan.products[0]
    claimed = replace(planned, lower_bound_pence=planned.net_cost_pence - below, status=status)
    assert broken(swap(whole, planned, claimed)) == (set() if right else {Rule.BOUND})


def test_bound_within_a_millionth_is_optimal() -> None:
    dear = small_request(stock=[replace(ROLL, cost_pence_per_m2=10_000_000)])
    case = build(dear, {"R-1": read_cuts(dear, *ALL_OF_J1)}, lower=lambda net: net - 1)
    assert case.plan.products[0].status is PlanStatus.OPTIMAL
    assert broken(case) == set()


@pytest.mark.parametrize(
    ("below", "status"),
    [(1, PlanStatus.OPTIMAL), (2, PlanStatus.FEASIBLE), (3, PlanStatus.FEASIBLE)],  # of two million pence
)
def test_a_gap_of_a_millionth_and_no_less_is_not_yet_proven(whole: Case, below: int, status: PlanStatus) -> None:
    planned = whole.plan.products[0]
    for claim in PlanStatus.OPTIMAL, PlanStatus.FEASIBLE:
        claimed = replace(
            planned,
            net_cost_pence=2_000_000,
            lower_bound_pence=2_000_000 - below,
            foreman_cost_pence=None,
            status=claim,
        )
        assert broken(swap(whole, planned, claimed)) == {Rule.MONEY} | (set() if claim is status else {Rule.BOUND})


def test_bound_wrong_when_the_foreman_is_cheaper(whole: Case) -> None:
    planned = whole.plan.products[0]
    for foreman, right in (planned.net_cost_pence - 1, False), (planned.net_cost_pence, True), (None, True):
        case = swap(whole, planned, replace(planned, foreman_cost_pence=foreman))
        assert broken(case) == (set() if right else {Rule.BOUND})


def test_window_wrong_when_a_job_lies_outside_it_and_right_on_its_last_day() -> None:
    for days, right in (0, True), (4, True), (5, False), (-1, False):
        request = small_request(replace(JOB, lay_on=MONDAY + timedelta(days=days)))
        case = build(request, {"R-1": read_cuts(request, *ALL_OF_J1)})
        assert broken(case) == (set() if right else {Rule.WINDOW})
