"""Accepting a plan, so that its stock is reserved and its orders are drafted; and withdrawing it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from stockplan.actions.acceptable import order_day, refusal, still_good, things_now
from stockplan.domain.acceptance import judge
from stockplan.domain.ledger import Entry, released, reserved
from stockplan.domain.plan import Plan
from stockplan.domain.plan_state import ENDED, IN_FORCE, PlanState
from stockplan.domain.purchase import OrderLine, OrderState, line_key
from stockplan.domain.request import PlanRequest
from stockplan.domain.standing import Schedule, Standing
from stockplan.errors import StoreError

if TYPE_CHECKING:
    from stockplan.actions.in_force import PlanBooks
    from stockplan.store.quick import OpenWork


@dataclass(frozen=True, slots=True)
class Accepted:
    """A plan that has been accepted.

    Parameters
    ----------
    number
        Its number.
    reserved
        Tags now reserved for it.
    drafts
        Orders drafted for it, the first to be placed first.
    given_back
        What earlier plans gave up for it: tag and number of the plan.
    ended
        Earlier plans that have nothing left to cut.
    done
        Whether it has nothing to cut itself.
    notes
        What to look at before it is cut; sentences.
    short
        What it leaves short: a few words for each job.
    kept_for_short
        What earlier plans keep for these jobs: tag or key of the order, and number of the plan.
    """

    number: int
    reserved: tuple[str, ...]
    drafts: tuple[OrderLine, ...]
    given_back: tuple[tuple[str, int], ...]
    ended: tuple[int, ...]
    done: bool = False
    notes: tuple[str, ...] = ()
    short: tuple[str, ...] = ()
    kept_for_short: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A plan that has been withdrawn.

    Parameters
    ----------
    number
        Its number.
    released
        Tags that are free again.
    cancelled
        Orders that were only drafted.
    coming
        Orders that are placed and come in for no plan.
    """

    number: int
    released: tuple[str, ...]
    cancelled: tuple[str, ...]
    coming: tuple[str, ...]


def accept_plan(where: str | None, number: int | None = None, today: date | None = None) -> Accepted:
    """Accept a plan: reserve what it cuts and draft its orders, all of it or nothing.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    number
        Which plan; default the last one made, where no other waits to be accepted beside it.
    today
        The day on which something can still be ordered; default this machine's date, or the plan's own day when all
        its days have passed.

    Raises
    ------
    PlanOutdated
        When something that the plan touches has changed since it was made.
    StoreError
        When there is no such plan, it is not open to be accepted, it is not said which of several is meant, or the
        store cannot be written.
    """
    from stockplan.actions.held import unsound_notes  # noqa: PLC0415
    from stockplan.actions.plan_states import end_plans  # noqa: PLC0415
    from stockplan.actions.user import user  # noqa: PLC0415
    from stockplan.actions.waiting import check_meant, waiting_beside  # noqa: PLC0415
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415
    from stockplan.store import plan_rows, repository  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        stored = repository.read_plan(work.rows, number)
        request, plan = read_request(stored.plan_json), read_plan(stored.plan_json)
        state = plan_rows.read_states(work.rows).get(stored.number)
        if number is None:
            day, good = order_day(plan, today), partial(still_good, work.rows, today=today)
            check_meant(stored, state, waiting_beside(work.rows, stored, day, good))
        _check_open(stored.number, state)
        now, books = things_now(work.rows, request, order_day(plan, today), stored)
        verdict = judge(stored.number, request, plan, now)
        if refused := refusal(stored.number, plan, now, verdict):
            raise refused
        give_back(work, verdict.displaced, books, f"plan {stored.number} took its place")
        drafts = _take(work, stored.number, request, plan)
        plan_rows.write_state(work, stored.number, PlanState.ACCEPTED, user())
        ended = end_plans(work, {one.plan for one in verdict.displaced} - {stored.number})
        done = not request.stock and not drafts
        if done:
            plan_rows.write_state(work, stored.number, PlanState.DONE, user())
        notes = unsound_notes(work.rows, (item.tag for item in request.stock))
        work.commit()
    return Accepted(
        number=stored.number,
        reserved=tuple(item.tag for item in request.stock),
        drafts=tuple(sorted(drafts, key=lambda line: line.order_by)),  # of one day as the plan numbers them
        given_back=tuple((one.item.tag, one.plan) for one in verdict.displaced),
        ended=ended,
        done=done,
        notes=notes,
        short=_short(plan),
        kept_for_short=_kept_for_short(plan, now.schedule, verdict.displaced),
    )


def _short(plan: Plan) -> tuple[str, ...]:
    found: dict[str, list[str]] = {}
    for one in plan.short():
        found.setdefault(one.job, []).append(f"{one.count} × {one.strip}")
    return tuple(f"{job} ({', '.join(strips)})" for job, strips in found.items())


def _kept_for_short(plan: Plan, schedule: Schedule, displaced: Iterable[Standing]) -> tuple[tuple[str, int], ...]:
    short, gone = {one.job for one in plan.short()}, set(map(id, displaced))
    kept = (one for one in schedule.standing if id(one) not in gone and not short.isdisjoint(one.jobs()))
    return tuple((one.item.tag, one.plan) for one in kept)


def _check_open(number: int, state: PlanState | None) -> None:
    if state in IN_FORCE:
        raise StoreError(f"plan {number} is {'accepted already' if state is PlanState.ACCEPTED else 'done'}")
    if state is PlanState.WITHDRAWN:
        raise StoreError(f"plan {number} was withdrawn; make a new one with: stockplan plan --from DATE --to DATE")


def give_back(work: OpenWork, standing: Iterable[Standing], books: PlanBooks, why: str) -> None:
    """Let go of sources that plans are still to cut: stock is free, drafts are dropped, what is ordered still comes.

    Parameters
    ----------
    work
        Where to write.
    standing
        The sources.
    books
        What accepted plans hold, as it stands in the store.
    why
        For the record.
    """
    from stockplan.actions.user import user  # noqa: PLC0415
    from stockplan.store import plan_rows  # noqa: PLC0415
    from stockplan.store.ledger_rows import record  # noqa: PLC0415

    entries: list[Entry] = []
    for one in standing:
        line = books.lines.get(one.item.tag)
        if one.item.arrives_on is None:
            entries.append(released(one.item.tag, one.plan, why))
        elif line is not None and line.state is OrderState.DRAFT:
            plan_rows.change_line(work, line.key, state=OrderState.CANCELLED)
        elif line is not None:
            plan_rows.change_line(work, line.key, plan=None)
    record(work, entries, user())


def _take(work: OpenWork, number: int, request: PlanRequest, plan: Plan) -> list[OrderLine]:
    from stockplan.actions.user import user  # noqa: PLC0415
    from stockplan.store import plan_rows  # noqa: PLC0415
    from stockplan.store.ledger_rows import record  # noqa: PLC0415

    for item in request.stock:
        if item.arrives_on is not None:
            plan_rows.change_line(work, item.tag, plan=number, plan_key=item.tag)
    here = [item.tag for item in request.stock if item.arrives_on is None]
    record(work, [reserved(tag, number, f"plan {number} accepted") for tag in here], user())
    drafts = [
        OrderLine(
            key=line_key(number, order.key),
            plan=number,
            plan_key=order.key,
            product=order.product,
            supplier=order.supplier,
            form=order.form,
            width_mm=order.width_mm,
            length_mm=order.length_mm,
            price_pence=order.price_pence,
            order_by=order.order_by,
            arrives_on=order.arrives_on,
            state=OrderState.DRAFT,
        )
        for order in plan.orders()
    ]
    plan_rows.write_lines(work, drafts)
    return drafts


def withdraw_plan(where: str | None, number: int) -> Withdrawn:
    """Withdraw a plan: what it was still to cut is free again. What is cut stays cut, what is ordered still comes.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    number
        Which plan.

    Raises
    ------
    StoreError
        When there is no such plan, it is done or withdrawn already, or the store cannot be written.
    """
    from stockplan.actions.in_force import read_books  # noqa: PLC0415
    from stockplan.actions.user import user  # noqa: PLC0415
    from stockplan.store import plan_rows, repository  # noqa: PLC0415
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        repository.read_plan(work.rows, number)
        state = plan_rows.read_states(work.rows).get(number)
        books = read_books(work.rows, only=())
        free = [tag for tag, plan in books.reserved.items() if plan == number]
        mine = [line for line in books.lines.values() if line.plan == number and line.coming]
        if state in ENDED and not free and not mine:
            raise StoreError(f"plan {number} is {state} already")
        record(work, [released(tag, number, f"plan {number} withdrawn") for tag in free], user())
        for line in mine:
            if line.state is OrderState.DRAFT:
                plan_rows.change_line(work, line.key, state=OrderState.CANCELLED)
            else:
                plan_rows.change_line(work, line.key, plan=None)
        plan_rows.write_state(work, number, PlanState.WITHDRAWN, user())
        work.commit()
    return Withdrawn(
        number=number,
        released=tuple(free),
        cancelled=tuple(line.key for line in mine if line.state is OrderState.DRAFT),
        coming=tuple(line.key for line in mine if line.state is OrderState.ORDERED),
    )
