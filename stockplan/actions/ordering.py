"""Orders: which to place and by when, and placing them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from stockplan.actions.in_force import read_books, schedule_of
from stockplan.domain.deliveries import Danger, late, overdue
from stockplan.domain.jobs import Job
from stockplan.domain.lifting import weight_kg
from stockplan.domain.purchase import OrderLine, OrderState
from stockplan.domain.standing import Schedule
from stockplan.errors import StoreError


@dataclass(frozen=True, slots=True)
class OrderShown:
    """An order with what hangs on it.

    Parameters
    ----------
    line
        The order.
    overdue
        In what way it is late; empty when it is not.
    jobs
        Jobs it serves, the first to be laid first.
    dangers
        Jobs that its day endangers.
    tag
        Under which it came in; None while it has not.
    weight_kg
        About what it weighs; None where its product has no weight.
    """

    line: OrderLine
    overdue: str
    jobs: tuple[Job, ...]
    dangers: tuple[Danger, ...]
    tag: str | None = None
    weight_kg: int | None = None


def list_orders(where: str | None, today: date, *, everything: bool = False) -> list[OrderShown]:
    """List drafts by the day to order, then what is ordered by the day it is due, then, if asked, the rest.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    today
        The day by which something is late.
    everything
        Also what has come in and what was cancelled.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.plan_rows import read_promised, read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        books, weights = read_books(source), read_weights(source)
        schedule = schedule_of(source, books, read_promised(source, books.jobs()), cut_for=(), today=today)
    wanted = [line for line in books.lines.values() if everything or line.coming]
    came_as = {key: tag for tag, key in books.receipts.items()}
    shown = (_shown(line, schedule, today, came_as.get(line.key)) for line in sorted(wanted, key=_urgency))
    return [replace(one, weight_kg=_weight(one.line, weights)) for one in shown]


def _weight(line: OrderLine, weights: Mapping[str, int]) -> int | None:
    grams = weights.get(line.product)
    return None if grams is None else weight_kg(line.width_mm, line.length_mm, grams)


def _urgency(line: OrderLine) -> tuple[int, date]:
    stage = [OrderState.DRAFT, OrderState.ORDERED, OrderState.RECEIVED, OrderState.CANCELLED].index(line.state)
    return stage, line.order_by if line.state is OrderState.DRAFT else line.arrives_on


def _shown(line: OrderLine, schedule: Schedule, today: date, tag: str | None = None) -> OrderShown:
    mine = [one for one in schedule.standing if one.item.tag in (line.key, tag)]
    codes = {code for one in mine for code in one.jobs()}
    jobs = [schedule.jobs[code] for code in codes if code in schedule.jobs]
    dangers = [danger for one in mine for danger in late(schedule, one)]
    return OrderShown(
        line=line,
        overdue=overdue(line, today),
        jobs=tuple(sorted(jobs, key=lambda job: (job.lay_on, job.code))),
        dangers=tuple(dangers),
        tag=tag,
    )


def place_orders(where: str | None, keys: Sequence[str], today: date, promised: date | None = None) -> list[OrderShown]:
    """Say that drafts have been ordered, or that what is ordered is promised for another day.

    A draft ordered after its day is due as much later as it was ordered late, unless another day was promised.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    keys
        Which orders; all or none of them are marked.
    today
        The day they are placed.
    promised
        The day they are due by the supplier's word; default the day planned.

    Raises
    ------
    StoreError
        When there is no such order, it cannot be placed any more, or the day promised has passed.
    """
    from stockplan.actions.every_fault import check_all  # noqa: PLC0415
    from stockplan.store.plan_rows import change_line, read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        lines = read_books(work.rows, only=()).lines
        check_all(*(partial(_check_placeable, lines, key, promised, today) for key in dict.fromkeys(keys)))
        chosen = list(dict.fromkeys(known_order(lines, key) for key in keys))
        for line in chosen:
            due = promised or line.earliest(today)
            new: dict[str, object] = {"arrives_on": due}
            if line.state is OrderState.DRAFT:
                new |= {"state": OrderState.ORDERED, "ordered_on": today}
            change_line(work, line.key, **new)
        books = read_books(work.rows)
        schedule = schedule_of(work.rows, books, read_promised(work.rows, books.jobs()), cut_for=(), today=today)
        work.commit()
    return [_shown(books.lines[line.key], schedule, today) for line in chosen]


def known_order(lines: Mapping[str, OrderLine], key: str) -> OrderLine:
    """Look up an order that must be there.

    Parameters
    ----------
    lines
        Every order line, by key.
    key
        Such as `P12-1`.

    Raises
    ------
    StoreError
        When it is not; says which are open.
    """
    line = lines.get(key) or lines.get(key.upper())
    if line is None:
        open_keys = [line.key for line in lines.values() if line.coming]
        listed = f"; open orders are {', '.join(open_keys)}" if open_keys else "; no order is open"
        raise StoreError(f"there is no order {key}{listed}")
    return line


def _check_placeable(lines: Mapping[str, OrderLine], key: str, promised: date | None, today: date) -> None:
    if fault := not_placeable(known_order(lines, key), promised):
        raise StoreError(fault)
    if promised is not None and promised < today:
        raise StoreError(f"{key} cannot come on {promised}, which has passed; today is {today}")


def not_placeable(line: OrderLine, promised: date | None) -> str:
    """Say why an order cannot be placed, or promised for another day, any more; empty when it can.

    Parameters
    ----------
    line
        The order.
    promised
        The supplier's own day; None where it is as planned.
    """
    if line.state is OrderState.RECEIVED:
        return f"{line.key} has come in already"
    if line.state is OrderState.CANCELLED:
        return f"{line.key} was cancelled with its plan"
    if line.state is OrderState.ORDERED and promised is None:
        return f"{line.key} is ordered already, due on {line.arrives_on}; another day is stated with --promised"
    return ""
