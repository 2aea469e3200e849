"""What this process has stored, so that whoever stops it is told the truth."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType


@dataclass(slots=True)
class Stored:
    """What has been stored since the command began.

    Parameters
    ----------
    anything
        Whether anything has.
    plan
        The number of the last plan that was; None when none was.
    """

    anything: bool = False
    plan: int | None = None

    def forget(self) -> None:
        """Begin anew, for the next command."""
        self.anything, self.plan = False, None


STORED = Stored()


@contextmanager
def storing(plan: int | None = None) -> Iterator[None]:
    """Let Ctrl-C wait until what the block stores is stored and remembered, or has failed.

    Parameters
    ----------
    plan
        The number of a plan that is stored by it; default none.
    """
    heard_here = threading.current_thread() is threading.main_thread()
    if not heard_here or signal.getsignal(signal.SIGINT) is None:  # None: not Python's to give back
        yield
        _remember(plan)
        return
    pressed = False

    def press(_number: int, _frame: FrameType | None) -> None:
        nonlocal pressed
        pressed = True

    before = signal.signal(signal.SIGINT, press)
    try:
        yield
        _remember(plan)
    finally:
        signal.signal(signal.SIGINT, before)
        if pressed:
            signal.raise_signal(signal.SIGINT)


def _remember(plan: int | None) -> None:
    STORED.anything = True
    if plan is not None:
        STORED.plan = plan
