"""Undoing what was recorded by mistake: one movement, or a cut with all that came off it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stockplan.actions.importing import user
from stockplan.domain.ledger import Movement, MovementKind, Yard, reversal
from stockplan.errors import StoreConflict

if TYPE_CHECKING:
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
        Further movements of the same cut, the last one first.
    numbers
        Of the movements that were written.
    plan
        The plan that the thing is reserved for again; None when it was not before.
    """

    movement: Movement
    others: tuple[Movement, ...]
    numbers: tuple[int, ...]
    plan: int | None


def reverse(where: str | None, number: int, why: str) -> Undone:
    """Undo a movement, while nothing later of its tag stands; a cut goes with all that came off it.

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
        others = _of_one_cut(rows, movement) if movement.kind is MovementKind.CUT else ()
        undone = (*others, movement)
        before = read_yard(rows, {one.tag for one in undone})
        record(work, [reversal(one, why) for one in undone], user())
        after = read_yard(rows, {one.tag for one in undone})
        follow_plans(work, before.reservations, after.reservations)
        work.commit()
    numbers = tuple(range(before.number + 1, before.number + 1 + len(undone)))
    return Undone(movement, others, numbers, _regained(movement.tag, before, after))


def _regained(tag: str, before: Yard, after: Yard) -> int | None:
    plan = after.reservations.get(tag)
    return plan if plan != before.reservations.get(tag) else None


def _of_one_cut(rows: Rows, cut: Movement) -> tuple[Movement, ...]:
    """Give what was recorded in one go with a cut, the last one first, when nothing has happened to it since."""
    from stockplan.store.ledger_rows import read_history  # noqa: PLC0415

    def standing_since(first: Movement) -> list[Movement]:
        later = [one for one in read_history(rows, first.tag) if one.number > first.number]
        undone = {one.reverses for one in later}
        return [one for one in later if one.kind is not MovementKind.REVERSED and one.number not in undone]

    standing = standing_since(cut)
    mine = [one for one in standing if one.at == cut.at]
    since_back = [since for one in mine if one.kind is MovementKind.RETURNED for since in standing_since(one)]
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
