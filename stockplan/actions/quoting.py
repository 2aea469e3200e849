"""Quoting a job: what it truly costs in grass, weighed in the schedule as it stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.domain.jobs import BatchRule, Job, Window
from stockplan.domain.plan import Plan, ProductPlan
from stockplan.domain.quote import Annex, Quote, RuleOfThumb, Seams, price_per_m2
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.small_cuts import Pieces
from stockplan.domain.strip import Strip
from stockplan.errors import PlanUnsound, RequestError, StockplanError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.domain.lawn import Lawn
    from stockplan.domain.layout import Layout
    from stockplan.domain.quote_bracket import Bracket
    from stockplan.domain.settings import FirmSettings

DAYS_AHEAD = 13  # a fortnight, the day of asking among it


@dataclass(frozen=True, slots=True)
class Enquiry:
    """A job that might come.

    Parameters
    ----------
    quote
        What the quote is called; the job stands under this name in the plan.
    product
        Product code.
    lay_on
        The day it would be laid.
    pieces
        Sizes as cut; none where a lawn is given.
    lawn
        A size such as `6.2 x 4.8`, tape notes, or a file of measurements; default none.
    site
        Where; default not said.
    batch_rule
        One batch, or any; default one.
    price_pence_per_m2
        For the rule of thumb; default the cheapest on offer.
    """

    quote: str
    product: str
    lay_on: date
    pieces: Pieces = ()
    lawn: str | None = None
    site: str = ""
    batch_rule: BatchRule = BatchRule.ONE
    price_pence_per_m2: int | None = None


def make_quote(
    where: str | None,
    enquiry: Enquiry,
    today: date,
    seconds: float,
    first: date | None = None,
    last: date | None = None,
) -> tuple[Quote, str]:
    """Quote a job; return the quote and the currency.

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
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        window = _window(session, enquiry, today, first, last)
        asked = ask(session, window, today, Wish())
        firm = read_firm_settings(session)
    known = asked.request.products
    code = enquiry.product or (known[0].code if len(known) == 1 else "")
    if not code:
        raise RequestError(f"which grass? name it with --product; there is: {', '.join(one.code for one in known)}")
    enquiry = replace(enquiry, product=code)
    without = _of_product(asked.request, code)
    with open_store(where) as store, store.reading() as session:
        stored = plan_made_before(session, without, code)
    job = stated_job(enquiry, without, firm)
    if any(one.code == job.code for one in without.jobs):
        raise RequestError(f"there is a job {job.code} already; name the quote otherwise with --name")
    quote = _quoted(without, job, firm, seconds, stored)
    if enquiry.price_pence_per_m2 is not None:
        quote = replace(quote, rule=replace(quote.rule, price_pence_per_m2=enquiry.price_pence_per_m2))
    return quote, asked.request.currency


def _window(session: Session, enquiry: Enquiry, today: date, first: date | None, last: date | None) -> Window:
    """The days asked for; else those of the last plan that holds the job's day, so that its bound is of use."""
    from stockplan.store.plan_rows import read_spans  # noqa: PLC0415

    if first is None and last is None:
        spans = [Window(begins, ends) for _, begins, ends in read_spans(session)]
        planned = [span for span in spans if enquiry.lay_on in span and span.last >= today]
        if planned:
            return planned[-1]
    begins, ends = first or today, last or max(today + timedelta(days=DAYS_AHEAD), enquiry.lay_on)
    if not begins <= enquiry.lay_on <= ends:
        raise RequestError(f"the job is laid on {enquiry.lay_on}, outside the days from {begins} to {ends}")
    return Window(begins, ends)


def _of_product(request: PlanRequest, code: str) -> PlanRequest:
    """Leave out everything of other products."""
    known = [product.code for product in request.products]
    if code not in known:
        raise RequestError(f"the store knows no product {code}; it knows: {', '.join(known) or 'none yet'}")
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


def stated_job(enquiry: Enquiry, request: PlanRequest, firm: FirmSettings) -> Job:
    """State a job that might come, its lawn laid out where it has one.

    Parameters
    ----------
    enquiry
        The job.
    request
        What strips can be cut from.
    firm
        The firm's settings.

    Raises
    ------
    RequestError
        When it has neither sizes nor a lawn, or the rules leave no way to lay the lawn.
    SurveyFaults
        When the lawn's measurements are at fault.
    """
    strips = tuple(
        Strip(_letter(number), width, length, enquiry.pieces.count((width, length)))
        for number, (width, length) in enumerate(dict.fromkeys(enquiry.pieces))
    )
    job = Job(
        enquiry.quote, enquiry.site, enquiry.product, enquiry.lay_on, "", enquiry.batch_rule, strips
    )  # fmt: skip
    if enquiry.lawn is None:
        if not strips:
            raise RequestError("give sizes such as 4x6.2, or a lawn with --lawn")
        return job
    if strips:
        raise RequestError("give sizes or a lawn, not both")
    lawns = measured_lawns(enquiry.lawn, firm)
    layouts = laid_out(replace(job, lawns=lawns), request, firm)
    return replace(job, lawns=lawns, layouts=layouts)


def _letter(number: int) -> str:
    return chr(ord("A") + number) if number < 26 else f"A{number}"


def measured_lawns(text: str, firm: FirmSettings) -> tuple[Lawn, ...]:
    """Read a lawn as typed, or from a file of that name.

    Raises
    ------
    SurveyFaults
        When the measurements are at fault.
    StockplanError
        When the file cannot be read.
    """
    from stockplan.surveying.reading import read_file, read_typed  # noqa: PLC0415

    path = Path(text)
    if path.suffix and path.is_file():
        try:
            data = path.read_bytes()
        except OSError as error:
            raise StockplanError(f"{path} cannot be read: {error.strerror}") from error
        measured = read_file(path.name, data, firm.survey)
    else:
        measured = read_typed(text, firm.survey)
    return tuple(one.lawn for one in measured)


def laid_out(job: Job, request: PlanRequest, firm: FirmSettings) -> tuple[Layout, ...]:
    """Give the ways to lay a job's lawns, the one that takes the least grass first.

    Raises
    ------
    RequestError
        When there is nothing to cut from, or the rules leave no way.
    """
    from stockplan.cutting.strips import grass_of, job_layouts  # noqa: PLC0415

    grass = grass_of(request, job.product)
    if grass is None:
        raise RequestError(f"{job.product} neither lies in the yard nor is on offer")
    layouts = job_layouts(job, grass, firm.layout)
    if not layouts:
        raise RequestError("no way of laying that lawn in strips keeps the firm's rules; see: stockplan settings")
    return layouts


# --- the two plans ---------------------------------------------------------------------------------------------------


def plan_made_before(session: Session, request: PlanRequest, code: str) -> ProductPlan | None:
    """Give the last stored plan that answers this very request and can still be carried out; None when there is none.

    Parameters
    ----------
    session
        Where to read.
    request
        What would be asked for today. Its plan may have been made on an earlier day: its bound then holds all the more,
        and the plan itself while none of its days to order has passed.
    code
        Product code.
    """
    from stockplan.domain.fingerprint import fingerprint  # noqa: PLC0415
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts_with  # noqa: PLC0415

    for text in read_plan_texts_with(session, fingerprint(request, code)):
        plan = read_plan(text)
        one = next(product for product in plan.products if product.product == code)
        if plan.today <= request.today and all(order.order_by >= request.today for order in one.orders):
            return one
    return None


def _quoted(
    without: PlanRequest, job: Job, firm: FirmSettings, seconds: float, stored: ProductPlan | None = None
) -> Quote:
    from stockplan.domain.quote_bracket import bracket  # noqa: PLC0415

    with_it = replace(without, jobs=(*without.jobs, job), layout_settings=firm.layout)
    limits = SearchLimits(seconds)
    base: ProductPlan | None = stored
    if stored is not None:
        plan = sound_plan(with_it, limits)
    else:
        base, plan = both_plans(replace(without, layout_settings=firm.layout), with_it, limits)
    found = bracket(with_it, job, plan, base)
    return _told(with_it, job, firm, plan, base, found)


def both_plans(
    without: PlanRequest, with_it: PlanRequest, limits: SearchLimits
) -> tuple[ProductPlan | None, ProductPlan]:
    """Plan one product without a job and with it, in two processes at once.

    Parameters
    ----------
    without, with_it
        What is asked for.
    limits
        For each of the two.

    Returns
    -------
    tuple
        The plan without the job, None where there is no other job; and the plan with it.

    Raises
    ------
    PlanUnsound
        When a plan fails its check.
    """
    if not without.jobs:
        return None, sound_plan(with_it, limits)
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415

    with ProcessPoolExecutor(max_workers=1) as beside:
        other = beside.submit(sound_plan, without, limits)
        plan = sound_plan(with_it, limits)
        return other.result(), plan


def sound_plan(request: PlanRequest, limits: SearchLimits) -> ProductPlan:
    """Plan one product and have the plan checked.

    Raises
    ------
    PlanUnsound
        When the plan fails its check.
    """
    from stockplan.cutting import plan_cuts  # noqa: PLC0415
    from stockplan.domain.check import check  # noqa: PLC0415

    plan = plan_cuts(request, limits)
    if violations := check(request, plan):
        raise PlanUnsound([str(violation) for violation in violations])
    return plan.products[0]


def _told(
    request: PlanRequest, job: Job, firm: FirmSettings, plan: ProductPlan, base: ProductPlan | None, found: Bracket
) -> Quote:
    """Put together what is told of a quote."""
    layout = next((chosen.layout for chosen in plan.layouts if chosen.job == job.code), None) or next(
        iter(job.layouts), None
    )
    strips = layout.strips if layout else job.strips
    lawn_mm2 = sum(lawn.area_mm2 for lawn in job.lawns) if job.lawns else None
    product = request.products[0]
    price = price_per_m2(request.supply, (item.cost_pence_per_m2 for item in request.stock))
    area = lawn_mm2 if lawn_mm2 is not None else sum(strip.area_mm2 for strip in strips)
    annex = Annex(
        job.code,
        job.site,
        product.code,
        product.description,
        request.today,
        job.lay_on,
        strips,
        lawn_mm2,
        _seams(layout),
        _drawings(job, layout),
        job.batch_rule is BatchRule.ONE,
    )
    return Quote(
        annex=annex,
        job=job,
        first=request.window.first,
        last=request.window.last,
        others=len(request.jobs) - 1,
        cost=found.cost,
        with_it=found.with_it,
        without=found.without,
        alone_pence=found.ceiling,
        rule=RuleOfThumb(area, price, firm.quote.wastage_percent),
        binned_mm2=_binned(plan) - _binned(base),
        sources=_sources(plan, job, found),
        orders=_orders(plan, base, found),
        needs=_needs(job, layout, firm),
        seconds=plan.seconds,
    )


def _binned(plan: ProductPlan | None) -> int:
    return sum(left.width_mm * left.length_mm for left in plan.leftovers if not left.keep) if plan else 0


def _seams(layout: Layout | None) -> Seams | None:
    if layout is None:
        return None
    from stockplan.domain.layout import SeamKind  # noqa: PLC0415

    seams = list(layout.seams())
    along = sum(seam.mm for seam in seams if seam.kind is SeamKind.LONG)
    return Seams(len(seams), along, sum(seam.mm for seam in seams) - along)


def _drawings(job: Job, layout: Layout | None) -> tuple[str, ...]:
    if layout is None:
        return ()
    from stockplan.report.lawn_drawing import draw_lawns  # noqa: PLC0415

    return (draw_lawns(job, layout),)


def _sources(plan: ProductPlan, job: Job, found: Bracket) -> tuple[tuple[str, str, int], ...]:
    if found.takes:
        return tuple((take.source.key, take.source.batch, len(take.pieces)) for take in found.takes)
    pieces: Counter[tuple[str, str]] = Counter()
    for cuts in plan.cuts:
        for piece in cuts.pieces():
            if piece.job == job.code:
                pieces[piece.source, piece.batch] += 1
    return tuple((source, batch, count) for (source, batch), count in pieces.items())


def _orders(plan: ProductPlan, base: ProductPlan | None, found: Bracket) -> tuple[str, ...]:
    """Say what is bought more than without the job."""
    from stockplan.domain.stock import SupplyForm  # noqa: PLC0415
    from stockplan.domain.units import size  # noqa: PLC0415
    from stockplan.report.words import counted, form_words  # noqa: PLC0415

    def things(orders: Iterable[tuple[SupplyForm, int, int, str]]) -> Counter[str]:
        return Counter(
            f"{form_words(form)} {size(width, length)} from {supplier}" for form, width, length, supplier in orders
        )

    if found.takes:
        bought = [take.source for take in found.takes if isinstance(take.source.form, SupplyForm)]
        more = things(
            (one.form, one.width_mm, one.length_mm, one.key) for one in bought if isinstance(one.form, SupplyForm)
        )
    else:
        more = things((one.form, one.width_mm, one.length_mm, one.supplier) for one in plan.orders)
        if base:
            more -= things((one.form, one.width_mm, one.length_mm, one.supplier) for one in base.orders)
    return tuple(f"{counted(count, 'time')} {thing}" if count > 1 else thing for thing, count in sorted(more.items()))


def _needs(job: Job, layout: Layout | None, firm: FirmSettings) -> tuple[tuple[str, str], ...]:
    from stockplan.domain.surfaces import surfaces_of  # noqa: PLC0415
    from stockplan.domain.take_off import take_off  # noqa: PLC0415
    from stockplan.report.take_off import need_words  # noqa: PLC0415

    if layout is None:
        return ()
    one = take_off(job.code, surfaces_of(job, layout), firm.take_off)
    return tuple((need.material.value, need_words(need, firm.take_off)) for need in one.needs)
