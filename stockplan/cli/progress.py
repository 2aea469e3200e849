"""Telling how far the search is, and letting Ctrl-C end it with the best plan so far."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType

from stockplan.domain.request import Progress
from stockplan.domain.units import money
from stockplan.store.stored import STORED

SECONDS_BETWEEN_LINES = 10.0
MOST_LINES = 8  # that change in place
Report = Callable[[Progress], None]


def progress_words(progress: Progress) -> str:
    """Say in one line what the search knows."""
    parts = [f"{progress.product}: {progress.phase}"]
    best, bound = progress.best_pence, progress.bound_pence
    if best is not None:
        parts.append(f"best {money(best)}")
    if bound is not None:
        parts.append(f"at least {money(bound)}")
    if best is not None and bound is not None and best > 0:
        parts.append(f"gap {(best - bound) / best:.2%}")
    return f"{', '.join(parts)} ({progress.seconds:.0f} s)"


@contextmanager
def shown_progress(at_first: str = "") -> Iterator[Report]:
    """Show progress on standard error, a line for each product that is planned at the time.

    On a terminal the lines change in place, else those with news are written every ten seconds.

    Parameters
    ----------
    at_first
        What stands on a terminal before anything is told; default nothing does.
    """
    if sys.stderr.isatty():
        from rich.console import Console  # noqa: PLC0415
        from rich.markup import escape  # noqa: PLC0415

        news = News()
        status = Console(stderr=True).status(at_first)
        if at_first:
            status.start()

        def change_in_place(progress: Progress) -> None:
            status.update(escape("\n".join(map(progress_words, news.latest(progress)))))
            status.start()  # nothing where it has begun

        try:
            yield change_in_place
        finally:
            status.stop()
        return
    last = time.monotonic()
    since: dict[str, Progress] = {}

    def lines_now_and_then(progress: Progress) -> None:
        nonlocal last
        now = time.monotonic()
        since[progress.product] = progress
        if now - last >= SECONDS_BETWEEN_LINES:
            last = now
            for told in since.values():
                print(progress_words(told), file=sys.stderr, flush=True)
            since.clear()

    yield lines_now_and_then


class News:
    """What was told last of each product, of a few products at most."""

    def __init__(self) -> None:
        self._told: dict[str, Progress] = {}

    def latest(self, progress: Progress) -> list[Progress]:
        """Take news; give the last news of the products that were told of last, in order of product."""
        self._told.pop(progress.product, None)
        self._told[progress.product] = progress
        return sorted(list(self._told.values())[-MOST_LINES:], key=lambda told: told.product)


@contextmanager
def interruptible(taken: str = "the best plan so far") -> Iterator[Callable[[], bool]]:
    """Say by a function whether Ctrl-C was pressed; pressed again, or once a plan is stored, it ends the program.

    Parameters
    ----------
    taken
        What the first Ctrl-C takes, in words.
    """
    pressed = False
    told = f"\nTaking {taken}; Ctrl-C again to stop without it.\n".encode()

    def press(_number: int, _frame: FrameType | None) -> None:
        nonlocal pressed
        if pressed or STORED.plan is not None:
            raise KeyboardInterrupt
        pressed = True
        # straight to the file: a handler may run in the middle of another print
        with suppress(BrokenPipeError):  # the same Ctrl-C may have ended whoever was reading
            os.write(2, told)

    before = signal.signal(signal.SIGINT, press)
    try:
        yield lambda: pressed
    finally:
        signal.signal(signal.SIGINT, before)
