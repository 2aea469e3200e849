"""Whether a plan can still be accepted: what has changed, in what it touches, since it was made.

A thing moved to another bay, a job moved to a day that everything still comes before, a leftover found elsewhere: none
of it touches the plan. What was promised to an earlier plan when this one was made may be taken over, if this plan
covers all the jobs concerned.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from stockplan.domain.jobs import Job
from stockplan.domain.misfits import misfits, outdated
from stockplan.domain.plan import Order, Plan
from stockplan.domain.purchase import OrderLine
from stockplan.domain.request import PlanRequest
from stockplan.domain.standing import Schedule, Standing, clusters, codes_of, served
from stockplan.domain.stock import StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import money, size


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is no longer as it was when the plan was made.

    Parameters
    ----------
    about
        A tag, a job or an order.
    what
        What is different, after the name.
    """

    about: str
    what: str

    def __str__(self) -> str:
        return f"{self.about} {self.what}"


@dataclass(frozen=True, slots=True)
class Now:
    """How things are at the moment of acceptance.

    Parameters
    ----------
    today
        The day on which something can still be ordered.
    schedule
        Jobs, what is cut, what accepted plans are still to cut.
    stock
        What lies in the yard, by tag.
    gone
        What became of tags that have left the yard: a few words each, such as `was cut`.
    reserved
        Number of the plan each reserved tag is reserved for.
    held
        For whom and how long each held tag is kept: a few words.
    lines
        Every order still to come in, by key.
    supply
        What is on offer.
    later
        Plans that were accepted after the plan in question was made.
    """

    today: date
    schedule: Schedule
    stock: Mapping[str, StockItem]
    gone: Mapping[str, str] = field(default_factory=dict)
    reserved: Mapping[str, int] = field(default_factory=dict)
    held: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, OrderLine] = field(default_factory=dict)
    supply: tuple[SupplyOption, ...] = ()
    later: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a plan can be accepted.

    Parameters
    ----------
    changes
        What stands against it; nothing when it can be.
    displaced
        Sources of earlier plans that it takes the place of: they are to be given back.
    losing
        Codes of jobs that would lose something by it; a plan that is to be accepted must take them in.
    """

    changes: tuple[Change, ...]
    displaced: tuple[Standing, ...]
    losing: tuple[str, ...] = ()


def judge(number: int, request: PlanRequest, plan: Plan, now: Now) -> Verdict:
    """Find everything in what a plan touches that is not as it was when the plan was made.

    Parameters
    ----------
    number
        The plan's number; what is reserved for it already is no obstacle.
    request, plan
        As read back from the plan's file: the request holds the stock cut and the jobs.
    now
        How things are.
    """
    schedule = _as_planned(request, now.schedule)
    displaced = displaced_by(plan, schedule)
    spent = (one for one in _spent(plan, schedule, displaced) if one.plan not in now.later)
    yielding = {one.plan_key for one in displaced} | {one.item.tag for one in displaced}
    sources = _sources(request, plan, now.today)
    without = tuple(_left_without(plan, schedule, displaced))
    changes = [
        *(change for item in request.stock for change in _source_changes(number, item, now, yielding)),
        *(change for job in request.jobs for change in _job_changes(job, sources.get(job.code, {}), now)),
        *(change for order in plan.orders() for change in _order_changes(order, now)),
        *(_promised_since(one) for one in displaced if one.plan in now.later),
        *without,
        *_too_many(plan, schedule, displaced),
    ]
    losing = tuple(change.about for change in without)
    return Verdict(tuple(dict.fromkeys(changes)), (*displaced, *spent), losing)


def _promised_since(one: Standing) -> Change:
    return Change(one.item.tag, f"has been promised to plan {one.plan} since, for {', '.join(one.jobs())}")


def _as_planned(request: PlanRequest, schedule: Schedule) -> Schedule:
    """Take lawns of which nothing is cut yet as the plan lays them out, not as an earlier one did."""
    laid_out = {
        was.code: was.strips
        for was in request.jobs
        if (job := schedule.jobs.get(was.code)) is not None and not job.strips and not schedule.cut_for(was.code)
    }
    return replace(schedule, chosen={**schedule.chosen, **laid_out})


def displaced_by(plan: Plan, schedule: Schedule) -> tuple[Standing, ...]:
    """Give the sources of earlier plans that a plan takes the place of, with all that hangs together with them.

    A source is in its way when the plan cuts it, or when it serves a job that with it would have too many pieces, or
    pieces that are no longer wanted. What serves only jobs that are out of the schedule is given back with any plan,
    and so is what is to be cut for jobs as they are wanted no longer, where none of them would lack more without it.

    Parameters
    ----------
    plan
        The plan that is to be accepted.
    schedule
        What has been promised.
    """
    cut = {cuts.source for cuts in plan.cuts()}
    planned = Counter((piece.job, piece.strip) for piece in plan.pieces())
    covered = {code for code, _ in planned}
    crowded = {code for (code, strip), count in planned.items() if count > schedule.missing(code).get(strip, 0)}
    crowded |= {code for one in schedule.standing for code in outdated(schedule, one) if code in covered}
    return tuple(
        one
        for cluster in clusters(schedule.standing)
        if any(one.item.tag in cut for one in cluster)
        or crowded.intersection(codes_of(cluster))
        or not served(schedule, cluster)
        or _of_no_use(schedule, cluster)
        for one in cluster
    )


def _of_no_use(schedule: Schedule, cluster: tuple[Standing, ...]) -> bool:
    """Whether sources are to be cut for what is no longer wanted, and giving them back takes nothing that is."""
    if not any(outdated(schedule, one) for one in cluster):
        return False
    rest = _rest(schedule, cluster)
    return all(schedule.missing(code, rest) == schedule.missing(code) for code in served(schedule, cluster))


def _spent(plan: Plan, schedule: Schedule, displaced: tuple[Standing, ...]) -> Iterator[Standing]:
    """Sources that can give nothing of what was planned, for jobs that lack nothing with this plan.

    Nothing would ever give them back: no plan is made for these jobs any more.
    """
    planned = Counter((piece.job, piece.strip) for piece in plan.pieces())
    for one in _rest(schedule, displaced):
        if any(True for _ in one.cuts.pieces()):
            continue
        lacking = ((code, *lack) for code in one.jobs() for lack in schedule.missing(code).items())
        if all(count <= planned[code, strip] for code, strip, count in lacking):
            yield one


def _source_changes(number: int, item: StockItem, now: Now, yielding: set[str]) -> Iterator[Change]:
    tag = item.tag
    if item.arrives_on is not None:
        yield from _coming_changes(item, now, yielding)
        return
    held = now.stock.get(tag)
    if held is None:
        yield Change(tag, now.gone.get(tag, "is no longer in the yard"))
        return
    if (held.width_mm, held.length_mm) != (item.width_mm, item.length_mm):
        found, was = size(held.width_mm, held.length_mm), size(item.width_mm, item.length_mm)
        yield Change(tag, f"measures {found} m; was planned as {was} m")
    if held.batch != item.batch or held.product != item.product:
        yield Change(
            tag, f"is {held.product} of batch {held.batch_key}; was planned as {item.product} {item.batch_key}"
        )
    plan = now.reserved.get(tag)
    if plan not in (None, number) and tag not in yielding:
        yield Change(tag, f"is reserved for plan {plan}")
    if tag in now.held:
        yield Change(tag, f"is held {now.held[tag]}")


def _coming_changes(item: StockItem, now: Now, yielding: set[str]) -> Iterator[Change]:
    line = now.lines.get(item.tag)
    if line is None:
        yield Change(item.tag, "is no longer on its way: it has come in or was given up")
        return
    assert item.arrives_on is not None
    if line.arrives_on > item.arrives_on:
        yield Change(item.tag, f"is due on {line.arrives_on}; was planned for {item.arrives_on}")
    if line.plan is not None and item.tag not in yielding:
        yield Change(item.tag, f"is ordered for plan {line.plan}")


def _sources(request: PlanRequest, plan: Plan, today: date) -> dict[str, dict[str, date | None]]:
    """What each job is cut from, with the day it comes at best where it is not there yet."""
    arrivals = {item.tag: item.arrives_on and max(item.arrives_on, today) for item in request.stock}
    arrivals |= {order.key: order.arrives_on for order in plan.orders()}
    found: dict[str, dict[str, date | None]] = {}
    for piece in plan.pieces():
        found.setdefault(piece.job, {})[piece.source] = arrivals.get(piece.source)
    return found


def _job_changes(was: Job, sources: Mapping[str, date | None], now: Now) -> Iterator[Change]:
    if not sources:
        return
    job = now.schedule.jobs.get(was.code)
    if job is None:
        yield Change(was.code, "is no longer in the schedule")
        return
    if job.product != was.product:
        yield Change(was.code, f"is now laid in {job.product}; was planned in {was.product}")
    if job.batch_rule is not was.batch_rule:
        yield Change(was.code, f"now takes {job.batch_rule} batch; was planned with {was.batch_rule}")
    yield from _strip_changes(was, job, now.schedule)
    for source, arrives_on in sources.items():
        if arrives_on is not None and job.lay_on <= arrives_on:
            laid = "is laid" if job.lay_on == was.lay_on else "is now laid"
            yield Change(was.code, f"{laid} on {job.lay_on}; {source} does not come before {arrives_on}")


def _strip_changes(was: Job, job: Job, schedule: Schedule) -> Iterator[Change]:
    """Compare strips; a lawn laid out when it was planned has none of its own to compare, only its outline."""
    if not job.strips:
        if job.lawns != was.lawns:
            yield Change(was.code, "has been measured again")
        begun = schedule.chosen.get(was.code)
        if schedule.cut_for(was.code) and begun is not None and begun != was.strips:
            yield Change(was.code, "has been begun by another layout")
        return
    before = {strip.label: strip for strip in was.strips}
    after = {strip.label: strip for strip in job.strips}
    for label in dict.fromkeys([*before, *after]):
        old, new = before.get(label), after.get(label)
        if old == new:
            continue
        said = [f"{one.count} × {size(one.width_mm, one.length_mm)} m" if one else "none" for one in (new, old)]
        yield Change(was.code, f"now needs {said[0]} of strip {label}; was planned with {said[1]}")


def _order_changes(order: Order, now: Now) -> Iterator[Change]:
    what = f"({size(order.width_mm, order.length_mm)} m of {order.product} from {order.supplier})"
    if order.order_by < now.today:
        yield Change(order.key, f"{what} had to be ordered by {order.order_by}; today is {now.today}")
    kind = (order.product, order.supplier, order.form, order.width_mm)
    lead = (order.arrives_on - order.order_by).days
    offers = [
        option
        for option in now.supply
        if (option.product, option.supplier, option.form, option.width_mm) == kind
        and option.lead_days <= lead
        and (order.length_mm == option.length_mm or option.form is SupplyForm.CUT_LENGTH)
        and order.length_mm <= option.length_mm
    ]
    if not offers:
        yield Change(order.key, f"{what} is no longer on offer in {lead} days")
    elif order.price_pence not in (prices := [option.price_of(order.length_mm) for option in offers]):
        yield Change(order.key, f"{what} now costs {money(min(prices))}; was planned at {money(order.price_pence)}")


def _rest(schedule: Schedule, displaced: tuple[Standing, ...]) -> list[Standing]:
    """What stands of earlier plans beside what is displaced."""
    gone = set(map(id, displaced))
    return [one for one in schedule.standing if id(one) not in gone]


def _left_without(plan: Plan, schedule: Schedule, displaced: tuple[Standing, ...]) -> Iterator[Change]:
    """Jobs that earlier plans cover and that would lose a source without getting as much from this one."""
    rest = _rest(schedule, displaced)
    planned = Counter((piece.job, piece.strip) for piece in plan.pieces())
    short = {shortfall.job for shortfall in plan.short()}
    serving: dict[str, list[Standing]] = {}
    for one in displaced:
        for code in one.jobs():
            serving.setdefault(code, []).append(one)
    for code, served_by in serving.items():
        if schedule.job(code) is None:
            continue
        before, after = schedule.missing(code), schedule.missing(code, rest)
        if code in short and (before or any(True for one in served_by for _ in misfits(schedule, one))):
            continue  # no plan covers it as it is wanted now
        if any(count > before.get(strip, 0) + planned[code, strip] for strip, count in after.items()):
            tags = ", ".join(one.item.tag for one in served_by)
            plans = " and ".join(f"plan {number}" for number in dict.fromkeys(one.plan for one in served_by))
            in_part = "is planned here only in part" if any(job == code for job, _ in planned) else ""
            here = "is left short here" if code in short else in_part or "is not planned here"
            yield Change(code, f"would lose {tags}, which {plans} cuts for it, and {here}")


def _too_many(plan: Plan, schedule: Schedule, displaced: tuple[Standing, ...]) -> Iterator[Change]:
    """Pieces that have been cut, or planned elsewhere, since the plan was made."""
    rest = _rest(schedule, displaced)
    for (code, label), planned in Counter((piece.job, piece.strip) for piece in plan.pieces()).items():
        job = schedule.job(code)
        wanted = next((strip.count for strip in job.strips if strip.label == label), 0) if job else 0
        done = sum(one.count for one in schedule.settled(code, rest) if one.strip == label)
        if wanted and planned + done > wanted:
            yield Change(code, f"has {done} of {wanted} of strip {label} cut or planned; {planned} more are too many")
