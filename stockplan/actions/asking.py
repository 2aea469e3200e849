"""What a plan is asked for: everything the store holds, less what is settled by earlier plans, holds and pins."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from stockplan.actions.in_force import PlanBooks, read_books, read_schedule, with_lawns_compared
from stockplan.actions.last_plan import LastPlan, last_plan
from stockplan.actions.laying_out import LaidOut, lay_out
from stockplan.domain.as_typed import argument
from stockplan.domain.jobs import Window
from stockplan.domain.purchase import OrderState
from stockplan.domain.replanning import Scope, scope
from stockplan.domain.request import Pin, PlanRequest, Progress
from stockplan.domain.standing import Schedule
from stockplan.domain.stock import StockItem
from stockplan.domain.units import size
from stockplan.errors import RequestError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.domain.ledger import Yard


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person asks of a plan beside its days.

    Parameters
    ----------
    again
        Plan anew what accepted plans are still to cut; default leave it with them.
    pins
        Decisions to store with those made before.
    only
        Plan nothing but what these jobs miss; default every job of the window.
    without
        Plan as if the accepted plan of this number were not, and all others stood; default see `scope`.
    """

    again: bool = False
    pins: tuple[Pin, ...] = ()
    only: tuple[str, ...] | None = None
    without: int | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """A plan asked for, and what it leaves to earlier plans.

    Parameters
    ----------
    request
        What the planner is given.
    scope
        What stays and what is given back.
    before
        The last plan for these days; None when there is none.
    laid
        What lawns could be laid out, and which could not.
    """

    request: PlanRequest
    scope: Scope
    before: LastPlan | None
    laid: LaidOut


def ask(
    session: Session, window: Window, today: date, wish: Wish, progress: Callable[[Progress], None] | None = None
) -> Asked:
    """Put together what a plan is asked for.

    Parameters
    ----------
    session
        Where to read.
    window
        The days to plan.
    today
        The first day on which anything can be ordered.
    wish
        See `Wish`.
    progress
        Told how far lawns are laid out, where that takes more than a second.

    Raises
    ------
    RequestError
        When a pin cannot be kept.
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.ledger_rows import read_gone, read_yard  # noqa: PLC0415
    from stockplan.store.pin_rows import read_pins  # noqa: PLC0415
    from stockplan.store.repository import jobs_without_strips, load_request, read_jobs  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415
    from stockplan.store.yard_rows import read_left_of  # noqa: PLC0415

    request = load_request(session, window, today)
    settings = read_firm_settings(session).layout
    stored = read_pins(session)
    pins = tuple(dict.fromkeys((*stored, *wish.pins)))
    books, yard = read_books(session), read_yard(session)
    known = (*read_jobs(session), *request.jobs)
    schedule = with_lawns_compared(session, read_schedule(session, known, pins, before=books, today=today))
    pins = tuple(pin for pin in pins if pin in schedule.pins or pin in wish.pins)
    found = scope(schedule, window, again=wish.again, only=wish.only, without=wish.without)
    measured = [job for job in jobs_without_strips(session, window) if wish.only is None or job.code in wish.only]
    laid = lay_out([job for job in measured if not schedule.settled(job.code, found.kept)], request, settings, progress)
    if laid.jobs:
        schedule = replace(schedule, jobs={**schedule.jobs, **{job.code: job for job in laid.jobs}})
        found = scope(schedule, window, again=wish.again, only=wish.only, without=wish.without)
    freed = {one.item.tag for one in found.freed}
    stock, held = _free_stock(books, yard, freed, today)
    planned = {job.code for job in found.jobs}
    asked = [pin for pin in pins if pin in wish.pins or pin.job in planned]
    gone = read_left_of(session, read_gone(session, [pin.source for pin in asked]))
    why = partial(_why_not_free, books=books, yard=yard, gone=gone, again=wish.again)
    _check_pins(asked, stored, schedule, stock, why)
    before = None if wish.only is not None else last_plan(session, window, found, books, schedule)
    free = replace(
        request,
        jobs=found.jobs,
        stock=stock,
        pins=tuple(pin for pin in pins if pin.job in planned),
        cut_already=found.settled,
        covered=found.covered,
        held=held,
        last=before.plan if before else None,
        layout_settings=settings,
    )
    return Asked(replace(free, full_widths=_full_widths(request, free)), found, before, laid)


def _full_widths(whole: PlanRequest, free: PlanRequest) -> dict[str, int]:
    """Width of the widest roll where the whole yard has another than what is free; products without any left out."""
    found = {product.code: whole.widest_mm(product.code) for product in whole.products}
    return {code: width for code, width in found.items() if width and width != free.widest_mm(code)}


def _free_stock(
    books: PlanBooks, yard: Yard, freed: set[str], today: date
) -> tuple[tuple[StockItem, ...], tuple[StockItem, ...]]:
    """What no plan keeps once some things are freed: free or on its way, in order of tag; and what quotes hold."""
    on_hold = {tag for tag in yard.holds if yard.hold_on(tag, today) is not None}
    unreserved = [item for tag, item in yard.items.items() if tag in freed or tag not in books.reserved]
    coming = [
        line.as_stock(today)
        for line in books.lines.values()
        if line.state is OrderState.ORDERED and (line.plan is None or line.key in freed)
    ]
    free = [*(item for item in unreserved if item.tag not in on_hold), *coming]
    held = tuple(item for item in unreserved if item.tag in on_hold)
    return tuple(sorted(free, key=lambda item: item.tag)), held


def _check_pins(
    pins: Sequence[Pin],
    stored: Sequence[Pin],
    schedule: Schedule,
    stock: Sequence[StockItem],
    why_not_free: Callable[[str], str],
) -> None:
    """Refuse pins that cannot be kept, all of them at once."""
    free = {item.tag: item for item in stock}
    faults = []
    for pin in pins:
        item, job = free.get(pin.source), schedule.jobs.get(pin.job)
        standing = {one.item.tag for one in schedule.standing if pin.job in one.jobs()}
        if job is None:
            faults.append((pin, f"there is no job {pin.job}"))
        elif pin.source in standing:
            continue
        elif item is None:
            faults.append((pin, why_not_free(pin.source)))
        elif item.product != job.product:
            faults.append((pin, f"{pin.source} is {item.product}, the job is laid in {job.product}"))
    if faults:
        told = [f"{pin.job} cannot be cut from {pin.source}: {why}" for pin, why in faults]
        old = sorted({f"{pin.job}={pin.source}" for pin, _ in faults if pin in stored})
        if old:
            told.append(f"a pin made before is taken out with: stockplan unpin {argument(*old)}")
        raise RequestError("\n".join(told))


def _why_not_free(tag: str, *, books: PlanBooks, yard: Yard, gone: Mapping[str, Sequence[str]], again: bool) -> str:
    remedy = " and jobs of other days; take those days in" if again else "; plan with --again"
    if tag in books.reserved:
        return f"it is reserved for plan {books.reserved[tag]}{remedy}, or withdraw that plan first"
    if tag in books.lines:
        return _why_not_coming(books, tag, remedy)
    if tag in yard.holds:
        return f"it is held for {yard.holds[tag].quote} until {yard.holds[tag].until}"
    if tag not in gone:
        return "there is nothing with that tag"
    left = [f"{of} ({size(yard.items[of].width_mm, yard.items[of].length_mm)} m)" for of in gone[tag]]
    lies_there = f"; what lies there of it: {', '.join(left)}" if left else ""
    return f"it has left the yard{lies_there}"


def _why_not_coming(books: PlanBooks, key: str, remedy: str) -> str:
    line = books.lines[key]
    if line.state is OrderState.DRAFT:
        return f"it is not ordered yet; it is drafted for plan {line.plan}"
    if line.coming:
        return f"it is ordered for plan {line.plan}{remedy}, or withdraw that plan first"
    came = [tag for tag, order in books.receipts.items() if order == key]
    return f"it came in as {came[0]}" if came else "it is not ordered any more"
