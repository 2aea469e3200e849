"""A plan asked for, taken apart into products and put together again; who plans which product, and for how long.

Products share nothing, so that each is a part of its own, frozen data that any process can plan. The clock they do
share: with w workers the parts are laid into w lots of about equal work, largest part first; each worker plans its lot
one after another, smallest first, so that what an early proof leaves of the clock goes to the larger ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stockplan.domain.plan import Drop, Lane, Plan, ProductPlan, SourceCuts
from stockplan.domain.request import PlanRequest

LEAST_SECONDS = 2.0  # of the clock, for one product, or as much as for each where there are too many


@dataclass(frozen=True, slots=True)
class Part:
    """One product of a plan asked for.

    Parameters
    ----------
    request
        What its plan depends on, and nothing of other products.
    product
        Product code.
    work
        Work limit; None sets none.
    seed
        Seed of every random choice.
    """

    request: PlanRequest
    product: str
    work: int | None
    seed: int

    @property
    def size(self) -> int:
        """How much there is to do, to share the clock by: its jobs."""
        return len(self.request.jobs)


def parts_of(request: PlanRequest, work: int | None, seed: int) -> tuple[Part, ...]:
    """Take a request apart, one part for each product that has jobs, in order of code.

    Parameters
    ----------
    request
        The plan asked for.
    work
        Work limit of each product; None sets none.
    seed
        Seed of every random choice, the same for each.
    """
    codes = sorted({job.product for job in request.jobs})
    return tuple(Part(_of_product(request, code), code, work, seed) for code in codes)


def _of_product(request: PlanRequest, product: str) -> PlanRequest:
    jobs = tuple(job for job in request.jobs if job.product == product)
    codes = {job.code for job in jobs}
    last = request.last
    return replace(
        request,
        products=tuple(one for one in request.products if one.code == product),
        supply=tuple(option for option in request.supply if option.product == product),
        stock=tuple(item for item in request.stock if item.product == product),
        jobs=jobs,
        pins=tuple(pin for pin in request.pins if pin.job in codes),
        cut_already=tuple(cut for cut in request.cut_already if cut.job in codes),
        held=tuple(item for item in request.held if item.product == product),
        last=last and replace(last, products=tuple(one for one in last.products if one.product == product)),
    )


def joined(request: PlanRequest, plans: Sequence[ProductPlan]) -> Plan:
    """Put plans of parts together, orders numbered through in order of product.

    Parameters
    ----------
    request
        The whole plan asked for.
    plans
        One for each part, in any order, with orders numbered from 1 in each.
    """
    together: list[ProductPlan] = []
    orders = 0
    for plan in sorted(plans, key=lambda plan: plan.product):
        together.append(_numbered_on(plan, orders))
        orders += len(plan.orders)
    return Plan(request.window, request.today, request.currency, tuple(together))


def _numbered_on(plan: ProductPlan, after: int) -> ProductPlan:
    """The same plan with its orders numbered from after + 1 on."""
    if after == 0:
        return plan
    keys = {order.key: f"new-{after + number}" for number, order in enumerate(plan.orders, 1)}
    return replace(
        plan,
        orders=tuple(replace(order, key=keys[order.key]) for order in plan.orders),
        cuts=tuple(_renamed(cuts, keys[cuts.source]) if cuts.source in keys else cuts for cuts in plan.cuts),
        leftovers=tuple(replace(left, source=keys.get(left.source, left.source)) for left in plan.leftovers),
        order_reasons=tuple(reason.with_keys(keys) for reason in plan.order_reasons),
    )


def _renamed(cuts: SourceCuts, source: str) -> SourceCuts:
    def lane(one: Lane) -> Lane:
        return replace(one, pieces=tuple(replace(piece, source=source) for piece in one.pieces))

    def drop(one: Drop) -> Drop:
        return replace(one, lanes=tuple(map(lane, one.lanes)))

    return replace(cuts, source=source, drops=tuple(map(drop, cuts.drops)))


class Sharing:
    """Which worker plans which part next, and until when.

    Parameters
    ----------
    parts
        Every part.
    workers
        How many plan at the same time; at least 1.
    deadline
        Clock reading at which all must be done.
    """

    def __init__(self, parts: Sequence[Part], workers: int, deadline: float) -> None:
        self._deadline = deadline
        self._lots: list[list[Part]] = [[] for _ in range(workers)]
        for part in sorted(parts, key=lambda part: (-part.size, part.product)):
            min(self._lots, key=_size).append(part)
        for lot in self._lots:
            lot.reverse()

    def waiting(self) -> tuple[Part, ...]:
        """Parts that no worker has been given yet, those that wait longest last."""
        return tuple(part for lot in self._lots for part in lot)

    def next_for(self, worker: int, now: float) -> tuple[Part, float] | None:
        """Give a worker its next part, and the clock reading at which it must be done; None when nothing waits.

        A worker whose lot is done takes the largest part that waits in the fullest other lot.

        Parameters
        ----------
        worker
            Number of the worker from 0.
        now
            Clock reading.
        """
        lot = self._lots[worker]
        if not lot:
            other = max(self._lots, key=_size)
            return (other.pop(), self._deadline) if other else None
        left = max(0.0, self._deadline - now)
        # A few jobs among many are proven best in a second or two, but not in their share of a short clock.
        share = max(left * lot[0].size / _size(lot), min(LEAST_SECONDS, left / len(lot)))
        return lot.pop(0), min(self._deadline, now + share)


def _size(lot: Sequence[Part]) -> int:
    return sum(part.size for part in lot)
