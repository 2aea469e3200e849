"""How much searching is still allowed: a deterministic work limit, with the clock and the user as guards."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass
class Budget:
    """Counts work and watches the clock.

    Parameters
    ----------
    deadline
        Clock reading (`time.monotonic`) at which to stop.
    work_limit
        Work units allowed; None sets no limit.
    should_stop
        Asked now and then; True stops the search as the clock would.
    work
        Work units spent.
    ended_by
        Why `over` last answered True.
    by_the_clock
        Whether the clock cut some step of the search short, so that another run may differ.
    """

    deadline: float
    work_limit: int | None = None
    should_stop: Callable[[], bool] = lambda: False
    work: int = 0
    ended_by: str = field(default="proof")
    by_the_clock: bool = False

    def spend(self, units: int) -> None:
        """Count work done."""
        self.work += units

    def over(self, reserve: float = 0.0) -> bool:
        """Whether the search must end now, or so many seconds before the deadline; remembers why.

        Parameters
        ----------
        reserve
            Seconds to keep back for what comes after; default none.
        """
        if self.work_limit is not None and self.work >= self.work_limit:
            self.ended_by = "work limit"
        elif self.should_stop():
            self.ended_by = "interrupt"
        elif time.monotonic() + reserve >= self.deadline:
            self.ended_by = "clock"
        else:
            return False
        return True

    def part(self, share: float) -> Budget:
        """A budget for one step: a share of the time and of the work left."""
        work = None if self.work_limit is None else int(share * max(0, self.work_limit - self.work))
        return Budget(time.monotonic() + share * self.seconds_left(), work, self.should_stop)

    def before(self, seconds: float) -> Budget:
        """A budget for one step that leaves so many seconds for what comes after."""
        work = None if self.work_limit is None else max(0, self.work_limit - self.work)
        return Budget(self.deadline - seconds, work, self.should_stop)

    def absorb(self, step: Budget) -> None:
        """Count a step's work as this budget's, and remember if the clock cut it short."""
        if step is not self:
            self.work += step.work
            self.by_the_clock |= step.ended_by == "clock"

    def seconds_left(self) -> float:
        """Seconds until the deadline; 0 when past."""
        return max(0.0, self.deadline - time.monotonic())
