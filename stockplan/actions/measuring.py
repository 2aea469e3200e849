"""Measuring lawns in: reading what was measured, judging it, and storing it on its job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.actions.judging import LARGE_IS_RIGHT, survey_settings
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace
from stockplan.domain.measured import Measured
from stockplan.domain.pile import PileWish
from stockplan.domain.pile_direction import job_wish, pile_faults
from stockplan.domain.survey import SurveySettings
from stockplan.errors import RequestError, StockplanError, SurveyFaults

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.surveying.lengths import Unit

LONGEST_LABEL = 40


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
class Said:
    """What is said of a lawn beside its measurements; what is said here comes before what a file says.

    Parameters
    ----------
    label
        Its name; empty takes the file's, or `lawn`.
    place, north
        Back, front or other; bearing of the y axis in degrees. None leaves them as the file has them.
    sides
        Notes on sides, numbers counted from 0.
    unseen_from
        Labels of lawns nobody sees together with it.
    """

    label: str = ""
    place: LawnPlace | None = None
    north: float | None = None
    sides: tuple[EdgeNote, ...] = ()
    unseen_from: tuple[str, ...] = ()


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
    """

    measured: tuple[Measured, ...]
    job: Job
    created: bool = False
    replaced: tuple[str, ...] = field(default=())


def look_at(
    where: str | None, source: str, said: Said, *, large_is_right: bool = False, unit: Unit | None = None
) -> tuple[Measured, ...]:
    """Read and judge measurements without storing anything.

    Parameters
    ----------
    where
        The store whose settings hold; the program's defaults where there is none.
    source
        Path of a file, or measurements typed in one line.
    said
        See `Said`.
    large_is_right
        Whether a very large lawn is meant.
    unit
        What a drawing counts in that does not say so itself.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    """
    settings = survey_settings(where)
    found = _named(read_measured(source, settings, unit), said)
    faults = [] if large_is_right else large_faults([one.lawn for one in found], settings)
    if faults:
        raise SurveyFaults(faults)
    return found


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
        From `look_at`.
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
        work.commit()
    return MeasuredIn(tuple(measured), job, new is not None, replaced)


def as_measured(where: str | None, code: str, measured: Sequence[Measured], pile: PileSaid | None) -> Job:
    """Give the job as it would be with lawns that are only looked at; one that no store knows has these lawns alone.

    Raises
    ------
    SurveyFaults
        When the pile wish cannot be followed.
    StoreError
        When there is a store that cannot be read.
    """
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.session import open_store, store_exists  # noqa: PLC0415

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


def read_measured(source: str, settings: SurveySettings, unit: Unit | None = None) -> list[Measured]:
    """Read a file of measurements, or measurements typed in one line.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    StockplanError
        When what looks like a file is not there, or cannot be read.
    """
    from stockplan.surveying.reading import looks_like_a_file, read_file, read_typed  # noqa: PLC0415

    path = Path(source)
    try:
        if path.is_file():
            return read_file(path.name, path.read_bytes(), settings, unit)
    except OSError as error:
        if looks_like_a_file(source):
            raise StockplanError(f"{source} cannot be read: {error.strerror}") from error
    if looks_like_a_file(source):
        raise StockplanError(f"{source}: there is no such file")
    return read_typed(source, settings)


def _named(found: Sequence[Measured], said: Said) -> tuple[Measured, ...]:
    """Give each lawn its name, and what was said of it."""
    faults = []
    if said.sides and len(found) > 1:
        faults.append(f"sides were named, but there are {len(found)} lawns; name sides of one lawn at a time")
    named = []
    for number, one in enumerate(found, 1):
        label = said.label or one.lawn.label or "lawn"
        if len(found) > 1 and (said.label or not one.lawn.label):
            label = f"{label} {number}"
        if not label.isprintable() or not 0 < len(label) <= LONGEST_LABEL or label != label.strip():
            faults.append(f"a lawn's name is 1 to {LONGEST_LABEL} characters that can be seen, found {label!r}")
        beyond = [note.number + 1 for note in said.sides if note.number >= len(one.lawn.edge)]
        if beyond:
            faults.append(f"lawn {label} has sides 1 to {len(one.lawn.edge)}; there is no side {beyond[0]}")
        if not faults:
            named.append(replace(one, lawn=_with(one.lawn, label, said)))
    labels = [one.lawn.label.casefold() for one in named]
    faults += [f"two lawns are called {label!r}" for label in sorted({one for one in labels if labels.count(one) > 1})]
    if faults:
        raise SurveyFaults(faults)
    return tuple(named)


def _with(lawn: Lawn, label: str, said: Said) -> Lawn:
    notes = {note.number: note for note in lawn.notes}
    for note in said.sides:
        before = notes.get(note.number, EdgeNote(note.number))
        notes[note.number] = EdgeNote(note.number, note.name or before.name, note.no_seam or before.no_seam)
    return replace(
        lawn,
        label=label,
        place=said.place or lawn.place,
        y_bearing=lawn.y_bearing if said.north is None else said.north,
        notes=tuple(notes[number] for number in sorted(notes)),
        cannot_be_seen_with=tuple(dict.fromkeys((*lawn.cannot_be_seen_with, *said.unseen_from))),
    )


def large_faults(lawns: Sequence[Lawn], settings: SurveySettings) -> list[str]:
    """Ask again about lawns so large that feet may have been read as metres."""
    from stockplan.surveying.outline_faults import large_lawn  # noqa: PLC0415

    asked = [large_lawn(lawn, settings.large_lawn_m2) for lawn in lawns]
    return [f"{words}; would be right: {LARGE_IS_RIGHT}" for words in asked if words]


def _job(session: Session, code: str, new: NewJob | None) -> Job:
    """The job as it is in the store, or a new one."""
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
    if code in jobs:
        raise RequestError(f"job {code} is there already; leave out --product, --lay-on, --site and --batch-rule")
    if near and near.casefold() == code.casefold():
        raise RequestError(f"job {code!r} differs from {near!r} only in letter case; write {near}")
    if checked_code(code) != code:
        raise RequestError(f"a job's code is 1 to {LONGEST_LABEL} characters that can be seen, found {code!r}")
    products = [product.code for product in read_products(session)]
    if new.product not in products:
        near = nearest(new.product, products)
        known = f"perhaps {near} is meant" if near else "import it first, with: stockplan import FOLDER"
        raise RequestError(f"the store knows no product {new.product!r}; {known}")
    return Job(code, new.site, new.product, new.lay_on, "", new.batch_rule, ())
