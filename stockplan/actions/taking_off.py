"""What jobs need beside grass, by the plan that lays them out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from stockplan.actions.planning import stored_plan
from stockplan.domain.jobs import Job, Window
from stockplan.domain.layout import Layout
from stockplan.domain.materials import TakeOffSettings
from stockplan.domain.plan_state import IN_FORCE, PlanState
from stockplan.domain.surfaces import MEASURED_LEVEL, Slope, along_slope, surfaces_of
from stockplan.domain.take_off import TakeOff, take_off, together
from stockplan.errors import RequestError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.report.take_off import TakeOffSheet

Laid = dict[str, tuple[Layout, int]]  # by job: its layout, and the number of the plan that chose it


def take_off_jobs(
    where: str | None, window: Window, codes: Sequence[str] = (), slope: Slope | None = None
) -> TakeOffSheet:
    """Reckon what jobs need, each laid out as in the last accepted plan, or else the last proposed one, that holds it.

    A plan whose lawns have been measured again since does not count.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    window
        Jobs laid in these days.
    codes
        Only these jobs; default all.
    slope
        Of the ground, where the lawns were measured level; default none.

    Raises
    ------
    RequestError
        When there is no such job, or none in these days.
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.meant import jobs_meant  # noqa: PLC0415
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        jobs = read_jobs(session, window)
        if missing := [code for code in codes if code not in {job.code for job in jobs}]:
            meant = jobs_meant(rows_of(session), missing) or "; `stockplan jobs` lists them"
            raise RequestError(f"the store knows no job {', '.join(missing)}{meant}")
        jobs = [job for job in jobs if not codes or job.code in codes]
        if not jobs:
            raise RequestError(f"no job is laid from {window.first} to {window.last}; `stockplan jobs` lists them")
        settings = read_firm_settings(session)
        laid = _layouts(session, [job for job in jobs if job.lawns])
    return _sheet(jobs, laid, settings.take_off, slope)


def take_off_plan(where: str | None, number: int, slope: Slope | None = None) -> TakeOffSheet:
    """Reckon what every job of a plan needs, laid out as in that plan, or as it was begun before it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    number
        The plan's.
    slope
        As for `take_off_jobs`.

    Raises
    ------
    StoreError
        When there is no such plan or it cannot be read.
    """
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415

    shown = stored_plan(where, number)
    with open_store(where) as store, store.reading() as session:
        settings = read_firm_settings(session)
        laid = _laid_by(session, shown.number, shown.text, [job for job in shown.request.jobs if job.lawns])
    return _sheet(sorted(shown.request.jobs, key=lambda job: (job.lay_on, job.code)), laid, settings.take_off, slope)


def _sheet(jobs: Sequence[Job], laid: Laid, settings: TakeOffSettings, slope: Slope | None) -> TakeOffSheet:
    from stockplan.report.take_off import TakeOffSheet  # noqa: PLC0415

    rows: list[tuple[Job, TakeOff, int | None]] = []
    for job in jobs:
        layout, number = laid.get(job.code, (None, None))
        surfaces = surfaces_of(job, layout)
        if slope and job.lawns:
            steep = [along_slope(surface, slope) for surface in surfaces]
            rows.append((job, replace(take_off(job.code, steep, settings), notes=(MEASURED_LEVEL,)), None))
        else:
            rows.append((job, take_off(job.code, surfaces, settings), number))
    return TakeOffSheet(tuple(rows), together([one for _, one, _ in rows], settings), settings)


def _layouts(session: Session, jobs: Sequence[Job]) -> Laid:
    """Layouts from accepted plans, else from proposed ones, the last first; not of lawns measured again since."""
    from stockplan.report.plan_reader import read_request  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts, read_spans, read_states  # noqa: PLC0415

    states = read_states(session)
    spans = [one for one in read_spans(session) if states.get(one[0]) != PlanState.WITHDRAWN]
    laid: Laid = {}
    for number, first, last in sorted(spans, key=lambda one: (states.get(one[0]) not in IN_FORCE, -one[0])):
        wanted = {job.code: job for job in jobs if job.code not in laid and first <= job.lay_on <= last}
        if not wanted:
            continue
        text = read_plan_texts(session, [number])[number]
        held = (job for job in read_request(text).jobs if job.code in wanted)
        laid |= _laid_by(session, number, text, [job for job in held if job.lawns == wanted[job.code].lawns])
    return laid


def _laid_by(session: Session, number: int, text: str, jobs: Sequence[Job]) -> Laid:
    """The layouts of jobs that a plan holds: it chose them, or goes on with what was begun by those of earlier plans.

    Of the latter it has no more than the strips.
    """
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts, read_spans  # noqa: PLC0415

    chosen = {one.job: one.layout for one in read_plan(text).layouts()}
    laid = {job.code: (chosen[job.code], number) for job in jobs if job.code in chosen}
    begun = {job.code: job for job in jobs if job.code not in chosen and job.strips}
    for earlier in sorted((one for one, _, _ in read_spans(session) if one < number), reverse=True):
        if not begun:
            break
        before = read_plan_texts(session, [earlier])[earlier]
        lawns = {job.code: job.lawns for job in read_request(before).jobs}
        for one in read_plan(before).layouts():
            job = begun.get(one.job)
            if job is not None and set(one.layout.strips) == set(job.strips) and lawns[one.job] == job.lawns:
                laid[one.job] = (one.layout, earlier)
                del begun[one.job]
    return laid
