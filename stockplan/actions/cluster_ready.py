"""Machines of a cluster made ready for the planner before the clock of a plan runs; this one is by `making_ready.py`.

A worker may be a process that must have no others beneath it, so what is compiled there is compiled in the worker.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, TypeVar
from uuid import uuid4

from stockplan.cutting.ready import is_ready, made_with, mark_ready, place_of_mark, plan_a_little

Result = TypeVar("Result")
LISTENING_SECONDS = 0.2
MOST_SECONDS = 300.0  # what is not done by then is done while planning


def make_workers_ready(
    client: Any, tell: Callable[[str], None], work: Sequence[Callable[[], None]] = (plan_a_little,)
) -> None:
    """Have compiled what is not compiled yet, on every machine by one of its workers; nothing where all are ready.

    Parameters
    ----------
    client
        Of a cluster whose workers run this program.
    tell
        Told in a sentence what takes so long.
    work
        What has to be done for it, one after another.
    """
    places = client.run(_not_ready, on_error="ignore")
    chosen = {place: worker for worker, place in places.items() if place}
    if not chosen:
        return
    machines = "1 machine of the cluster is" if len(chosen) == 1 else f"{len(chosen)} machines of the cluster are"
    tell(f"{machines} made ready for the planner, once; that takes a minute or so.")
    given = {
        worker: client.submit(
            sent(make_ready_there, tuple(work)), workers=[worker], key=f"ready-{uuid4().hex}", pure=False
        )
        for worker in chosen.values()
    }
    deadline = time.monotonic() + MOST_SECONDS
    with suppress(OSError):  # whoever plans will notice that the cluster is gone
        while time.monotonic() < deadline and client.status == "running":
            there = client.nthreads()
            if all(future.done() or worker not in there for worker, future in given.items()):
                return
            time.sleep(LISTENING_SECONDS)


def _not_ready() -> str:
    """Which machine a worker is on, and where its mark lies, if that is not there yet; else nothing."""
    from socket import gethostname  # noqa: PLC0415  only on workers

    mark = place_of_mark()
    return "" if mark is None or is_ready(mark) else f"{gethostname()}:{mark}"


def make_ready_there(work: Sequence[Callable[[], None]]) -> None:
    """Do what has to be done on a machine, and leave the mark."""
    made, mark = made_with(), place_of_mark()
    for part in work:
        part()
    if mark is not None:
        mark_ready(mark, made)


def sent(function: Callable[..., Result], *arguments: Any) -> Callable[[], Result]:
    """A function with its arguments as code and bytes that anybody can take apart.

    A scheduler does take apart what it passes on, and may have Dask alone; only workers need this program.

    Parameters
    ----------
    function
        Found by its name on workers.
    arguments
        What it is given.
    """
    given = pickle.dumps((function, arguments))

    def there() -> Result:
        import pickle  # noqa: PLC0415  what is sent as code brings no imports with it

        called, with_these = pickle.loads(given)
        found: Result = called(*with_these)
        return found

    return there
