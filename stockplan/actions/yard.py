"""What happens to one thing in the yard: it is moved, held, freed, found wet, written off."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from stockplan.actions.meant import known
from stockplan.actions.user import user
from stockplan.actions.yard_work import Done, look_at, write_about
from stockplan.domain.ledger import Entry, Yard, condition, counted, freed, held, moved, written_off
from stockplan.errors import StoreError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


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
        When no bay can be called so, or one in the yard is but spelt otherwise, with all that stands against the item.
    StoreError
        When the tag is not in the yard, or the store cannot be read or written.
    """
    from stockplan.actions.every_fault import check_all, every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.spelling import check_bay  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_text  # noqa: PLC0415 - only here

    def check_store(rows: Rows, yard: Yard) -> None:
        check_all(lambda: known(rows, yard, tag), lambda: check_bay(rows, bay))

    with every_fault(lambda: look_at(where, tag, check_store)):
        check_text("bay", bay)

    def entries(rows: Rows, yard: Yard) -> list[Entry]:
        check_store(rows, yard)
        there = known(rows, yard, tag).bay == bay
        return [counted(tag, why or "as recorded") if there else moved(tag, bay, why)]

    return write_about(where, tag, entries)


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

    with every_fault(lambda: look_at(where, tag, lambda rows, yard: known(rows, yard, tag))):
        check_text("condition", word)
    return write_about(where, tag, lambda rows, yard: [condition(known(rows, yard, tag).tag, word, why)])


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
    return write_about(where, tag, lambda rows, yard: [written_off(known(rows, yard, tag).tag, why)])


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

    with every_fault(lambda: look_at(where, tag, at_all)):
        check_hold(quote, until)
    return write_about(where, tag, lambda rows, yard: [held(known(rows, yard, tag).tag, quote, until, why)])


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
    return write_about(where, tag, lambda rows, yard: [freed(known(rows, yard, tag).tag, why)])
