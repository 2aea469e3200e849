"""The ledger as rows: reading it, and writing at its end together with everything derived from it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import insert, or_, select
from sqlalchemy.orm import Session

from stockplan.domain.ledger import Entry, Movement, MovementKind, Origin, Yard, history, trace
from stockplan.errors import StoreConflict, StoreError
from stockplan.store.derived_rows import write_derived
from stockplan.store.session import UnitOfWork
from stockplan.store.tables import MovementRow
from stockplan.store.yard_rows import ledger_end, read_account, read_cut_so_far, read_gone, read_stock, read_yard

__all__ = [
    "ledger_end", "read_account", "read_cut_so_far", "read_gone", "read_history", "read_movement", "read_movements",
    "read_stock", "read_trace", "read_yard", "record",
]  # fmt: skip
_COLUMNS = (
    MovementRow.number,
    MovementRow.at,
    MovementRow.who,
    MovementRow.kind,
    MovementRow.tag,
    MovementRow.why,
    MovementRow.values_json,
    MovementRow.plan,
    MovementRow.parent,
)


def read_movements(session: Session) -> Iterator[Movement]:
    """Read the whole ledger in order.

    Raises
    ------
    ValueError
        When a line cannot be read.
    """
    return _movements(session, select(*_COLUMNS))


def _movements(session: Session, query: Any) -> Iterator[Movement]:
    query = query.order_by(MovementRow.number).execution_options(yield_per=10_000)
    for number, at, who, kind, tag, why, values_json, plan, parent in session.execute(query):
        values = json.loads(values_json)
        if not isinstance(values, dict):
            raise ValueError(f"movement {number}: its values are not an object: {values_json}")
        yield Movement(number, at, who, MovementKind(kind), tag, why, values, plan, parent)


def read_movement(session: Session, number: int) -> Movement:
    """Read one movement.

    Raises
    ------
    StoreError
        When there is none of this number.
    """
    for movement in _movements(session, select(*_COLUMNS).where(MovementRow.number == number)):
        return movement
    raise StoreError(f"there is no movement {number}; the last one is {ledger_end(session)}")


def read_history(session: Session, tag: str) -> list[Movement]:
    """Read every movement of a tag and every return of a part of it, in order of the ledger."""
    named = or_(MovementRow.tag == tag, MovementRow.parent == tag)
    return history(_movements(session, select(*_COLUMNS).where(named)), tag)


def read_trace(session: Session, tag: str) -> Origin:
    """Read from which roll, batch and delivery a tag comes.

    Raises
    ------
    StoreError
        When it was never in the yard.
    """
    known: dict[int, Movement] = {}
    wanted, seen = [tag], {tag}
    while wanted:
        about = select(*_COLUMNS).where(MovementRow.tag.in_(wanted))
        found = {movement.number: movement for movement in _movements(session, about)}
        known |= found
        wanted = sorted({movement.parent for movement in found.values() if movement.parent is not None} - seen)
        seen |= set(wanted)
    try:
        return trace([known[number] for number in sorted(known)], tag)
    except ValueError as error:
        raise StoreError(str(error)) from error


def record(unit_of_work: UnitOfWork, entries: Sequence[Entry], who: str, looked: int | None = None) -> None:
    """Write entries at the end of the ledger and bring everything derived from it up to date.

    Parameters
    ----------
    unit_of_work
        Where to write; not committed here.
    entries
        In the order in which they happened.
    who
        Who writes them.
    looked
        `ledger_end` as it was when the person looked at the stock; a tag that has moved since is then a conflict.
        Default: it is enough that the entries can happen.

    Raises
    ------
    StoreConflict
        When one of them cannot happen, see `Yard.apply`, or when its tag has moved since it was looked at. Nothing of
        them is written then.
    """
    if not entries:
        return
    session = unit_of_work.session
    tags = {entry.tag for entry in entries} | {entry.parent for entry in entries if entry.parent is not None}
    if looked is not None:
        _unmoved_since(session, sorted(tags), looked)
    before = read_yard(session, tags)
    yard = read_yard(session, tags)
    _recall(session, yard, entries)
    start = yard.number + 1
    movements = [entry.enter(number, unit_of_work.at, who) for number, entry in enumerate(entries, start=start)]
    for movement in movements:
        try:
            yard.apply(movement)
        except ValueError as error:
            raise StoreConflict(_refusal(session, movement, str(error))) from error
    session.connection().execute(insert(MovementRow), [_row(movement) for movement in movements])
    write_derived(session, before, yard, tags)


def _unmoved_since(session: Session, tags: Sequence[str], looked: int) -> None:
    later = _movements(session, select(*_COLUMNS).where(MovementRow.tag.in_(tags), MovementRow.number > looked))
    for movement in later:
        raise StoreConflict(
            f"{movement.tag} is not as it was when you looked: {_told(movement)}; nothing was stored; "
            "look again, and repeat what still holds"
        )


def _refusal(session: Session, refused: Movement, why: str) -> str:
    last = None
    for movement in _movements(session, select(*_COLUMNS).where(MovementRow.tag == refused.tag)):
        last = movement
    told = f" (last: {_told(last)})" if last is not None else ""
    return f"{why}{told}; nothing was stored"


def _told(movement: Movement) -> str:
    kind = movement.kind.value.replace("_", " ")
    return f"{kind} by {movement.who} at {movement.at:%Y-%m-%d %H:%M} UTC, movement {movement.number}"


def _recall(session: Session, yard: Yard, entries: Sequence[Entry]) -> None:
    """Let the yard know what the entries that reverse something need: the state before it, or the area binned."""
    for entry in entries:
        number = entry.values.get("movement")
        if entry.kind is not MovementKind.REVERSED or not isinstance(number, int):
            continue
        undone = select(MovementRow.number).where(MovementRow.reverses == number)
        movement = read_movement(session, number)
        if movement.kind is not MovementKind.BINNED:
            _replay_tag(session, yard, entry.tag)
        elif session.scalar(undone) is None:
            yard.bins[number] = (movement.tag, int(str(movement.values["area_mm2"])))


def _replay_tag(session: Session, yard: Yard, tag: str) -> None:
    """Fold what happened to a tag and to all it was cut from; what came off beside it does not matter."""
    tags, wanted = {tag}, {tag}
    while wanted:
        parents = select(MovementRow.parent).where(MovementRow.tag.in_(wanted), MovementRow.parent.is_not(None))
        wanted = {parent for parent in session.scalars(parents) if parent is not None} - tags
        tags |= wanted
    alone = Yard()
    for movement in _movements(session, select(*_COLUMNS).where(MovementRow.tag.in_(tags))):
        alone.apply(movement)
    if tag in alone.latest:
        yard.latest[tag] = alone.latest[tag]


def _row(movement: Movement) -> dict[str, Any]:
    return {
        "number": movement.number,
        "at": movement.at,
        "who": movement.who,
        "kind": movement.kind.value,
        "tag": movement.tag,
        "why": movement.why,
        "values_json": json.dumps(dict(movement.values), ensure_ascii=False, sort_keys=True),
        "plan": movement.plan,
        "parent": movement.parent,
        "reverses": movement.reverses,
    }
