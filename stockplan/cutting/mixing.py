"""How jobs are laid that may mix batches: one layout for each, chosen before the search.

Which strip of such a job comes from which batch is a choice for each strip, so the search knows but one layout of it,
that which stands first. Here others are tried on an answer in hand, one at a time: the job is taken out, laid
otherwise and put back, and jobs beside it are moved a little (`around.py`). What is chosen is put first in what the
plan is asked for, where every part of the planner finds it. Bounds hold for every layout (`Mixed` in `instance.py`).
"""

from __future__ import annotations

from dataclasses import replace

from stockplan.cutting.around import carried, planned_around, without_jobs
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.layout import Layout
from stockplan.domain.plan import ChosenLayout
from stockplan.domain.request import PlanRequest

STEPS_PER_JOB, MOST_STEPS = 500, 20_000  # of ruin and recreate, for the answer to begin with
STEPS_A_TRY = 200  # for one layout of one job
FEW_JOBS, STEPS_OF_FEW, HEAT_OF_FEW = 12, 1_000, 0.03  # so few are all taken apart again
MOST_TRIED = 12  # layouts of a job, those that take the least grass


def laid_as(request: PlanRequest, chosen: tuple[ChosenLayout, ...]) -> PlanRequest:
    """The same request with layouts picked for some jobs standing first among theirs.

    Parameters
    ----------
    request
        What is asked for.
    chosen
        What is picked, for jobs among those asked for or not; a layout that is none of its job's is left aside.
    """
    picked = {one.job: one.layout for one in chosen}
    return replace(
        request,
        jobs=tuple(
            replace(job, layouts=_first(job.layouts, picked[job.code])) if picked.get(job.code) in job.layouts else job
            for job in request.jobs
        ),
    )


def _first(layouts: tuple[Layout, ...], one: Layout) -> tuple[Layout, ...]:
    return (one, *(other for other in layouts if other != one))


def chosen(
    request: PlanRequest, product: str, seed: int, budget: Budget, known: Solution | None = None
) -> tuple[PlanRequest, Solution]:
    """The request with a layout chosen for each job of a product that may mix batches, and an answer that lays it so.

    Parameters
    ----------
    request
        What is asked for; the problem it states has such jobs.
    product
        Code of the product.
    seed
        Seed of every random choice.
    budget
        Work and clock; at its end what was found until then is returned.
    known
        An answer to the problem that the request states, than which none worse is returned; default none.
    """
    from stockplan.cutting.recreate import Recreate  # noqa: PLC0415  it is slow to load

    instance = build_instance(request, product)
    steps = min(MOST_STEPS, STEPS_PER_JOB * len(instance.jobs))
    first = trimmed(instance, foreman_plan(instance))
    start = first if known is None else min(first, known, key=lambda answer: answer.rank(instance))
    answer = Recreate(instance, seed).run(start, steps, budget)
    everybody = range(len(instance.jobs))
    for group in instance.mixed.groups:
        job = instance.jobs[group.job]
        for choice in sorted(group.demands)[:MOST_TRIED]:
            layout = job.layouts[choice.layout]
            now = instance.jobs[group.job].layouts[0]
            if layout == now or budget.over():
                continue
            otherwise = laid_as(request, (ChosenLayout(job.code, layout, 0),))
            problem = build_instance(otherwise, product)
            start = carried(instance, problem, without_jobs(instance, answer, {group.job}))
            near = everybody if group.job in answer.short else ()
            found = planned_around(problem, start, (group.job,), near, STEPS_A_TRY, budget)
            if len(everybody) <= FEW_JOBS:
                found = Recreate(problem, seed).run(trimmed(problem, found), STEPS_OF_FEW, budget, HEAT_OF_FEW)
            if found.rank(problem) < answer.rank(instance):
                request, instance, answer = otherwise, problem, trimmed(problem, found)
    return request, answer
