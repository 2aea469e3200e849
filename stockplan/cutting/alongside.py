"""Threads that search beside the search: ruin and recreate with chances of their own, on processors that are idle.

Compiled steps hold nothing up (`compiled.py`), so that a thread has a processor to itself without a process to start, a
problem to state again, or answers to send. It begins each cycle with the best answer there is and tells what it
found, and now and then what its batches were seen to serve; the programs over loads then use both. What comes when
depends on the clock, so there are none where work is limited.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Protocol

from stockplan.cutting.budget import Budget
from stockplan.cutting.flat import Numbers
from stockplan.cutting.loads import EVER, newer, take_in
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.seen import Seen
from stockplan.cutting.solution import Solution

SECONDS_BETWEEN = 1.0  # what was seen is told
LOOK_SECONDS = 0.1  # how soon the word to end is heard where a processor is waited for
HEATS = (0.1, 0.02)  # of cycles by turns
LEAST_SECONDS = 0.2  # a cycle is not begun with less left


class Processor(Protocol):
    """A processor that may be in use by something else."""

    def free(self, seconds: float) -> bool:
        """Whether nothing else uses it, waited for so many seconds at most; may be asked by any thread."""


class Alongside:
    """One such thread.

    Parameters
    ----------
    recreate
        Whose problem is searched; nothing that it changes is shared.
    seed
        Of this thread's choices.
    steps
        Of a cycle; fewer where the clock leaves no time for all, so that it cools down in time.
    deadline
        Clock reading (`time.monotonic`) after which nothing that is found helps.
    best
        Asked for the best answer there is.
    processor
        What it waits for; default None, it begins at once.
    """

    def __init__(
        self,
        recreate: Recreate,
        seed: int,
        steps: int,
        deadline: float,
        best: Callable[[], Solution],
        processor: Processor | None = None,
    ) -> None:
        self._recreate, self._steps, self._deadline = recreate.twin(seed), steps, deadline
        self._best, self._processor = best, processor
        self._ended = threading.Event()
        self._answers: deque[Solution] = deque()
        self._told: deque[tuple[Numbers, Numbers]] = deque()
        self._telling, self._since = 0.0, (0, 0)
        self._fault: BaseException | None = None
        self._thread = threading.Thread(target=self._run, daemon=True, name="search alongside")
        self._thread.start()

    def take(self, seen: Seen) -> list[Solution]:
        """The answers found since the last time; what was seen goes into what is given."""
        if self._fault is not None:
            raise self._fault
        while self._told:
            for log, told in zip((seen.loads, seen.purchases), self._told.popleft(), strict=True):
                take_in(log, told)
        return [self._answers.popleft() for _ in range(len(self._answers))]

    def end(self) -> None:
        """End the thread, within a fraction of a second."""
        self._ended.set()
        self._thread.join()

    def _run(self) -> None:
        try:
            while self._processor is not None and not self._processor.free(LOOK_SECONDS):
                if self._ended.is_set():
                    return
            self._search()
        except BaseException as fault:  # noqa: BLE001 - raised again where it can be heard
            self._fault = fault

    def _search(self) -> None:
        cycle, step_seconds = 0, 0.0
        while not self._ended.is_set() and (left := self._deadline - (began := time.monotonic())) > LEAST_SECONDS:
            steps = self._steps if step_seconds * self._steps <= left else max(1, int(left / step_seconds))
            until = Budget(self._deadline, None, self._between)
            found = self._recreate.run(self._best(), steps, until, HEATS[cycle % len(HEATS)])
            self._tell()
            self._answers.append(found)
            step_seconds = (time.monotonic() - began) / steps
            cycle += 1

    def _between(self) -> bool:
        """Asked between steps: whether to end. Tells what was seen, if it is time to."""
        if time.monotonic() >= self._telling:
            self._tell()
        return self._ended.is_set()

    def _tell(self) -> None:
        """Tell what was seen since the last time."""
        seen = self._recreate.seen
        self._told.append((newer(seen.loads, self._since[0]), newer(seen.purchases, self._since[1])))
        self._since = (int(seen.loads[EVER]), int(seen.purchases[EVER]))
        self._telling = time.monotonic() + SECONDS_BETWEEN
