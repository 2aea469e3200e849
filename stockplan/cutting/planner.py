"""The one entry: a plan asked for in, a plan out."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from stockplan.cutting.assemble import assemble
from stockplan.cutting.budget import Budget
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance, build_instance, with_first_layouts
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.search import Search, whole_pence
from stockplan.cutting.shortfall import explain
from stockplan.cutting.solution import Solution, trimmed
from stockplan.cutting.starting import answer_of
from stockplan.cutting.wanted import held_wanted
from stockplan.domain.plan import Plan, PlanStatus, ProductPlan
from stockplan.domain.request import PlanRequest, Progress, SearchLimits

SMALLEST_GAP = 1e-6
FIRST_LAYOUTS_SHARE = 0.2  # of the time and work, at most, for a plan that lays every job its first way
STEPS_PER_JOB = 120


def plan_cuts(
    request: PlanRequest,
    limits: SearchLimits,
    progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """Plan every product that has jobs, each on its own.

    Parameters
    ----------
    request
        What the plan depends on.
    limits
        Clock, work and seed. Each product may use the clock in proportion to its jobs and what earlier products left.
    progress
        Told what is known now and then.
    should_stop
        Asked now and then; once it answers True every product ends with the best plan it has.
    """
    started = time.monotonic()
    deadline = started + limits.seconds
    codes = sorted({job.product for job in request.jobs})
    jobs_left = len(request.jobs)
    plans: list[ProductPlan] = []
    orders = 1
    for code in codes:
        mine = sum(job.product == code for job in request.jobs)
        now = time.monotonic()
        share = max(0.0, deadline - now) * mine / max(1, jobs_left)
        jobs_left -= mine
        budget = Budget(now + share, limits.work, should_stop or (lambda: False))
        one = _plan_product(request, code, limits, budget, progress, started, orders)
        orders += len(one.orders)
        plans.append(one)
    return Plan(request.window, request.today, request.currency, tuple(plans))


def _plan_product(
    request: PlanRequest,
    code: str,
    limits: SearchLimits,
    budget: Budget,
    progress: Callable[[Progress], None] | None,
    started: float,
    first_order: int,
) -> ProductPlan:
    began = time.monotonic()
    instance = build_instance(request, code)

    def report(phase: str, best: Solution, bound: float) -> None:
        if progress is None:
            return
        cost = best.net_cost(instance)
        penalty = sum(instance.penalties[j] for j in best.short)
        known = None if bound <= 0 else min(cost, max(0, whole_pence(instance, bound - penalty)))
        progress(Progress(code, phase, cost, known, time.monotonic() - started))

    start = _start(request, instance, limits.seed, budget)
    found = Search(instance, limits.seed, budget, report, start).run()
    parts = assemble(instance, found.best, first_order)
    short = explain(request, instance, found.best)
    penalty = sum(instance.penalties[j] for j in found.best.short)
    # Not capped at the cost: a bound above it is a defect, which the checker then names.
    bound = max(0, whole_pence(instance, found.bound - penalty))
    comparable = found.foreman.short <= found.best.short
    plan = ProductPlan(
        product=code,
        status=_status(parts.net_cost_pence, bound, short=bool(short)),
        net_cost_pence=parts.net_cost_pence,
        lower_bound_pence=bound,
        foreman_cost_pence=found.foreman.net_cost(instance) if comparable else None,
        orders=parts.orders,
        cuts=parts.cuts,
        stock_used=parts.stock_used,
        leftovers=parts.leftovers,
        short=short,
        cutting_cost_pence=parts.cutting_cost_pence,
        layouts=parts.layouts,
        work=budget.work,
        seed=limits.seed,
        ended_by=budget.ended_by,
        seconds=0.0,
    )
    wanted = held_wanted(request, plan, limits.seed, budget.should_stop)
    return replace(plan, held_wanted=wanted, seconds=time.monotonic() - began)


def _start(request: PlanRequest, instance: Instance, seed: int, budget: Budget) -> Solution | None:
    """An answer to begin from: the plan made before, or one that lays every job its first way; None without either."""
    found = [answer for answer in (answer_of(instance, request.last),) if answer is not None]
    if any(group.several_layouts for group in instance.groups):
        first = with_first_layouts(instance)
        until = budget.part(FIRST_LAYOUTS_SHARE)
        steps = STEPS_PER_JOB * len(instance.jobs)
        found.append(Recreate(first, seed).run(trimmed(first, foreman_plan(first)), steps, until))
        budget.absorb(until)
    return min(found, key=lambda answer: answer.rank(instance), default=None)


def _status(net_cost: int, bound: int, *, short: bool) -> PlanStatus:
    if short:
        return PlanStatus.SHORT
    if bound >= net_cost or net_cost - bound < SMALLEST_GAP * net_cost:
        return PlanStatus.OPTIMAL
    return PlanStatus.FEASIBLE
