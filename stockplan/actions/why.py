"""Asking why something in a plan is as it is, and what would be if it were otherwise."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stockplan.domain.jobs import Job
from stockplan.domain.plan import Plan, ProductPlan
from stockplan.domain.reasons import Why
from stockplan.domain.request import Progress
from stockplan.errors import RequestError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.domain.request import PlanRequest
    from stockplan.store.repository import StoredPlan


SECONDS_BETWEEN_LINES = 0.2  # that say how long it has taken


@dataclass(frozen=True, slots=True)
class Answered:
    """Why, and of what plan.

    Parameters
    ----------
    why
        See `Why`.
    job
        The job it is about; None when it is about an order or a thing in the yard.
    plan
        The plan's number.
    currency
        Of its amounts.
    """

    why: Why
    job: Job | None
    plan: int
    currency: str


def ask_why(
    where: str | None,
    name: str,
    number: int | None,
    seconds: float,
    should_stop: Callable[[], bool] | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Answered:
    """Look into why something in a stored plan is as it is.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    name
        A job's code, an order's key such as `new-1` or `P12-1`, or the tag of a thing that the plan cuts.
    number
        Which plan; default the one the key names, else the last one made that serves, cuts or orders it.
    seconds
        How long to look.
    should_stop
        Asked now and then; True ends it with what is known.
    progress
        Told now and then what is looked into, and for how long.

    Raises
    ------
    RequestError
        When the plan holds nothing of that name, or what it was made from has changed since.
    StoreError
        When the store cannot be read, or holds no such plan.
    """
    from stockplan.cutting.why import Inquiry  # noqa: PLC0415
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415
    from stockplan.store import repository  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        name, number = _as_planned(session, name, number)
        found = repository.read_plan(session, number)
        plan = read_plan(found.plan_json)
        part = _part_with(plan, name)
        if part is None and number is None:
            found, plan, part = _last_with(session, name) or (found, plan, part)
        if part is None:
            neither = f"plan {found.number} neither serves, cuts nor orders {name}; {_instead(plan, name)}"
            raise RequestError(_cannot_be_laid(session, plan, name) or neither)
        jobs = {job.code: job for job in read_request(found.plan_json).jobs}
        request = _asked_for(session, plan, part, found.number, tuple(jobs))
    stop = _telling(f"looking into {name}", part.product, progress, should_stop)
    inquiry = Inquiry(request, part, seconds, stop)
    why = inquiry.of_job(name) if name in jobs else inquiry.of_source(name)
    return Answered(why, jobs.get(name), found.number, plan.currency)


def _telling(
    phase: str,
    product: str,
    progress: Callable[[Progress], None] | None,
    should_stop: Callable[[], bool] | None,
) -> Callable[[], bool] | None:
    """Have progress told by whoever asks whether to stop: searches of any kind ask that all along."""
    if progress is None:
        return should_stop
    began = told = time.monotonic()
    progress(Progress(product, phase, None, None, 0.0))

    def asked() -> bool:
        nonlocal told
        now = time.monotonic()
        if now - told >= SECONDS_BETWEEN_LINES:
            told = now
            progress(Progress(product, phase, None, None, now - began))
        return should_stop is not None and should_stop()

    return asked


def _as_planned(session: Session, name: str, number: int | None) -> tuple[str, int | None]:
    """What the plan meant calls the order of a key, and which plan that is; anything else, and what is given, as it is.

    Once ordered, an order that its plan has given back is cut by later ones under its key, as a thing in the yard is.
    """
    key = re.fullmatch(r"P(\d+)-(\d+)", name)
    if key is None:
        return name, number
    own = int(key[1])
    if number is None and (later := _last_with(session, name, own)):
        return name, later[0].number
    return (name, number) if number not in {None, own} else (f"new-{key[2]}", own)


def _cannot_be_laid(session: Session, plan: Plan, name: str) -> str:
    """Why a job has no way to be laid, with what there is of its grass; empty where it has one, or no lawns."""
    from stockplan.actions.laying_out import lay_out  # noqa: PLC0415
    from stockplan.store.repository import load_request, read_jobs  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415

    jobs = [job for job in read_jobs(session, codes=[name]) if job.lawns and not job.strips]
    request = load_request(session, plan.window, plan.today) if jobs else None
    notes = lay_out(jobs, request, read_firm_settings(session).layout).notes() if request else ()
    return "\n".join(notes)


def _part_with(plan: Plan, name: str) -> ProductPlan | None:
    """The product's plan that names something; None when none does."""
    return next((part for part in plan.products if name in _named_in(part)), None)


def _last_with(session: Session, name: str, after: int = 0) -> tuple[StoredPlan, Plan, ProductPlan] | None:
    """The last plan that names something, such as one that was made before a mend, of those after some number."""
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
    from stockplan.store import plan_rows, repository  # noqa: PLC0415

    for number, _, _ in reversed(plan_rows.read_spans(session)):  # one at a time: plan files are long
        if number <= after:
            break
        found = repository.read_plan(session, number)
        if json.dumps(name, ensure_ascii=False) in found.plan_json:
            plan = read_plan(found.plan_json)
            if part := _part_with(plan, name):
                return found, plan, part
    return None


def _named_in(part: ProductPlan) -> list[str]:
    """Jobs that a product's plan serves or leaves short, and what it cuts."""
    jobs = {piece.job for cuts in part.cuts for piece in cuts.pieces()} | {short.job for short in part.short}
    return [*sorted(jobs), *(cuts.source for cuts in part.cuts)]


def _instead(plan: Plan, typed: str) -> str:
    """Say what a plan names that is but spelt otherwise than what was typed; else all that it names."""
    from stockplan.store.sheet_spelling import folded  # noqa: PLC0415

    names = [name for part in plan.products for name in _named_in(part)]
    meant = [name for name in names if folded(name) == folded(typed)]
    return f"perhaps {' or '.join(meant)} is meant" if meant else f"it does: {', '.join(names) or 'nothing'}"


def _asked_for(session: Session, plan: Plan, part: ProductPlan, number: int, jobs: tuple[str, ...]) -> PlanRequest:
    """What a plan of one product was asked for, if that can still be put together from the store."""
    from stockplan.actions.asking import Wish, ask  # noqa: PLC0415
    from stockplan.cutting.parts import parts_of  # noqa: PLC0415
    from stockplan.domain.fingerprint import fingerprint  # noqa: PLC0415

    # what an accepted plan is still to cut is reserved for it, and a mend is asked for nothing but its jobs
    for wish in (Wish(), Wish(again=True), Wish(only=jobs, without=number)):
        asked = ask(session, plan.window, plan.today, wish).request
        if fingerprint(asked, part.product) == part.fingerprint:
            return next(one.request for one in parts_of(asked, None, part.seed) if one.product == part.product)
    raise RequestError(
        f"what plan {number} was made from has changed since, as far as {part.product} is concerned; plan these days "
        f"again and ask of the new plan. What was told then: stockplan show {number}"
    )
