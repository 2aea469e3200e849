"""Taking jobs out of the schedule; what an accepted plan was to cut for them is planned anew next time."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from stockplan.actions.accepting import give_back
from stockplan.actions.in_force import PlanBooks, read_books, schedule_of
from stockplan.actions.meant import jobs_meant
from stockplan.actions.plan_states import end_plans
from stockplan.domain.ledger_state import PieceCut
from stockplan.domain.purchase import OrderState
from stockplan.domain.request import Pin
from stockplan.domain.standing import Schedule, Standing, clusters, served
from stockplan.errors import StoreError


@dataclass(frozen=True, slots=True)
class Cancelled:
    """A job taken out of the schedule.

    Parameters
    ----------
    job
        Its code.
    still_to_cut
        What accepted plans were to cut for it, and are to cut for others too: tag or key of the order, and number of
        the plan.
    cut
        Its pieces that lie cut.
    free
        Which of them lie in the yard and are free again, as they serve nobody any more.
    dropped
        Which of them were only drafted orders and are none any more, for the same reason.
    coming
        Which of them are ordered and come for no plan, for the same reason.
    drafted
        Which of the others are orders not placed yet.
    """

    job: str
    still_to_cut: tuple[tuple[str, int], ...]
    cut: tuple[PieceCut, ...]
    free: tuple[str, ...] = ()
    dropped: tuple[str, ...] = ()
    coming: tuple[str, ...] = ()
    drafted: tuple[str, ...] = ()


def cancel_jobs(where: str | None, codes: Sequence[str]) -> list[Cancelled]:
    """Take jobs out of the schedule with their strips, lawns and pins, all of them or none.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    codes
        Their codes.

    Raises
    ------
    StoreError
        When there is no such job, or the store cannot be written.
    """
    from stockplan.store.pin_rows import delete_pins, read_pins  # noqa: PLC0415
    from stockplan.store.plan_rows import read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        books = read_books(work.rows)
        jobs = read_promised(work.rows, books.jobs() | set(codes))
        schedule = schedule_of(work.rows, books, jobs, cut_for=codes)
        unknown = [code for code in codes if code not in schedule.jobs]
        if unknown:
            meant = jobs_meant(work.rows, unknown) or "; stockplan jobs lists what is promised"
            raise StoreError(f"there is no job {', '.join(unknown)}{meant}")
        work.rows.run_each("DELETE FROM job WHERE code = :code", [{"code": code} for code in dict.fromkeys(codes)])
        pins: list[Pin] = [pin for pin in read_pins(work.rows) if pin.job in codes]
        delete_pins(work, pins)
        left = replace(schedule, jobs={code: job for code, job in schedule.jobs.items() if code not in codes})
        idle = [one for group in clusters(left.standing) if not served(left, group) for one in group]
        give_back(work, idle, books, "its jobs were cancelled")
        end_plans(work, {one.plan for one in idle})
        work.commit()
    return [_told(code, schedule, books, idle) for code in dict.fromkeys(codes)]


def _told(code: str, schedule: Schedule, books: PlanBooks, idle: Collection[Standing]) -> Cancelled:
    """Say what was to be cut for a job, and what becomes of it."""
    mine = [one for one in schedule.standing if code in one.jobs()]
    to_come = {one.item.tag: books.lines[one.item.tag].state for one in mine if one.item.arrives_on is not None}
    ended = [one.item.tag for one in mine if one in idle]
    drafts = [tag for tag, state in to_come.items() if state is OrderState.DRAFT]
    return Cancelled(
        job=code,
        still_to_cut=tuple((one.item.tag, one.plan) for one in mine if one not in idle),
        cut=schedule.all_cut_for(code),
        free=tuple(tag for tag in ended if tag not in to_come),
        dropped=tuple(tag for tag in ended if tag in drafts),
        coming=tuple(tag for tag in ended if tag in to_come and tag not in drafts),
        drafted=tuple(tag for tag in drafts if tag not in ended),
    )
