"""Finding things in the yard, with what is promised of each and when it was last seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from stockplan.domain.ledger import Hold, Yard
from stockplan.domain.lifting import weight_kg
from stockplan.domain.stock import StockForm, StockItem


@dataclass(frozen=True, slots=True)
class StockFilter:
    """Which stock items are meant; what is None does not matter.

    Parameters
    ----------
    product, batch, bay
        Exactly as written on the tag; an empty batch means unknown.
    least_width_mm, least_length_mm
        At least so much across and along the pile; nothing is turned to fit.
    form
        Only rolls, only part rolls or only offcuts.
    free
        Only what is neither reserved nor held.
    """

    product: str | None = None
    batch: str | None = None
    bay: str | None = None
    least_width_mm: int = 0
    least_length_mm: int = 0
    form: StockForm | None = None
    free: bool = False

    def condition(self) -> tuple[str, dict[str, Any]]:
        """Write it as a condition on the columns of the stock, with its values; promises aside."""
        wanted = {"product": self.product, "batch": self.batch, "bay": self.bay}
        values: dict[str, Any] = {name: value for name, value in wanted.items() if value is not None}
        if self.form is not None:
            values["form"] = self.form.value
        parts = [f"{name} = :{name}" for name in values]
        for name, least in (("width_mm", self.least_width_mm), ("length_mm", self.least_length_mm)):
            if least:
                parts.append(f"{name} >= :{name}")
                values[name] = least
        return " AND ".join(parts) or "1 = 1", values


@dataclass(frozen=True, slots=True)
class Found:
    """One thing in the yard, and what is known of it.

    Parameters
    ----------
    item
        The thing.
    plan, hold
        The plan it is reserved for, or the quote it is held for today; None when it is not.
    condition
        A word such as wet; empty when sound.
    since, last_seen
        Day it came in, and was last seen; None when it is not on record.
    parent
        What it was cut from; None when it was delivered.
    weight_kg
        About what it weighs, whole kg; None when that was not looked up.
    """

    item: StockItem
    plan: int | None
    hold: Hold | None
    condition: str
    since: date | None
    last_seen: date | None
    parent: str | None
    weight_kg: int | None = None


def find_stock(where: str | None, wanted: StockFilter, today: date, oldest: bool = False) -> list[Found]:
    """Read what lies in the yard, in order of product and tag, or the oldest first.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    wanted
        Which things.
    today
        For telling which holds are in force.
    oldest
        In order of the day they came in.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard_where  # noqa: PLC0415

    condition, values = wanted.condition()
    with open_yard(where) as store, store.reading() as source:
        yard = read_yard_where(rows_of(source), condition, values)
        weights = read_weights(source)
    found = found_in(yard, today, weights)
    if wanted.free:
        found = [one for one in found if one.plan is None and one.hold is None]
    if oldest:
        return sorted(found, key=lambda one: (one.since or date.min, one.item.product, one.item.tag))
    return sorted(found, key=lambda one: (one.item.product, one.item.tag))


def found_in(yard: Yard, today: date, weights: Mapping[str, int] | None = None) -> list[Found]:
    """Say what is known of each thing in a yard.

    Parameters
    ----------
    yard, today
        What lies there, and the day for telling which holds are in force.
    weights
        Grams per m² by product; default none. Where it is not known no weight is told.
    """
    weights = weights or {}
    return [
        Found(
            item,
            yard.reservations.get(tag),
            yard.hold_on(tag, today),
            yard.conditions.get(tag, ""),
            yard.since.get(tag),
            yard.last_seen.get(tag),
            yard.parents.get(tag),
            weight_kg(item.width_mm, item.length_mm, weights[item.product]) if item.product in weights else None,
        )
        for tag, item in yard.items.items()
    ]


def unseen(where: str | None, days: int, today: date) -> list[tuple[str, list[Found]]]:
    """Read what has not been seen for some days, by bay, the longest unseen first; so too the bays.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    days
        Not seen for so many days at least; 0 or more.
    today
        Days are counted back from it.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard_where  # noqa: PLC0415

    last = today - timedelta(days=days)
    with open_yard(where) as store, store.reading() as source:
        yard = read_yard_where(rows_of(source), "last_seen IS NULL OR last_seen <= :last", {"last": last})
    bays: dict[str, list[Found]] = {}
    for one in sorted(found_in(yard, today), key=lambda one: (one.last_seen or date.min, one.item.tag)):
        bays.setdefault(one.item.bay, []).append(one)
    return list(bays.items())


def bays_like(where: str | None, bay: str) -> Sequence[str]:
    """Name the bays in which something lies; those whose name is near first.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from difflib import SequenceMatcher  # noqa: PLC0415

    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        bays = [found for (found,) in rows_of(source).run("SELECT DISTINCT bay FROM stock_item")]
    return sorted(bays, key=lambda name: (-SequenceMatcher(None, bay.casefold(), name.casefold()).ratio(), name))
