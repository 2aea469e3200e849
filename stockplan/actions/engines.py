"""What plans: this process, processes of this machine beside each other, or a cluster that is there already.

What is planned where is no matter of the plan: `side_by_side.py` gives each product to whatever stands behind `Hands`,
which is `processes.py` or `cluster.py`.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from stockplan.domain.request import PlanRequest, Progress, SearchLimits

if TYPE_CHECKING:
    from stockplan.domain.plan import Plan

LEAST_JOBS = 12  # in all; fewer are often proven before another process has begun, which takes it up to a second
# To lay the jobs of one product; and to choose from, beyond one for each job, when all sets of pieces are sooner too
# many to list. With fewer the search proves more with the bound's program.
WAYS_FOR_BOUND_BESIDE, OTHER_WAYS = 20, 5
LEAST_SECONDS = 5.0  # of the clock, for the same reason
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
        anyway. One product with more jobs, or lawns that may be laid in many ways, has its bound worked out beside,
        and threads search on processors that this leaves, unless work is limited: what they tell when depends on the
        clock.
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
        from stockplan.actions.side_by_side import plan_products  # noqa: PLC0415
        from stockplan.cutting import plan_cuts  # noqa: PLC0415

        make_ready(tell, should_stop)
        count = min(workers, len({job.product for job in request.jobs}))
        long_enough = limits.work is None and limits.seconds >= LEAST_SECONDS
        if count == 1 < workers and has_bound_beside(request) and long_enough:
            return _with_bound_beside(request, limits, progress, should_stop, workers - 1)
        if count <= 1 or len(request.jobs) < LEAST_JOBS or limits.seconds < LEAST_SECONDS:
            return plan_cuts(request, limits, progress, should_stop)
        return plan_products(request, limits, Processes(count), tell, progress, should_stop)

    return plan


def ways_to_lay(request: PlanRequest) -> int:
    """How many ways there are to lay the jobs asked about, each by itself; strips that are given are one."""
    return sum(max(1, len(job.layouts)) for job in request.jobs)


def has_bound_beside(request: PlanRequest) -> bool:
    """Whether there are so many ways to lay the jobs asked about that another process is to work out the bound."""
    ways = ways_to_lay(request)
    return ways >= WAYS_FOR_BOUND_BESIDE or ways - len(request.jobs) >= OTHER_WAYS


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
        Told in a sentence what went wrong and was made up for, and what takes so long where the planner is new there.
    """

    def plan(
        request: PlanRequest,
        limits: SearchLimits,
        progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool] | None,
    ) -> Plan:
        from stockplan.actions.cluster import Cluster  # noqa: PLC0415
        from stockplan.actions.side_by_side import plan_products  # noqa: PLC0415

        return plan_products(request, limits, Cluster(address, tell), tell, progress, should_stop)

    return plan
