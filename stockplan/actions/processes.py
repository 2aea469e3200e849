"""Processes of this machine that plan products, each talked to through a pipe of its own.

Not a pool of the standard library: a pool is broken as a whole when one of its processes is killed, and takes what the
others have done with it. Here a dead process is the end of its own pipe, and another takes its place. Through the same
pipe comes the word to stop, and its end tells a process that whoever wanted a plan is gone.

A process never hears Ctrl-C itself: SIGINT is blocked while it is started, which it inherits.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from multiprocessing.resource_tracker import ensure_running
from typing import Self

from stockplan.actions.hands import Answer, Heard, Lost, now_and_then
from stockplan.cutting.parts import Part
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import Progress

STOP = "stop"
SECONDS_BETWEEN_LOOKS = 0.05  # for the word to stop
SECONDS_BETWEEN_BOUNDS = 0.1  # a bound alone is told no more often
SECONDS_TO_END = 2.0


@dataclass(slots=True)
class _Worker:
    """A process, our end of its pipe, and the product it plans."""

    process: SpawnProcess
    pipe: Connection
    product: str = ""


class Processes:
    """So many processes; see `stockplan.actions.hands.Hands`.

    Parameters
    ----------
    count
        How many; at least 1.
    """

    def __init__(self, count: int) -> None:
        self.count = count
        self._stopped = False
        self._workers: list[_Worker] = []

    def __enter__(self) -> Self:
        self._workers = [_started() for _ in range(self.count)]
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._workers:
            _end(worker)

    def give(self, worker: int, part: Part, deadline: float) -> None:
        """Give a process a part; one that has died meanwhile is noticed by `hear`."""
        self._workers[worker].product = part.product
        with suppress(OSError):
            self._workers[worker].pipe.send((part, deadline))

    def hear(self, seconds: float) -> Sequence[Heard]:
        """What the processes have told; a dead one is replaced."""
        told: list[Heard] = []
        ready = wait([worker.pipe for worker in self._workers if worker.product], seconds)
        for number, worker in enumerate(self._workers):
            if worker.pipe not in ready:
                continue
            try:
                heard = worker.pipe.recv()
            except (EOFError, OSError):  # the latter in the middle of a message
                told.append(self._replace(number))
                continue
            if isinstance(heard, ProductPlan):
                worker.product = ""
                told.append(Answer(heard))
            else:
                told.append(heard)
        return told

    def stop(self) -> None:
        """Pass the word on, to processes that take the place of others too."""
        self._stopped = True
        for worker in self._workers:
            _send_stop(worker)

    def _replace(self, number: int) -> Lost:
        dead = self._workers[number]
        dead.process.join(SECONDS_TO_END)  # one that ends by itself closes its pipe a little earlier
        _end(dead)
        self._workers[number] = _started()
        if self._stopped:
            _send_stop(self._workers[number])
        return Lost(dead.product, f"the process that planned it {_end_words(dead.process.exitcode)}", again=True)


def _send_stop(worker: _Worker) -> None:
    with suppress(OSError):
        worker.pipe.send(STOP)


def _end_words(exit_code: int | None) -> str:
    if exit_code is not None and exit_code < 0:
        return f"was ended from outside (signal {-exit_code})"
    return f"ended by itself with {exit_code}"


def _started() -> _Worker:
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs,), daemon=True)
    with interrupts_held_back():
        process.start()
    theirs.close()
    return _Worker(process, ours)


@contextmanager
def interrupts_held_back() -> Iterator[None]:
    """Hold Ctrl-C back until the block is done; what starts inside never hears it."""
    if not hasattr(signal, "pthread_sigmask"):  # on Windows
        yield
        return
    ensure_running()  # the first process would start it, which lets Ctrl-C through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end(worker: _Worker) -> None:
    worker.pipe.close()
    if worker.product:
        worker.process.terminate()
    worker.process.join(SECONDS_TO_END)
    if worker.process.is_alive():
        worker.process.kill()
        worker.process.join()


def _work(pipe: Connection) -> None:
    """Plan what comes through the pipe until it ends; what every process does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from stockplan.cutting.planner import plan_part  # noqa: PLC0415  it takes a while, in which parts may come

    stop = StopWord(pipe)
    with suppress(EOFError, OSError):  # whoever wanted a plan is gone
        while True:
            heard = pipe.recv()
            if heard == STOP:
                stop.heard = True
                continue
            part, deadline = heard
            pipe.send(plan_part(part, deadline, _telling(pipe), stop))


class StopWord:
    """Whether the word to stop has come, or the pipe has ended; looked for now and then."""

    def __init__(self, pipe: Connection) -> None:
        self.heard = False
        self._pipe, self._looked, self._one_at_a_time = pipe, 0.0, threading.Lock()

    def __call__(self) -> bool:
        """Look, if it is time to, and answer; any thread may ask."""
        with self._one_at_a_time:
            now = time.monotonic()
            if not self.heard and now - self._looked >= SECONDS_BETWEEN_LOOKS:
                self._looked = now
                try:
                    self.heard = self._pipe.poll() and self._pipe.recv() == STOP
                except (EOFError, OSError):
                    self.heard = True
            return self.heard


def _telling(pipe: Connection) -> Callable[[Progress], None]:
    def tell(progress: Progress) -> None:
        with suppress(OSError):  # the reader is gone, which the word to stop will tell
            pipe.send(progress)

    return now_and_then(tell, SECONDS_BETWEEN_BOUNDS)
