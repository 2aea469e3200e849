"""The plan made before for the same days: where a new one starts from, and what it is compared with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stockplan.actions.in_force import PlanBooks
from stockplan.domain.differences import Picture, differences, picture
from stockplan.domain.jobs import Window
from stockplan.domain.plan import Plan
from stockplan.domain.purchase import OrderState, line_key
from stockplan.domain.replanning import Scope
from stockplan.domain.standing import Schedule

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


@dataclass(frozen=True, slots=True)
class LastPlan:
    """The plan made before.

    Parameters
    ----------
    number, plan
        Its number in the store, and the plan.
    left
        Its picture, less what is cut or stays, and less jobs laid on other days than those planned now.
    same_days
        Whether it was for the very same days; else only jobs can be compared.
    """

    number: int
    plan: Plan
    left: Picture
    same_days: bool

    def changes(self, plan: Plan) -> tuple[str, ...]:
        """List in plain words what a new plan does differently."""
        after = picture(plan)
        return tuple(differences(self.left, after if self.same_days else Picture(after.sources, after.short)))


def last_plan(session: Session, window: Window, found: Scope, books: PlanBooks, schedule: Schedule) -> LastPlan | None:
    """Give the last accepted plan that shares a day with the window, else the last proposal that does.

    Parameters
    ----------
    session
        Where to read.
    window
        The days to plan now.
    found
        What stays and what is given back.
    books, schedule
        As read from the store.
    """
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
    from stockplan.store.plan_rows import (  # noqa: PLC0415
        WITHDRAWN,
        read_plan_texts,
        read_spans,
        read_states,
        tags_cut_by,
    )

    states = read_states(session)
    overlapping = [
        number
        for number, first, last in read_spans(session)
        if first <= window.last and window.first <= last and states.get(number) != WITHDRAWN
    ]
    numbers = [number for number in overlapping if number in states] or overlapping
    if not numbers:
        return None
    number = max(numbers)
    plan = books.plans.get(number) or read_plan(read_plan_texts(session, [number])[number])
    settled = {*tags_cut_by(session, number), *(one.item.tag for one in found.kept)}
    taken = picture(plan, _known_as(number, plan, found, books), settled)
    outside = {code for code, job in schedule.jobs.items() if job.lay_on not in window}
    left = replace(
        taken,
        sources={code: counts for code, counts in taken.sources.items() if code not in outside},
        short=taken.short - outside,
    )
    same = plan.window == window
    return LastPlan(number, plan, left if same else Picture(left.sources, left.short, begun=left.begun), same)


def _known_as(number: int, plan: Plan, found: Scope, books: PlanBooks) -> dict[str, str]:
    """Say by which tag or key the plan's orders go now; drafts that are dropped are again only something to buy."""
    came_as = {key: tag for tag, key in books.receipts.items()}
    dropped = {one.item.tag for one in found.freed}
    names: dict[str, str] = {}
    for order in plan.orders():
        line = books.lines.get(line_key(number, order.key))
        if line is None or line.state is OrderState.CANCELLED:
            continue
        if line.state is not OrderState.DRAFT or line.key not in dropped:
            names[order.key] = came_as.get(line.key, line.key)
    return names
