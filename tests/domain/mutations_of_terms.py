"""Ways to break the terms a plan keeps to: products, orders, leftovers, money, window, pins, what is cut already."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from breaking import put
from builders import Case
from mutations import Mutations, a_piece, a_source, breaker, one, swap
from random_cases import Pick

from stockplan.domain.check import Rule
from stockplan.domain.jobs import BatchRule
from stockplan.domain.layout import Layout
from stockplan.domain.plan import ChosenLayout, PlanStatus
from stockplan.domain.request import CutAlready, Pin
from stockplan.domain.stock import StockForm, SupplyForm

MUTATIONS: Mutations = []
breaks = breaker(MUTATIONS)


# --- product


@breaks(Rule.PRODUCT)
def source_of_another_product(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, product="H40"))


@breaks(Rule.PRODUCT)
def stock_was_another_product(case, pick):
    used = [item for item in case.request.stock if item.tag in {cuts.source for cuts in case.plan.cuts()}]
    item = one(pick, used) if used else None
    return replace(case, request=put(case.request, item, replace(item, product="H40"))) if item else None


@breaks(Rule.PRODUCT)
def piece_from_another_source(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, source="R-999"))


@breaks(Rule.PRODUCT)
def source_nobody_has(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, source="R-999"))


@breaks(Rule.PRODUCT)
def source_cut_twice(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, cuts, replace(cuts))


@breaks(Rule.PRODUCT)
def order_forgotten(case, pick):
    orders = list(case.plan.orders())
    return swap(case, one(pick, orders)) if orders else None


# --- orders and arrival


def an_order(case: Case, pick: Pick, change) -> Case | None:
    orders = list(case.plan.orders())
    if not orders:
        return None
    order = one(pick, orders)
    return swap(case, order, replace(order, **change(order)))


@breaks(Rule.ORDERS)
def order_mispriced(case, pick):
    return an_order(case, pick, lambda order: {"price_pence": order.price_pence + one(pick, [-1, 1])})


@breaks(Rule.ORDERS)
def order_from_elsewhere(case, pick):
    return an_order(case, pick, lambda order: {"supplier": "Nobody & Sons"})


@breaks(Rule.ORDERS)
def order_of_a_length_not_sold(case, pick):
    return an_order(case, pick, lambda order: {"length_mm": one(pick, [order.length_mm + 50, 900, 12100, 0])})


@breaks(Rule.ORDERS)
def order_of_a_width_not_sold(case, pick):
    return an_order(case, pick, lambda order: {"width_mm": order.width_mm + 1})


@breaks(Rule.ORDERS)
def order_in_another_form(case, pick):
    return an_order(case, pick, lambda order: {"form": next(form for form in SupplyForm if form is not order.form)})


@breaks(Rule.ORDERS)
def order_placed_before_today(case, pick):
    early = timedelta(days=30)
    return an_order(
        case, pick, lambda order: {"order_by": order.order_by - early, "arrives_on": order.arrives_on - early}
    )


@breaks(Rule.ORDERS)
def order_too_fast(case, pick):
    return an_order(case, pick, lambda order: {"order_by": order.order_by + timedelta(days=1)})


@breaks(Rule.ORDERS)
def order_arrives_on_the_day(case, pick):
    jobs = {job.code: job for job in case.request.jobs}
    orders = list(case.plan.orders())
    if not orders:
        return None
    order = one(pick, orders)
    first = min(jobs[piece.job].lay_on for piece in case.plan.pieces() if piece.source == order.key)
    wait = first - order.arrives_on
    return swap(case, order, replace(order, arrives_on=first, order_by=order.order_by + wait))


@breaks(Rule.ORDERS)
def order_for_nothing(case, pick):
    orders = list(case.plan.orders())
    return swap(case, orders[0], orders[0], replace(orders[0], key="new-99")) if orders else None


@breaks(Rule.ORDERS)
def order_listed_twice(case, pick):
    orders = list(case.plan.orders())
    return swap(case, orders[0], orders[0], replace(orders[0])) if orders else None


@breaks(Rule.ORDERS)
def order_key_is_a_stock_tag(case, pick):
    orders = list(case.plan.orders())
    if not orders or not case.request.stock:
        return None
    item = case.request.stock[0]
    return replace(case, request=put(case.request, item, item, replace(item, tag=orders[0].key)))


# --- leftovers


def a_leftover(case: Case, pick: Pick, change) -> Case | None:
    left = list(case.plan.leftovers())
    if not left or not case.request.costs.leftovers_have_worth:
        return None
    chosen = one(pick, left)
    return swap(case, chosen, replace(chosen, **change(chosen)))


@breaks(Rule.LEFTOVERS)
def leftover_misvalued(case, pick):
    return a_leftover(case, pick, lambda left: {"value_pence": left.value_pence + one(pick, [-1, 1])})


@breaks(Rule.LEFTOVERS)
def leftover_kept_or_binned_wrongly(case, pick):
    return a_leftover(case, pick, lambda left: {"keep": not left.keep})


@breaks(Rule.LEFTOVERS)
def leftover_becomes_something_else(case, pick):
    return a_leftover(
        case, pick, lambda left: {"becomes": one(pick, [form for form in StockForm if form != left.becomes])}
    )


@breaks(Rule.LEFTOVERS)
def leftover_valued_where_it_counts_for_nothing(case, pick):
    left = [leftover for leftover in case.plan.leftovers() if leftover.value_pence]
    if not left:
        return None
    costs = replace(case.request.costs, leftovers_have_worth=False)
    return replace(case, request=replace(case.request, costs=costs))


@breaks(Rule.LEFTOVERS)
def stock_used_forgotten(case, pick):
    used = list(case.plan.stock_used())
    return swap(case, one(pick, used)) if used else None


@breaks(Rule.LEFTOVERS)
def stock_used_twice(case, pick):
    used = list(case.plan.stock_used())
    return swap(case, used[0], used[0], replace(used[0])) if used else None


@breaks(Rule.LEFTOVERS)
def stock_used_that_is_not_cut(case, pick):
    idle = [item.tag for item in case.request.stock if item.tag not in {cuts.source for cuts in case.plan.cuts()}]
    used = list(case.plan.stock_used())
    return swap(case, used[0], used[0], replace(used[0], source=idle[0])) if used and idle else None


@breaks(Rule.LEFTOVERS)
def stock_used_misvalued(case, pick):
    used = list(case.plan.stock_used())
    return swap(case, used[0], replace(used[0], value_pence=used[0].value_pence + one(pick, [-1, 1]))) if used else None


# --- money, bound


def a_product(case: Case, pick: Pick, change) -> Case:
    planned = one(pick, list(case.plan.products))
    return swap(case, planned, replace(planned, **change(planned)))


@breaks(Rule.MONEY)
def net_cost_wrong(case, pick):
    return a_product(case, pick, lambda planned: {"net_cost_pence": planned.net_cost_pence + one(pick, [-1, 1, 5000])})


@breaks(Rule.MONEY)
def cutting_cost_wrong(case, pick):
    return a_product(case, pick, lambda planned: {"cutting_cost_pence": planned.cutting_cost_pence + 1})


@breaks(Rule.MONEY)
def cutting_and_net_cost_wrong_together(case, pick):
    def change(planned):
        more = {"net_cost_pence": planned.net_cost_pence + 100, "cutting_cost_pence": planned.cutting_cost_pence + 100}
        return {**more, "foreman_cost_pence": None}

    return a_product(case, pick, change)


@breaks(Rule.BOUND)
def bound_above_cost(case, pick):
    return a_product(case, pick, lambda planned: {"lower_bound_pence": planned.net_cost_pence + 1})


@breaks(Rule.BOUND)
def bound_below_nothing(case, pick):
    return a_product(case, pick, lambda planned: {"lower_bound_pence": -1})


@breaks(Rule.BOUND)
def status_wrong(case, pick):
    return a_product(
        case, pick, lambda planned: {"status": one(pick, [status for status in PlanStatus if status != planned.status])}
    )


@breaks(Rule.BOUND)
def foreman_cheaper(case, pick):
    return a_product(case, pick, lambda planned: {"foreman_cost_pence": planned.net_cost_pence - 1})


# --- window


@breaks(Rule.WINDOW)
def another_window(case, pick):
    window = replace(case.plan.window, last=case.plan.window.last + timedelta(days=1))
    return replace(case, plan=replace(case.plan, window=window))


@breaks(Rule.WINDOW)
def another_day(case, pick):
    return replace(case, plan=replace(case.plan, today=case.plan.today + timedelta(days=1)))


@breaks(Rule.WINDOW)
def another_currency(case, pick):
    return replace(case, plan=replace(case.plan, currency="XTS"))


@breaks(Rule.WINDOW)
def job_outside_the_window(case, pick):
    job = one(pick, list(case.request.jobs))
    late = replace(job, lay_on=case.request.window.last + timedelta(days=1))
    return replace(case, request=put(case.request, job, late))


# --- pins, cut already


@breaks(Rule.PINS)
def pin_ignored(case, pick):
    piece = a_piece(case, pick)
    return replace(case, request=replace(case.request, pins=(Pin(piece.job, "some other roll"),)))


@breaks(Rule.CUT_ALREADY)
def cut_again(case, pick):
    piece = a_piece(case, pick)
    done = CutAlready(piece.job, piece.strip, piece.number, piece.batch)
    return replace(case, request=replace(case.request, cut_already=(done,)))


@breaks(Rule.CUT_ALREADY)
def begun_in_another_batch(case, pick):
    jobs = {job.code: job for job in case.request.jobs}
    pieces = [piece for piece in case.plan.pieces() if jobs[piece.job].batch_rule is BatchRule.ONE]
    if not pieces:
        return None
    done = CutAlready(one(pick, pieces).job, "a strip no longer wanted", 1, "another batch")
    return replace(case, request=replace(case.request, cut_already=(done,)))


@breaks(Rule.LAYOUT)
def layout_for_strips_that_were_given(case, pick):
    planned = one(pick, case.plan.products)
    job = one(pick, [job for job in case.request.jobs if job.product == planned.product])
    return swap(case, planned, replace(planned, layouts=(ChosenLayout(job.code, Layout("1", (), 0), 0),)))
