"""Finding things in the yard, with what is promised of each and when it was last seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from operator import itemgetter
from typing import TYPE_CHECKING, Any, NamedTuple

from stockplan.domain.lifting import weight_kg
from stockplan.domain.stock import StockForm, StockItem

if TYPE_CHECKING:  # lists are read from derived tables
    from stockplan.domain.ledger import Yard

_TAG, _PRODUCT, _WIDTH, _LENGTH, _PLAN, _UNTIL, _SINCE = 0, 1, 4, 5, 8, 10, 13  # places in a row of `read_lying`
_COLUMNS = 15


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


class Found(NamedTuple):
    """One thing in the yard, and what is known of it; made by the ten thousand, and so a plain tuple.

    Parameters
    ----------
    tag, product, batch, form, width_mm, length_mm, bay, cost_pence_per_m2
        As in `StockItem`.
    plan, quote, held_until
        The plan it is reserved for, or the quote it is held for today and until when; None when it is not.
    condition
        A word such as wet; empty when sound.
    last_seen, since
        Day it was last seen, and came in; None when it is not on record.
    parent
        What it was cut from; None when it was delivered.
    weight_g_m2
        Of its product, grams; None when that was not looked up.
    """

    tag: str
    product: str
    batch: str
    form: StockForm
    width_mm: int
    length_mm: int
    bay: str
    cost_pence_per_m2: int
    plan: int | None
    quote: str | None
    held_until: date | None
    condition: str
    last_seen: date | None
    since: date | None
    parent: str | None
    weight_g_m2: int | None = None

    @property
    def item(self) -> StockItem:
        """The thing itself."""
        return StockItem(*self[:8])

    @property
    def weight_kg(self) -> int | None:
        """About what it weighs, whole kg; None when that was not looked up."""
        return None if self.weight_g_m2 is None else weight_kg(self.width_mm, self.length_mm, self.weight_g_m2)


class Listing(NamedTuple):
    """Things to be listed, all together: a whole yard is to be listed at once, which takes too long one by one.

    Parameters
    ----------
    each
        A `Found` whose fields each hold those of all things.
    number, area_mm2
        How many there are, and how much; more than in `each` where only the first are listed.
    """

    each: Any
    number: int
    area_mm2: int


def listing(found: Sequence[Found]) -> Listing:
    """Put things together."""
    fields = zip(*found, strict=True) if found else [()] * len(Found._fields)
    return Listing(Found(*fields), len(found), sum(one.width_mm * one.length_mm for one in found))


def find_stock(where: str | None, wanted: StockFilter, today: date) -> list[Found]:
    """Read what lies in the yard, in order of product and tag.

    Parameters
    ----------
    where, wanted, today
        As in `list_stock`.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    return list(map(Found, *list_stock(where, wanted, today).each))


def list_stock(
    where: str | None, wanted: StockFilter, today: date, *, oldest: bool = False, most: int | None = None
) -> Listing:
    """Read what lies in the yard, to list it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    wanted
        Which things.
    today
        For telling which holds are in force.
    oldest
        In order of the day they came in; default of product and tag.
    most
        Only so many, the first; default all.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import as_day, rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_lying  # noqa: PLC0415

    condition, values = wanted.condition()
    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        lying, weights = read_lying(rows, condition, values), read_weights(rows)
    if wanted.free:
        lying = [row for row in lying if row[_PLAN] is None and not _lasts(as_day(row[_UNTIL]), today)]
    area = sum(row[_WIDTH] * row[_LENGTH] for row in lying)
    lying.sort(key=itemgetter(_PRODUCT, _TAG))
    if oldest:
        lying.sort(key=lambda row: as_day(row[_SINCE]) or date.min)
    return Listing(_together(lying[:most], today, weights), len(lying), area)


def _lasts(until: date | None, today: date) -> bool:
    return until is not None and until >= today


def _together(lying: Sequence[Sequence[Any]], today: date, weights: Mapping[str, int]) -> Any:
    """Say what is known of things, from their rows; a hold that has ended is none, and what is alike is read once."""
    from stockplan.store.rows import as_day  # noqa: PLC0415
    from stockplan.store.yard_rows import known_form  # noqa: PLC0415

    by_column: Iterable[Sequence[Any]] = zip(*lying, strict=True) if lying else [()] * _COLUMNS
    tags, products, batches, forms, *sizes, plans, quotes, untils, words, seen, since, parents = by_column
    form = {text: known_form(tags[forms.index(text)], text) for text in set(forms)}
    day = {value: as_day(value) for value in set(untils).union(seen, since)}
    until = [day[value] if value and _lasts(day[value], today) else None for value in untils]
    columns: tuple[Sequence[Any], ...] = (
        tags,
        products,
        batches,
        [form[text] for text in forms],
        *sizes,
        plans,
        [quote if last else None for quote, last in zip(quotes, until, strict=True)],
        until,
        [word or "" for word in words],
        [day[value] for value in seen],
        [day[value] for value in since],
        parents,
        [weights.get(product) for product in products],
    )
    return Found(*columns)  # type: ignore[arg-type]


def found_in(yard: Yard, today: date, weights: Mapping[str, int] | None = None) -> list[Found]:
    """Say what is known of each thing in a yard.

    Parameters
    ----------
    yard, today
        What lies there, and the day for telling which holds are in force.
    weights
        Grams per m² by product; default none. Where it is not known no weight is told.
    """
    found = []
    for tag, item in yard.items.items():
        hold = yard.hold_on(tag, today)
        found.append(
            Found(
                tag, item.product, item.batch, item.form, item.width_mm, item.length_mm, item.bay,
                item.cost_pence_per_m2,
                yard.reservations.get(tag),
                hold.quote if hold else None,
                hold.until if hold else None,
                yard.conditions.get(tag, ""),
                yard.last_seen.get(tag),
                yard.since.get(tag),
                yard.parents.get(tag),
                (weights or {}).get(item.product),
            )
        )  # fmt: skip
    return found


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
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_lying  # noqa: PLC0415

    last = today - timedelta(days=days)
    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        lying = read_lying(rows, "last_seen IS NULL OR last_seen <= :last", {"last": last})
        found = map(Found, *_together(lying, today, read_weights(rows)))
    bays: dict[str, list[Found]] = {}
    for one in sorted(found, key=lambda one: (one.last_seen or date.min, one.tag)):
        bays.setdefault(one.bay, []).append(one)
    return list(bays.items())
