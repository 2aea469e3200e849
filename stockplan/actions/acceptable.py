"""Whether a plan could be accepted as things are now, and what stands against it."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.acceptance import Now, Verdict, judge
from stockplan.domain.ledger import MovementKind
from stockplan.domain.plan import Plan
from stockplan.domain.purchase import OrderState
from stockplan.domain.request import PlanRequest
from stockplan.errors import PlanOutdated

if TYPE_CHECKING:
    from stockplan.actions.in_force import PlanBooks
    from stockplan.store.repository import StoredPlan
    from stockplan.store.rows import Rows


def still_good(rows: Rows, stored: StoredPlan, today: date | None) -> bool:
    """Whether a plan could be accepted.

    Parameters
    ----------
    rows
        Where to read.
    stored
        The plan.
    today
        As for `order_day`.
    """
    return against(rows, stored, today) is None


def against(rows: Rows, stored: StoredPlan, today: date | None) -> PlanOutdated | None:
    """What stands against accepting a plan, as it would be told; None where nothing does.

    Parameters
    ----------
    rows, stored, today
        As for `still_good`.
    """
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415

    request, plan = read_request(stored.plan_json), read_plan(stored.plan_json)
    now, _ = things_now(rows, request, order_day(plan, today), stored)
    return refusal(stored.number, plan, now, judge(stored.number, request, plan, now))


def refusal(number: int, plan: Plan, now: Now, verdict: Verdict) -> PlanOutdated | None:
    """Put what stands against a plan in words, with the days to plan again; None where nothing does.

    Parameters
    ----------
    number, plan
        The plan.
    now, verdict
        How things are, and what that means for it.
    """
    if not verdict.changes:
        return None
    lost = [now.schedule.jobs[code].lay_on for code in verdict.losing]
    days = min([plan.window.first, *lost]), max([plan.window.last, *lost])
    return PlanOutdated(number, [str(change) for change in verdict.changes], *days)


def order_day(plan: Plan, given: date | None) -> date:
    """Give the day on which a plan's orders can still be placed.

    Parameters
    ----------
    plan
        The plan.
    given
        The day, where somebody has said it; default this machine's date, or the plan's own day when all its days have
        passed.
    """
    today = given or date.today()
    return plan.today if given is None and today > plan.window.last else today


def things_now(rows: Rows, request: PlanRequest, today: date, stored: StoredPlan) -> tuple[Now, PlanBooks]:
    """Read how things are, as far as they concern a plan; and what accepted plans hold.

    Parameters
    ----------
    rows
        Where to read.
    request
        What the plan was asked for, as read back from its file.
    today
        The day on which something can still be ordered.
    stored
        The plan.
    """
    from stockplan.actions.in_force import read_books, schedule_of  # noqa: PLC0415
    from stockplan.store.ledger_rows import read_yard  # noqa: PLC0415
    from stockplan.store.pin_rows import read_pins  # noqa: PLC0415
    from stockplan.store.plan_rows import accepted_since  # noqa: PLC0415
    from stockplan.store.repository import read_jobs, read_supply  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415

    books = read_books(rows)
    jobs = read_jobs(rows, codes=books.jobs() | {job.code for job in request.jobs})
    yard = read_yard(rows, [item.tag for item in request.stock])
    holds = {tag: yard.hold_on(tag, ledger_day()) for tag in yard.items}
    now = Now(
        today=today,
        schedule=schedule_of(rows, books, jobs, read_pins(rows), today=today),
        stock=yard.items,
        gone={tag: _became(gone.how, gone.plan) for tag, gone in yard.gone.items()},
        reserved=books.reserved,
        held={tag: f"for {hold.quote} until {hold.until}" for tag, hold in holds.items() if hold is not None},
        lines={key: line for key, line in books.lines.items() if line.state is OrderState.ORDERED},
        supply=tuple(read_supply(rows)),
        later=frozenset(accepted_since(rows, stored.made_at, stored.number)),
    )
    return now, books


def _became(how: MovementKind, plan: int | None) -> str:
    if how is MovementKind.CUT:
        return "has been cut" + (f" for plan {plan}" if plan is not None else "")
    return "has been written off"
