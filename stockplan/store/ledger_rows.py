"""The ledger and the stock derived from it, as rows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from operator import attrgetter
from typing import Any

from sqlalchemy import bindparam, delete, func, insert, select, update
from sqlalchemy.orm import Session

from stockplan.domain.ledger import CORRECTABLE, Entry, Movement, MovementKind, Yard
from stockplan.domain.stock import StockForm, StockItem
from stockplan.store.session import UnitOfWork
from stockplan.store.tables import MovementRow, StockItemRow

_FEW = 500  # look up so many tags by name; more by reading all
_STOCK_COLUMNS = (
    StockItemRow.tag,
    StockItemRow.product,
    StockItemRow.batch,
    StockItemRow.form,
    StockItemRow.width_mm,
    StockItemRow.length_mm,
    StockItemRow.bay,
    StockItemRow.cost_pence_per_m2,
)
_FORMS = {form.value: form for form in StockForm}


def read_stock(session: Session, tags: Iterable[str] | None = None) -> list[StockItem]:
    """Read what lies in the yard, in order of tag.

    Parameters
    ----------
    tags
        Only these; default all.
    """
    query = select(*_STOCK_COLUMNS)
    wanted = None if tags is None else set(tags)
    if wanted is not None and len(wanted) <= _FEW:
        query = query.where(StockItemRow.tag.in_(wanted))
        wanted = None
    items = [
        StockItem(tag, product, batch, _FORMS[form], width_mm, length_mm, bay, cost)
        for tag, product, batch, form, width_mm, length_mm, bay, cost in session.execute(query)
        if wanted is None or tag in wanted
    ]
    return sorted(items, key=attrgetter("tag"))


def read_gone(session: Session, tags: Iterable[str]) -> set[str]:
    """Say which of these tags were in the yard once and are no longer."""
    wanted = set(tags)
    if not wanted:
        return set()
    past = select(MovementRow.tag).distinct()
    if len(wanted) <= _FEW:
        past = past.where(MovementRow.tag.in_(wanted))
    present = set(session.scalars(select(StockItemRow.tag)))
    return (set(session.scalars(past)) & wanted) - present


def read_movements(session: Session) -> Iterator[Movement]:
    """Read the whole ledger in order.

    Raises
    ------
    ValueError
        When a line cannot be read.
    """
    columns = (
        MovementRow.number,
        MovementRow.at,
        MovementRow.who,
        MovementRow.kind,
        MovementRow.tag,
        MovementRow.why,
        MovementRow.values_json,
    )
    query = select(*columns).order_by(MovementRow.number).execution_options(yield_per=10_000)
    for number, at, who, kind, tag, why, values_json in session.execute(query):
        values = json.loads(values_json)
        if not isinstance(values, dict):
            raise ValueError(f"movement {number}: its values are not an object: {values_json}")
        yield Movement(number, at, who, MovementKind(kind), tag, why, values)


def record(unit_of_work: UnitOfWork, entries: Sequence[Entry], who: str) -> None:
    """Write entries at the end of the ledger and bring the stock derived from it up to date.

    Parameters
    ----------
    unit_of_work
        Where to write; not committed here.
    entries
        In the order in which they happened.
    who
        Who writes them.

    Raises
    ------
    ValueError
        When one of them cannot happen; see `Yard.apply`.
    """
    if not entries:
        return
    session = unit_of_work.session
    tags = {entry.tag for entry in entries}
    before = {item.tag: item for item in read_stock(session, tags)}
    yard = Yard(dict(before), read_gone(session, tags))
    for entry in entries:
        yard.apply(entry)
    _append(unit_of_work, entries, who)
    _derive(session, before, yard.items)


def _append(unit_of_work: UnitOfWork, entries: Sequence[Entry], who: str) -> None:
    session = unit_of_work.session
    last = session.scalar(select(func.max(MovementRow.number))) or 0
    rows = [
        {
            "number": number,
            "at": unit_of_work.at,
            "who": who,
            "kind": entry.kind.value,
            "tag": entry.tag,
            "why": entry.why,
            "values_json": json.dumps(dict(entry.values), ensure_ascii=False, sort_keys=True),
        }
        for number, entry in enumerate(entries, start=last + 1)
    ]
    session.connection().execute(insert(MovementRow), rows)


def _derive(session: Session, before: dict[str, StockItem], after: dict[str, StockItem]) -> None:
    connection = session.connection()
    removed = [{"the_tag": tag} for tag in before.keys() - after.keys()]
    added = [_row(item) for tag, item in after.items() if tag not in before]
    changed = [
        {"the_tag": tag, **{name: getattr(item, name) for name in CORRECTABLE}}
        for tag, item in after.items()
        if tag in before and before[tag] != item
    ]
    here = StockItemRow.tag == bindparam("the_tag")
    if removed:
        connection.execute(delete(StockItemRow).where(here), removed)
    if added:
        connection.execute(insert(StockItemRow), added)
    if changed:
        new: dict[str, Any] = {name: bindparam(name) for name in CORRECTABLE}
        connection.execute(update(StockItemRow).where(here).values(new), changed)


def _row(item: StockItem) -> dict[str, str | int]:
    return {
        "tag": item.tag,
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        "width_mm": item.width_mm,
        "length_mm": item.length_mm,
        "bay": item.bay,
        "cost_pence_per_m2": item.cost_pence_per_m2,
    }
