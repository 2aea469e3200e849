"""The ledger as rows: reading it, and writing at its end together with everything derived from it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from stockplan.domain.as_typed import argument
from stockplan.domain.ledger import Entry, Movement, MovementKind, Origin, Yard, history, trace
from stockplan.errors import StoreConflict, StoreDamaged, StoreError
from stockplan.store.derived_rows import write_derived
from stockplan.store.rows import Kinds, Rows, Work, among, as_moment, by_few, inserting, rows_of
from stockplan.store.yard_rows import ledger_end, read_account, read_cut_so_far, read_gone, read_stock, read_yard

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

__all__ = [
    "append", "ledger_end", "read_account", "read_cut_so_far", "read_gone", "read_history", "read_movement",
    "read_movements", "read_stock", "read_trace", "read_yard", "record",
]  # fmt: skip
_SIZE = {"width_mm": int, "length_mm": int}
_STATED: Mapping[str, Mapping[str, type]] = {  # what reports rely on; the rest is for `Yard.apply` to judge
    "received": {"product": str, "batch": str, "form": str, "bay": str, **_SIZE},
    "returned": {"form": str, "bay": str, **_SIZE},
    "moved": {"bay": str},
    "condition": {"condition": str},
    "held": {"quote": str, "until": str},
    "cut": {"pieces": list},
    "binned": {"area_mm2": int},
    "reversed": {"movement": int},
}
_KINDS = Kinds(
    "movement", (int,), (str, datetime), (str,), (str,), (str,), (str,), (str,), (int, type(None)), (str, type(None))
)
_COLUMNS = ("number", "at", "who", "kind", "tag", "why", "values_json", "plan", "parent")


def read_movements(source: Session | Rows) -> Iterator[Movement]:
    """Read the whole ledger in order.

    Raises
    ------
    ValueError
        When a line cannot be read.
    """
    return _movements(rows_of(source), "1 = 1")


def _movements(rows: Rows, condition: str, named: Mapping[str, Any] | None = None) -> Iterator[Movement]:
    query = f"SELECT {', '.join(_COLUMNS)} FROM movement WHERE {condition} ORDER BY number"
    for row in rows.run(query, named):
        _KINDS.check(row)
        number, at, who, kind, tag, why, _, plan, parent = row
        yield Movement(number, as_moment(at), who, _kind(number, kind), tag, why, _values(row), plan, parent)


def _kind(number: int, text: str) -> MovementKind:
    try:
        return MovementKind(text)
    except ValueError as error:
        raise StoreDamaged(f"movement {number} is of no known kind: {text!r}") from error


def _values(row: Sequence[Any]) -> dict[str, Any]:
    number, kind, values_json = row[0], row[3], row[6]
    try:
        values = json.loads(values_json)
    except (ValueError, RecursionError) as error:
        raise StoreDamaged(f"movement {number}: its values cannot be read: {values_json!r}") from error
    if not isinstance(values, dict):
        raise StoreDamaged(f"movement {number}: its values are not an object: {values_json!r}")
    for name, allowed in _STATED.get(kind, {}).items():
        if not isinstance(values.get(name), allowed):
            raise StoreDamaged(f"movement {number}, {kind}, states no {name}: {values_json!r}")
    return values


def read_movement(source: Session | Rows, number: int) -> Movement:
    """Read one movement.

    Raises
    ------
    StoreError
        When there is none of this number.
    """
    rows = rows_of(source)
    for movement in _movements(rows, "number = :number", {"number": number}):
        return movement
    raise StoreError(f"there is no movement {number}; the last one is {ledger_end(rows)}")


def read_history(source: Session | Rows, tag: str) -> list[Movement]:
    """Read every movement of a tag and every return of a part of it, in order of the ledger."""
    return history(_movements(rows_of(source), "tag = :tag OR parent = :tag", {"tag": tag}), tag)


def read_trace(source: Session | Rows, tag: str) -> Origin:
    """Read from which roll, batch and delivery a tag comes.

    Raises
    ------
    StoreError
        When it was never in the yard.
    """
    try:
        return trace(_with_ancestors(rows_of(source), tag), tag)
    except ValueError as error:
        raise StoreError(str(error)) from error


def _with_ancestors(rows: Rows, tag: str) -> list[Movement]:
    """Read what happened to a tag and to all it was cut from, in order of the ledger."""
    found: dict[int, Movement] = {}
    wanted, seen = {tag}, {tag}
    while wanted:
        condition, named = among("tag", wanted)
        more = {movement.number: movement for movement in _movements(rows, condition, named)}
        found |= more
        wanted = {movement.parent for movement in more.values() if movement.parent is not None} - seen
        seen |= wanted
    return [found[number] for number in sorted(found)]


def record(work: Work, entries: Sequence[Entry], who: str, looked: int | None = None) -> None:
    """Write entries at the end of the ledger and bring everything derived from it up to date.

    Parameters
    ----------
    work
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
    rows = work.rows
    tags = {entry.tag for entry in entries} | {entry.parent for entry in entries if entry.parent is not None}
    if looked is not None:
        _unmoved_since(rows, tags, looked)
    before = read_yard(rows, tags)
    yard = before.copy()
    _recall(rows, yard, entries)
    movements = [entry.enter(number, work.at, who) for number, entry in enumerate(entries, start=yard.number + 1)]
    for movement in movements:
        try:
            yard.apply(movement)
        except ValueError as error:
            raise StoreConflict(_refusal(rows, movement, str(error))) from error
    append(rows, movements)
    write_derived(rows, before, yard, tags)


def append(rows: Rows, movements: Sequence[Movement]) -> None:
    """Write movements at the end of the ledger and nothing else; `record` is what keeps the store in order.

    Parameters
    ----------
    rows
        Where to write.
    movements
        In order, the first following the last one written.
    """
    rows.run_each(inserting("movement", (*_COLUMNS, "reverses")), [_row(movement) for movement in movements])


def _unmoved_since(rows: Rows, tags: Iterable[str], looked: int) -> None:
    for few in by_few(tags):
        condition, named = among("tag", few)
        for movement in _movements(rows, f"number > :looked AND {condition}", {**named, "looked": looked}):
            raise StoreConflict(
                f"{movement.tag} is not as it was when you looked: {_told(movement)}; nothing was stored; "
                "look again, and repeat what still holds"
            )


def _refusal(rows: Rows, refused: Movement, why: str) -> str:
    last = None
    for movement in _movements(rows, "tag = :tag", {"tag": refused.tag}):
        last = movement
    told = f" (last: {_told(last)})" if last is not None else ""
    return f"{why}{told}; nothing was stored; see how things stand with: stockplan history {argument(refused.tag)}"


def _told(movement: Movement) -> str:
    kind = movement.kind.value.replace("_", " ")
    return f"{kind} by {movement.who} at {movement.at:%Y-%m-%d %H:%M} UTC, movement {movement.number}"


def _recall(rows: Rows, yard: Yard, entries: Sequence[Entry]) -> None:
    """Let the yard know what the entries that reverse something need: the state before it, or the area binned."""
    for entry in entries:
        number = entry.values.get("movement")
        if entry.kind is not MovementKind.REVERSED or not isinstance(number, int):
            continue
        movement = read_movement(rows, number)
        if movement.kind is not MovementKind.BINNED:
            _replay_tag(rows, yard, entry.tag)
        elif not list(rows.run("SELECT 1 FROM movement WHERE reverses = :number", {"number": number})):
            yard.bins[number] = (movement.tag, int(str(movement.values["area_mm2"])))


def _replay_tag(rows: Rows, yard: Yard, tag: str) -> None:
    """Fold what happened to a tag and to all it was cut from; what came off beside it does not matter."""
    alone = Yard()
    for movement in _with_ancestors(rows, tag):
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
