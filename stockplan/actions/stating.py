"""A job that might come, stated as the planner wants it: its lawn measured in and laid out where it has one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.pieces import Pieces
from stockplan.domain.request import PlanRequest
from stockplan.domain.strip import Strip
from stockplan.domain.units import metres
from stockplan.errors import RequestError, SurveyFaults

if TYPE_CHECKING:
    from stockplan.domain.lawn import Lawn
    from stockplan.domain.layout import Layout
    from stockplan.domain.settings import FirmSettings


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
    large_is_right
        Whether a very large lawn is meant; default not.
    """

    quote: str
    product: str
    lay_on: date
    pieces: Pieces = ()
    lawn: str | None = None
    site: str = ""
    batch_rule: BatchRule = BatchRule.ONE
    price_pence_per_m2: int | None = None
    large_is_right: bool = False


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
        When it has neither sizes nor a lawn, a size is beyond all there is, or the rules leave no way to lay the lawn.
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
        _check_reach(strips, request)
        return job
    if strips:
        raise RequestError("give sizes or a lawn, not both")
    lawns = measured_lawns(enquiry.lawn, firm, enquiry.large_is_right)
    layouts = laid_out(replace(job, lawns=lawns), request, firm)
    return replace(job, lawns=lawns, layouts=layouts)


def _check_reach(strips: Sequence[Strip], request: PlanRequest) -> None:
    """Refuse sizes wider or longer than anything on offer or in the yard."""
    sold = [(one.width_mm, one.length_mm) for one in request.supply]
    lying = [(one.width_mm, one.length_mm) for one in (*request.stock, *request.held)]
    widest = max((width for width, _ in sold + lying), default=0)
    longest = max((length for _, length in sold + lying), default=0)
    faults = []
    for strip in strips if widest else ():
        named = f"{metres(strip.width_mm)} x {metres(strip.length_mm)}"
        if strip.width_mm > widest:
            faults.append(f"size {named} is wider than any grass there is, {metres(widest)} m")
        if strip.length_mm > longest:
            faults.append(f"size {named} is longer than any grass there is, {metres(longest)} m")
    if faults:
        raise RequestError(
            "\n".join((*faults, "what takes several strips is quoted as a lawn: --lawn 'WIDTH x LENGTH'"))
        )


def _letter(number: int) -> str:
    return chr(ord("A") + number) if number < 26 else f"A{number}"


def measured_lawns(text: str, firm: FirmSettings, large_is_right: bool = False) -> tuple[Lawn, ...]:
    """Read a lawn as typed, or from a file of that name.

    Parameters
    ----------
    text
        A size such as `6.2 x 4.8`, tape notes, or a file of measurements.
    firm
        Tolerances, and the area beyond which a lawn is asked about again.
    large_is_right
        Whether a very large lawn is meant; default not.

    Raises
    ------
    SurveyFaults
        When the measurements are at fault.
    StockplanError
        When the file is not there or cannot be read.
    """
    from stockplan.actions.measurements import Said, large_faults, named, read_measured  # noqa: PLC0415
    from stockplan.domain.pile_direction import pile_faults  # noqa: PLC0415

    lawns = tuple(one.lawn for one in named(read_measured(text, firm.survey), Said()))
    if len(lawns) == 1:  # its notes may name lawns of the job that nobody asks about here
        lawns = (replace(lawns[0], cannot_be_seen_with=()),)
    faults = [] if large_is_right else large_faults(lawns, firm.survey)
    if faults := faults + pile_faults(lawns):
        raise SurveyFaults(faults)
    return lawns


def laid_out(job: Job, request: PlanRequest, firm: FirmSettings) -> tuple[Layout, ...]:
    """Give the ways to lay a job's lawns, the one that takes the least grass first.

    Parameters
    ----------
    job
        With its lawns.
    request
        What there is to cut from and to buy.
    firm
        The firm's settings.

    Raises
    ------
    RequestError
        When there is nothing to cut from, or the rules leave no way.
    """
    from stockplan.actions.laying_out import no_way  # noqa: PLC0415
    from stockplan.cutting.strips import grass_of, job_layouts  # noqa: PLC0415

    grass = grass_of(request, job.product)
    if grass is None:
        raise RequestError(f"{job.product} neither lies in the yard nor is on offer")
    # Of things of one width only the longest matters, and a large yard has very many.
    longest = dict(sorted(grass.sizes))
    layouts = job_layouts(job, replace(grass, sizes=tuple(longest.items())), firm.layout)
    if not layouts:
        raise RequestError(no_way(job))
    return layouts
