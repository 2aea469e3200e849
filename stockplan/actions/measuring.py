"""Measuring lawns in: storing on a job what was measured, and taking it off again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.actions.measurements import LONGEST_LABEL
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.measured import Measured
from stockplan.domain.pile import PileWish
from stockplan.domain.pile_direction import job_wish, pile_faults
from stockplan.errors import RequestError, SurveyFaults

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


@dataclass(frozen=True, slots=True)
class NewJob:
    """What a job needs to be before lawns can be measured in for it.

    Parameters
    ----------
    product, lay_on
        Product code and the day it is laid.
    site
        Where; free text.
    batch_rule
        One batch, or any.
    """

    product: str
    lay_on: date
    site: str = ""
    batch_rule: BatchRule = BatchRule.ONE


@dataclass(frozen=True, slots=True)
class PileSaid:
    """What is said of a job's pile: a wish, or None to go back to common practice."""

    wish: PileWish | None


@dataclass(frozen=True, slots=True)
class MeasuredIn:
    """What measuring in gave.

    Parameters
    ----------
    measured
        Each lawn with what its measurements say of themselves.
    job
        The job as it stands now.
    created
        Whether the job is new.
    replaced
        Labels of lawns that were there before and are measured anew.
    again
        What was cut for the job before and counts again; sentences.
    """

    measured: tuple[Measured, ...]
    job: Job
    created: bool = False
    replaced: tuple[str, ...] = field(default=())
    again: tuple[str, ...] = ()


def check_job(where: str | None, code: str, new: NewJob | None) -> None:
    """Check that lawns can be stored on a job.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code
        The job.
    new
        What it is, if it is not in the store yet; else None.

    Raises
    ------
    RequestError
        When the job is not there and nothing says what it is, or the other way round, or the product is unknown.
    StoreError
        When the store cannot be opened.
    """
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        _job(session, code, new)


def measure_in(
    where: str | None, code: str, measured: Sequence[Measured], pile: PileSaid | None, new: NewJob | None
) -> MeasuredIn:
    """Store lawns on a job; one of the same name is replaced, the others stay.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code
        The job's code.
    measured
        From `look_at` in `measurements.py`.
    pile
        The job's pile wish; None leaves what it was.
    new
        What the job is, where it is new; None where it is in the store.

    Raises
    ------
    RequestError
        When the job is not there and nothing says what it is, or the other way round, or the product is unknown.
    SurveyFaults
        When the pile wish cannot be followed.
    StoreError
        When the store cannot be opened or written.
    """
    from stockplan.actions.counting_again import count_again  # noqa: PLC0415
    from stockplan.store.lawn_rows import replace_lawns  # noqa: PLC0415
    from stockplan.store.repository import write_jobs  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.unit_of_work() as work:
        before = _job(work.session, code, new)
        labels = {one.lawn.label.casefold() for one in measured}
        replaced = tuple(lawn.label for lawn in before.lawns if lawn.label.casefold() in labels)
        job = _with_lawns(before, measured, pile)
        if new is None:
            replace_lawns(work, job)
        else:
            write_jobs(work, [job])
        again = tuple(count_again(work.session, [before] if new is None else [], [job]))
        work.commit()
    return MeasuredIn(tuple(measured), job, new is not None, replaced, again)


def as_measured(where: str | None, code: str, measured: Sequence[Measured], pile: PileSaid | None) -> Job:
    """Give the job as it would be with lawns that are only looked at; one that no store knows has these lawns alone.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code
        The job.
    measured
        Lawns, as they would be stored.
    pile
        What was said of the pile of all its lawns; None where nothing was.

    Raises
    ------
    SurveyFaults
        When the pile wish cannot be followed.
    StoreError
        When there is a store that cannot be read.
    """
    from stockplan.store.connecting import store_exists  # noqa: PLC0415
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    known: dict[str, Job] = {}
    if store_exists(where):
        with open_store(where) as store, store.reading() as session:
            known = {job.code: job for job in read_jobs(session)}
    none = Job(code, "", "", date.min, "", BatchRule.ONE, ())
    return _with_lawns(known.get(code, none), measured, pile)


def _with_lawns(before: Job, measured: Sequence[Measured], pile: PileSaid | None) -> Job:
    """Put lawns on a job, each in the place of one of its name."""
    labels = {one.lawn.label.casefold() for one in measured}
    kept = [lawn for lawn in before.lawns if lawn.label.casefold() not in labels]
    job = replace(before, lawns=(*kept, *(one.lawn for one in measured)), pile=pile.wish if pile else before.pile)
    if faults := pile_faults(job.lawns, job_wish(job)):
        raise SurveyFaults([f"{before.code}: {fault}" for fault in faults])
    return job


def take_off_job(where: str | None, code: str, label: str) -> Job:
    """Take a lawn off its job, and return the job without it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code, label
        The job, and which of its lawns.

    Raises
    ------
    RequestError
        When there is no such job, or it has no such lawn.
    SurveyFaults
        When the pile wishes of what is left cannot be followed.
    StoreError
        When the store cannot be opened or written.
    """
    from stockplan.store.lawn_rows import replace_lawns  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.unit_of_work() as work:
        before = _job(work.session, code, None)
        kept = tuple(lawn for lawn in before.lawns if lawn.label != label)
        if len(kept) == len(before.lawns):
            has = ", ".join(lawn.label for lawn in before.lawns) or "none"
            raise RequestError(f"job {code} has no lawn called {label!r}; it has {has}")
        job = replace(before, lawns=kept)
        faults = pile_faults(job.lawns, job_wish(job))
        if faults:
            raise SurveyFaults([f"{code}: {fault}" for fault in faults])
        replace_lawns(work, job)
        work.commit()
    return job


def _job(session: Session, code: str, new: NewJob | None) -> Job:
    """The job as it is in the store, or a new one."""
    from stockplan.actions.meant import no_product  # noqa: PLC0415
    from stockplan.store.repository import read_jobs, read_products  # noqa: PLC0415
    from stockplan.store.sheet_cells import code as checked_code  # noqa: PLC0415
    from stockplan.store.sheet_cells import nearest  # noqa: PLC0415

    jobs = {job.code: job for job in read_jobs(session)}
    near = nearest(code, [known for known in jobs if known != code])
    meant = f"; perhaps {near} is meant" if near else ""
    if new is None:
        if code not in jobs:
            raise RequestError(f"there is no job {code!r}{meant}; to make it, say --product and --lay-on as well")
        return jobs[code]
    faults = []
    if code in jobs:
        faults.append(f"job {code} is there already; leave out --product, --lay-on, --site and --batch-rule")
    elif near and near.casefold() == code.casefold():
        faults.append(f"job {code!r} differs from {near!r} only in letter case; write {near}")
    if checked_code(code) != code:
        faults.append(f"a job's code is 1 to {LONGEST_LABEL} characters that can be seen, found {code!r}")
    products = [product.code for product in read_products(session)]
    if new.product not in products:
        faults.append(no_product(new.product, products))
    if faults:
        raise RequestError("\n".join(faults))
    return Job(code, new.site, new.product, new.lay_on, "", new.batch_rule, ())
