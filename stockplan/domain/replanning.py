"""Planning again: what stays as it was accepted, what is given back, and what is left to plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.domain.jobs import Job, Window
from stockplan.domain.misfits import misfits, set_aside
from stockplan.domain.request import CutAlready
from stockplan.domain.standing import Schedule, Standing, clusters, codes_of


@dataclass(frozen=True, slots=True)
class Scope:
    """What a new plan is about.

    Parameters
    ----------
    jobs
        Jobs of which something is left to plan, in order of lay date and code.
    settled
        Copies of their strips that are cut, or stay with the plan that is to cut them.
    covered
        Codes of those jobs that would lack nothing if all that accepted plans are to cut were cut.
    kept, freed
        Sources that stay with their plans, and sources that are given back to be planned anew.
    notes
        Why something is given back, and why something that ought to be is not; a sentence each.
    staying
        How much stays with which plan, of what serves the window, and how much is planned anew because that was asked
        for; a sentence each.
    """

    jobs: tuple[Job, ...]
    settled: tuple[CutAlready, ...]
    covered: frozenset[str]
    kept: tuple[Standing, ...]
    freed: tuple[Standing, ...]
    notes: tuple[str, ...]
    staying: tuple[str, ...] = ()


def scope(
    schedule: Schedule,
    window: Window,
    *,
    again: bool = False,
    only: Sequence[str] | None = None,
    without: int | None = None,
) -> Scope:
    """Work out what is left to plan.

    What is cut stays cut. What an accepted plan is still to cut stays with it, unless it no longer suits the schedule
    or `again` asks for all of it; then everything that hangs together with it is given back, provided that all its
    jobs are laid inside the window.

    Parameters
    ----------
    schedule
        What is promised and how much of it is settled.
    window
        The days to plan.
    again
        Give back whatever is still to be cut; default only what no longer suits.
    only
        Plan nothing but what these jobs miss, and give nothing back; default every job of the window.
    without
        Give back what the accepted plan of this number is still to cut, and nothing else; default as said above.
    """
    kept: list[Standing] = []
    freed: list[Standing] = []
    notes: list[str] = []
    if without is not None:
        for one in schedule.standing:
            (freed if one.plan == without else kept).append(one)
    for cluster in clusters(schedule.standing) if without is None else ():
        back = only is None and _given_back(schedule, window, cluster, again, notes)
        (freed if back else kept).extend(cluster)
    jobs: list[Job] = []
    settled: list[CutAlready] = []
    for code, given in schedule.jobs.items():
        wanted = code in only if only is not None else given.lay_on in window
        job = schedule.job(code)
        if not wanted or job is None or not (job.strips or job.layouts):
            continue
        if schedule.missing(code, kept):
            begun = schedule.settled(code, kept)
            jobs.append(job if begun else given)
            settled.extend(begun)
            if aside := set_aside(schedule, code, kept):
                notes.append(aside)
    staying = _by_plan([one for one in kept if _serves(schedule, one, window)], "stays with it")
    if again:
        staying += _by_plan(freed, "is planned anew")
    in_order = sorted(jobs, key=lambda job: (job.lay_on, job.code))
    covered = frozenset(job.code for job in jobs if not schedule.missing(job.code))
    return Scope(tuple(in_order), tuple(settled), covered, tuple(kept), tuple(freed), tuple(notes), tuple(staying))


def _serves(schedule: Schedule, one: Standing, window: Window) -> bool:
    return any(code in schedule.jobs and schedule.jobs[code].lay_on in window for code in one.jobs())


def _by_plan(standing: Sequence[Standing], what: str) -> list[str]:
    counts = Counter(one.plan for one in standing)
    return [
        f"what plan {plan} is to cut from {count} {'source' if count == 1 else 'sources'} {what}"
        for plan, count in sorted(counts.items())
    ]


def _given_back(schedule: Schedule, window: Window, cluster: Sequence[Standing], again: bool, notes: list[str]) -> bool:
    reasons = list(dict.fromkeys(reason for one in cluster for reason in misfits(schedule, one)))
    jobs = [schedule.jobs[code] for code in codes_of(cluster) if code in schedule.jobs]
    inside = [job for job in jobs if job.lay_on in window]
    outside = [job for job in jobs if job.lay_on not in window]
    if not (reasons or again) or (jobs and not inside):
        return False
    tags = ", ".join(one.item.tag for one in cluster)
    plans = " and ".join(f"plan {number}" for number in dict.fromkeys(one.plan for one in cluster))
    why = "; ".join(reasons)
    if outside:
        days = f"{min(job.lay_on for job in jobs)} to {max(job.lay_on for job in jobs)}"
        also = ", ".join(f"{job.code} ({job.lay_on})" for job in outside)
        stays = "stay as they are" if len(cluster) > 1 else "stays as it is"
        serves = "they also serve" if len(cluster) > 1 else "it also serves"
        though = f", though {why}" if why else ""
        notes.append(f"{tags} of {plans} {stays}{though}: {serves} {also}; plan {days} to take all of it in")
        return False
    if why:
        notes.append(f"{tags} of {plans}: planned anew, as {why}")
    return True
