"""Looking at what is in the store: jobs, and whether all is in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stockplan.domain.jobs import Job, Window
from stockplan.errors import RequestError, StoreError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


def unknown_product(where: str | None, code: str) -> str | None:
    """Say that the store knows no product of this code, and which it knows; None when it knows it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code
        As typed.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.meant import no_product  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.repository import read_products  # noqa: PLC0415
    from stockplan.store.sheet_faults import shown  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        codes = [product.code for product in read_products(source)]
    if code in codes:
        return None
    words = no_product(shown(code), codes)
    return f"{words[0].upper()}{words[1:]}."


def list_jobs(where: str | None, window: Window | None = None, code: str | None = None) -> list[Job]:
    """Read the schedule, in order of lay date and code.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    window
        The days to look at; default all.
    code
        Of the only job to look at; default all.

    Raises
    ------
    RequestError
        When the schedule holds no job of that code; says which one may be meant.
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.meant import jobs_meant  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        found = read_jobs(source, window, codes=None if code is None else [code])
        if code is not None and not found:
            meant = jobs_meant(rows_of(source), [code]) or "; `stockplan jobs` lists them"
            raise RequestError(f"the store knows no job {code!r}{meant}")
    return found


def list_schedule(where: str | None, window: Window) -> list[Job]:
    """Read the schedule as `list_jobs` does, a job with lawns with the strips by which accepted plans cut it.

    One whose lawns have been measured again since, or that nothing accepted lays out, comes without strips.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    window
        The days to look at.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.in_force import read_schedule, with_lawns_compared  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.repository import read_jobs  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        jobs = read_jobs(source, window)
        measured = [job for job in jobs if job.lawns and not job.strips]
        if not measured:
            return jobs
        schedule = with_lawns_compared(source, read_schedule(source, measured))
    return [schedule.job(job.code) or job for job in jobs]


def verify(where: str | None) -> tuple[str, list[str]]:
    """Check a store against itself and return its name and every fault found.

    Raises
    ------
    StoreError
        When the store cannot be read at all.
    """
    from stockplan.store.file_faults import file_faults  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.verify import verify_store  # noqa: PLC0415
    from stockplan.store.verify_plans import verify_plans  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        try:
            return store.name, verify_store(session) + verify_plans(session) + _plan_faults(session)
        except Exception:
            faults = file_faults(session)
            if not faults:  # the program is wrong, not the store
                raise
            return store.name, faults


def _plan_faults(session: Session) -> list[str]:
    """Plans that cannot be read, or are not those of their files."""
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415
    from stockplan.store.repository import read_plans  # noqa: PLC0415

    faults = []
    for stored in read_plans(session):
        try:
            plan = read_plan(stored.plan_json)
            read_request(stored.plan_json)
        except StoreError as error:
            faults.append(f"stored plan {stored.number} cannot be read: {error}")
            continue
        if (plan.window, plan.net_cost_pence) != (stored.window, stored.net_cost_pence):
            faults.append(f"stored plan {stored.number} has another window or cost than its file")
    return faults


def damage(where: str | None) -> str:
    """Say what is wrong with the file of a store after a command failed on it; nothing where the file is sound.

    Parameters
    ----------
    where
        The store; see `locate_store`.

    Raises
    ------
    StoreError
        When the store cannot be read at all.
    """
    from stockplan.store.connecting import store_exists  # noqa: PLC0415
    from stockplan.store.file_faults import file_faults  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    if not store_exists(where):
        return ""
    with open_store(where) as store, store.reading() as session:
        return next(iter(file_faults(session)), "")
