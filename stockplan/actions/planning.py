"""Making a plan, and looking at one again."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.jobs import BatchRule, Job, Window
from stockplan.domain.left_by_plans import LeftByPlans
from stockplan.domain.plan import Plan
from stockplan.domain.plan_state import PlanState
from stockplan.domain.purchase import batch_on_its_way
from stockplan.domain.request import PlanRequest, Progress, SearchLimits
from stockplan.domain.units import size
from stockplan.errors import PlanOutdated, PlanUnsound, RequestError

if TYPE_CHECKING:
    from stockplan.actions.asking import Wish
    from stockplan.actions.engines import Planner
    from stockplan.domain.replanning import Scope
    from stockplan.domain.standing import Standing


@dataclass(frozen=True, slots=True)
class ShownPlan:
    """A plan in the store, ready to be shown.

    Parameters
    ----------
    number
        Its number in the store.
    request, plan
        What was asked, with the strips of the layouts picked, and the answer; read back from the store, the request
        holds only what reports need.
    text
        The plan file.
    without_strips
        Jobs of the window that could not be planned: they have neither strips nor lawns that can be laid out.
    notes
        Why something that an earlier plan was to cut is planned anew, or is not; sentences.
    last
        The plan it is compared with, in words; None when there is none.
    changes
        What is different from that plan, in plain words.
    state
        What has become of it: `proposed`, `accepted`, `done` or `withdrawn`.
    left_over
        What accepted plans will leave over that would do in the place of something of this one; sentences.
    conditions
        By tag the word for the condition of what it cuts that is not sound, as it is on record now.
    against
        What stands against accepting it, as soon as it is made; None where nothing does.
    """

    number: int
    request: PlanRequest
    plan: Plan
    text: str
    without_strips: tuple[Job, ...] = ()
    notes: tuple[str, ...] = ()
    last: str | None = None
    changes: tuple[str, ...] = ()
    state: PlanState = PlanState.PROPOSED
    left_over: tuple[str, ...] = ()
    conditions: Mapping[str, str] = field(default_factory=dict)
    against: PlanOutdated | None = None

    @property
    def is_short(self) -> bool:
        """Whether some job of the window is not covered in full."""
        return bool(self.without_strips) or any(True for _ in self.plan.short())


def make_plan(  # noqa: PLR0913, PLR0917 - one a choice people have
    where: str | None,
    window: Window,
    today: date,
    limits: SearchLimits,
    progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    wish: Wish | None = None,
    planner: Planner | None = None,
) -> ShownPlan:
    """Plan the jobs of a window, have the plan checked, and store it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    window
        The days to plan.
    today
        The first day on which anything can be ordered.
    limits
        How long to look.
    progress
        Told now and then how far the search is.
    should_stop
        Asked now and then; True ends the search with the best plan so far.
    wish
        What else is asked of the plan; default nothing.
    planner
        What plans; default this process, one product after another. See `stockplan.actions.engines`.

    Raises
    ------
    RequestError
        When nothing that could be cut is laid in the window, nothing is left to plan, or a pin cannot be kept.
    PlanUnsound
        When the plan fails its check; it is not stored then.
    StoreError
        When the store cannot be read or written.
    """
    from stockplan.actions.acceptable import against  # noqa: PLC0415
    from stockplan.actions.asking import Wish, ask  # noqa: PLC0415
    from stockplan.actions.held import held_notes, unsound  # noqa: PLC0415
    from stockplan.actions.user import user  # noqa: PLC0415
    from stockplan.cutting import plan_cuts  # noqa: PLC0415
    from stockplan.domain.check import check  # noqa: PLC0415
    from stockplan.domain.fingerprint import with_fingerprints  # noqa: PLC0415
    from stockplan.domain.picked import with_picked_layouts  # noqa: PLC0415
    from stockplan.report.plan_file import plan_to_json  # noqa: PLC0415
    from stockplan.store.pin_rows import write_pins  # noqa: PLC0415
    from stockplan.store.repository import read_jobs, read_plan, store_plan  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store:
        read_at = store.check_writable()  # nothing is looked for in vain
        with store.reading() as session:
            asked = ask(session, window, today, wish or Wish(), progress)
            request = asked.request
            without_strips = tuple(job for job, _ in asked.laid.left)
            if not request.jobs:
                told = _nothing_to_plan(window, without_strips, read_jobs(session), asked.scope)
                raise RequestError("\n".join([*asked.laid.notes(), told]))
        plan = (planner or plan_cuts)(request, limits, progress, should_stop)
        if violations := check(request, plan):
            raise PlanUnsound([str(violation) for violation in violations])
        plan = with_fingerprints(request, plan)
        request = with_picked_layouts(request, plan)
        text = plan_to_json(request, plan)
        with store.unit_of_work() as work:
            number = store_plan(work, plan, text, read_at)
            write_pins(work, wish.pins if wish else (), user())
            work.commit(plan=number)
        with store.reading() as session:
            refused = against(rows_of(session), read_plan(session, number), today)
            held = held_notes(session, plan, today)
            conditions = unsound(session, (cuts.source for cuts in plan.cuts()))
            jobs = {job.code: job for job in read_jobs(session)} if asked.scope.kept else {}
    before = asked.before
    changes = before.changes(plan) if before else ()
    last = before.label if before else None
    notes = (*asked.scope.staying, *asked.scope.notes, *asked.laid.notes(), *held, *_batches_expected(request, plan))
    notes += tuple(bought_again(request, plan))
    left_over = tuple(_left_by_plans(request, plan, asked.scope, jobs))
    return ShownPlan(
        number,
        request,
        plan,
        text,
        without_strips,
        notes,
        last,
        changes,
        left_over=left_over,
        conditions=conditions,
        against=refused,
    )


def _left_by_plans(request: PlanRequest, plan: Plan, found: Scope, stored: Mapping[str, Job]) -> Iterator[str]:
    """Say what accepted plans will leave over that is large enough for jobs left short, or to spare what is opened."""
    jobs = {**stored, **{job.code: job for job in request.jobs}}
    short: dict[str, list[tuple[int, int]]] = {}
    for one in plan.short():
        strip = next(strip for strip in jobs[one.job].strips_or_first() if strip.label == one.strip)
        short.setdefault(one.job, []).extend([(strip.width_mm, strip.length_mm)] * one.count)
    begun = {cut.job: cut.batch for cut in request.cut_already if jobs[cut.job].batch_rule is BatchRule.ONE}
    left = LeftByPlans(found.kept, jobs)
    yield from left.for_short(short, begun)
    yield from left.for_orders(plan)
    yield from left.for_whole_rolls(plan, request.stock, begun)


def _batches_expected(request: PlanRequest, plan: Plan) -> Iterator[str]:
    """Say of what is still to come, and is cut, which batch it is taken to be of."""
    cut = {cuts.source for cuts in plan.cuts()}
    for item in request.stock:
        if item.tag in cut and item.arrives_on is not None and item.batch != batch_on_its_way(item.tag):
            yield f"{item.tag} is still to come and counted as batch {item.batch}, in which the rest of its order came"


def bought_again(request: PlanRequest, plan: Plan) -> Iterator[str]:
    """Say which things on their way a plan leaves alone though it orders the same size of the same grass again.

    Parameters
    ----------
    request
        What the plan was asked for, with everything that is on its way and serves no other plan.
    plan
        The plan.
    """
    cut = {cuts.source for cuts in plan.cuts()}
    ordered: dict[tuple[str, int, int], list[str]] = {}
    for order in plan.orders():
        ordered.setdefault((order.product, order.width_mm, order.length_mm), []).append(order.key)
    for (product, width_mm, length_mm), keys in ordered.items():
        alike = (product, width_mm, length_mm)
        coming = [item for item in request.stock if item.arrives_on is not None and item.tag not in cut]
        tags = [item.tag for item in coming if (item.product, item.width_mm, item.length_mm) == alike]
        if tags:
            serve = "is on its way and serves" if len(tags) == 1 else "are on their way and serve"
            yield (
                f"{', '.join(tags)} {serve} nothing in this plan, which orders {', '.join(keys)} of the same size "
                f"({size(width_mm, length_mm)} m of {product}): before ordering see what it says without each"
            )


def _for_nothing(found: Scope) -> Iterator[str]:
    """Say how things come free that plans are to cut, though nothing that is still wanted comes of them."""
    for number in dict.fromkeys(one.plan for one in found.freed):
        tags = [one.item.tag for one in found.freed if one.plan == number]
        gives, them, are = ("gives", "it", "it is") if len(tags) == 1 else ("give", "them", "they are")
        yield (
            f"{', '.join(tags)} of plan {number} {gives} nothing that is still wanted, so do not cut {them}: {are} "
            "free again once any plan is accepted, or at once, with all else of that plan, by: "
            f"stockplan withdraw {number}"
        )


def _plans_of(standing: Iterable[Standing], jobs: Collection[str]) -> list[int]:
    """Numbers of the plans that are still to cut something for some jobs."""
    return list(dict.fromkeys(one.plan for one in standing if not set(jobs).isdisjoint(one.jobs())))


def _nothing_to_plan(window: Window, without_strips: tuple[Job, ...], jobs: list[Job], found: Scope) -> str:
    span = f"from {window.first} to {window.last}"
    left = {job.code for job in without_strips}
    if settled := [job.code for job in jobs if job.lay_on in window and job.code not in left]:
        plans = " and ".join(f"plan {number}" for number in _plans_of(found.kept, settled))
        is_cut, stays = ("is cut", "stays") if len(settled) == 1 else ("are cut", "stay")
        stay = f" or {stays} with {plans}; plan what is still to be cut anew with --again" if plans else ""
        return "\n".join(
            [*found.notes, *_for_nothing(found), f"nothing is left to plan {span}: {', '.join(settled)} {is_cut}{stay}"]
        )
    if without_strips:
        codes = ", ".join(job.code for job in without_strips)
        return f"no job laid {span} has strips to cut yet: {codes}; give them strips in strips.csv and import again"
    if not jobs:
        return "the store holds no jobs; import a folder with jobs.csv and strips.csv first"
    first, last = jobs[0].lay_on, jobs[-1].lay_on
    return f"no job is laid {span}; the jobs in the store are laid from {first} to {last}"


def stored_plan(where: str | None, number: int | None = None) -> ShownPlan:
    """Read a plan made before.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    number
        Which plan; default the last one made.

    Raises
    ------
    StoreError
        When there is no such plan or it cannot be read.
    """
    from stockplan.actions.held import unsound_sources  # noqa: PLC0415
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415
    from stockplan.store import plan_rows, repository  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        found = repository.read_plan(session, number)
        state = plan_rows.read_states(session).get(found.number, PlanState.PROPOSED)
        text = found.plan_json
        plan = read_plan(text)
        conditions = unsound_sources(session, found.number, plan)
    return ShownPlan(found.number, read_request(text), plan, text, state=state, conditions=conditions)
