"""Why a job is left short, and the smallest changes that would cover it, each tried out rather than guessed.

Everything else in the plan stays as it is: the question asked is what the yard manager asks, "what would it take".
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import timedelta

from stockplan.cutting.instance import Choice, Group, Instance, PieceType, Source, build_instance
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import Shortfall
from stockplan.domain.request import PlanRequest
from stockplan.domain.units import metres, size
from stockplan.domain.worth import UnitCost

STEP_MM = 100
DEAR_PENCE = 10**9


def explain(request: PlanRequest, instance: Instance, solution: Solution) -> tuple[Shortfall, ...]:
    """A shortfall for every strip of every job left short.

    Parameters
    ----------
    request
        The plan asked for.
    instance
        One product's problem.
    solution
        Its answer.
    """
    found = []
    for job in sorted(solution.short):
        code = instance.jobs[job].code
        pinned = sorted(pin.source for pin in request.pins if pin.job == code)
        if pinned:
            tags = " and ".join(pinned)
            reason = f"it is pinned to {tags}, which cannot give all of it in time beside the other jobs"
            text = f"a pin to something else, or none: stockplan unpin {code}"
        else:
            reason = _reason(instance, instance.jobs[job])
            remedies = _remedies(request, instance, solution, job)
            text = " or ".join(remedies) if remedies else "another product, or a supplier who sells this size"
        for strip in instance.jobs[job].strips_or_first():
            found.append(Shortfall(code, strip.label, strip.count, reason, text))
    return tuple(found)


def _reason(instance: Instance, job: Job) -> str:
    """The first trade check that fails: width, length, time, batch."""
    for strip in job.strips_or_first():
        wide = [s for s in instance.sources if s.width_mm >= strip.width_mm]
        if not wide:
            return (
                f"strip {strip.label} ({size(strip.width_mm, strip.length_mm)}): nothing is that wide across the pile"
            )
        if not any(s.length_mm >= strip.length_mm for s in wide):
            longest = max(s.length_mm for s in wide)
            return (
                f"strip {strip.label} ({size(strip.width_mm, strip.length_mm)}): nothing that wide is longer than "
                f"{metres(longest)} m"
            )
    in_time = [group for group in instance.groups if instance.jobs[group.job] is job]
    batches = {choice.batch for group in in_time for choice in group.demands}
    buyable = any(s.option is not None and s.batch in batches for s in instance.sources)
    if buyable:
        return "what can arrive in time cannot hold all of it"
    bought = "nothing that is bought arrives before it is laid" if instance.supply else "nothing is on offer"
    if job.batch_rule is BatchRule.ANY:
        return f"{bought}, and the yard does not hold enough"
    return f"{bought}, and no single batch in the yard holds all of it beside the other jobs"


def _remedies(request: PlanRequest, instance: Instance, solution: Solution, job: int) -> list[str]:
    """Changes that would cover the job, the lightest first."""
    found = []
    more = _more_of_a_batch(request, instance, solution, job)
    if more is not None:
        found.append(f"{metres(more[0], 1)} m more of {more[1]} in one length")
    later = _later(request, instance, job)
    if later:
        day = instance.jobs[job].lay_on + timedelta(days=later)
        found.append(f"{later} {'day' if later == 1 else 'days'} later ({day.isoformat()})")
    if instance.jobs[job].batch_rule is BatchRule.ONE and _covered_by_any_batch(request, instance, solution, job):
        found.append("leave to mix batches")
    return found


def _fits(instance: Instance, solution: Solution, job: int) -> bool:
    """Whether a job left short fits beside everything else in the plan."""
    trial = Recreate(instance, 0)
    for seed in range(5):
        trial.random.seed(seed)
        state = trial.state_of(solution)
        if trial.serve(state, job):
            return True
    return False


def _more_of_a_batch(request: PlanRequest, instance: Instance, solution: Solution, job: int) -> tuple[int, str] | None:
    """The least length at full width, mm, that one batch lacks for the job, and the batch; None where none would do."""
    unknown = {item.batch_key for item in request.stock if not item.batch}  # nobody can ask for more of these
    one = instance.jobs[job]
    begun = {cut.batch for cut in request.cut_already if cut.job == one.code and one.batch_rule is BatchRule.ONE}
    best: tuple[int, str] | None = None
    sizes = [(s.width_mm, s.length_mm, s.count) for s in one.strips_or_first()]
    if max(w for w, _, _ in sizes) > instance.widest_mm:
        return None
    whole = sum(length * count for _, length, count in sizes)
    for batch, name in enumerate(instance.batches):
        if name in unknown or begun - {name}:
            continue
        if any(s.batch == batch and s.option is not None for s in instance.sources):
            continue
        enough = whole if best is None else min(whole, best[0] - STEP_MM)
        if not _fits_with_more(instance, solution, job, batch, enough):
            continue
        low, high = 0, -(-enough // STEP_MM)
        while high - low > 1:
            middle = (low + high) // 2
            if _fits_with_more(instance, solution, job, batch, middle * STEP_MM):
                high = middle
            else:
                low = middle
        best = (high * STEP_MM, name)
    return best


def _fits_with_more(instance: Instance, solution: Solution, job: int, batch: int, length_mm: int) -> bool:
    if length_mm <= 0:
        return False
    # Dear, so that what the yard has is used first and only what it lacks is asked for.
    extra = Source(batch, instance.widest_mm, length_mm, DEAR_PENCE, UnitCost(0, 1), True, None, ("extra",))
    sources = (*instance.sources, extra)
    groups = list(instance.groups)
    for number, group in enumerate(groups):
        if group.job == job:
            choice = Choice(batch)
            demand = group.demands.get(choice) or _demand_in(instance, group, batch)
            groups[number] = replace(group, demands={choice: demand})
    return _fits(replace(instance, sources=sources, groups=tuple(groups)), solution, job)


def _demand_in(instance: Instance, group: Group, batch: int) -> dict[PieceType, int]:
    """What one unit of a group needs, stated for a batch that was ruled out."""
    job = instance.jobs[group.job]
    if job.batch_rule is BatchRule.ONE:
        demand: dict[PieceType, int] = {}
        for strip in job.strips_or_first():
            piece = PieceType(batch, strip.width_mm, strip.length_mm)
            demand[piece] = demand.get(piece, 0) + strip.count
        return demand
    mine = [g for g in instance.groups if g.job == group.job]
    sizes = list(dict.fromkeys((s.width_mm, s.length_mm) for s in job.strips_or_first()))
    if mine.index(group) == len(sizes):
        return {}  # the group that bears the cost of seams
    width, length = sizes[mine.index(group)]
    return {PieceType(batch, width, length): 1}


def _later(request: PlanRequest, instance: Instance, job: int) -> int:
    """Days later that would let what is on offer cover the job; 0 where none would."""
    one = instance.jobs[job]
    for lead in sorted({option.lead_days for option in instance.supply}):
        lay_on = request.today + timedelta(days=lead + 1)
        if lay_on <= one.lay_on:
            continue
        moved = replace(request, stock=(), jobs=(replace(one, lay_on=lay_on),))
        alone = build_instance(moved, instance.product)
        if _fits(alone, _all_short(alone), 0):
            return (lay_on - one.lay_on).days
    return 0


def _covered_by_any_batch(request: PlanRequest, instance: Instance, solution: Solution, job: int) -> bool:
    loose = replace(instance.jobs[job], batch_rule=BatchRule.ANY)
    alone = build_instance(replace(request, jobs=(loose,)), instance.product)
    groups = tuple(g for g in instance.groups if g.job != job) + tuple(replace(g, job=job) for g in alone.groups)
    renumbered = {n: i for i, n in enumerate(n for n, g in enumerate(instance.groups) if g.job != job)}
    given = {(renumbered[g], b): units for (g, b), units in solution.given.items() if g in renumbered}
    jobs = (*instance.jobs[:job], loose, *instance.jobs[job + 1 :])
    mixed = replace(instance, groups=groups, jobs=jobs)
    return _fits(mixed, Solution(solution.patterns, given, solution.short), job)


def _all_short(instance: Instance) -> Solution:
    return Solution(Counter(), {}, frozenset(range(len(instance.jobs))))
