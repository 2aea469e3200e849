"""Take sound plans, break one thing in each, and the checker must name the rule that was broken.

Every mutation is tried on the same hundred random plans (fixed seeds) wherever it applies, and must apply often
enough to mean something.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache

import pytest
from builders import Case, Pick, put, random_case

from stockplan.domain.check import RULES, Rule, check
from stockplan.domain.jobs import BatchRule
from stockplan.domain.layout import Layout
from stockplan.domain.plan import ChosenLayout, PlannedLeftover, PlanStatus, Shortfall
from stockplan.domain.request import CutAlready, Pin
from stockplan.domain.stock import StockForm, SupplyForm

Mutation = Callable[[Case, Pick], Case | None]
MUTATIONS: list[tuple[Rule, Mutation]] = []
CASES, LEAST = 100, 8


def breaks(rule: Rule) -> Callable[[Mutation], Mutation]:
    def register(mutation: Mutation) -> Mutation:
        MUTATIONS.append((rule, mutation))
        return mutation

    return register


def swap(case: Case, old: object, *new: object) -> Case:
    return replace(case, plan=put(case.plan, old, *new))


def one(pick, things):
    return things[pick(0, len(things) - 1)]


def a_piece(case: Case, pick: Pick):
    return one(pick, list(case.plan.pieces()))


def a_source(case: Case, pick: Pick):
    return one(pick, list(case.plan.cuts()))


# --- coverage


@breaks(Rule.COVERAGE)
def piece_dropped(case, pick):
    return swap(case, a_piece(case, pick))


@breaks(Rule.COVERAGE)
def piece_cut_twice(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, piece, replace(piece))


@breaks(Rule.COVERAGE)
def piece_misnumbered(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, number=one(pick, [0, -1, 1000])))


@breaks(Rule.COVERAGE)
def piece_for_nobody(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, job="J999"))


@breaks(Rule.COVERAGE)
def piece_of_no_such_strip(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, strip="?"))


@breaks(Rule.COVERAGE)
def cut_strip_reported_short(case, pick):
    planned = one(pick, list(case.plan.products))
    piece = next(iter(planned.cuts[0].pieces()))
    short = (*planned.short, Shortfall(piece.job, piece.strip, 1, "mistake"))
    return swap(case, planned, replace(planned, short=short, status=PlanStatus.SHORT))


@breaks(Rule.COVERAGE)
def shortfall_forgotten(case, pick):
    short = list(case.plan.short())
    return swap(case, one(pick, short)) if short else None


@breaks(Rule.COVERAGE)
def shortfall_miscounted(case, pick):
    short = [shortfall for shortfall in case.plan.short() if shortfall.count > 1]
    return swap(case, short[0], replace(short[0], count=one(pick, [0, 1, 3]))) if short else None


@breaks(Rule.COVERAGE)
def product_not_planned(case, pick):
    return swap(case, one(pick, list(case.plan.products)))


@breaks(Rule.COVERAGE)
def product_planned_twice(case, pick):
    planned = one(pick, list(case.plan.products))
    return swap(case, planned, planned, replace(planned))


@breaks(Rule.COVERAGE)
def product_nobody_wants(case, pick):
    planned = case.plan.products[-1]
    return swap(case, planned, planned, replace(planned, product="Z99", orders=(), cuts=(), leftovers=(), short=()))


@breaks(Rule.COVERAGE)
def job_asked_for_more(case, pick):
    piece = a_piece(case, pick)
    job = next(job for job in case.request.jobs if job.code == piece.job)
    strips = (replace(job.strips[0], count=job.strips[0].count + 1), *job.strips[1:])
    return replace(case, request=put(case.request, job, replace(job, strips=strips)))


# --- size and direction


@breaks(Rule.SIZE)
def piece_turned(case, pick):
    piece = a_piece(case, pick)
    if piece.width_mm == piece.length_mm:
        return None
    return swap(case, piece, replace(piece, width_mm=piece.length_mm, length_mm=piece.width_mm))


@breaks(Rule.SIZE)
def piece_resized(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, length_mm=piece.length_mm + one(pick, [-1, 1, 700])))


# --- inside and not overlapping


@breaks(Rule.PLACEMENT)
def piece_moved_along(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, along_mm=piece.along_mm + one(pick, [-500, -1, 1, 500])))


@breaks(Rule.PLACEMENT)
def piece_moved_across(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, across_mm=piece.across_mm + one(pick, [-500, -1, 1, 500])))


@breaks(Rule.PLACEMENT)
def leftover_moved(case, pick):
    left = list(case.plan.leftovers())
    if not left:
        return None
    chosen = one(pick, left)
    return swap(case, chosen, replace(chosen, along_mm=chosen.along_mm + one(pick, [-1, 1])))


@breaks(Rule.PLACEMENT)
def leftover_listed_twice(case, pick):
    left = list(case.plan.leftovers())
    chosen = one(pick, left) if left else None
    return swap(case, chosen, chosen, replace(chosen)) if chosen else None


@breaks(Rule.PLACEMENT)
def source_misdescribed(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, length_mm=cuts.length_mm + one(pick, [-1, 1])))


@breaks(Rule.PLACEMENT)
def idle_source_listed(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, drops=()))


@breaks(Rule.PLACEMENT)
def leftover_of_an_uncut_source(case, pick):
    idle = [item.tag for item in case.request.stock if item.tag not in {cuts.source for cuts in case.plan.cuts()}]
    if not idle:
        return None
    planned = case.plan.products[0]
    left = PlannedLeftover(idle[0], 0, 0, 100, 100, StockForm.OFFCUT, False, 0, "small")
    return swap(case, planned, replace(planned, leftovers=(*planned.leftovers, left)))


# --- area


@breaks(Rule.AREA)
def leftover_forgotten(case, pick):
    left = list(case.plan.leftovers())
    return swap(case, one(pick, left)) if left else None


@breaks(Rule.AREA)
def leftover_shrunk(case, pick):
    left = list(case.plan.leftovers())
    chosen = one(pick, left) if left else None
    return swap(case, chosen, replace(chosen, width_mm=chosen.width_mm - 1)) if chosen else None


@breaks(Rule.AREA)
def stock_used_left_out_of_the_total(case, pick):
    used = list(case.plan.stock_used())
    return swap(case, one(pick, used)) if used else None


# --- through-cuts


@breaks(Rule.THROUGH_CUTS)
def crosscuts_miscounted(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, crosscuts=cuts.crosscuts + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def rips_miscounted(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, rips=cuts.rips + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def drop_misplaced(case, pick):
    drop = one(pick, list(a_source(case, pick).drops))
    return swap(case, drop, replace(drop, along_mm=drop.along_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def drop_lengthened(case, pick):
    drop = one(pick, list(a_source(case, pick).drops))
    return swap(case, drop, replace(drop, length_mm=drop.length_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def lane_widened(case, pick):
    lane = one(pick, list(one(pick, list(a_source(case, pick).drops)).lanes))
    return swap(case, lane, replace(lane, width_mm=lane.width_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def lane_misplaced(case, pick):
    lane = one(pick, list(one(pick, list(a_source(case, pick).drops)).lanes))
    return swap(case, lane, replace(lane, across_mm=lane.across_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def empty_lane_added(case, pick):
    drop = one(pick, list(a_source(case, pick).drops))
    lane = replace(drop.lanes[-1], across_mm=drop.lanes[-1].across_mm + drop.lanes[-1].width_mm, width_mm=0, pieces=())
    return swap(case, drop, replace(drop, lanes=(*drop.lanes, lane)))


@breaks(Rule.THROUGH_CUTS)
def drops_in_another_order(case, pick):
    several = [cuts for cuts in case.plan.cuts() if len(cuts.drops) > 1]
    chosen = one(pick, several) if several else None
    return swap(case, chosen, replace(chosen, drops=chosen.drops[::-1])) if chosen else None


@breaks(Rule.THROUGH_CUTS)
def leftover_cut_up_for_nothing(case, pick):
    left = [leftover for leftover in case.plan.leftovers() if leftover.length_mm > 1]
    if not left:
        return None
    chosen = one(pick, left)
    half = chosen.length_mm // 2
    far = replace(chosen, along_mm=chosen.along_mm + half, length_mm=chosen.length_mm - half)
    return swap(case, chosen, replace(chosen, length_mm=half), far)


# --- batch


@breaks(Rule.BATCH)
def piece_in_another_batch(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, batch="B77"))


@breaks(Rule.BATCH)
def source_in_another_batch(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, batch="B77"))


@breaks(Rule.BATCH)
def any_batch_not_allowed_after_all(case, pick):
    batches: dict[str, set[str]] = {}
    for piece in case.plan.pieces():
        batches.setdefault(piece.job, set()).add(piece.batch)
    mixed = [job for job in case.request.jobs if len(batches.get(job.code, ())) > 1]
    if not mixed:
        return None
    job = one(pick, mixed)
    return replace(case, request=put(case.request, job, replace(job, batch_rule=BatchRule.ONE)))


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


@lru_cache
def cases() -> list[Case]:
    return [random_case(random.Random(seed).randint) for seed in range(CASES)]


@pytest.mark.parametrize(("rule", "mutation"), [pytest.param(r, m, id=f"{r}-{m.__name__}") for r, m in MUTATIONS])
def test_a_broken_plan_is_named_for_what_is_broken(rule: Rule, mutation: Mutation) -> None:
    tried = 0
    for seed, case in enumerate(cases()):
        broken = mutation(case, random.Random(seed).randint)
        if broken is None:
            continue
        tried += 1
        found = check(broken.request, broken.plan)
        assert rule in {violation.rule for violation in found}, f"seed {seed}: found only {[str(v) for v in found]}"
    assert tried >= LEAST, f"applied to only {tried} of {CASES} plans"


def test_the_plans_to_be_broken_are_sound() -> None:
    assert [seed for seed, case in enumerate(cases()) if check(case.request, case.plan)] == []


def test_every_rule_has_mutations_and_there_are_enough() -> None:
    assert {rule for rule, _ in MUTATIONS} == set(Rule) == set(RULES)
    assert len({mutation.__name__ for _, mutation in MUTATIONS}) == len(MUTATIONS) >= 25
