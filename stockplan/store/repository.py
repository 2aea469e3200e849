"""Rows to domain things and back: catalogue, schedule, requests, stored plans.

Everything is read in an order that does not depend on the database, so that the same store gives the same plan on
SQLite and on PostgreSQL.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from operator import attrgetter

from sqlalchemy import delete, func, insert, select
from sqlalchemy.orm import Session

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, SupplyForm, SupplyOption
from stockplan.errors import StoreError
from stockplan.store.lawn_rows import insert_lawns, read_lawns, read_wish
from stockplan.store.ledger_rows import read_stock
from stockplan.store.session import UnitOfWork
from stockplan.store.setting_rows import read_firm_settings
from stockplan.store.tables import (
    JobRow,
    ProductRow,
    StoredPlanRow,
    StripRow,
    SupplyOptionRow,
)


def read_products(session: Session) -> list[Product]:
    """Read every product, in order of code."""
    query = select(ProductRow.code, ProductRow.description, ProductRow.weight_g_m2)
    return sorted((Product(*row) for row in session.execute(query)), key=attrgetter("code"))


def read_supply(session: Session) -> list[SupplyOption]:
    """Read everything that can be bought, in order of product, supplier, form, width, length and lead time."""
    query = select(
        SupplyOptionRow.product,
        SupplyOptionRow.supplier,
        SupplyOptionRow.form,
        SupplyOptionRow.width_mm,
        SupplyOptionRow.length_mm,
        SupplyOptionRow.price_pence,
        SupplyOptionRow.lead_days,
    )
    options = [SupplyOption(row[0], row[1], SupplyForm(row[2]), *row[3:]) for row in session.execute(query)]
    return sorted(options, key=offer_key)


def offer_key(option: SupplyOption) -> tuple[str, str, str, int, int, int]:
    """Give what makes an offer the same offer: everything but its price."""
    lead = option.lead_days
    return (option.product, option.supplier, option.form.value, option.width_mm, option.length_mm, lead)


def read_jobs(session: Session, window: Window | None = None) -> list[Job]:
    """Read jobs with their strips and lawns, in order of lay date and code.

    Parameters
    ----------
    window
        Only jobs laid inside it; default all.
    """
    strips: defaultdict[str, list[Strip]] = defaultdict(list)
    columns = (StripRow.job, StripRow.label, StripRow.width_mm, StripRow.length_mm, StripRow.count)
    pieces = select(*columns).order_by(StripRow.job, StripRow.position)
    fields = (
        JobRow.code,
        JobRow.site,
        JobRow.product,
        JobRow.lay_on,
        JobRow.pile_towards,
        JobRow.batch_rule,
        JobRow.pile,
    )
    jobs = select(*fields)
    if window is not None:
        inside = JobRow.lay_on.between(window.first, window.last)
        jobs = jobs.where(inside)
        pieces = pieces.join(JobRow, StripRow.job == JobRow.code).where(inside)
    for job, label, width_mm, length_mm, count in session.execute(pieces):
        strips[job].append(Strip(label, width_mm, length_mm, count))
    lawns = read_lawns(session, window)
    found = [
        Job(
            code,
            site,
            product,
            lay_on,
            towards,
            BatchRule(rule),
            tuple(strips[code]),
            lawns.get(code, ()),
            read_wish(pile),
        )
        for code, site, product, lay_on, towards, rule, pile in session.execute(jobs)
    ]
    return sorted(found, key=attrgetter("lay_on", "code"))


def write_jobs(unit_of_work: UnitOfWork, jobs: Sequence[Job]) -> None:
    """Write jobs, each with its strips and its lawns; a job already there is replaced whole."""
    connection = unit_of_work.session.connection()
    codes = [job.code for job in jobs]
    for start in range(0, len(codes), 500):
        connection.execute(delete(JobRow).where(JobRow.code.in_(codes[start : start + 500])))
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
    for table, values in ((JobRow, rows), (StripRow, strips)):
        if values:
            connection.execute(insert(table), values)
    insert_lawns(unit_of_work.session, jobs)


def load_request(session: Session, window: Window, today: date) -> PlanRequest:
    """Gather everything a plan depends on.

    A job that has a measured lawn but no strips yet has nothing to cut and is left out; see `jobs_without_strips`.

    Parameters
    ----------
    window
        The days to plan.
    today
        The first day on which anything can be ordered.
    """
    settings = read_firm_settings(session)
    jobs = tuple(job for job in read_jobs(session, window) if job.strips)
    return PlanRequest(
        window=window,
        today=today,
        products=tuple(read_products(session)),
        supply=tuple(read_supply(session)),
        stock=tuple(read_stock(session)),
        jobs=jobs,
        costs=settings.costs,
        currency=settings.currency,
    )


def jobs_without_strips(session: Session, window: Window) -> list[Job]:
    """Read the jobs of a window whose strips are still to be worked out."""
    return [job for job in read_jobs(session, window) if not job.strips]


@dataclass(frozen=True, slots=True)
class StoredPlan:
    """A plan as it was made.

    Parameters
    ----------
    number
        1, 2, 3, … in the order made.
    made_at
        UTC.
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


def store_plan(unit_of_work: UnitOfWork, plan: Plan, plan_json: str) -> int:
    """Write a plan and return its number."""
    session = unit_of_work.session
    number = (session.scalar(select(func.max(StoredPlanRow.number))) or 0) + 1
    session.add(
        StoredPlanRow(
            number=number,
            made_at=unit_of_work.at,
            window_first=plan.window.first,
            window_last=plan.window.last,
            today=plan.today,
            net_cost_pence=plan.net_cost_pence,
            lower_bound_pence=plan.lower_bound_pence,
            plan_json=plan_json,
        )
    )
    session.flush()
    return number


def read_plan(session: Session, number: int | None = None) -> StoredPlan:
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
    last = session.scalar(select(func.max(StoredPlanRow.number)))
    if last is None:
        raise StoreError("no plan has been made yet; make one with: stockplan plan --from DATE --to DATE")
    row = session.get(StoredPlanRow, last if number is None else number)
    if row is None:
        raise StoreError(f"there is no plan {number}; the last one made is {last}")
    return _plan_of(row)


def read_plans(session: Session) -> Iterator[StoredPlan]:
    """Read every stored plan, in the order made."""
    for row in session.scalars(select(StoredPlanRow).order_by(StoredPlanRow.number).execution_options(yield_per=20)):
        yield _plan_of(row)


def _plan_of(row: StoredPlanRow) -> StoredPlan:
    window = Window(row.window_first, row.window_last)
    return StoredPlan(
        row.number, row.made_at, window, row.today, row.net_cost_pence, row.lower_bound_pence, row.plan_json
    )
