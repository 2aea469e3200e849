"""Rows to domain things and back: catalogue, schedule, requests, stored plans.

Everything is read in an order that does not depend on the database, so that the same store gives the same plan on
SQLite and on PostgreSQL.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, SupplyForm, SupplyOption
from stockplan.errors import StoreError
from stockplan.store.lawn_rows import insert_lawns, read_lawns, read_wish
from stockplan.store.ledger_rows import read_stock
from stockplan.store.rows import Rows, Work, among, as_moment, by_few, inserting, known_day, rows_of
from stockplan.store.setting_rows import read_firm_settings

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

_JOB = ("code", "site", "product", "lay_on", "pile_towards", "batch_rule", "pile")
_STRIP = ("job", "label", "position", "width_mm", "length_mm", "count")
_PLAN = (
    "number", "made_at", "window_first", "window_last", "today", "net_cost_pence", "lower_bound_pence", "plan_json",
)  # fmt: skip


def read_products(source: Session | Rows) -> list[Product]:
    """Read every product, in order of code."""
    query = "SELECT code, description, weight_g_m2 FROM product"
    return sorted((Product(*row) for row in rows_of(source).run(query)), key=attrgetter("code"))


def read_supply(source: Session | Rows) -> list[SupplyOption]:
    """Read everything that can be bought, in order of product, supplier, form, width, length and lead time."""
    query = "SELECT product, supplier, form, width_mm, length_mm, price_pence, lead_days FROM supply_option"
    options = [SupplyOption(row[0], row[1], SupplyForm(row[2]), *row[3:]) for row in rows_of(source).run(query)]
    return sorted(options, key=offer_key)


def offer_key(option: SupplyOption) -> tuple[str, str, str, int, int, int]:
    """Give what makes an offer the same offer: everything but its price."""
    lead = option.lead_days
    return (option.product, option.supplier, option.form.value, option.width_mm, option.length_mm, lead)


def read_jobs(source: Session | Rows, window: Window | None = None, codes: Iterable[str] | None = None) -> list[Job]:
    """Read jobs with their strips and lawns, in order of lay date and code.

    Parameters
    ----------
    window
        Only jobs laid inside it; default all.
    codes
        Only these jobs; default all.
    """
    rows, found = rows_of(source), []
    inside, values = "1 = 1", dict[str, Any]()
    if window is not None:
        inside, values = "lay_on BETWEEN :first AND :last", {"first": window.first, "last": window.last}
    if codes is None:
        found = _jobs_where(rows, inside, values)
    else:
        for few in by_few(codes):
            named, more = among("code", few)
            found += _jobs_where(rows, f"{inside} AND {named}", {**values, **more})
    return sorted(found, key=attrgetter("lay_on", "code"))


def _jobs_where(rows: Rows, condition: str, values: dict[str, Any]) -> list[Job]:
    strips: dict[str, list[Strip]] = {}
    pieces = (
        "SELECT strip.job, label, width_mm, length_mm, count FROM strip "
        f"JOIN job ON job.code = strip.job WHERE {condition} ORDER BY strip.job, position"
    )
    for job, label, width_mm, length_mm, count in rows.run(pieces, values):
        strips.setdefault(job, []).append(Strip(label, width_mm, length_mm, count))
    lawns = read_lawns(rows, condition, values)
    return [
        Job(
            code,
            site,
            product,
            known_day(lay_on),
            towards,
            BatchRule(rule),
            tuple(strips.get(code, ())),
            lawns.get(code, ()),
            read_wish(pile),
        )
        for code, site, product, lay_on, towards, rule, pile in rows.run(
            f"SELECT {', '.join(_JOB)} FROM job WHERE {condition}", values
        )
    ]


def write_jobs(work: Work, jobs: Sequence[Job]) -> None:
    """Write jobs, each with its strips and its lawns; a job already there is replaced whole."""
    for few in by_few(job.code for job in jobs):
        condition, values = among("code", few)
        work.rows.run(f"DELETE FROM job WHERE {condition}", values)
    rows = [
        {
            "code": job.code,
            "site": job.site,
            "product": job.product,
            "lay_on": job.lay_on,
            "pile_towards": job.pile_towards,
            "batch_rule": job.batch_rule.value,
            "pile": str(job.pile or ""),
        }
        for job in jobs
    ]
    strips = [
        {
            "job": job.code,
            "label": strip.label,
            "position": position,
            "width_mm": strip.width_mm,
            "length_mm": strip.length_mm,
            "count": strip.count,
        }
        for job in jobs
        for position, strip in enumerate(job.strips)
    ]
    if rows:
        work.rows.run_each(inserting("job", _JOB), rows)
    if strips:
        work.rows.run_each(inserting("strip", _STRIP), strips)
    insert_lawns(work, jobs)


def load_request(source: Session | Rows, window: Window, today: date) -> PlanRequest:
    """Gather everything a plan depends on.

    A job that has a measured lawn but no strips yet has nothing to cut and is left out; see `jobs_without_strips`.

    Parameters
    ----------
    window
        The days to plan.
    today
        The first day on which anything can be ordered.
    """
    settings = read_firm_settings(source)
    jobs = tuple(job for job in read_jobs(source, window) if job.strips)
    return PlanRequest(
        window=window,
        today=today,
        products=tuple(read_products(source)),
        supply=tuple(read_supply(source)),
        stock=tuple(read_stock(source)),
        jobs=jobs,
        costs=settings.costs,
        currency=settings.currency,
    )


def jobs_without_strips(source: Session | Rows, window: Window) -> list[Job]:
    """Read the jobs of a window whose strips are still to be worked out."""
    return [job for job in read_jobs(source, window) if not job.strips]


@dataclass(frozen=True, slots=True)
class StoredPlan:
    """A plan as it was made.

    Parameters
    ----------
    number
        1, 2, 3, … in the order made.
    made_at
        When what it was made from was read, UTC: what was accepted later is unknown to it.
    window, today, net_cost_pence, lower_bound_pence
        As in `Plan`.
    plan_json
        The whole plan file.
    """

    number: int
    made_at: datetime
    window: Window
    today: date
    net_cost_pence: int
    lower_bound_pence: int
    plan_json: str


def store_plan(work: Work, plan: Plan, plan_json: str, made_at: datetime | None = None) -> int:
    """Write a plan and return its number.

    Parameters
    ----------
    made_at
        When what it was made from was read; default now.
    """
    number = _last_made(work.rows) + 1
    values = {
        "number": number,
        "made_at": made_at or work.at,
        "window_first": plan.window.first,
        "window_last": plan.window.last,
        "today": plan.today,
        "net_cost_pence": plan.net_cost_pence,
        "lower_bound_pence": plan.lower_bound_pence,
        "plan_json": plan_json,
    }
    work.rows.run(inserting("stored_plan", _PLAN), values)
    return number


def _last_made(rows: Rows) -> int:
    """Number of the last plan made; 0 when none has been."""
    for (number,) in rows.run("SELECT max(number) FROM stored_plan"):
        return number or 0
    return 0


def read_plan(source: Session | Rows, number: int | None = None) -> StoredPlan:
    """Read a stored plan.

    Parameters
    ----------
    number
        Which; default the last one made.

    Raises
    ------
    StoreError
        When there is no such plan.
    """
    rows = rows_of(source)
    last = _last_made(rows)
    if not last:
        raise StoreError("no plan has been made yet; make one with: stockplan plan --from DATE --to DATE")
    query = f"SELECT {', '.join(_PLAN)} FROM stored_plan WHERE number = :number"
    for row in rows.run(query, {"number": last if number is None else number}):
        return _plan_of(row)
    raise StoreError(f"there is no plan {number}; the last one made is {last}")


def read_plans(source: Session | Rows) -> Iterator[StoredPlan]:
    """Read every stored plan, in the order made."""
    for row in rows_of(source).run(f"SELECT {', '.join(_PLAN)} FROM stored_plan ORDER BY number"):
        yield _plan_of(row)


def _plan_of(row: Sequence[Any]) -> StoredPlan:
    number, made_at, first, last, today, net, bound, text = row
    window = Window(known_day(first), known_day(last))
    return StoredPlan(number, as_moment(made_at), window, known_day(today), net, bound, text)
