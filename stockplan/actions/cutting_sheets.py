"""The sheet of one roll, and the record that it was cut: pieces, what goes back under new tags, what is binned."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stockplan.actions.in_force import PlanBooks, read_books, schedule_of, with_lawns_compared, with_pieces
from stockplan.actions.user import user
from stockplan.domain.came_off import CameOff, Kept, Outcome, outcome
from stockplan.domain.deliveries import Danger, mixing, too_small
from stockplan.domain.jobs import Job
from stockplan.domain.ledger import Entry, binned, condition, cut, returned
from stockplan.domain.misfits import for_nobody, lacking, outdated, set_aside, surplus
from stockplan.domain.plan_state import PlanState
from stockplan.domain.standing import Schedule, Standing, served
from stockplan.domain.stock import StockItem
from stockplan.domain.tags import LETTERS, new_tags
from stockplan.errors import StockplanError, StoreConflict, StoreError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.store.quick import OpenWork
    from stockplan.store.rows import Rows

CHANGED = "has changed since this was planned, measured again or with other strips"


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is to be cut from one source.

    Parameters
    ----------
    standing
        The source and its cuts.
    jobs
        The jobs it serves, the first to be laid first.
    weight_g_m2
        Of its product.
    warnings
        What to look at before cutting.
    """

    standing: Standing
    jobs: tuple[Job, ...]
    weight_g_m2: int
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CutDone:
    """What was recorded of a cut.

    Parameters
    ----------
    standing
        The source as it was to be cut.
    outcome
        What became of it.
    back
        What went back into the yard, under new tags.
    condition
        The word for what the source was before, and what went back still is; empty where it was sound.
    finished
        Jobs that are now cut in full.
    missing
        What jobs of this source lack now: by job and strip how many pieces.
    plan_done
        Whether the plan has nothing left to cut.
    useless
        Which of the pieces nobody wants any more, and how to log them as offcuts; sentences.
    """

    standing: Standing
    outcome: Outcome
    back: tuple[StockItem, ...]
    condition: str
    finished: tuple[str, ...]
    missing: Mapping[str, dict[str, int]]
    plan_done: bool
    useless: tuple[str, ...] = ()


def read_sheet(where: str | None, tag: str) -> Sheet:
    """Look up what is to be cut from a source.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        Of a thing in the yard that an accepted plan is to cut.

    Raises
    ------
    StoreError
        When it is not there or nothing is to be cut from it, or the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        one, schedule, _ = _standing(source, tag)
        return _sheet(source, one, schedule)


def cannot_give(where: str | None, tags: Collection[str]) -> tuple[Danger, ...]:
    """Say which jobs lose pieces because things measure less than accepted plans want to cut from them.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tags
        The things asked about.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    return tuple(danger for one in _to_cut(where, tags)[1] for danger in too_small(one))


def jobs_cut_from(where: str | None, tags: Collection[str]) -> dict[str, list[str]]:
    """Say which jobs of the schedule accepted plans are to cut from things: for each thing their codes.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tags
        The things asked about.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    schedule, cut = _to_cut(where, tags)
    return {one.item.tag: served(schedule, [one]) for one in cut if one.item.arrives_on is None}


def _to_cut(where: str | None, tags: Collection[str]) -> tuple[Schedule, list[Standing]]:
    """The schedule, and what accepted plans are still to cut from things."""
    from stockplan.store.plan_rows import read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        books = read_books(source)
        schedule = schedule_of(source, books, read_promised(source, books.jobs()), cut_for=())
        return schedule, [one for one in schedule.standing if one.item.tag in tags]


def _sheet(source: Session | Rows, one: Standing, schedule: Schedule) -> Sheet:
    from stockplan.report.words import unsound_words  # noqa: PLC0415
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    jobs = [job for code in one.jobs() if (job := schedule.job(code)) is not None]
    word = _condition(rows_of(source), one.item.tag)
    warnings = [unsound_words(word)] if word else []
    warnings += [str(danger) for danger in (*too_small(one), *mixing(schedule, one.jobs()))]
    warnings += [f"{code} is no longer in the schedule" for code in one.jobs() if code not in schedule.jobs]
    changed = _changed(source, one, schedule)
    warnings += [f"{why}: plan again before cutting for it" for why in changed.values()]
    warnings += [f"{lacks}, and no plan is to cut that" for lacks in lacking(schedule, one.jobs(), besides=changed)]
    return Sheet(
        standing=one,
        jobs=tuple(sorted(jobs, key=lambda job: (job.lay_on, job.code))),
        weight_g_m2=read_weights(source)[one.item.product],
        warnings=tuple(warnings),
    )


def _changed(source: Session | Rows, one: Standing, schedule: Schedule) -> dict[str, str]:
    """Say which jobs want other pieces by now, or fewer than are cut and to be cut; by code, a sentence."""
    from stockplan.store.repository import read_jobs  # noqa: PLC0415

    jobs = {job.code: job for job in read_jobs(source, codes=one.jobs())}
    compared = with_lawns_compared(source, replace(schedule, jobs={**schedule.jobs, **jobs}))
    many = surplus(compared, one)
    return {code: many.get(code, f"{code} {CHANGED}") for code in outdated(compared, one)}


def _condition(rows: Rows, tag: str) -> str:
    """Give the word for the condition a thing is in; empty where it is sound."""
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    return read_yard(rows, [tag]).conditions.get(tag, "")


def _standing(source: Session | Rows, tag: str) -> tuple[Standing, Schedule, PlanBooks]:
    """Find what is to be cut from a tag; says what is the matter when there is nothing."""
    from stockplan.actions.meant import known  # noqa: PLC0415
    from stockplan.store.plan_rows import read_promised  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    books = read_books(source)
    if tag in books.lines and books.lines[tag].coming:
        raise StoreError(f"{tag} has not come in yet; take it in first with: stockplan receive-order {tag}")
    if tag in books.lines and (came := _came_as(books, tag)):
        tag = came
    known(rows_of(source), read_yard(source, [tag]), tag)
    schedule = schedule_of(source, books, read_promised(source, books.jobs()), cut_for=())
    one = next((one for one in schedule.standing if one.item.tag == tag), None)
    if one is None:
        raise StoreError(f"no accepted plan cuts {tag}; accept one first with: stockplan accept")
    return one, with_pieces(source, schedule, one.jobs()), books


def _came_as(books: PlanBooks, key: str) -> str:
    return next((tag for tag, order in books.receipts.items() if order == key), "")


def record_cut(where: str | None, tag: str, off: CameOff, bay: str = "", seen: Standing | None = None) -> CutDone:
    """Record that a source was cut, all of it or nothing.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        What was cut.
    off
        What differed from the plan.
    bay
        Where what is kept lies now; default where the source lay.
    seen
        The source and its cuts as the person was shown them who says what came off; default they were not.

    Raises
    ------
    StockplanError
        When it cannot have been so; names every reason.
    StoreConflict
        When other cuts are to be made of it now than were shown.
    StoreError
        When it is not there, nothing is to be cut from it, or the store cannot be written.
    """
    from stockplan.actions.every_fault import check_all  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        one, _, books = _standing(work.rows, tag)
        if seen is not None and replace(one, item=seen.item) != seen:  # where it lies is no matter
            raise StoreConflict(f"the sheet of {tag} is not as it was shown; nothing was stored; look at it again")
        found = outcome(one, off)
        check_all(lambda: _check_came_off(found), lambda: _check_bay(work.rows, found, bay))
        word = _condition(work.rows, one.item.tag)
        back = _write(work, one, found, bay or one.item.bay, word)
        after, plan_done = _close(work, one, books)
        work.commit()
    missing = {code: lacks for code in one.jobs() if (lacks := after.missing(code))}
    still = {code for other in after.standing for code in other.jobs()}
    finished = [code for code in one.jobs() if code in after.jobs and code not in missing and code not in still]
    useless = (*for_nobody(one, found.pieces, after.jobs), *(set_aside(after, code) for code in one.jobs()))
    return CutDone(one, found, back, word, tuple(finished), missing, plan_done, tuple(filter(None, useless)))


def _check_came_off(found: Outcome) -> None:
    if found.faults:
        raise StockplanError("\n".join(found.faults))


def _check_bay(rows: Rows, found: Outcome, bay: str) -> None:
    """Check the bay that was typed, where something is kept that it may be for."""
    from stockplan.actions.spelling import check_bay  # noqa: PLC0415
    from stockplan.actions.typed import check_text  # noqa: PLC0415

    if bay and (found.kept or found.faults):
        check_text("bay", bay)
        check_bay(rows, bay)


def _write(work: OpenWork, one: Standing, found: Outcome, bay: str, word: str) -> tuple[StockItem, ...]:
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.yard_rows import read_stock  # noqa: PLC0415

    tag, why = one.item.tag, f"cut for plan {one.plan}"
    entries: list[Entry] = [cut(tag, found.pieces, why, one.plan)]
    tags = _new_tags(work.rows, found.kept)
    for new, thing in zip(tags, found.kept, strict=True):
        size_mm = (thing.width_mm, thing.length_mm)
        entries.append(returned(new, tag, thing.form, size_mm, bay, why, one.plan))
        if word:  # nobody has said that it is sound now
            entries.append(condition(new, word, f"{tag} was {word}"))
    if found.binned_mm2:
        entries.append(binned(tag, found.binned_mm2, why, one.plan))
    record(work, entries, user())
    by_tag = {item.tag: item for item in read_stock(work.rows, tags)}
    return tuple(by_tag[new] for new in tags)


def _new_tags(rows: Rows, kept: tuple[Kept, ...]) -> list[str]:
    """Tags in the order of what is kept."""
    from stockplan.store.plan_rows import tags_ever  # noqa: PLC0415

    made = {
        form: iter(new_tags(tags_ever(rows, LETTERS[form]), sum(thing.form is form for thing in kept), form))
        for form in dict.fromkeys(thing.form for thing in kept)
    }
    return [next(made[thing.form]) for thing in kept]


def _close(work: OpenWork, one: Standing, books: PlanBooks) -> tuple[Schedule, bool]:
    """Read how things stand after a cut; a plan with nothing left to cut is done."""
    from stockplan.store.plan_rows import read_promised, write_state  # noqa: PLC0415

    after = read_books(work.rows, before=books)
    schedule = schedule_of(work.rows, after, read_promised(work.rows, books.jobs()), cut_for=one.jobs())
    done = all(other.plan != one.plan for other in schedule.standing)
    if done:
        write_state(work, one.plan, PlanState.DONE, user())
    return schedule, done
