"""One plan in a process of its own, told line by line: what `timing.py` starts and holds the watch over.

Writes a line of JSON whenever the best plan or the bound of a product changes, one when the plan is made, and one when
the independent checker has judged it. Nothing here reads a clock.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random
from typing import Any

from stockplan.actions.engines import planner_on
from stockplan.bench.memory import peak_bytes
from stockplan.cli.pipes import print_alone
from stockplan.domain.check import check
from stockplan.domain.plan import Plan, PlanStatus
from stockplan.domain.request import PlanRequest, Progress, SearchLimits

Tell = Callable[[dict[str, Any]], None]


def plan_aloud(
    request: PlanRequest, limits: SearchLimits, tell: Tell, step: int | None = None, workers: int = 1
) -> None:
    """Plan and check, telling each step.

    Parameters
    ----------
    request, limits
        As for `plan_cuts`.
    tell
        Given a record of each: `start`, `progress` at every change, `plan`, `checked`.
    step
        Pence of which every plan's cost is a whole multiple: the search of the one product ends when its bound, rounded
        up to that, meets the cost. Default None: the planner's own proof to the penny ends it.
    workers
        How many processes plan products side by side; default 1, this one.
    """
    known: dict[str, tuple[int | None, int | None]] = {}
    settled = False

    def on_progress(progress: Progress) -> None:
        nonlocal settled
        now = progress.best_pence, progress.bound_pence
        settled = settled or meets(*now, step)
        if known.get(progress.product) != now:
            known[progress.product] = now
            tell({"step": "progress", "product": progress.product, "best": now[0], "bound": now[1]})

    products = sorted({job.product for job in request.jobs})
    tell({"step": "start", "products": products})
    plan = planner_on(workers, _complain)(request, limits, on_progress, lambda: settled)
    side_by_side = min(workers, len(products)) if workers > 1 else 0  # of one product a process works the bound out
    tell({"step": "plan", **summary(request, plan), "peak_bytes": peak_bytes(side_by_side)})
    tell({"step": "checked", "violations": [str(violation) for violation in check(request, plan)]})


def _complain(message: str) -> None:
    print(message, file=sys.stderr, flush=True)


def meets(best: int | None, bound: int | None, step: int | None) -> bool:
    """Whether a bound, rounded up to whole steps, meets a cost; never without a step."""
    return step is not None and best is not None and bound is not None and -(-bound // step) * step >= best


def summary(request: PlanRequest, plan: Plan) -> dict[str, Any]:
    """What a plan comes to, all products together; money in pence."""
    foremen = [product.foreman_cost_pence for product in plan.products]
    return {
        "digest": hashlib.sha256(repr(request).encode()).hexdigest()[:16],
        "pieces": sum(job.piece_count for job in request.jobs),
        "items": len(request.stock),
        "foreman": sum(cost for cost in foremen if cost is not None) if None not in foremen else None,
        "cost": plan.net_cost_pence,
        "bound": plan.lower_bound_pence,
        "status": status_of_all(product.status for product in plan.products),
        "short": sum(shortfall.count for shortfall in plan.short()),
        "ordered": sum(1 for _ in plan.orders()),
        "work": sum(product.work for product in plan.products),
        "ended_by": ", ".join(dict.fromkeys(product.ended_by for product in plan.products)),
    }


def status_of_all(statuses: Any) -> str:
    """Status of several products' plans together: short when one is, optimal only when all are."""
    found = set(statuses)
    if PlanStatus.SHORT in found:
        return PlanStatus.SHORT.value
    return (PlanStatus.OPTIMAL if found <= {PlanStatus.OPTIMAL} else PlanStatus.FEASIBLE).value


def _request(given: argparse.Namespace) -> PlanRequest:
    if given.week:
        from stockplan.bench.weeks import week, with_yard_of  # noqa: PLC0415

        strips = week(given.week, given.seed)
        if given.yard:
            strips = with_yard_of(strips, given.yard, given.seed)
        if not given.lawns:
            return strips
        from stockplan.bench.lawns import lawns_for  # noqa: PLC0415  it loads shapely
        from stockplan.bench.layouts import laid_out  # noqa: PLC0415

        return laid_out(lawns_for(strips, Random(given.seed)))
    from stockplan.bench.instances import read_instances, state  # noqa: PLC0415

    (instance,) = (found for found in read_instances(given.instance) if found.name == given.name)
    return state(instance, given.along).request


def main(arguments: Sequence[str] | None = None) -> None:
    """Plan one generated week or one published instance, and tell each step as a line of JSON."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.fresh", description=main.__doc__)
    parser.add_argument("--week", help="size of a generated week: S, M, L or XL")
    parser.add_argument("--seed", type=int, default=0, help="of the generated week; default 0")
    parser.add_argument("--lawns", action="store_true", help="lawns that may be laid in several ways for its jobs")
    parser.add_argument("--yard", help="size of the week whose yard it is; default its own")
    parser.add_argument("--instance", type=Path, help="file of a published instance")
    parser.add_argument("--name", help="name of the instance in the file")
    parser.add_argument("--along", choices=("width", "height"), default="width", help="what runs along the roll")
    parser.add_argument("--step", type=int, help="pence of which every plan's cost is a whole multiple")
    parser.add_argument("--seconds", type=float, required=True, help="clock guard of the search")
    parser.add_argument("--work", type=int, help="work limit for each product")
    parser.add_argument("--workers", type=int, default=1, help="processes that plan products; default 1, this one")
    given = parser.parse_args(arguments)
    limits = SearchLimits(given.seconds, given.work)
    print_alone()

    def tell(record: dict[str, Any]) -> None:
        print(json.dumps(record), flush=True)

    plan_aloud(_request(given), limits, tell, given.step, given.workers)


if __name__ == "__main__":
    main()
