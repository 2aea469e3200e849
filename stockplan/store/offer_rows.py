"""What a question to the estimator needs of the store, read by plain SQL and no more than it asks for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from stockplan.domain.ledger import Hold
from stockplan.domain.settings import FirmSettings
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.store.rows import Rows, among, as_day, by_few, known_day, rows_of
from stockplan.store.setting_rows import read_firm_settings

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

_ITEM = "tag, product, batch, form, width_mm, length_mm, bay, cost_pence_per_m2"
_FORMS = {form.value: form for form in StockForm}


@dataclass(frozen=True, slots=True)
class Lying:
    """One thing in the yard, and what is said of it.

    Parameters
    ----------
    item
        The thing.
    plan
        The plan it is reserved for; None when for none.
    hold
        The hold last put on it, expired or not.
    condition
        The word for it when it is not sound.
    """

    item: StockItem
    plan: int | None
    hold: Hold | None
    condition: str


def read_catalogue(source: Session | Rows) -> list[Product]:
    """Read every product, in order of code."""
    query = "SELECT code, description, weight_g_m2 FROM product"
    return sorted((Product(*row) for row in rows_of(source).run(query)), key=attrgetter("code"))


def read_offers(source: Session | Rows, products: Sequence[str]) -> list[SupplyOption]:
    """Read what can be bought of some products, in order of product, supplier, form, size and lead time."""
    condition, values = among("product", products)
    columns = "product, supplier, form, width_mm, length_mm, price_pence, lead_days"
    rows = rows_of(source).run(f"SELECT {columns} FROM supply_option WHERE {condition}", values)
    offers = [SupplyOption(row[0], row[1], SupplyForm(row[2]), *row[3:]) for row in rows]
    return sorted(offers, key=attrgetter("product", "supplier", "form", "width_mm", "length_mm", "lead_days"))


def read_lying(
    source: Session | Rows, products: Sequence[str], least_width_mm: int = 0, least_length_mm: int = 0
) -> list[Lying]:
    """Read what lies in the yard of some products, of at least a size or held for a quote, in order of tag.

    Parameters
    ----------
    products
        Codes; at most `FEW`.
    least_width_mm, least_length_mm
        Smaller things are left out, unless they are or were held: they are told as nearest misses; default none is.
    """
    condition, values = among("product", products)
    query = (
        f"SELECT {_ITEM}, plan, quote, held_until, condition FROM stock_item WHERE {condition} "
        "AND (width_mm >= :least_width AND length_mm >= :least_length OR quote IS NOT NULL)"
    )
    sizes = {"least_width": least_width_mm, "least_length": least_length_mm}
    return sorted(map(_lying, rows_of(source).run(query, {**values, **sizes})), key=_tag)


def plans_with(source: Session | Rows, products: Sequence[str]) -> set[int]:
    """Say which accepted plans are still to cut something of these products, in the yard or to come; at most `FEW`."""
    condition, values = among("product", products)
    lying = f"SELECT plan FROM stock_item WHERE {condition} AND plan IS NOT NULL"
    coming = f"SELECT plan FROM order_line WHERE {condition} AND plan IS NOT NULL AND state IN ('draft', 'ordered')"
    return {plan for query in (lying, coming) for (plan,) in rows_of(source).run(query, values)}


def read_reserved_lying(source: Session | Rows) -> list[Lying]:
    """Read everything in the yard that is reserved for a plan, in order of tag."""
    query = f"SELECT {_ITEM}, plan, quote, held_until, condition FROM stock_item WHERE plan IS NOT NULL"
    return sorted(map(_lying, rows_of(source).run(query)), key=_tag)


def _tag(lying: Lying) -> str:
    return lying.item.tag


def _lying(row: Sequence[Any]) -> Lying:
    tag, product, batch, form, width_mm, length_mm, bay, cost, plan, quote, until, condition = row
    day = as_day(until)
    hold = Hold(quote, day) if quote is not None and day is not None else None
    item = StockItem(tag, product, batch, _FORMS[form], width_mm, length_mm, bay, cost)
    return Lying(item, plan, hold, condition or "")


def read_lay_dates(source: Session | Rows, jobs: Iterable[str]) -> dict[str, tuple[date, bool]]:
    """Read when some jobs are laid, and whether each wants one batch."""
    found: dict[str, tuple[date, bool]] = {}
    for few in by_few(jobs):
        condition, values = among("code", few)
        query = f"SELECT code, lay_on, batch_rule FROM job WHERE {condition}"
        for code, lay_on, rule in rows_of(source).run(query, values):
            found[code] = (known_day(lay_on), rule == "one")
    return found


def jobs_begun(source: Session | Rows, jobs: Iterable[str]) -> set[str]:
    """Say for which of these jobs something has been cut."""
    found: set[str] = set()
    for few in by_few(jobs):
        condition, values = among("job", few)
        query = f"SELECT DISTINCT job FROM piece_cut WHERE {condition}"
        found |= {job for (job,) in rows_of(source).run(query, values)}
    return found


def read_proposal(source: Session | Rows, today: date) -> tuple[int, str] | None:
    """Read number and file of the last plan made, where it is only proposed and not all its days have passed."""
    query = (
        "SELECT number, plan_json, window_last FROM stored_plan WHERE number NOT IN (SELECT plan FROM plan_state) "
        "AND number = (SELECT max(number) FROM stored_plan)"
    )
    for number, text, last in rows_of(source).run(query):
        ends = as_day(last)
        return (number, text) if ends is not None and ends >= today else None
    return None


def read_firm(source: Session | Rows) -> FirmSettings:
    """Read every setting of the firm; see `read_firm_settings`."""
    return read_firm_settings(source)
