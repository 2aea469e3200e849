"""What happens to one thing in the yard: it comes, is measured, moved, held, written off."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, TypeVar

from stockplan.actions.importing import user
from stockplan.actions.meant import known
from stockplan.domain.ledger import (
    Entry,
    Yard,
    condition,
    corrected,
    counted,
    freed,
    held,
    moved,
    received,
    written_off,
)
from stockplan.domain.stock import StockItem
from stockplan.errors import StockplanError, StoreError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows

Seen = TypeVar("Seen")


@dataclass(frozen=True, slots=True)
class Done:
    """What was written about one tag.

    Parameters
    ----------
    tag
        Which.
    before, after
        The item before and after; None where it was not in the yard.
    plan
        The plan it was reserved for before; None when for none.
    numbers
        Of the movements written.
    """

    tag: str
    before: StockItem | None
    after: StockItem | None
    plan: int | None
    numbers: tuple[int, ...]


def receive(where: str | None, item: StockItem, why: str = "", delivery: str = "") -> Done:
    """Take something into the yard that no order announced.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    item
        As it was measured; every field is checked, and all that is wrong is told at once.
    why
        A remark; default none.
    delivery
        Number of a delivery note; default none.

    Raises
    ------
    StockplanError
        When a field cannot be, the product is unknown, the tag was used before, or tag or batch are spelt otherwise
        than in the yard.
    StoreError
        When the store cannot be read or written.
    """
    from stockplan.actions.every_fault import check_all, every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.spelling import check_spelling  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_item  # noqa: PLC0415 - only here

    def check_store(rows: Rows, yard: Yard) -> None:
        check_all(
            lambda: _check_product(rows, item.product),
            lambda: check_unused(yard, item.tag),
            lambda: check_spelling(rows, item.product, item.batch, item.tag),
        )

    with every_fault(lambda: _look(where, item.tag, check_store)):
        check_item(item, delivery)

    def entries(rows: Rows, yard: Yard) -> list[Entry]:
        with every_fault(lambda: check_unused(yard, item.tag)):
            check_all(
                lambda: _check_product(rows, item.product),
                lambda: check_spelling(rows, item.product, item.batch, item.tag),
            )
        return [received(item, why, delivery=delivery)]

    return _write(where, item.tag, entries)


def measure(
    where: str | None,
    tag: str,
    size_mm: tuple[int, int] | None,
    cost_pence_per_m2: int | None = None,
    why: str = "",
    *,
    as_typed: bool = False,
) -> Done:
    """Put an item's size, or what it cost, right; a size found as recorded counts as having been seen.

    Parameters
    ----------
    where, tag
        The store, and which item.
    size_mm
        Across and along the pile, mm; None leaves it.
    cost_pence_per_m2
        Default leave it.
    why
        A remark; default none.
    as_typed
        That across and along are not exchanged, however it looks.

    Raises
    ------
    StockplanError
        When the size cannot be, or across and along look exchanged.
    StoreError
        When the tag is not in the yard, or the store cannot be read or written.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_measured  # noqa: PLC0415 - only here

    def found(rows: Rows, yard: Yard) -> StockItem:
        before = known(rows, yard, tag)
        if size_mm is not None and not as_typed and (why_odd := _exchanged(rows, before, size_mm)):
            raise StockplanError(
                f"{why_odd}: are across and along exchanged? give it the other way round, or add --as-typed"
            )
        return before

    with every_fault(lambda: _look(where, tag, found)):
        check_measured(size_mm, cost_pence_per_m2)

    def entries(rows: Rows, yard: Yard) -> list[Entry]:
        before = found(rows, yard)
        width_mm, length_mm = size_mm or (before.width_mm, before.length_mm)
        cost = before.cost_pence_per_m2 if cost_pence_per_m2 is None else cost_pence_per_m2
        after = replace(before, width_mm=width_mm, length_mm=length_mm, cost_pence_per_m2=cost)
        return [corrected(before, after, why or "measured") if after != before else counted(tag, why or "as recorded")]

    return _write(where, tag, entries)


def exchanged_sides(where: str | None, tag: str, size_mm: tuple[int, int], cost_pence_per_m2: int | None = None) -> str:
    """Say why across and along look exchanged in what was measured; empty when they do not.

    Parameters
    ----------
    where, tag
        As for `measure`.
    size_mm
        As measured, across and along, mm.
    cost_pence_per_m2
        Told with the size; default none, and it stays as it is.

    Raises
    ------
    StockplanError
        When the tag is not in the yard and something else of it cannot be; names all of it.
    StoreError
        When the tag is not in the yard, or the store cannot be read.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_measured  # noqa: PLC0415 - only here

    with every_fault(lambda: check_measured(size_mm, cost_pence_per_m2)):
        return _look(where, tag, lambda rows, yard: _exchanged(rows, known(rows, yard, tag), size_mm))


def _exchanged(rows: Rows, before: StockItem, size_mm: tuple[int, int]) -> str:
    from stockplan.domain.offcut import exchanged  # noqa: PLC0415 - only here
    from stockplan.store.plan_rows import read_full_widths  # noqa: PLC0415

    widest = read_full_widths(rows, [before.product]).get(before.product, 0)
    return exchanged(size_mm, (before.width_mm, before.length_mm), widest)


def move(where: str | None, tag: str, bay: str, why: str = "") -> Done:
    """Say in which bay an item lies now; the bay it was in already counts as having been seen there.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    bay
        Where it lies now.
    why
        A remark for the record; default none.

    Raises
    ------
    StockplanError
        When no bay can be called so, with all that stands against the item.
    StoreError
        When the tag is not in the yard, or the store cannot be read or written.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_text  # noqa: PLC0415 - only here

    with every_fault(lambda: _look(where, tag, lambda rows, yard: known(rows, yard, tag))):
        check_text("bay", bay)

    def entries(rows: Rows, yard: Yard) -> list[Entry]:
        there = known(rows, yard, tag).bay == bay
        return [counted(tag, why or "as recorded") if there else moved(tag, bay, why)]

    return _write(where, tag, entries)


def set_condition(where: str | None, tag: str, word: str, why: str = "") -> Done:
    """Say in what condition an item is, in a word of the trade.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    word
        Such as those of `CONDITIONS`; `sound` takes another back.
    why
        A remark for the record; default none.

    Raises
    ------
    StockplanError
        When no condition can be called so, with all that stands against the item.
    StoreError
        When the tag is not in the yard, or the store cannot be read or written.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_text  # noqa: PLC0415 - only here

    with every_fault(lambda: _look(where, tag, lambda rows, yard: known(rows, yard, tag))):
        check_text("condition", word)
    return _write(where, tag, lambda rows, yard: [condition(known(rows, yard, tag).tag, word, why)])


def write_off(where: str | None, tag: str, why: str) -> Done:
    """Say that an item is gone for good, reserved or not.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    why
        For the record.

    Raises
    ------
    StoreError
        When the tag is not in the yard, or the store cannot be read or written.
    """
    return _write(where, tag, lambda rows, yard: [written_off(known(rows, yard, tag).tag, why)])


def hold(where: str | None, tag: str, quote: str, until: date, why: str = "") -> Done:
    """Keep an item for a quote up to and including a day.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    quote
        For whom it is kept.
    until
        The last day it is kept, today or later.
    why
        A remark for the record; default none.

    Raises
    ------
    StockplanError
        When the quote's name cannot be or the day has passed, with all that stands against the item.
    StoreError
        When the tag is not in the yard, or is promised to someone else.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_hold  # noqa: PLC0415 - only here

    def at_all(rows: Rows, yard: Yard) -> None:
        entry = held(known(rows, yard, tag).tag, quote or "a quote", date.max, why)
        try:
            yard.apply(entry.enter(yard.number + 1, datetime.now(UTC), user()))
        except ValueError as error:
            raise StoreError(str(error)) from error

    with every_fault(lambda: _look(where, tag, at_all)):
        check_hold(quote, until)
    return _write(where, tag, lambda rows, yard: [held(known(rows, yard, tag).tag, quote, until, why)])


def free(where: str | None, tag: str, why: str = "") -> Done:
    """Keep an item no longer for its quote.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    why
        A remark for the record; default none.

    Raises
    ------
    StoreError
        When the tag is not in the yard, is not held, or the store cannot be read or written.
    """
    return _write(where, tag, lambda rows, yard: [freed(known(rows, yard, tag).tag, why)])


def check_unused(yard: Yard, tag: str) -> None:
    """Check that nothing ever bore a tag.

    Raises
    ------
    StoreError
        When something did.
    """
    if tag in yard.items or tag in yard.gone:
        see = f"see: stockplan history {shlex.quote(tag)}"
        raise StoreError(f"{tag} was received before; give the new thing a tag of its own; {see}")


def _look(where: str | None, tag: str, look: Callable[[Rows, Yard], Seen]) -> Seen:
    """See what is known of a tag, and write nothing."""
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        return look(rows, read_yard(rows, [tag]))


def _write(where: str | None, tag: str, entries: Callable[[Rows, Yard], Sequence[Entry]]) -> Done:
    """Read what is known of a tag, and write what follows from it, in one unit of work."""
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        rows = work.rows
        before = read_yard(rows, [tag])
        written = entries(rows, before)
        record(work, written, user())
        after = read_yard(rows, [tag])
        if before.reservations != after.reservations:
            from stockplan.actions.plan_states import follow_plans  # noqa: PLC0415

            follow_plans(work, before.reservations, after.reservations)
        work.commit()
    numbers = tuple(range(before.number + 1, before.number + 1 + len(written)))
    return Done(tag, before.items.get(tag), after.items.get(tag), before.reservations.get(tag), numbers)


def _check_product(rows: Rows, code: str) -> None:
    codes = sorted(found for (found,) in rows.run("SELECT code FROM product"))
    if code not in codes:
        listed = ", ".join(codes) or "none yet; import products.csv first"
        raise StockplanError(f"the store knows no product {code}; it knows: {listed}")
