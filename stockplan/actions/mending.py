"""The cheapest way to make up for pieces that jobs lack, with everything else as it is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from stockplan.actions.asking import Wish
from stockplan.actions.planning import ShownPlan, make_plan
from stockplan.domain.jobs import Window
from stockplan.domain.request import SearchLimits
from stockplan.domain.standing import clusters, codes_of
from stockplan.errors import RequestError


def mend(where: str | None, jobs: Sequence[str], seconds: float, today: date | None = None) -> ShownPlan:
    """Plan what some jobs lack and nothing else, and store it as a proposal.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    jobs
        Their codes.
    seconds
        How long to look; positive.
    today
        The first day on which anything can be ordered; default this machine's date.

    Raises
    ------
    RequestError
        When none of the jobs is in the schedule, or they lack nothing.
    StoreError
        When the store cannot be read or written.
    """
    from stockplan.store.plan_rows import read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        days = [job.lay_on for job in read_promised(source) if job.code in jobs]
    if not days:
        raise RequestError(f"{', '.join(jobs)}: not in the schedule, so nothing is planned for them")
    window = Window(min(days), max(days))
    return make_plan(where, window, today or date.today(), SearchLimits(seconds), wish=Wish(only=tuple(jobs)))


def days_around(where: str | None, jobs: Sequence[str]) -> Window:
    """Give the days that must be planned again so that all may move that hangs together with some jobs.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    jobs
        Codes of jobs in the schedule.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.in_force import read_schedule  # noqa: PLC0415
    from stockplan.store.plan_rows import read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        schedule = read_schedule(source, read_promised(source), cut_for=())
    groups = [codes_of(cluster) for cluster in clusters(schedule.standing)]
    together = {*jobs, *(code for group in groups if not set(jobs).isdisjoint(group) for code in group)}
    days = [job.lay_on for code, job in schedule.jobs.items() if code in together]
    return Window(min(days), max(days))
