"""Plans that wait to be accepted beside the last one made: where no number is typed, nobody has said which is meant."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from stockplan.errors import StoreError

if TYPE_CHECKING:
    from stockplan.domain.plan_state import PlanState
    from stockplan.store.repository import StoredPlan
    from stockplan.store.rows import Rows

JOBS_NAMED = 3  # of one plan; more of them would hide which plan it is


def waiting_beside(
    rows: Rows, last: StoredPlan, today: date, still_good: Callable[[StoredPlan], bool]
) -> list[StoredPlan]:
    """Find plans that may be meant as well as the last one made, the newest first.

    Such a plan is only proposed and still good, it cuts something, its days have not passed, and it plans a job of the
    schedule that no newer one of them does: made again for the same jobs, or for more, a plan takes the place of the
    one before.

    Parameters
    ----------
    rows
        Where to read.
    last
        The last plan made.
    today
        The day it is asked.
    still_good
        Says of a plan whether it could be accepted as things are now.
    """
    from stockplan.store.plan_rows import read_spans, read_states  # noqa: PLC0415
    from stockplan.store.repository import read_plan  # noqa: PLC0415

    states = read_states(rows)
    proposed = [number for number, _, final in read_spans(rows) if number not in states and final >= today]
    newer = [set(_jobs(last))]
    found: list[StoredPlan] = []
    for number in sorted(set(proposed) - {last.number}, reverse=True):
        stored = read_plan(rows, number)
        jobs = {code for code in _jobs(stored) if _in_schedule(rows, code)}
        if not any(jobs <= others for others in newer) and _cuts(stored) and still_good(stored):
            newer.append(jobs)
            found.append(stored)
    return found


def check_meant(last: StoredPlan, state: PlanState | None, others: Sequence[StoredPlan]) -> None:
    """Check that the last plan made is the only one that may be meant where no number was typed.

    Parameters
    ----------
    last, state
        The last plan made, and what has become of it; None while it is only proposed.
    others
        Those that wait beside it.

    Raises
    ------
    StoreError
        When there are any; names them.
    """
    if others and state is None:
        told = _words([last, *others])
        raise StoreError(f"say which plan is accepted, such as stockplan accept {last.number}; these wait: {told}")
    if others:
        raise StoreError(f"plan {last.number} is {state}; say which is accepted; these wait: {_words(others)}")


def _words(plans: Iterable[StoredPlan]) -> str:
    """Name plans by number, days and jobs, one after another."""
    told = []
    for one in plans:
        jobs = _jobs(one)
        more = f" and {len(jobs) - JOBS_NAMED} more" if len(jobs) > JOBS_NAMED else ""
        bare = "" if _cuts(one) else ", which covers nothing"
        days = f"{one.window.first} to {one.window.last}"
        told.append(f"plan {one.number}, {days}, for {', '.join(jobs[:JOBS_NAMED])}{more}{bare}")
    return "; ".join(told)


def _jobs(stored: StoredPlan) -> tuple[str, ...]:
    """Codes of the jobs that a plan is about, those it leaves short among them."""
    from stockplan.report.plan_reader import read_request  # noqa: PLC0415

    return tuple(job.code for job in read_request(stored.plan_json).jobs)


def _cuts(stored: StoredPlan) -> bool:
    """Whether anything is cut by a plan; a mend that could not be found cuts nothing."""
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415

    return any(True for _ in read_plan(stored.plan_json).cuts())


def _in_schedule(rows: Rows, code: str) -> bool:
    return any(True for _ in rows.run("SELECT code FROM job WHERE code = :code", {"code": code}))
