"""Putting a quote together from a job, two plans and what they say of its cost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import ProductPlan
from stockplan.domain.quote import Annex, Quote, RuleOfThumb, Seams, price_per_m2
from stockplan.domain.request import PlanRequest

if TYPE_CHECKING:
    from stockplan.domain.layout import Layout
    from stockplan.domain.quote_bracket import Bracket
    from stockplan.domain.settings import FirmSettings


def told(
    request: PlanRequest, job: Job, firm: FirmSettings, plan: ProductPlan, base: ProductPlan | None, found: Bracket
) -> Quote:
    """Put together what is told of a quote.

    Parameters
    ----------
    request
        The days with the job among the others.
    job
        The job quoted.
    firm
        The firm's settings.
    plan, base
        The plan with the job, and the one without it; None where there are no other jobs.
    found
        What the two say of its cost.
    """
    chosen = next((chosen.layout for chosen in plan.layouts if chosen.job == job.code), None)
    layout = found.layout or chosen or next(iter(job.layouts), None)
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
        _drawings(job, layout, firm.layout.warn_narrow_mm),
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
        binned_mm2=_binned_for(plan, base, found),
        sources=_sources(plan, job, found),
        orders=_orders(plan, base, found),
        needs=_needs(job, layout, firm),
        seconds=plan.seconds,
    )


def _binned_for(plan: ProductPlan, base: ProductPlan | None, found: Bracket) -> int:
    """How much more grass is binned than without the job, mm²."""
    if not found.takes:
        return _binned(plan) - _binned(base)
    left = (one for take in found.takes for one in take.cut.remainders)
    return sum(one.width_mm * one.length_mm for one in left if not one.keep)


def _binned(plan: ProductPlan | None) -> int:
    return sum(left.width_mm * left.length_mm for left in plan.leftovers if not left.keep) if plan else 0


def _seams(layout: Layout | None) -> Seams | None:
    if layout is None:
        return None
    from stockplan.domain.layout import SeamKind  # noqa: PLC0415

    seams = list(layout.seams())
    along = sum(seam.mm for seam in seams if seam.kind is SeamKind.LONG)
    return Seams(len(seams), along, sum(seam.mm for seam in seams) - along)


def _drawings(job: Job, layout: Layout | None, narrow_mm: int) -> tuple[str, ...]:
    if layout is None:
        return ()
    from stockplan.report.lawn_drawing import draw_sheets  # noqa: PLC0415

    return draw_sheets(job, layout, narrow_mm)


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
