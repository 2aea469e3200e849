"""Undoing what was recorded by mistake: one movement, a cut with all that came off it, or what came for an order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stockplan.actions.user import user
from stockplan.domain.ledger import Movement, MovementKind, Yard, reversal
from stockplan.domain.plan_state import IN_FORCE, PlanState
from stockplan.domain.purchase import OrderState
from stockplan.errors import StoreConflict

if TYPE_CHECKING:
    from stockplan.store.quick import OpenWork
    from stockplan.store.rows import Rows


_FIRST = "reverse these first, the last one first"


@dataclass(frozen=True, slots=True)
class Undone:
    """What was undone.

    Parameters
    ----------
    movement
        The movement asked for.
    others
        Further movements of the same cut or delivery, the last one first.
    numbers
        Of the movements that were written.
    plan
        The plan that the thing is reserved for again; None when it was not before.
    lost
        The plan that the thing is reserved for no longer; None when there is none, or its order is to come again.
    order
        Key of the order that has not come in any more; empty when it came for none.
    """

    movement: Movement
    others: tuple[Movement, ...]
    numbers: tuple[int, ...]
    plan: int | None
    lost: int | None = None
    order: str = ""


def reverse(where: str | None, number: int, why: str) -> Undone:
    """Undo a movement, while nothing later of its tag stands; a cut goes with all that came off it.

    What came for an order goes with its reservation, and its order is to come again.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    number
        Which movement.
    why
        For the record.

    Raises
    ------
    StoreConflict
        When something has happened since that stands in the way; all of it is told.
    StoreError
        When there is no such movement, or the store cannot be read or written.
    """
    from stockplan.actions.plan_states import follow_plans  # noqa: PLC0415
    from stockplan.store.ledger_rows import read_movement, record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        rows = work.rows
        movement = read_movement(rows, number)
        others = _recorded_with(rows, movement)
        undone = (*others, movement)
        before = read_yard(rows, {one.tag for one in undone})
        record(work, [reversal(one, why) for one in undone], user())
        after = read_yard(rows, {one.tag for one in undone})
        order = _await_again(work, movement.tag) if movement.kind is MovementKind.RECEIVED else ""
        follow_plans(work, before.reservations, after.reservations)
        work.commit()
    numbers = tuple(range(before.number + 1, before.number + 1 + len(undone)))
    regained = _regained(movement.tag, before, after)
    lost = None if order else _regained(movement.tag, after, before)
    return Undone(movement, others, numbers, regained, lost, order)


def _regained(tag: str, before: Yard, after: Yard) -> int | None:
    plan = after.reservations.get(tag)
    return plan if plan != before.reservations.get(tag) else None


def _recorded_with(rows: Rows, movement: Movement) -> tuple[Movement, ...]:
    """Give what goes with a movement because it was recorded together with it, the last one first."""
    if movement.kind is MovementKind.CUT:
        return _of_one_cut(rows, movement)
    if movement.kind is MovementKind.RECEIVED:
        standing = _standing_since(rows, movement)
        return tuple(one for one in standing if one.kind is MovementKind.RESERVED and one.at == movement.at)
    return ()


def _standing_since(rows: Rows, first: Movement) -> list[Movement]:
    """Give what happened to a tag after a movement of it and was not undone."""
    from stockplan.store.ledger_rows import read_history  # noqa: PLC0415

    later = [one for one in read_history(rows, first.tag) if one.number > first.number]
    undone = {one.reverses for one in later}
    return [one for one in later if one.kind is not MovementKind.REVERSED and one.number not in undone]


def _await_again(work: OpenWork, tag: str) -> str:
    """Let the order that came in as something be as it was before; gives its key, or nothing where there is none.

    Where its plan is no longer in force, what was ordered comes for no plan, and a draft is dropped.
    """
    from stockplan.store import plan_rows  # noqa: PLC0415
    from stockplan.store.pin_rows import move_pins  # noqa: PLC0415

    key = plan_rows.read_receipts(work.rows).get(tag, "")
    if key:
        plan = next(line.plan for line in plan_rows.read_lines(work.rows) if line.key == key)
        state = plan_rows.read_states(work.rows).get(plan or 0)
        stands = state in IN_FORCE
        plan_rows.delete_receipt(work, tag)
        move_pins(work, tag, key)
        if plan_rows.was_ordered(work.rows, key):
            new = {"state": OrderState.ORDERED, "plan": plan if stands else None}
        else:
            new = {"state": OrderState.DRAFT if stands else OrderState.CANCELLED}
        plan_rows.change_line(work, key, received_on=None, **new)
        if plan is not None and state == PlanState.DONE:
            plan_rows.write_state(work, plan, PlanState.ACCEPTED, user())
    return key


def _of_one_cut(rows: Rows, cut: Movement) -> tuple[Movement, ...]:
    """Give what was recorded in one go with a cut, the last one first, when nothing has happened to it since."""
    standing = _standing_since(rows, cut)
    mine = [one for one in standing if one.at == cut.at]
    since_back = [since for one in mine if one.kind is MovementKind.RETURNED for since in _standing_since(rows, one)]
    used = [since for since in since_back if since.at != cut.at]
    added = [one for one in standing if one not in mine]
    if used:
        otherwise = ", or put it right with new movements, such as measure, write-off and receive"
        raise _in_the_way(cut, used, f"{_FIRST}{otherwise}")
    if added:
        raise _in_the_way(cut, added, _FIRST)
    together = {one.number: one for one in (*mine, *since_back)}
    return tuple(together[number] for number in sorted(together, reverse=True))


def _in_the_way(cut: Movement, since: Sequence[Movement], remedy: str) -> StoreConflict:
    from stockplan.report.movements import movement_words  # noqa: PLC0415

    def words(one: Movement) -> str:  # what comes back is named by its words
        return f"{'' if one.kind is MovementKind.RETURNED else f'{one.tag} '}{movement_words(one)}"

    told = "".join(f"  movement {one.number}: {words(one)}, by {one.who}\n" for one in since)
    return StoreConflict(
        f"the cut of {cut.tag} cannot be undone; what came off it is not as the cut left it:\n{told}"
        f"nothing was stored; {remedy}"
    )
