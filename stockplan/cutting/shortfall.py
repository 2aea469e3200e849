"""Why a job is left short, by the first trade check that fails, and what would cover it."""

from __future__ import annotations

from datetime import timedelta

from stockplan.cutting.assemble import Assembled
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance
from stockplan.cutting.remedies import Remedies
from stockplan.cutting.solution import Solution
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import ProductPlan, Shortfall
from stockplan.domain.request import PlanRequest
from stockplan.domain.units import metres, size

WORK, PIECES = (
    150,
    150,
)  # of work on all remedies of one product; less where there are more pieces, as a step takes longer
NO_SUCH_SIZE = "another product, or a supplier who sells this size"
NOR_WITHOUT_PIN = "nothing alone: without its pin no room was found for it either"
NONE_ALONE = "nothing alone: neither more of one batch, a later day nor mixed batches was found to do"


def explain(
    request: PlanRequest,
    instance: Instance,
    solution: Solution,
    parts: Assembled | ProductPlan,
    budget: Budget,
    only: int | None = None,
) -> tuple[Shortfall, ...]:
    """A shortfall for every strip of every job left short.

    Parameters
    ----------
    request
        The plan asked for.
    instance
        One product's problem.
    solution
        Its answer, without surplus.
    parts
        The answer laid out.
    budget
        Clock and user; what they leave no time to try is left out.
    only
        Index of the one job to explain; default all.
    """
    found = []
    work = WORK * PIECES // max(PIECES, sum(job.piece_count for job in instance.jobs))
    until = Budget(budget.deadline, budget.work_limit or work, budget.should_stop)
    remedies = Remedies(request, instance, solution, parts, until)
    for job in sorted(solution.short) if only is None else [only]:
        code = instance.jobs[job].code
        pinned = sorted(pin.source for pin in request.pins if pin.job == code)
        if pinned:
            reason = _pinned(request, instance.jobs[job], pinned)
            otherwise = NOR_WITHOUT_PIN
        else:
            no_size = _no_such_size(instance, instance.jobs[job])
            reason = no_size or _reason(request, instance, instance.jobs[job])
            otherwise = NO_SUCH_SIZE if no_size else NONE_ALONE
        words = remedies.of(job)
        if not words and not until.over():
            words = [otherwise]
        for strip in instance.jobs[job].strips_or_first():
            found.append(Shortfall(code, strip.label, strip.count, reason, " or ".join(words)))
    return tuple(found)


def _pinned(request: PlanRequest, job: Job, tags: list[str]) -> str:
    """What is wrong with what a job is pinned to."""
    told, one = " and ".join(tags), job.batch_rule is BatchRule.ONE
    begun = sorted({cut.batch for cut in request.cut_already if cut.job == job.code}) if one else []
    batches = {item.batch_key for item in request.stock if item.tag in tags}
    if begun and batches.isdisjoint(begun):
        of_another = "which is of another" if len(tags) == 1 else "which are of others"
        return f"it is begun in batch {' and '.join(begun)} and pinned to {told}, {of_another}"
    of_one = " in one batch" if one and len(tags) > 1 else ""
    return f"it is pinned to {told}, which cannot give all of it{of_one} in time beside the other jobs"


def _no_such_size(instance: Instance, job: Job) -> str:
    """The first strip that nothing is wide or long enough for; empty where there is none."""
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
    return ""


def _reason(request: PlanRequest, instance: Instance, job: Job) -> str:
    """What is lacking though every strip alone could be had: time, size, or one batch with all of it."""
    groups = [group for group in instance.groups if instance.jobs[group.job] is job]
    batches = {choice.batch for group in groups for choice in group.demands}
    if any(s.option is not None and s.batch in batches for s in instance.sources):
        return "what can arrive in time cannot hold all of it"
    if job.batch_rule is BatchRule.ONE and any(cut.job == job.code for cut in request.cut_already):
        return (
            "it is begun, bought grass would be another batch, and its own does not hold the rest beside the other jobs"
        )
    if any(request.today + timedelta(days=offer.lead_days) < job.lay_on for offer in instance.supply):
        bought = "what is bought in time is too narrow or too short for it"
    elif instance.supply:
        bought = "nothing that is bought arrives before it is laid"
    else:
        bought = "nothing is on offer"
    if job.batch_rule is BatchRule.ANY:
        return f"{bought}, and the yard does not hold enough"
    return f"{bought}, and no single batch in the yard holds all of it beside the other jobs"
