"""What was asked for, once a plan has picked a layout for every job that had several."""

from __future__ import annotations

from dataclasses import replace

from stockplan.domain.jobs import Job
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest


def with_picked_layouts(request: PlanRequest, plan: Plan) -> PlanRequest:
    """The same request with the strips of the layout picked as each job's strips.

    Parameters
    ----------
    request
        What was asked. Its jobs keep their layouts.
    plan
        A plan for it; a job it picks no layout for gets the strips of its first.
    """
    picked = {chosen.job: chosen.layout for chosen in plan.layouts()}

    def settled(job: Job) -> Job:
        if not job.layouts:
            return job
        return replace(job, strips=picked.get(job.code, job.layouts[0]).strips)

    return replace(request, jobs=tuple(settled(job) for job in request.jobs))
