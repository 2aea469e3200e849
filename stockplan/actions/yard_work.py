"""One thing in the yard looked at, or written about in one unit of work."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from stockplan.actions.user import user
from stockplan.domain.ledger import Entry, Hold, Yard
from stockplan.domain.stock import StockItem

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
    hold
        For which quote it was kept before; None when for none by now.
    """

    tag: str
    before: StockItem | None
    after: StockItem | None
    plan: int | None
    numbers: tuple[int, ...]
    hold: Hold | None = None


def look_at(where: str | None, tag: str, look: Callable[[Rows, Yard], Seen]) -> Seen:
    """See what is known of a tag, and write nothing.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    look
        Given the store and what it knows of the tag; what it gives is given back.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        return look(rows, read_yard(rows, [tag]))


def write_about(where: str | None, tag: str, entries: Callable[[Rows, Yard], Sequence[Entry]]) -> Done:
    """Read what is known of a tag, and write what follows from it, in one unit of work.

    Parameters
    ----------
    where, tag
        As for `look_at`.
    entries
        Given the store and what it knows of the tag; gives what to write.

    Raises
    ------
    StoreError
        When the store cannot be read or written, or what is to be written cannot be.
    """
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415
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
    hold = before.hold_on(tag, ledger_day())
    return Done(tag, before.items.get(tag), after.items.get(tag), before.reservations.get(tag), numbers, hold)
