"""What accepted plans are still to cut, put together from the store."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.actions.outgrown import plans_of, without_outgrown
from stockplan.domain.jobs import Job, Strip
from stockplan.domain.plan import Plan, SourceCuts
from stockplan.domain.purchase import OrderLine
from stockplan.domain.refit import refit
from stockplan.domain.request import Pin
from stockplan.domain.standing import Schedule, Standing
from stockplan.domain.stock import StockItem

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.store.rows import Rows


BEGUN = '"cut_already"'  # a plan's file has it where it goes on with what was begun before it


@dataclass(frozen=True, slots=True)
class PlanBooks:
    """What the store holds of the life of plans.

    Parameters
    ----------
    plans
        Accepted plans that still have something to cut, by number.
    reserved
        Number of the plan each reserved tag is reserved for.
    lines
        Every order line, by key.
    receipts
        Key of the order each tag came in for.
    full_mm
        Width of the widest roll of each product that these plans cut.
    begun
        By number of such a plan: the strips of jobs with lawns that were begun before it and that it has no layout of
        its own for.
    """

    plans: Mapping[int, Plan]
    reserved: Mapping[str, int]
    lines: Mapping[str, OrderLine]
    receipts: Mapping[str, str]
    full_mm: Mapping[str, int]
    begun: Mapping[int, Mapping[str, tuple[Strip, ...]]]

    def standing(self, stock: Iterable[StockItem], today: date | None = None) -> tuple[Standing, ...]:
        """Give every source that accepted plans are still to cut, plan by plan in the plan's own order.

        Parameters
        ----------
        stock
            What lies in the yard, reserved things among it.
        today
            The day it is asked; default what is overdue is still expected on its day. See `OrderLine.earliest`.
        """
        found: dict[tuple[int, str], StockItem] = {}
        for item in stock:
            plan = self.reserved.get(item.tag)
            if plan is not None:
                found.setdefault((plan, self.plan_key(item.tag)), item)
        for line in self.lines.values():
            if line.coming and line.plan is not None:
                found.setdefault((line.plan, line.plan_key), line.as_stock(today))
        standing = []
        for number in sorted(self.plans):
            for cuts in self.plans[number].cuts():
                there = found.get((number, cuts.source))
                if there is not None:
                    standing.append(self._standing(number, cuts, there))
        return tuple(standing)

    def plan_key(self, tag: str) -> str:
        """Say how the plan that a tag is reserved for names it: by the tag, or by the order it came in for."""
        line = self.lines.get(self.receipts.get(tag, ""))
        return line.plan_key if line is not None and line.plan == self.reserved.get(tag) else tag

    def _standing(self, number: int, planned: SourceCuts, item: StockItem) -> Standing:
        fitted = refit(planned, item, self.full_mm.get(item.product, item.width_mm))
        return Standing(number, planned.source, item, fitted.cuts, fitted.leftovers, fitted.lost)

    def jobs(self) -> set[str]:
        """Codes of the jobs that these plans serve."""
        return {piece.job for plan in self.plans.values() for piece in plan.pieces()}

    def chosen(self) -> dict[str, tuple[Strip, ...]]:
        """Give the strips of the layout picked for each job that has layouts, by the last plan that goes by one."""
        found: dict[str, tuple[Strip, ...]] = {}
        for number in sorted(self.plans):
            found |= self.begun.get(number, {})
            found |= {picked.job: picked.layout.strips for picked in self.plans[number].layouts()}
        return found


def read_books(source: Session | Rows, only: Iterable[int] | None = None, before: PlanBooks | None = None) -> PlanBooks:
    """Read what the store holds of the life of plans.

    Parameters
    ----------
    source
        Where to read.
    only
        Numbers of the plans wanted; default every accepted plan.
    before
        As read from the same store before: a plan's file never changes, and none is read twice.

    Raises
    ------
    StoreError
        When a stored plan cannot be read.
    """
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
    from stockplan.store import plan_rows  # noqa: PLC0415

    reserved = plan_rows.read_reserved(source)
    lines = {line.key: line for line in plan_rows.read_lines(source)}
    numbers = {*reserved.values(), *(line.plan for line in lines.values() if line.coming and line.plan is not None)}
    if only is not None:
        numbers &= set(only)
    plans = {number: plan for number, plan in (before.plans if before else {}).items() if number in numbers}
    texts = plan_rows.read_plan_texts(source, numbers - plans.keys())
    plans |= {number: read_plan(text) for number, text in texts.items()}
    begun = {number: strips for number, strips in (before.begun if before else {}).items() if number in numbers}
    begun |= {number: _strips_laid(text) for number, text in texts.items() if BEGUN in text}
    return PlanBooks(
        plans=plans,
        reserved=reserved,
        lines=lines,
        receipts=plan_rows.read_receipts(source),
        full_mm=plan_rows.read_full_widths(source, {cuts.product for plan in plans.values() for cuts in plan.cuts()}),
        begun=begun,
    )


def _strips_laid(text: str) -> dict[str, tuple[Strip, ...]]:
    """The strips of every job with lawns in a plan's file, whether that plan laid it out or one before it."""
    from stockplan.report.plan_reader import read_request  # noqa: PLC0415

    return {job.code: job.strips for job in read_request(text).jobs if job.lawns and job.strips}


def read_schedule(
    source: Session | Rows,
    jobs: Iterable[Job],
    pins: tuple[Pin, ...] = (),
    cut_for: Iterable[str] | None = None,
    before: PlanBooks | None = None,
    today: date | None = None,
) -> Schedule:
    """Read how much of what has been promised is settled.

    Parameters
    ----------
    source
        Where to read.
    jobs
        Every job; of two with one code the later stands.
    pins
        What people have decided.
    cut_for
        Look up what has been cut only for these jobs; default all. Nothing may then be asked of the others.
    before
        See `read_books`.
    today
        See `PlanBooks.standing`.

    Raises
    ------
    StoreError
        When a stored plan cannot be read.
    """
    return schedule_of(source, read_books(source, before=before), jobs, pins, cut_for, today)


def schedule_of(
    source: Session | Rows,
    books: PlanBooks,
    jobs: Iterable[Job],
    pins: tuple[Pin, ...] = (),
    cut_for: Iterable[str] | None = None,
    today: date | None = None,
) -> Schedule:
    """Put together how much of what has been promised is settled.

    Parameters
    ----------
    source
        Where to read the rest; as it was when the books were read.
    books
        What it holds of the life of plans.
    jobs, pins, cut_for, today
        As in `read_schedule`.
    """
    from stockplan.store.yard_rows import read_stock  # noqa: PLC0415

    known = {job.code: job for job in jobs}
    standing = books.standing(read_stock(source, books.reserved), today)
    schedule = Schedule(jobs=known, standing=standing, chosen=books.chosen(), pins=pins)
    return with_pieces(source, schedule, known if cut_for is None else cut_for)


def with_pieces(source: Session | Rows, schedule: Schedule, jobs: Iterable[str]) -> Schedule:
    """Look up what has been cut for some jobs; what is of no use to them any more, and pins kept by it, are set aside.

    Parameters
    ----------
    source
        Where to read.
    schedule
        As read without it.
    jobs
        Their codes.
    """
    from stockplan.store.plan_rows import plans_cut_for, read_plan_texts  # noqa: PLC0415
    from stockplan.store.yard_rows import read_cut_so_far  # noqa: PLC0415

    pieces = read_cut_so_far(source, [code for code in jobs if code in schedule.jobs])
    begun = {code: schedule.jobs[code] for code, _ in pieces}
    laid_out = sorted(code for code, job in begun.items() if job.layouts or not job.strips)
    texts = read_plan_texts(source, plans_cut_for(source, laid_out)) if laid_out else {}
    cut_from = {(code, piece.source) for (code, _), cut in pieces.items() for piece in cut}
    pins = tuple(pin for pin in schedule.pins if (pin.job, pin.source) not in cut_from)  # the others are kept already
    found = replace(schedule, pieces=pieces, pins=pins)
    found = replace(found, chosen={**schedule.chosen, **_picked(found, texts, laid_out)})
    return without_outgrown(source, found, laid_out, texts)


def _picked(schedule: Schedule, texts: Mapping[int, str], jobs: Sequence[str]) -> dict[str, tuple[Strip, ...]]:
    """Give the layouts by which jobs were cut last, unless a later plan is still to cut them by another.

    An earlier plan that has other jobs left to cut may hold a layout of theirs that went out with it.
    """
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415

    picked = {(number, code): strips for number in texts for code, strips in _strips_laid(texts[number]).items()}
    picked |= {(number, one.job): one.layout.strips for number in texts for one in read_plan(texts[number]).layouts()}
    newest = {code: max(plans) for code in jobs if (plans := plans_of(schedule, code))}
    return {code: picked[number, code] for code, number in newest.items() if (number, code) in picked}


def with_lawns_compared(session: Session | Rows, schedule: Schedule) -> Schedule:
    """Find out which lawns are no longer as they were when the plan that is to cut for them laid them out.

    Parameters
    ----------
    session
        Where to read.
    schedule
        With jobs as the store has them, lawns included.
    """
    from stockplan.report.plan_reader import read_request  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts  # noqa: PLC0415

    laid_out = {code for code, job in schedule.jobs.items() if job.lawns and (job.layouts or not job.strips)}
    concerned = {(one.plan, code) for one in schedule.standing for code in one.jobs() if code in laid_out}
    texts = read_plan_texts(session, {number for number, _ in concerned})
    lawns = {(number, job.code): job.lawns for number, text in texts.items() for job in read_request(text).jobs}
    changed = {code for number, code in concerned if lawns.get((number, code)) != schedule.jobs[code].lawns}
    return replace(schedule, remeasured=frozenset(changed))
