"""The products of one request planned at the same time, whoever plans them.

Parts are frozen data, each planned by the same function with a work limit of its own, and put together in order of
product. Whatever goes wrong with a worker costs time, not the plan: a part whose worker was lost is planned again, in
the end in this process.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stockplan.actions.hands import Answer, Hands, Heard, Lost, Renewed
from stockplan.domain.request import PlanRequest, Progress, SearchLimits

if TYPE_CHECKING:
    from stockplan.cutting.parts import Part
    from stockplan.domain.plan import Plan, ProductPlan

QUICK_JOBS = 150  # of one product, for which the foreman's plan takes less time than a process needs to begin
LISTENING_SECONDS = 0.1  # at a time, so that Ctrl-C is heard


def plan_products(
    request: PlanRequest,
    limits: SearchLimits,
    engine: AbstractContextManager[Hands],
    tell: Callable[[str], None],
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
        """How long it takes to plan it again, in words; where work is limited the clock may be set for a day."""
        return "which takes as much work again" if self.part.work else f"which takes up to {self.seconds:.0f} s more"


class _Shift:
    """One plan in work: who has what, what came of it, and what is left to plan here."""

    def __init__(
        self,
        request: PlanRequest,
        limits: SearchLimits,
        hands: Hands,
        tell: Callable[[str], None],
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
