"""Taking jobs out of the schedule; what an accepted plan was to cut for them is planned anew next time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stockplan.actions.accepting import give_back
from stockplan.actions.in_force import read_books, schedule_of
from stockplan.actions.plan_states import end_plans
from stockplan.domain.request import Pin
from stockplan.domain.standing import clusters, served
from stockplan.errors import StoreError


@dataclass(frozen=True, slots=True)
class Cancelled:
    """A job taken out of the schedule.

    Parameters
    ----------
    job
        Its code.
    still_to_cut
        What accepted plans were to cut for it: tag or key of the order, and number of the plan.
    cut
        How many of its pieces lie cut.
    free
        Which of them are free again, as they serve nobody any more.
    """

    job: str
    still_to_cut: tuple[tuple[str, int], ...]
    cut: int
    free: tuple[str, ...]


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
    from stockplan.store.plan_rows import delete_pins, read_pins, read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        books = read_books(work.rows)
        jobs = read_promised(work.rows, books.jobs() | set(codes))
        schedule = schedule_of(work.rows, books, jobs, cut_for=codes)
        unknown = [code for code in codes if code not in schedule.jobs]
        if unknown:
            raise StoreError(f"there is no job {', '.join(unknown)}; stockplan jobs lists what is promised")
        work.rows.run_each("DELETE FROM job WHERE code = :code", [{"code": code} for code in dict.fromkeys(codes)])
        pins: list[Pin] = [pin for pin in read_pins(work.rows) if pin.job in codes]
        delete_pins(work, pins)
        left = replace(schedule, jobs={code: job for code, job in schedule.jobs.items() if code not in codes})
        idle = [one for group in clusters(left.standing) if not served(left, group) for one in group]
        give_back(work, idle, books, "its jobs were cancelled")
        end_plans(work, {one.plan for one in idle})
        work.commit()
    return [
        Cancelled(
            job=code,
            still_to_cut=tuple((one.item.tag, one.plan) for one in schedule.standing if code in one.jobs()),
            cut=schedule.cut_for(code),
            free=tuple(one.item.tag for one in idle if code in one.jobs()),
        )
        for code in dict.fromkeys(codes)
    ]
