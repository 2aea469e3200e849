"""The plan made before for the same days: where a new one starts from, and what it is compared with."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stockplan.actions.in_force import PlanBooks
from stockplan.domain.differences import Picture, differences, picture, picture_of_standing
from stockplan.domain.jobs import Window
from stockplan.domain.plan import Plan
from stockplan.domain.plan_state import PlanState
from stockplan.domain.purchase import OrderState
from stockplan.domain.replanning import Scope
from stockplan.domain.standing import Schedule

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


@dataclass(frozen=True, slots=True)
class LastPlan:
    """The plan made before.

    Parameters
    ----------
    label
        Which it is, in words; several where accepted plans of several numbers are planned anew together.
    plan
        The one to start from.
    left
        What of it is planned now: less what is cut or stays.
    whole
        Whether orders and leftovers can be compared too, as it was for no other days than those planned now.
    """

    label: str
    plan: Plan
    left: Picture
    whole: bool

    def changes(self, plan: Plan) -> tuple[str, ...]:
        """List in plain words what a new plan does differently."""
        after = picture(plan)
        return tuple(differences(self.left, after if self.whole else _jobs_of(after)))


def last_plan(session: Session, window: Window, found: Scope, books: PlanBooks, schedule: Schedule) -> LastPlan | None:
    """Give what accepted plans give back to be planned now; where none is accepted, the last proposal for these days.

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
    from stockplan.store.plan_rows import read_plan_texts, read_spans, read_states  # noqa: PLC0415

    states = read_states(session)
    overlapping = [
        number
        for number, first, last in read_spans(session)
        if first <= window.last and window.first <= last and states.get(number) != PlanState.WITHDRAWN
    ]
    accepted = [number for number in overlapping if number in states]
    if not overlapping:
        return None
    given = Counter(one.plan for one in found.freed)
    numbers = sorted(given) or [max(accepted or overlapping)]
    texts = read_plan_texts(session, set(numbers) - books.plans.keys())
    plans = {number: books.plans.get(number) or read_plan(texts[number]) for number in numbers}
    first = max(numbers, key=lambda number: (given[number], number))
    label = " and ".join(f"plan {number}" for number in numbers)
    if not accepted:
        return LastPlan(label, plans[first], *_of_proposal(plans[first], window, schedule))
    drafts = {key: line for key, line in books.lines.items() if line.state is OrderState.DRAFT}
    short = {shortfall.job for plan in plans.values() for shortfall in plan.short()}
    begun = {code for code in schedule.jobs if schedule.settled(code, found.kept)}
    left = picture_of_standing(found.freed, drafts, short & schedule.jobs.keys(), begun)
    whole = all(plan.window.first in window and plan.window.last in window for plan in plans.values())
    return LastPlan(label, plans[first], left if whole else _jobs_of(left), whole)


def _of_proposal(plan: Plan, window: Window, schedule: Schedule) -> tuple[Picture, bool]:
    """A proposal's picture without jobs that are laid on other days, and whether it was for these days only."""
    taken = picture(plan)
    outside = {code for code, job in schedule.jobs.items() if job.lay_on not in window}
    sources = {code: counts for code, counts in taken.sources.items() if code not in outside}
    left = replace(taken, sources=sources, short=taken.short - outside)
    whole = plan.window.first in window and plan.window.last in window
    return left if whole else _jobs_of(left), whole


def _jobs_of(taken: Picture) -> Picture:
    return Picture(taken.sources, taken.short, begun=taken.begun, sizes=taken.sizes)
