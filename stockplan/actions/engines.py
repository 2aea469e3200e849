"""Products planned side by side: by processes of this machine, or on a cluster that is there already.

What is planned where is no matter of the plan: parts are frozen data, each planned by the same function with a work
limit of its own, and put together in order of product. What plans them stands behind `Hands`: `processes.py` and
`cluster.py`. Whatever goes wrong there costs time, not the plan: a part whose worker was lost is planned again, in the
end in this process.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from stockplan.domain.request import PlanRequest, Progress, SearchLimits

if TYPE_CHECKING:
    from stockplan.cutting.parts import Part
    from stockplan.domain.plan import Plan, ProductPlan

LEAST_JOBS = 12  # in all; fewer are often proven before another process has begun, which takes it up to a second
JOBS_FOR_BOUND_BESIDE = 20  # of one product; with fewer the search proves more with the bound's own program in hand
LEAST_SECONDS = 5.0  # of the clock, for the same reason
QUICK_JOBS = 150  # of one product, for which the foreman's plan takes less time than a process needs to begin
LISTENING_SECONDS = 0.1  # at a time, so that Ctrl-C is heard
Tell = Callable[[str], None]


class Planner(Protocol):
    """What makes a plan; see `stockplan.cutting.plan_cuts`."""

    def __call__(
        self,
        request: PlanRequest,
        limits: SearchLimits,
        progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool] | None,
    ) -> Plan:
        """Plan every product that has jobs."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The plan of one product."""

    plan: ProductPlan


@dataclass(frozen=True, slots=True)
class Renewed:
    """A product whose worker is gone and which another has begun by itself; what happened follows its code."""

    product: str
    why: str


@dataclass(frozen=True, slots=True)
class Lost:
    """A product whose worker is gone.

    Parameters
    ----------
    product
        Product code.
    why
        What happened, in words that follow the product's code.
    again
        Whether there is a worker in its place that may be given the product again.
    """

    product: str
    why: str
    again: bool


Heard = Progress | Answer | Renewed | Lost


class Hands(Protocol):
    """Workers that plan parts; as a context, ready inside and gone afterwards.

    Parameters
    ----------
    count
        How many parts are planned at the same time.
    """

    count: int

    def give(self, worker: int, part: Part, deadline: float) -> None:
        """Give a worker a part to plan until a reading of this machine's `time.monotonic`."""

    def hear(self, seconds: float) -> Sequence[Heard]:
        """What workers have told; waits so many seconds at most where they have told nothing."""

    def stop(self) -> None:
        """Ask all workers to end with the best plans they have."""


def usable_processors() -> int:
    """How many processors this program may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def planner_on(workers: int, tell: Tell) -> Planner:
    """A planner that plans products side by side in processes of this machine, where that is worth their start.

    Parameters
    ----------
    workers
        How many processes at most; 1 plans in this process, as a request with few jobs or little time is planned
        anyway. One product with more jobs has its bound worked out beside, and threads search on processors that this
        leaves, unless work is limited: what they tell when depends on the clock.
    tell
        Told in a sentence what went wrong and was made up for, and what takes so long where the planner is new here.
    """

    def plan(
        request: PlanRequest,
        limits: SearchLimits,
        progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool] | None,
    ) -> Plan:
        from stockplan.actions.making_ready import make_ready  # noqa: PLC0415
        from stockplan.actions.processes import Processes  # noqa: PLC0415
        from stockplan.cutting import plan_cuts  # noqa: PLC0415

        make_ready(tell, should_stop)
        count = min(workers, len({job.product for job in request.jobs}))
        long_enough = limits.work is None and limits.seconds >= LEAST_SECONDS
        if count == 1 < workers and len(request.jobs) >= JOBS_FOR_BOUND_BESIDE and long_enough:
            return _with_bound_beside(request, limits, progress, should_stop, workers - 1)
        if count <= 1 or len(request.jobs) < LEAST_JOBS or limits.seconds < LEAST_SECONDS:
            return plan_cuts(request, limits, progress, should_stop)
        return plan_products(request, limits, Processes(count), tell, progress, should_stop)

    return plan


def _with_bound_beside(
    request: PlanRequest,
    limits: SearchLimits,
    progress: Callable[[Progress], None] | None,
    should_stop: Callable[[], bool] | None,
    processors: int,
) -> Plan:
    """Plan one product in this process, while another works out the bound, and with threads where processors idle."""
    from stockplan.actions.bound_beside import BoundBeside  # noqa: PLC0415
    from stockplan.cutting.parts import joined, parts_of  # noqa: PLC0415
    from stockplan.cutting.planner import plan_part  # noqa: PLC0415

    deadline = time.monotonic() + limits.seconds
    (part,) = parts_of(request, limits.work, limits.seed)
    with BoundBeside(part, deadline, processors) as beside:
        plan = plan_part(part, deadline, progress, should_stop, beside)
    return joined(request, [plan])


def planner_at(address: str, tell: Tell) -> Planner:
    """A planner that plans products on a Dask cluster.

    Parameters
    ----------
    address
        Of its scheduler, such as tcp://planner:8786.
    tell
        Told in a sentence what went wrong and was made up for.
    """

    def plan(
        request: PlanRequest,
        limits: SearchLimits,
        progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool] | None,
    ) -> Plan:
        from stockplan.actions.cluster import Cluster  # noqa: PLC0415

        return plan_products(request, limits, Cluster(address), tell, progress, should_stop)

    return plan


def now_and_then(tell: Callable[[Progress], None], seconds: float) -> Callable[[Progress], None]:
    """Tell of every better plan and every new phase, and of a better bound alone only now and then.

    Parameters
    ----------
    tell
        What is told.
    seconds
        At least so long after what was told last.
    """
    last: tuple[str, int | None] | None = None
    told = 0.0

    def hear(progress: Progress) -> None:
        nonlocal last, told
        now = time.monotonic()
        if (progress.phase, progress.best_pence) != last or now - told >= seconds:
            last, told = (progress.phase, progress.best_pence), now
            tell(progress)

    return hear


def plan_products(
    request: PlanRequest,
    limits: SearchLimits,
    engine: AbstractContextManager[Hands],
    tell: Tell,
    progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """Plan every product that has jobs, several at the same time.

    Parameters
    ----------
    request, limits, progress, should_stop
        As for `stockplan.cutting.plan_cuts`. The clock is obeyed as there, but for a product whose worker was lost: it
        is given its share of the clock again.
    engine
        What plans them.
    tell
        Told in a sentence of each worker lost.
    """
    from stockplan.cutting.parts import joined  # noqa: PLC0415
    from stockplan.cutting.planner import plan_part  # noqa: PLC0415

    stop = should_stop or (lambda: False)
    with engine as hands:
        shift = _Shift(request, limits, hands, tell, progress or (lambda told: None))
        shift.work(stop)
    for part, seconds in shift.left:
        shift.plans.append(plan_part(part, time.monotonic() + seconds, shift.pass_on, stop))
    return joined(request, shift.plans)


@dataclass(slots=True)
class _Given:
    """A part in work: by which worker, for how many seconds, and whether it is the second time."""

    part: Part
    worker: int
    seconds: float
    again: bool = False

    def more(self) -> str:
        """How long it takes to plan it again, in words."""
        return f"which takes up to {self.seconds:.0f} s more"


class _Shift:
    """One plan in work: who has what, what came of it, and what is left to plan here."""

    def __init__(
        self,
        request: PlanRequest,
        limits: SearchLimits,
        hands: Hands,
        tell: Tell,
        progress: Callable[[Progress], None],
    ) -> None:
        from stockplan.cutting.parts import Sharing, parts_of  # noqa: PLC0415

        self.started = time.monotonic()
        self.deadline = self.started + limits.seconds
        self.hands, self.tell, self.progress = hands, tell, progress
        self.sharing = Sharing(parts_of(request, limits.work, limits.seed), hands.count, self.deadline)
        self.given: dict[str, _Given] = {}
        self.plans: list[ProductPlan] = []
        self.left: list[tuple[Part, float]] = []

    def work(self, should_stop: Callable[[], bool]) -> None:
        """Give parts out until each is planned or left."""
        from stockplan.cutting.planner import tell_first_plans  # noqa: PLC0415

        for worker in range(self.hands.count):
            self._give_next(worker)
        # of large ones that are given already a worker will tell as soon
        quick = [given.part for given in self.given.values() if given.part.size <= QUICK_JOBS]
        tell_first_plans([*quick, *self.sharing.waiting()], self.deadline, self.pass_on, should_stop)
        stopped = False
        while self.given:
            if not stopped and should_stop():
                stopped = True
                self.hands.stop()
            for told in self.hands.hear(LISTENING_SECONDS):
                self._take(told)

    def pass_on(self, told: Progress) -> None:
        """Tell how far a product is, by the clock of the whole."""
        self.progress(replace(told, seconds=time.monotonic() - self.started))

    def _take(self, told: Heard) -> None:
        if isinstance(told, Answer):
            self.plans.append(told.plan)
            self._give_next(self.given.pop(told.plan.product).worker)
        elif told.product not in self.given:
            return  # it came later than the answer
        elif isinstance(told, Progress):
            self.pass_on(told)
        elif isinstance(told, Renewed):
            self.tell(f"{told.product}: {told.why}; it is planned again, {self.given[told.product].more()}.")
        else:
            self._make_up_for(told)

    def _give_next(self, worker: int) -> None:
        now = time.monotonic()
        if (given := self.sharing.next_for(worker, now)) is not None:
            part, deadline = given
            self.given[part.product] = _Given(part, worker, deadline - now)
            self.hands.give(worker, part, deadline)

    def _make_up_for(self, lost: Lost) -> None:
        given = self.given[lost.product]
        if lost.again and not given.again:
            self.tell(f"{lost.product}: {lost.why}; it is planned again, {given.more()}.")
            given.again = True
            self.hands.give(given.worker, given.part, time.monotonic() + given.seconds)
            return
        self.tell(f"{lost.product}: {lost.why}; it is planned again in this process, {given.more()}.")
        del self.given[lost.product]
        self.left.append((given.part, given.seconds))
        self._give_next(given.worker)
