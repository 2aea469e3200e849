"""Telling whether two plans were asked for the same thing, by one line of text.

The day on which orders begin is not in it: an earlier day only allows more, so a bound holds for every later day.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

from stockplan.domain.jobs import Job, Strip
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest


def fingerprint(request: PlanRequest, product: str) -> str:
    """Give the fingerprint of all that the plan of one product depends on: 64 hexadecimal digits.

    Parameters
    ----------
    request
        The plan asked for. Its window, held stock and last plan are not in it, nor in which bay a thing lies, nor what
        is noted of a job for the crew: they change no least cost. Nor are the jobs that plans cover so far: by them
        others are left short, which changes nothing in what covering the rest costs.
    product
        Product code.
    """
    mine = (job for job in request.jobs if job.product == product)
    bare = (replace(job, site="", pile_towards="", strips=_in_order(job)) for job in mine)
    jobs = sorted(bare, key=lambda job: job.code)
    stock = (replace(item, bay="") for item in request.stock if item.product == product)
    codes = {job.code for job in jobs}
    parts = (
        jobs,
        sorted(stock, key=lambda item: item.tag),
        sorted(repr(option) for option in request.supply if option.product == product),
        request.costs,
        sorted(repr(pin) for pin in request.pins if pin.job in codes),
        sorted(repr(cut) for cut in request.cut_already if cut.job in codes),
        *([request.full_widths[product]] if product in request.full_widths else []),
    )
    return sha256(repr(parts).encode()).hexdigest()


def _in_order(job: Job) -> tuple[Strip, ...]:
    return tuple(sorted(job.strips, key=lambda strip: strip.label))


def with_fingerprints(request: PlanRequest, plan: Plan) -> Plan:
    """Mark each product's plan with what it was asked for."""
    marked = (replace(one, fingerprint=fingerprint(request, one.product)) for one in plan.products)
    return replace(plan, products=tuple(marked))
