"""Making the planner ready for a machine: what is compiled is compiled before the clock of a first plan runs.

It is done in a process of its own, which leaves what it compiled on disk: compiling cannot be asked to stop, but a
process can be ended, so that Ctrl-C is heard at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from stockplan.cutting.ready import is_ready, mark_ready, place_of_mark, plan_a_little

if TYPE_CHECKING:
    from pathlib import Path

LISTENING_SECONDS = 0.05  # at a time


def make_ready(
    tell: Callable[[str], None],
    should_stop: Callable[[], bool] | None = None,
    compile_all: Callable[[], None] = plan_a_little,
) -> None:
    """Have compiled what is not compiled yet; nothing where an earlier run did, or where nothing can be kept.

    Parameters
    ----------
    tell
        Told in a sentence what takes so long, and when it cannot be done.
    should_stop
        Asked now and then; once it answers True nothing more is compiled. Default: never.
    compile_all
        Does it; a function that another process can import.
    """
    mark = place_of_mark()
    if mark is None or is_ready(mark):
        return
    tell("The planner is made ready for this machine, once; that takes some 30 seconds.")
    _compile(mark, tell, should_stop or (lambda: False), compile_all)


def _compile(
    mark: Path, tell: Callable[[str], None], should_stop: Callable[[], bool], compile_all: Callable[[], None]
) -> None:
    from multiprocessing import get_context  # noqa: PLC0415  only here, once

    from stockplan.actions.processes import interrupts_held_back  # noqa: PLC0415

    process = get_context("spawn").Process(target=compile_all, daemon=True)
    try:
        with interrupts_held_back():
            process.start()
        while process.is_alive() and not should_stop():
            process.join(LISTENING_SECONDS)
    finally:
        stopped = process.is_alive()
        process.kill()
        process.join()
    if process.exitcode == 0:
        mark_ready(mark)
    elif not stopped:
        tell("That was of no avail; it is done while planning, which takes longer for now and hears Ctrl-C late.")
