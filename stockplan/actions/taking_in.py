"""Taking in what comes for an order, as measured; which jobs a short roll or another batch endangers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.actions.in_force import read_books, schedule_of, with_pieces
from stockplan.actions.ordering import known_order, not_placeable
from stockplan.actions.user import user
from stockplan.domain.deliveries import Danger, mixing, too_small
from stockplan.domain.jobs import Window
from stockplan.domain.ledger import Entry, received, reserved
from stockplan.domain.purchase import OrderLine, OrderState, received_form
from stockplan.domain.standing import Schedule, Standing
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.tags import LETTERS, new_tags
from stockplan.domain.units import size
from stockplan.errors import StockplanError, StoreError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came for an order, as measured.

    Parameters
    ----------
    batch
        Dye batch on its label; empty when unknown.
    width_mm, length_mm
        Measured across and along the pile.
    bay
        Where it was put.
    tag
        The tag it was given; None for the next one.
    """

    batch: str
    width_mm: int
    length_mm: int
    bay: str
    tag: str | None = None


@dataclass(frozen=True, slots=True)
class Received:
    """What came in for an order.

    Parameters
    ----------
    line
        The order, as it was placed.
    item
        What came, as measured.
    jobs
        Codes of the jobs it serves.
    dangers
        Jobs that its size or its day endangers.
    mixing
        Jobs of these that would get several batches though they want one.
    days
        From the first to the last day on which one of them is laid; None when none is in the schedule.
    """

    line: OrderLine
    item: StockItem
    jobs: tuple[str, ...]
    dangers: tuple[Danger, ...]
    mixing: tuple[Danger, ...]
    days: Window | None = None


def receive_order(where: str | None, key: str, delivery: Delivery, today: date) -> Received:
    """Take in what came for an order; it is reserved for the plan that ordered it, whose cuts now lie on it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    key
        Which order.
    delivery
        What came.
    today
        The day it came.

    Raises
    ------
    StockplanError
        When what came cannot be so, its tag was used before, or there is no such order or it has come in; names all
        of it.
    StoreError
        When the store cannot be read or written.
    """
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.pin_rows import move_pins  # noqa: PLC0415
    from stockplan.store.plan_rows import change_line, read_promised, tags_ever, write_receipt  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        line = _checked(work.rows, key, delivery)
        form = received_form(line.form)
        tag = delivery.tag or new_tags(tags_ever(work.rows, LETTERS[form]), 1, form)[0]
        item = _item(line, delivery, tag)
        entries: list[Entry] = [received(item, f"order {line.key}", line.plan, line.key)]
        if line.plan is not None:
            entries.append(reserved(tag, line.plan, f"ordered for plan {line.plan}"))
        record(work, entries, user())
        change_line(work, line.key, state=OrderState.RECEIVED, received_on=today)
        write_receipt(work, tag, line.key)
        move_pins(work, line.key, tag)
        books = read_books(work.rows)
        schedule = schedule_of(work.rows, books, read_promised(work.rows, books.jobs()), cut_for=())
        mine = [one for one in schedule.standing if one.item.tag == tag]
        codes = tuple(code for one in mine for code in one.jobs())
        schedule = with_pieces(work.rows, schedule, codes)
        work.commit()
    laid = sorted(schedule.jobs[code].lay_on for code in codes if code in schedule.jobs)
    return Received(
        line=line,
        item=item,
        jobs=codes,
        dangers=tuple(danger for one in mine for danger in (*too_small(one), *_laid_already(schedule, one, today))),
        mixing=tuple(mixing(schedule, codes)),
        days=Window(laid[0], laid[-1]) if laid else None,
    )


def _checked(rows: Rows, key: str, delivery: Delivery) -> OrderLine:
    """Look up the order that something came for, and hold what came against every rule."""
    from stockplan.actions.every_fault import check_all, every_fault  # noqa: PLC0415
    from stockplan.actions.spelling import check_spelling  # noqa: PLC0415

    lines = read_books(rows, only=()).lines
    with every_fault(lambda: _check_came(rows, delivery)):
        line = known_order(lines, key)
    check_all(
        lambda: _check_coming(line),
        lambda: _check_came(rows, delivery),
        lambda: check_spelling(rows, line.product, delivery.batch, delivery.tag or "", delivery.bay),
        lambda: _check_sides(line, delivery),
    )
    return line


def _check_coming(line: OrderLine) -> None:
    if not line.coming:
        raise StoreError(not_placeable(line, None))


def _check_came(rows: Rows, delivery: Delivery) -> None:
    """Hold what came against what holds whatever was ordered."""
    from stockplan.actions.every_fault import check_all  # noqa: PLC0415
    from stockplan.actions.receiving import check_unused  # noqa: PLC0415
    from stockplan.actions.typed import check_item  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    tag, size_mm = delivery.tag or "", (delivery.width_mm, delivery.length_mm)
    came = StockItem(tag or "R-1", "any", delivery.batch, StockForm.ROLL, *size_mm, delivery.bay, 0)
    check_all(lambda: check_item(came), lambda: check_unused(read_yard(rows, [tag]), tag))


def _item(line: OrderLine, delivery: Delivery, tag: str) -> StockItem:
    """What came, at what was paid for it: a short roll costs more a square metre."""
    came = replace(line, width_mm=max(1, delivery.width_mm), length_mm=max(1, delivery.length_mm))
    return StockItem(
        tag=tag,
        product=line.product,
        batch=delivery.batch,
        form=received_form(line.form),
        width_mm=delivery.width_mm,
        length_mm=delivery.length_mm,
        bay=delivery.bay,
        cost_pence_per_m2=came.cost_pence_per_m2,
    )


def _check_sides(line: OrderLine, delivery: Delivery) -> None:
    """See that across and along are not exchanged."""

    def off(width_mm: int, length_mm: int) -> int:
        return abs(width_mm - line.width_mm) + abs(length_mm - line.length_mm)

    if off(delivery.width_mm, delivery.length_mm) <= off(delivery.length_mm, delivery.width_mm):
        return
    found, right = size(delivery.width_mm, delivery.length_mm), size(line.width_mm, line.length_mm)
    raise StockplanError(
        f"{found} m was measured for an order of {right} m: width is across the pile, length along it; swap the two"
    )


def _laid_already(schedule: Schedule, one: Standing, today: date) -> Iterable[Danger]:
    for code in one.jobs():
        job = schedule.jobs.get(code)
        if job is not None and job.lay_on <= today:
            yield Danger(code, f"is laid on {job.lay_on}, and {one.item.tag} came on {today}")
