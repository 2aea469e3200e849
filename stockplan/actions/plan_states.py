"""What has become of plans: listed, ended when nothing of them is left to cut, and going on when something is again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from stockplan.actions.user import user
from stockplan.domain.jobs import Window
from stockplan.domain.plan_state import ENDED, PlanState

if TYPE_CHECKING:
    from stockplan.store.quick import OpenWork


def end_plans(work: OpenWork, numbers: Iterable[int]) -> tuple[int, ...]:
    """Close accepted plans that have nothing left to cut: done when something was cut by them, else withdrawn.

    Parameters
    ----------
    work
        Where to read and write.
    numbers
        Of plans that may have ended.
    """
    from stockplan.store import plan_rows  # noqa: PLC0415

    going, states = plan_rows.plans_going(work.rows), plan_rows.read_states(work.rows)
    open_still = {number for number in numbers if states.get(number) == PlanState.ACCEPTED}
    ended = tuple(sorted(number for number in open_still if number not in going))
    for number in ended:
        done = plan_rows.tags_cut_by(work.rows, number)
        plan_rows.write_state(work, number, PlanState.DONE if done else PlanState.WITHDRAWN, user())
    return ended


def follow_plans(work: OpenWork, before: Mapping[str, int], after: Mapping[str, int]) -> None:
    """Bring plans to what has changed about what is reserved: one with nothing left ends, one that has again goes on.

    Parameters
    ----------
    work
        Where to write.
    before, after
        Number of the plan for each of the tags concerned that is reserved.
    """
    from stockplan.store import plan_rows  # noqa: PLC0415

    states = plan_rows.read_states(work.rows)
    for number in sorted({plan for tag, plan in after.items() if before.get(tag) != plan}):
        if states.get(number) in ENDED:
            plan_rows.write_state(work, number, PlanState.ACCEPTED, user())
    end_plans(work, {plan for tag, plan in before.items() if after.get(tag) != plan})


@dataclass(frozen=True, slots=True)
class PlanListed:
    """A plan and what has become of it.

    Parameters
    ----------
    number, window, today, net_cost_pence
        As it was made.
    state
        What has become of it.
    to_cut
        How many sources it is still to cut, those still to come among them.
    """

    number: int
    window: Window
    today: date
    net_cost_pence: int
    state: PlanState
    to_cut: int


def list_plans(where: str | None) -> list[PlanListed]:
    """List every plan made so far, in the order made.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store import plan_rows  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        made = plan_rows.read_made(source)
        states = plan_rows.read_states(source)
        to_cut = plan_rows.plans_going(source)
    return [
        PlanListed(number, Window(first, last), today, net, states.get(number, PlanState.PROPOSED), to_cut[number])
        for number, first, last, today, net in made
    ]
