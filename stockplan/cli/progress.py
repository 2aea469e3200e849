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

SECONDS_BETWEEN_LINES = 10.0
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
def shown_progress() -> Iterator[Report]:
    """Show progress on standard error: one line that changes on a terminal, else a line every ten seconds."""
    if sys.stderr.isatty():
        from rich.console import Console  # noqa: PLC0415
        from rich.markup import escape  # noqa: PLC0415

        with Console(stderr=True).status("Planning; Ctrl-C takes the best plan so far") as status:
            yield lambda progress: status.update(escape(progress_words(progress)))
        return
    last = time.monotonic()

    def line_now_and_then(progress: Progress) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= SECONDS_BETWEEN_LINES:
            last = now
            print(progress_words(progress), file=sys.stderr, flush=True)

    yield line_now_and_then


@contextmanager
def interruptible() -> Iterator[Callable[[], bool]]:
    """Give a function that says whether Ctrl-C was pressed; pressed twice it ends the program with nothing stored."""
    pressed = False

    def press(_number: int, _frame: FrameType | None) -> None:
        nonlocal pressed
        if pressed:
            raise KeyboardInterrupt
        pressed = True
        # straight to the file: a handler may run in the middle of another print
        with suppress(BrokenPipeError):  # the same Ctrl-C may have ended whoever was reading
            os.write(2, b"\nTaking the best plan so far; Ctrl-C again to stop with nothing stored.\n")

    before = signal.signal(signal.SIGINT, press)
    try:
        yield lambda: pressed
    finally:
        signal.signal(signal.SIGINT, before)
