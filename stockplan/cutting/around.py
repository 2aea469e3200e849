"""Planning a little again around a few jobs: what a plan would be if something in it were otherwise."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import replace

from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance, PieceType
from stockplan.cutting.solution import Solution, trimmed

HEAT = 0.003
GREEDY_TRIES, ROUNDS, STEPS_A_ROUND = 3, 3, 100


def without_jobs(instance: Instance, answer: Solution, jobs: Collection[int]) -> Solution:
    """The answer with some jobs left short and nothing cut for them.

    Parameters
    ----------
    instance
        The problem.
    answer
        An answer to it, with or without surplus.
    jobs
        Indices of the jobs.
    """
    given = {key: units for key, units in answer.given.items() if instance.groups[key[0]].job not in jobs}
    return trimmed(instance, Solution(answer.patterns, given, answer.short | frozenset(jobs)))


def carried(before: Instance, after: Instance, answer: Solution) -> Solution:
    """An answer to one problem in the terms of another that differs in how some jobs left short may be served.

    Parameters
    ----------
    before, after
        The problems; what other jobs need and what there is to cut is the same in both.
    answer
        An answer to the first; without surplus.
    """
    number = {job.code: index for index, job in enumerate(after.jobs)}
    at = {key: group for group, key in enumerate(_places(after))}
    places = [(number[before.jobs[job].code], place) for job, place in _places(before)]
    given = {(at[places[group]], choice): units for (group, choice), units in answer.given.items() if units}
    return Solution(answer.patterns, given, frozenset(number[before.jobs[job].code] for job in answer.short))


def _places(instance: Instance) -> Iterator[tuple[int, int]]:
    """For each group: its job, and how many groups of that job stand before it."""
    seen: Counter[int] = Counter()
    for group in instance.groups:
        yield group.job, seen[group.job]
        seen[group.job] += 1


def restricted(instance: Instance, job: int, allowed: Callable[[Choice], bool]) -> Instance:
    """The same problem with fewer choices for one job; an answer to it is one to the whole.

    Parameters
    ----------
    instance
        The problem.
    job
        Index of the job.
    allowed
        Which of its choices stay.
    """
    groups = [
        replace(group, demands={h: need for h, need in group.demands.items() if not need or allowed(h)})
        if group.job == job
        else group
        for group in instance.groups
    ]
    return replace(instance, groups=tuple(groups))


def focused(instance: Instance, answer: Solution, jobs: Collection[int]) -> Instance:
    """The same problem with no choice left to any job served but some; an answer to it is one to the whole.

    Parameters
    ----------
    instance
        The problem.
    answer
        An answer to it.
    jobs
        Indices of the jobs that keep their choices.
    """
    groups = [
        group
        if group.job in jobs or group.job in answer.short
        else replace(group, demands={h: need for h, need in group.demands.items() if answer.given.get((number, h))})
        for number, group in enumerate(instance.groups)
    ]
    return replace(instance, groups=tuple(groups))


def batches_of(instance: Instance, answer: Solution, jobs: Collection[int]) -> frozenset[int]:
    """The batches that some jobs are cut from."""
    return frozenset(
        choice.batch
        for (group, choice), units in answer.given.items()
        if units and instance.groups[group].job in jobs and instance.groups[group].demands[choice]
    )


def planned_around(
    instance: Instance,
    answer: Solution,
    jobs: Iterable[int],
    near: Collection[int],
    steps: int,
    budget: Budget,
    *,
    narrow: bool = False,
) -> Solution:
    """An answer that serves some jobs where that is possible, the others near them moved where that helps.

    Parameters
    ----------
    instance
        The problem.
    answer
        An answer to it that leaves the jobs short; without surplus.
    jobs
        Indices of the jobs to serve.
    near
        Jobs that may be moved, beside those of the batches that the jobs are then cut from.
    steps
        How many times to ruin and recreate.
    budget
        Work and clock.
    narrow
        Whether, of those batches, only jobs are moved whose pieces lie on the same sources; better where many jobs are
        cut from what is bought.
    """
    from stockplan.cutting.recreate import Recreate  # noqa: PLC0415  it is slow to load

    around = Recreate(instance, 0)
    around.load(answer)
    wanted = sorted(jobs, key=lambda job: (-instance.jobs[job].area_mm2, job))
    for job in wanted:
        around.serve(job)
    served = around.best()
    beside = _beside if narrow else _in_batches_of
    touched = beside(instance, served, wanted)
    around.near = sorted({*wanted, *(job for job in near if job not in answer.short), *touched})
    return around.run(served, steps, budget, HEAT)


def in_batches(instance: Instance, answer: Solution, batches: Collection[int]) -> set[int]:
    """Jobs that an answer cuts from some batches."""
    return {
        instance.groups[group].job
        for (group, choice), units in answer.given.items()
        if units and choice.batch in batches and instance.groups[group].demands[choice]
    }


def _in_batches_of(instance: Instance, answer: Solution, jobs: Collection[int]) -> set[int]:
    return in_batches(instance, answer, batches_of(instance, answer, jobs))


def _beside(instance: Instance, answer: Solution, jobs: Collection[int]) -> set[int]:
    """Jobs whose pieces may lie on the same sources as those of some jobs."""
    needed: dict[int, set[PieceType]] = {}
    for (group, choice), units in answer.given.items():
        if units:
            needed.setdefault(instance.groups[group].job, set()).update(instance.groups[group].demands[choice])
    mine = set().union(*(needed.get(job, set()) for job in jobs))
    made = [set(pattern.made()) for pattern in answer.patterns]
    beside = set().union(*(pieces for pieces in made if pieces & mine))
    return {job for job, pieces in needed.items() if pieces & beside}


def served(instance: Instance, answer: Solution, job: int, budget: Budget) -> Solution | None:
    """An answer that serves a job left short and every job served before; None where none is found.

    It is first put beside the other jobs as they are; then those that use its batches may move.

    Parameters
    ----------
    instance
        The problem.
    answer
        An answer to it; without surplus.
    job
        Index of the job.
    budget
        Work and clock.
    """
    from stockplan.cutting.recreate import Recreate  # noqa: PLC0415  it is slow to load

    around = Recreate(instance, 0)
    budget.spend(1)
    for seed in range(GREEDY_TRIES):
        around.shuffle_anew(seed)
        around.load(answer)
        if around.serve(job):
            return around.best()
    possible = {h.batch for group in instance.groups if group.job == job for h, need in group.demands.items() if need}
    around.near = sorted({job, *(n for n in range(len(instance.jobs)) if possible & batches_of(instance, answer, [n]))})
    found = answer
    for _ in range(ROUNDS if possible else 0):
        found = around.run(found, STEPS_A_ROUND, budget, HEAT)
        if job not in found.short and found.short <= answer.short:
            return found
    return None
