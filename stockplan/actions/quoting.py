"""Quoting a job: what it truly costs in grass, weighed in the schedule as it stands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from stockplan.actions.quote_parts import told
from stockplan.actions.stating import Enquiry, stated_job
from stockplan.actions.two_plans import both_plans, plan_made_before, sound_plan
from stockplan.domain.jobs import Job, Window
from stockplan.domain.plan import Plan, ProductPlan
from stockplan.domain.quote import Quote
from stockplan.domain.request import PlanRequest, Progress, SearchLimits
from stockplan.errors import RequestError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.domain.settings import FirmSettings

DAYS_AHEAD = 13  # a fortnight, the day of asking among it


def make_quote(
    where: str | None,
    enquiry: Enquiry,
    today: date,
    seconds: float,
    first: date | None = None,
    last: date | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> tuple[Quote, str, tuple[str, ...]]:
    """Quote a job; return the quote, the currency, and what is to be said beside it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    enquiry
        The job.
    today
        The first day on which anything can be ordered.
    seconds
        How long each of the two plans may be looked for; they are looked for at once.
    first, last
        The days it is weighed in; default a fortnight from today, longer where the job is laid later.
    progress
        Told now and then how far the plan with the job is.

    Raises
    ------
    RequestError
        When the job cannot be stated, or the product is unknown.
    SurveyFaults
        When the lawn's measurements are at fault.
    PlanUnsound
        When a plan fails its check.
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.asking import Wish, ask  # noqa: PLC0415
    from stockplan.actions.held import unsound_notes, wanted_notes  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        window = _window(session, enquiry, today, first, last)
        asked = ask(session, window, today, Wish(), progress)
        firm = read_firm_settings(session)
    code = _known_product(enquiry.product, [one.code for one in asked.request.products])
    enquiry = replace(enquiry, product=code)
    without = _of_product(asked.request, code)
    with open_store(where) as store, store.reading() as session:
        stored = plan_made_before(session, without, code)
    job = stated_job(enquiry, without, firm)
    if any(one.code == job.code for one in without.jobs):
        raise RequestError(f"there is a job {job.code} already; name the quote otherwise with --name")
    quote, wanted = _quoted(without, job, firm, seconds, stored, progress)
    quote = replace(quote, left_alone=any(one.item.product == code for one in asked.scope.kept))
    if enquiry.price_pence_per_m2 is not None:
        quote = replace(quote, rule=replace(quote.rule, price_pence_per_m2=enquiry.price_pence_per_m2))
    with open_store(where) as store, store.reading() as session:
        notes = wanted_notes(session, [(code, tag) for tag in wanted], today)
        notes += unsound_notes(session, (tag for tag, _, _ in quote.sources))
    return quote, asked.request.currency, notes


def _window(session: Session, enquiry: Enquiry, today: date, first: date | None, last: date | None) -> Window:
    """The days asked for; else those of the last plan that holds the job's day, so that its bound is of use."""
    from stockplan.store.plan_rows import read_spans  # noqa: PLC0415

    if first is None and last is None and enquiry.lay_on >= today:
        spans = [Window(begins, ends) for _, begins, ends in read_spans(session)]
        planned = [span for span in spans if enquiry.lay_on in span and span.last >= today]
        if planned:
            return planned[-1]
    return check_days(enquiry.lay_on, today, first, last)


def check_days(lay_on: date, today: date, first: date | None = None, last: date | None = None) -> Window:
    """Give the days in which a job is weighed.

    Parameters
    ----------
    lay_on
        The day it is laid.
    today, first, last
        As for `make_quote`.

    Raises
    ------
    RequestError
        When the days end before they begin, or the job is laid before the day of asking or outside them.
    """
    begins, ends = first or today, last or max(today + timedelta(days=DAYS_AHEAD), lay_on)
    faults = []
    if lay_on < today:
        faults.append(f"the job is laid on {lay_on}, before the day of asking, {today}; ask for that day or later")
    if ends < begins:
        faults.append(f"the days from {begins} to {ends} end before they begin; give the earlier day with --from")
    elif lay_on >= today and not begins <= lay_on <= ends:
        faults.append(f"the job is laid on {lay_on}, outside the days from {begins} to {ends}")
    if faults:
        raise RequestError("\n".join(faults))
    return Window(begins, ends)


def check_product(where: str | None, code: str) -> None:
    """Refuse a product that the store does not know, or none where it knows several.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code
        As typed; empty where none was named.

    Raises
    ------
    RequestError
        When it is so.
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.offer_rows import read_catalogue  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        _known_product(code, [product.code for product in read_catalogue(source)])


def _known_product(code: str, known: Sequence[str]) -> str:
    if not code and len(known) == 1:
        return known[0]
    if not code:
        raise RequestError(f"which grass? name it with --product; there is: {', '.join(known)}")
    if code not in known:
        from stockplan.actions.meant import no_product  # noqa: PLC0415

        raise RequestError(no_product(code, known))
    return code


def _of_product(request: PlanRequest, code: str) -> PlanRequest:
    """Leave out everything of other products."""
    jobs = tuple(job for job in request.jobs if job.product == code)
    codes = {job.code for job in jobs}
    return replace(
        request,
        products=tuple(product for product in request.products if product.code == code),
        supply=tuple(option for option in request.supply if option.product == code),
        stock=tuple(item for item in request.stock if item.product == code),
        held=tuple(item for item in request.held if item.product == code),
        jobs=jobs,
        pins=tuple(pin for pin in request.pins if pin.job in codes),
        cut_already=tuple(cut for cut in request.cut_already if cut.job in codes),
        last=_last_of_product(request.last, code),
    )


def _last_of_product(plan: Plan | None, code: str) -> Plan | None:
    if plan is None or code not in {product.product for product in plan.products}:
        return None
    return replace(plan, products=tuple(product for product in plan.products if product.product == code))


def _quoted(
    without: PlanRequest,
    job: Job,
    firm: FirmSettings,
    seconds: float,
    stored: ProductPlan | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> tuple[Quote, tuple[str, ...]]:
    """The quote, and what is held for others or for itself that the plan with the job would have cut."""
    from stockplan.domain.quote_bracket import bracket  # noqa: PLC0415

    with_it = replace(without, jobs=(*without.jobs, job), layout_settings=firm.layout)
    limits = SearchLimits(seconds)
    hear = progress and _of_plan_with(job.code, progress)
    base: ProductPlan | None = stored
    if stored is not None:
        plan = sound_plan(with_it, limits, hear)
    else:
        base, plan = both_plans(replace(without, layout_settings=firm.layout), with_it, limits, hear)
    found = bracket(with_it, job, plan, base)
    return told(with_it, job, firm, plan, base, found), plan.held_wanted


def _of_plan_with(code: str, progress: Callable[[Progress], None]) -> Callable[[Progress], None]:
    """Tell that amounts are of the whole plan with a job, not of the job."""
    return lambda told: progress(replace(told, phase=f"plan with {code}, {told.phase}"))
