"""Making the planner ready for a machine: what is compiled is compiled before the clock of a first plan runs.

It is done in processes of their own, which leave what they compiled on disk: compiling cannot be asked to stop, but a
process can be ended, so that Ctrl-C is heard at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from stockplan.cutting.ready import bound_a_little, is_ready, made_with, mark_ready, place_of_mark, plan_a_little

if TYPE_CHECKING:
    from pathlib import Path

LISTENING_SECONDS = 0.05  # at a time


def make_ready(
    tell: Callable[[str], None],
    should_stop: Callable[[], bool] | None = None,
    work: Sequence[Callable[[], None]] = (plan_a_little, bound_a_little),
) -> None:
    """Have compiled what is not compiled yet; nothing where an earlier run did, or where nothing can be kept.

    Parameters
    ----------
    tell
        Told in a sentence what takes so long, and when it cannot be done.
    should_stop
        Asked now and then; once it answers True nothing more is compiled. Default: never.
    work
        What has to be done for it, each by another process, side by side.
    """
    mark = place_of_mark()
    if mark is None or is_ready(mark):
        return
    tell("The planner is made ready for this machine, once; that takes some 30 seconds.")
    _compile(mark, tell, should_stop or (lambda: False), work)


def _compile(
    mark: Path, tell: Callable[[str], None], should_stop: Callable[[], bool], work: Sequence[Callable[[], None]]
) -> None:
    from multiprocessing import get_context  # noqa: PLC0415  only here, once

    from stockplan.actions.processes import interrupts_held_back  # noqa: PLC0415

    context, made = get_context("spawn"), made_with()
    processes = [context.Process(target=part, daemon=True) for part in work]
    stopped = False
    try:
        with interrupts_held_back():
            for process in processes:
                process.start()
        while not stopped and (busy := [process for process in processes if process.is_alive()]):
            busy[0].join(LISTENING_SECONDS)
            stopped = should_stop()
    finally:
        for process in processes:
            if process.pid is not None:
                process.kill()
                process.join()
    if all(process.exitcode == 0 for process in processes):
        mark_ready(mark, made)
    elif not stopped:
        tell("That was of no avail; it is done while planning, which takes longer for now and hears Ctrl-C late.")
