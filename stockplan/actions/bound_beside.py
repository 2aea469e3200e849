"""A process that works out a bound while this one looks for plans: one product keeps two processors busy.

It tells every better bound through a pipe, and what it found on the way that a plan may use, and is told what the
search has seen. When it is killed nothing is lost but what it did: the search then works the bound out itself. As soon
as it is gone a thread of the search has its processor.
"""

from __future__ import annotations

import threading
from collections import deque
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from typing import TYPE_CHECKING, Self

from stockplan.actions.processes import interrupts_held_back
from stockplan.cutting.parts import Part

if TYPE_CHECKING:
    from stockplan.cutting.batch_columns import BatchColumn
    from stockplan.cutting.first_loads import Told
    from stockplan.cutting.patterns import Pattern

SECONDS_TO_END = 2.0
SECONDS_EARLIER = 0.3  # than the plan, so that the last bound is told in time


class BoundBeside:
    """Such a process; see `stockplan.cutting.bounding.Beside`. As a context, at work inside and gone afterwards.

    Parameters
    ----------
    part
        What the plan depends on.
    deadline
        Clock reading (`time.monotonic`) at which the plan is to be made.
    processors
        How many there are beside this process's; default 1.
    """

    def __init__(self, part: Part, deadline: float, processors: int = 1) -> None:
        self.processors = processors
        context = get_context("spawn")
        self._pipe, self._theirs = context.Pipe()
        given = (self._theirs, part, deadline - SECONDS_EARLIER)
        self._process = context.Process(target=_work, args=given, daemon=True)
        self._best, self._ended, self.lost = 0.0, False, False
        self._found: tuple[list[BatchColumn], list[Pattern]] = [], []

    def __enter__(self) -> Self:
        with interrupts_held_back():
            self._process.start()
        self._theirs.close()
        return self

    def __exit__(self, *_: object) -> None:
        self._pipe.close()
        self._process.terminate()
        self._process.join(SECONDS_TO_END)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()

    def free(self, seconds: float) -> bool:
        """Whether the process is gone, waited for so many seconds at most."""
        return bool(wait([self._process.sentinel], seconds))

    def bound(self) -> float:
        """The best bound told so far, pence; 0 before the first."""
        self._hear()
        return self._best

    def found(self) -> tuple[list[BatchColumn], list[Pattern]]:
        """Loads and cuts of what is bought that were found on the way to it, and not told before."""
        self._hear()
        found, self._found = self._found, ([], [])
        return found

    def show(self, told: Told) -> None:
        """Take what the search has seen."""
        if not self._ended:
            with suppress(OSError):  # it is gone, which its silence will tell
                self._pipe.send(told)

    def _hear(self) -> None:
        """Take what was told since."""
        try:
            while not self._ended and self._pipe.poll():
                told = self._pipe.recv()
                self._ended = told is None
                if isinstance(told, tuple):
                    self._found[0].extend(told[0])
                    self._found[1].extend(told[1])
                else:
                    self._best = max(self._best, told or 0.0)
        except (EOFError, OSError):  # the latter in the middle of a message
            self._ended = self.lost = True


class _Heard:
    """What the search says, taken from the pipe at once, so that neither ever waits for the other to listen.

    Attributes
    ----------
    gone
        Whether nobody will say anything any more.
    """

    def __init__(self, pipe: Connection) -> None:
        self.gone = False
        self._pipe = pipe
        self._told: deque[Told] = deque()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        try:
            while True:
                self._told.append(self._pipe.recv())
        except (EOFError, OSError):
            pass  # whoever wanted the bound has it, or is gone
        finally:
            self.gone = True

    def new(self) -> list[Told]:
        """What was told since this was asked last."""
        return [self._told.popleft() for _ in range(len(self._told))]


def _work(pipe: Connection, part: Part, deadline: float) -> None:
    """Tell every better bound and what else may be of use, and None in the end."""
    from stockplan.cutting.planner import bound_part  # noqa: PLC0415  it takes a while

    best, heard = 0.0, _Heard(pipe)

    def tell(bound: float) -> None:
        nonlocal best
        if bound > best:
            best = bound
            pipe.send(bound)

    with suppress(OSError):  # whoever wanted it is gone
        bound_part(part, deadline, tell, lambda *found: pipe.send(found), lambda: heard.gone, heard.new)
        pipe.send(None)
