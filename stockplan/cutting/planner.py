"""The one entry: a plan asked for in, a plan out."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.bounding import Beside, Bounding, is_large
from stockplan.cutting.bounds import whole_pence
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance, for_bounds, in_whole_loads, with_first_layouts
from stockplan.cutting.mixing import chosen, laid_as
from stockplan.cutting.parts import Part, Sharing, joined, parts_of
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pooled import pooled_bound
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.reasons import seconds_wanted, settle
from stockplan.cutting.search import Found, Search
from stockplan.cutting.solution import Solution, trimmed
from stockplan.cutting.starting import answer_of
from stockplan.cutting.wanted import held_wanted
from stockplan.domain.plan import Plan, PlanStatus, ProductPlan
from stockplan.domain.request import PlanRequest, Progress, SearchLimits

if TYPE_CHECKING:
    from stockplan.cutting.first_loads import FirstLoads, Hear

SMALLEST_GAP = 1e-6
FIRST_LAYOUTS_SHARE = 0.2  # of the time and work, at most, for a plan that lays every job its first way
MIXING_SHARE = 0.15  # of the time and work, at most, for how jobs are laid that may mix batches
STEPS_PER_JOB, MOST_STEPS = 1_000, 50_000  # for that plan
WAITING_SHARE, SECONDS_BETWEEN_LOOKS = 0.15, 0.02  # of the clock, at most, for loads that a search tells of
GATHERING_SHARE = 0.3  # of the clock, at most, for loads that a bound over whole loads begins with
# Entries of tables that tell what drops are worth, one for each lane, type and so many millimetres of a class of stock;
# and for how many of them a second of the clock is enough, where jobs may be laid in several ways.
LISTED_BY_MM, LISTED_A_SECOND = 50, 5_000_000
REASONS_SHARE = 0.1  # of the clock, at most, kept back to work out why


def plan_cuts(
    request: PlanRequest,
    limits: SearchLimits,
    progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """Plan every product that has jobs, each on its own, one after another in this process.

    Parameters
    ----------
    request
        What the plan depends on.
    limits
        Clock, work and seed. Each product may use the clock in proportion to its jobs, one of a few for two seconds,
        and what earlier products left.
    progress
        Told what is known now and then.
    should_stop
        Asked now and then; once it answers True every product ends with the best plan it has.
    """
    started = time.monotonic()
    parts = parts_of(request, limits.work, limits.seed)
    sharing = Sharing(parts, 1, started + limits.seconds)
    hear = progress and _since(started, progress)
    plans: list[ProductPlan] = []
    while given := sharing.next_for(0, time.monotonic()):
        if hear is not None and not plans:
            tell_first_plans(sharing.waiting(), started + limits.seconds, hear, should_stop)
        plans.append(plan_part(*given, hear, should_stop))
    return joined(request, plans)


def _since(started: float, progress: Callable[[Progress], None]) -> Callable[[Progress], None]:
    return lambda told: progress(replace(told, seconds=time.monotonic() - started))


def tell_first_plans(
    parts: Iterable[Part],
    deadline: float,
    progress: Callable[[Progress], None],
    should_stop: Callable[[], bool] | None = None,
) -> None:
    """Tell what the foreman's plans of parts cost that have to wait for their turn.

    Parameters
    ----------
    parts
        Those that wait.
    deadline
        Clock reading (`time.monotonic`) after which no more are made.
    progress
        Told of each.
    should_stop
        As for `plan_cuts`.
    """
    for part in parts:
        if time.monotonic() >= deadline or (should_stop is not None and should_stop()):
            return
        began = time.monotonic()
        instance = build_instance(part.request, part.product)
        cost = trimmed(instance, foreman_plan(instance)).net_cost(instance)
        progress(Progress(part.product, "first plan", cost, None, time.monotonic() - began))


def plan_part(
    part: Part,
    deadline: float,
    progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    beside: Beside | None = None,
) -> ProductPlan:
    """Plan one product, its orders numbered from 1.

    Parameters
    ----------
    part
        What the plan depends on.
    deadline
        Clock reading (`time.monotonic`) at which to end.
    progress
        Told what is known now and then; seconds count from this call.
    should_stop
        As for `plan_cuts`.
    beside
        What works the bound out meanwhile; default None, the search itself.
    """
    began = time.monotonic()
    stop = should_stop or (lambda: False)
    asked = build_instance(part.request, part.product)
    request, instance = part.request, asked
    kept_back = min(seconds_wanted(instance), REASONS_SHARE * max(0.0, deadline - began))
    budget = Budget(deadline - kept_back, part.work, stop)

    def report(phase: str, best: Solution, bound: float) -> None:
        if progress is None:
            return
        cost = best.net_cost(instance)
        penalty = sum(instance.penalties[j] for j in best.short)
        known = None if bound <= 0 else min(cost, max(0, whole_pence(instance, bound - penalty)))
        progress(Progress(part.product, phase, cost, known, time.monotonic() - began))

    foreman = start = None
    if asked.mixed.groups or any(group.several_layouts for group in asked.groups):
        foreman = trimmed(asked, foreman_plan(asked))
        report("first plan", foreman, 0.0)  # what comes before the search takes a good part of the clock
    if asked.mixed.groups:
        request, start = _laid(part, budget)
        instance = build_instance(request, part.product)
    start = _start(request, instance, part.seed, budget, start)
    pool = partial(pooled_bound, request, for_bounds(instance))
    found = Search(instance, part.seed, budget, report, start, beside, pool).run()
    found = replace(found, foreman=foreman or found.foreman)
    plan = _as_plan(part.seed, request, asked, instance, found, budget, deadline)
    wanted = held_wanted(request, plan, part.seed, budget.should_stop)
    return replace(plan, held_wanted=wanted, seconds=time.monotonic() - began)


def _as_plan(
    seed: int,
    request: PlanRequest,
    asked: Instance,
    instance: Instance,
    found: Found,
    spent: Budget,
    deadline: float,
) -> ProductPlan:
    """What was found as a plan, with its reasons.

    Parameters
    ----------
    seed
        Of the search.
    request, instance
        What was planned; the problem.
    asked
        The problem as it was asked, jobs that may mix batches laid in their first layout: the foreman's.
    found
        What the search found.
    spent
        What the search has spent, and why it ended.
    deadline
        Clock reading (`time.monotonic`) at which to end with the reasons.
    """
    best, parts, told = settle(request, instance, found.best, Budget(deadline, None, spent.should_stop))
    penalty = sum(instance.penalties[j] for j in best.short)
    # Not capped at the cost: a bound above it is a defect, which the checker then names.
    bound = max(0, whole_pence(instance, found.bound - penalty))
    return ProductPlan(
        product=instance.product,
        status=_status(parts.net_cost_pence, bound, short=bool(told.short)),
        net_cost_pence=parts.net_cost_pence,
        lower_bound_pence=bound,
        foreman_cost_pence=found.foreman.net_cost(asked) if found.foreman.short <= best.short else None,
        orders=parts.orders,
        cuts=parts.cuts,
        stock_used=parts.stock_used,
        leftovers=parts.leftovers,
        short=told.short,
        cutting_cost_pence=parts.cutting_cost_pence,
        layouts=parts.layouts,
        work=spent.work,
        seed=seed,
        ended_by=spent.ended_by,
        seconds=0.0,
        order_reasons=told.orders,
        batch_reasons=told.batches,
    )


def bound_part(
    part: Part,
    deadline: float,
    tell: Callable[[float], None],
    show: Callable[[list[BatchColumn], list[Pattern]], None],
    should_stop: Callable[[], bool],
    hear: Hear | None = None,
) -> None:
    """Work out one product's bound and nothing else.

    Parameters
    ----------
    part
        What the plan depends on.
    deadline
        Clock reading (`time.monotonic`) at which to end.
    tell
        Told every bound on cost, penalties included, pence.
    show
        Shown loads of batches and cuts of what is bought, found on the way, that may be of use in a plan.
    should_stop
        Asked now and then; once it answers True no better bound is looked for.
    hear
        What a search of plans tells of what it has seen; default there is none.
    """
    instance = build_instance(part.request, part.product)
    budget = Budget(deadline, None, should_stop)
    foreman = trimmed(instance, foreman_plan(instance))
    easier = for_bounds(instance)
    pool = partial(pooled_bound, part.request, easier)
    whole = easier is instance and in_whole_loads(instance) and not is_large(easier) and Pricers(instance).exact
    goes_on = whole and _is_soon_listed(instance, budget.seconds_left())
    bounding = Bounding(easier, budget, 1.0, tell, foreman.patterns, pool, roughly=goes_on)
    ceiling = float(foreman.rank(instance)[0])
    if not goes_on:
        bounding.climb(ceiling)
        return
    from stockplan.cutting.whole_loads import WholeLoads  # noqa: PLC0415  slow to load, and not for every week

    bounding.climb(ceiling)
    if bounding.prices and bounding.bound > 0.0 and not budget.over():
        first = _first_loads(instance, foreman, budget, hear)
        loads = WholeLoads(instance, bounding.prices, first, budget, rows=bounding.rows, worth=bounding.worth)
        loads.run(tell, show, hear or tuple)


def _is_soon_listed(instance: Instance, seconds: float) -> bool:
    """Whether there is time for whole loads; where no job may be laid in several ways there always is."""
    if not any(group.several_layouts for group in instance.groups):
        return True
    entries = sum(
        len(pricer.lanes.trim) * len(pricer.types) * source.length_mm // LISTED_BY_MM
        for pricer in Pricers(instance, apart=True).each
        for source in pricer.sources
        if source.option is None
    )
    return entries <= LISTED_A_SECOND * seconds


def _first_loads(instance: Instance, foreman: Solution, budget: Budget, hear: Hear | None) -> FirstLoads:
    """Loads to begin with: those that a search tells of in time, else gathered here."""
    from stockplan.cutting.first_loads import first_loads, loads_told  # noqa: PLC0415  as for whole loads

    waiting = budget.part(WAITING_SHARE)
    while hear is not None and not waiting.over():
        if told := hear():
            return loads_told(instance, told)
        time.sleep(SECONDS_BETWEEN_LOOKS)
    return first_loads(instance, foreman, budget.part(GATHERING_SHARE))


def _laid(part: Part, budget: Budget) -> tuple[PlanRequest, Solution]:
    """What is asked for with a layout chosen for each job that may mix batches, and an answer that lays them so."""
    last = part.request.last
    request = part.request if last is None else laid_as(part.request, tuple(last.layouts()))
    known = answer_of(build_instance(request, part.product), last)
    until = budget.part(MIXING_SHARE)
    found = chosen(request, part.product, part.seed, until, known)
    budget.absorb(until)
    return found


def _start(
    request: PlanRequest, instance: Instance, seed: int, budget: Budget, known: Solution | None
) -> Solution | None:
    """An answer to begin from: the plan made before, one that is known, or one that lays every job its first way."""
    found = [answer for answer in (answer_of(instance, request.last), known) if answer is not None]
    if any(group.several_layouts for group in instance.groups) and not budget.should_stop():
        from stockplan.cutting.recreate import Recreate  # noqa: PLC0415  it is slow to load

        first = with_first_layouts(instance)
        until = budget.part(FIRST_LAYOUTS_SHARE)
        steps = min(MOST_STEPS, STEPS_PER_JOB * len(instance.jobs))
        found.append(Recreate(first, seed).run(trimmed(first, foreman_plan(first)), steps, until))
        budget.absorb(until)
    return min(found, key=lambda answer: answer.rank(instance), default=None)


def _status(net_cost: int, bound: int, *, short: bool) -> PlanStatus:
    if short:
        return PlanStatus.SHORT
    if bound >= net_cost or net_cost - bound < SMALLEST_GAP * net_cost:
        return PlanStatus.OPTIMAL
    return PlanStatus.FEASIBLE
