"""A Dask cluster that plans products: its scheduler is there already, its workers have this very program.

A part goes to whichever worker is idle. Dask itself begins a part anew elsewhere when its worker is gone, and gives up
after some such times (its setting `distributed.scheduler.allowed-failures`); then, or when the scheduler is gone, the
part is lost to us. The same plan as on one machine needs the same program: before anything is sent, every worker is
asked what it runs.

Whoever reaches a Dask scheduler can run any code on its workers: it belongs inside a network one trusts, or behind TLS
as Dask's own settings describe.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from queue import Empty, SimpleQueue
from typing import Any, Self
from uuid import uuid4

from stockplan.actions.cluster_ready import make_workers_ready, sent
from stockplan.actions.hands import Answer, Heard, Lost, Renewed, now_and_then
from stockplan.cutting.parts import Part
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import Progress
from stockplan.errors import StockplanError

SECONDS_TO_CONNECT = 10
SECONDS_TO_COME_BACK = 10.0  # a cluster without scheduler or workers for longer counts as gone
SECONDS_BETWEEN_LOOKS = 0.5  # for the word to stop, and for workers; each is a question to the scheduler
SECONDS_BETWEEN_BOUNDS = 0.5
COUNTED_IN = ("ortools", "numpy")  # libraries on whose version a plan may depend
ROOMS = ("cutting", "domain")  # whose code a plan depends on
DONE, TOLD, GONE = "done", "told", "gone"  # what lies in the queue
BEGUN = "begun"  # the first phase a worker tells of


class Cluster:
    """The workers of a cluster; see `stockplan.actions.hands.Hands`.

    Parameters
    ----------
    address
        Of the scheduler.
    tell
        Told in a sentence where machines of the cluster must be made ready first; default nobody is.

    Raises
    ------
    StockplanError
        On entering: when Dask is not installed, nobody answers at the address, or workers run something else.
    """

    def __init__(self, address: str, tell: Callable[[str], None] = lambda _: None) -> None:
        self.count = 0
        self._address, self._tell = address, tell
        self._name = f"stockplan-{uuid4().hex}"
        self._heard: SimpleQueue[tuple[str, Any]] = SimpleQueue()
        self._futures: dict[str, Any] = {}
        self._begun: set[str] = set()
        self._gone = False
        self._looked = 0.0
        self._alone_since: float | None = None

    def __enter__(self) -> Self:
        try:
            from distributed import Client, Event  # noqa: PLC0415
        except ImportError as error:
            raise StockplanError(
                "planning on a cluster needs Dask; install it with: pip install 'stockplan[engine]'"
            ) from error
        for name in logging.root.manager.loggerDict:
            if name.partition(".")[0] == "distributed":  # what matters is told in our own words
                logging.getLogger(name).setLevel(logging.CRITICAL)
        _knock(self._address)
        self._client = Client(self._address, timeout=SECONDS_TO_CONNECT, set_as_default=False)
        try:
            self.count = len(self._sound_workers())
            make_workers_ready(self._client, self._tell)
        except OSError as error:
            self._close()
            raise StockplanError(f"the cluster at {self._address} does not answer any more: {error}") from error
        except BaseException:
            self._close()
            raise
        self._stop = Event(self._name, client=self._client)
        self._client.subscribe_topic(self._name, lambda event: self._heard.put((TOLD, event[1])))
        return self

    def __exit__(self, *_: object) -> None:
        if self._futures:
            self.stop()
        self._close()

    def _close(self) -> None:
        with suppress(OSError):  # it may be the connection that is gone
            self._client.close(timeout=2)

    def _sound_workers(self) -> list[str]:
        """Addresses of the workers, all of which run what we run."""
        answers = self._client.run(_asking(COUNTED_IN, ROOMS), on_error="return")
        if not answers:
            raise StockplanError(f"the cluster at {self._address} has no workers; start some with: dask worker")
        ours = _asking(COUNTED_IN, ROOMS)()
        faults = [fault for worker, answer in answers.items() if (fault := difference(worker, answer, ours))]
        if faults:
            raise StockplanError("\n".join([*faults, "a cluster must run the same program as this machine"]))
        return list(answers)

    def give(self, worker: int, part: Part, deadline: float) -> None:
        """Hand a part to the cluster; which of its workers plans it is the scheduler's choice."""
        product, seconds = part.product, deadline - time.monotonic()
        if self._gone or self._client.status != "running":
            self._heard.put((GONE, product))
            return
        key = f"stockplan-{product}-{uuid4().hex}"
        future = self._client.submit(sent(plan_there, part, seconds, self._name), key=key, pure=False)
        self._futures[product] = future
        future.add_done_callback(lambda _: self._heard.put((DONE, (product, future))))

    def hear(self, seconds: float) -> Sequence[Heard]:
        """What the workers have told."""
        if lost := self._lost_for_good():
            return lost
        try:
            kind, heard = self._heard.get(timeout=seconds)
        except Empty:
            return ()
        if kind == GONE:
            return [Lost(heard, "the cluster no longer answers", again=False)]
        if kind == DONE:
            product, future = heard
            return [self._outcome(product, future)] if self._futures.get(product) is future else ()
        product, phase, best, bound, passed = heard
        if phase == BEGUN:
            again = product in self._begun
            self._begun.add(product)
            return [Renewed(product, "the worker that planned it is gone")] if again else ()
        return [Progress(product, phase, best, bound, passed)]

    def stop(self) -> None:
        """Pass the word on."""
        if self._client.status == "running":
            with suppress(OSError):
                self._stop.set()

    def _outcome(self, product: str, future: Any) -> Answer | Lost:
        del self._futures[product]
        try:
            if future.status == "finished":
                plan = future.result()
                assert isinstance(plan, ProductPlan)
                return Answer(plan)
            if future.status == "error":
                error = future.exception()
                return Lost(product, f"the cluster gave it up ({type(error).__name__})", again=False)
        except (OSError, CancelledError, asyncio.CancelledError):  # gone while the answer was on its way
            pass
        return Lost(product, "the cluster has lost it", again=False)

    def _lost_for_good(self) -> list[Heard]:
        """All that is in work, once there has been nobody to do it for too long."""
        now = time.monotonic()
        if now - self._looked < SECONDS_BETWEEN_LOOKS:
            return []
        self._looked = now
        if self._anybody():
            self._alone_since = None
            return []
        self._alone_since = self._alone_since or now
        if now - self._alone_since < SECONDS_TO_COME_BACK:
            return []
        self._gone = True
        lost: list[Heard] = [Lost(product, "the cluster no longer answers", again=False) for product in self._futures]
        self._futures.clear()
        return lost

    def _anybody(self) -> bool:
        """Whether there is a scheduler, and a worker."""
        if self._client.status != "running":
            return False
        try:
            return bool(self._client.nthreads())
        except OSError:
            return False


def _knock(address: str) -> None:
    """Make sure that a scheduler answers; a client that finds none takes long to give up, and is loud about it."""
    from distributed import rpc  # noqa: PLC0415
    from distributed.security import Security  # noqa: PLC0415

    async def ask() -> str:
        async with rpc(address, timeout=SECONDS_TO_CONNECT, connection_args=security) as scheduler:
            return str((await asyncio.wait_for(scheduler.identity(), SECONDS_TO_CONNECT))["type"])

    try:
        security = Security().get_connection_args("client")
        found = asyncio.run(ask())
    except (OSError, ValueError, TypeError) as error:
        found = "nothing"
        reason: Exception | None = error
    else:
        reason = None
    if found != "Scheduler":
        raise StockplanError(
            f"no Dask scheduler answers at {address!r}; give the address it told when it was started, such as "
            "tcp://planner:8786, or leave --engine out to plan on this machine"
        ) from reason


def _asking(libraries: Sequence[str], rooms: Sequence[str]) -> Callable[[], dict[str, str]]:
    """What tells of the program that it is the same; sent as code, since a worker may have none of it.

    A worker that has loaded the program goes on with it whatever is installed since: what it found last before counts.
    """

    def facts() -> dict[str, str]:
        import sys  # noqa: PLC0415
        from hashlib import sha256  # noqa: PLC0415
        from importlib.metadata import version  # noqa: PLC0415
        from importlib.util import find_spec  # noqa: PLC0415
        from pathlib import Path  # noqa: PLC0415

        found = find_spec("stockplan")
        if found is None or found.origin is None:
            return {}
        digest = sha256()
        for room in rooms:
            for file in sorted((Path(found.origin).parent / room).glob("*.py")):
                digest.update(file.read_bytes())
        kept = vars(sys)
        if "stockplan.cutting" not in sys.modules or "stockplan_loaded" not in kept:
            kept["stockplan_loaded"] = digest.hexdigest()
        return {"code": kept["stockplan_loaded"], **{name: version(name) for name in ("stockplan", *libraries)}}

    return facts


def difference(worker: str, theirs: object, ours: dict[str, str]) -> str | None:
    """What keeps a worker from planning as we do, in a sentence; None when nothing does."""
    if isinstance(theirs, BaseException):
        return f"worker {worker} cannot say what it runs: {theirs}"
    if not theirs:
        return f"worker {worker} has no stockplan; install it there"
    assert isinstance(theirs, dict)
    different = [name for name in ours if name != "code" and theirs[name] != ours[name]]
    if different:
        return f"worker {worker} has {', '.join(f'{name} {theirs[name]}, not {ours[name]}' for name in different)}"
    if theirs["code"] == ours["code"]:
        return None
    return f"worker {worker} has other code of stockplan {ours['stockplan']}; install the same there and restart it"


def plan_there(part: Part, seconds: float, name: str) -> ProductPlan:
    """Plan a part on a worker.

    Parameters
    ----------
    part
        What to plan.
    seconds
        How long it may take.
    name
        Of the topic that is told how far it is, and of the event that is the word to stop.
    """
    from distributed import Event, get_client, get_worker  # noqa: PLC0415

    from stockplan.cutting.planner import plan_part  # noqa: PLC0415

    deadline = time.monotonic() + seconds
    worker, event = get_worker(), Event(name, client=get_client())
    stopped, over = threading.Event(), threading.Event()

    def look() -> None:
        # beside the search, which a scheduler that does not answer must not hold up
        while not over.wait(SECONDS_BETWEEN_LOOKS):
            with suppress(OSError):
                if event.is_set():
                    stopped.set()
                    return

    def tell(progress: Progress) -> None:
        told = (progress.product, progress.phase, progress.best_pence, progress.bound_pence, progress.seconds)
        worker.log_event(name, told)

    tell(Progress(part.product, BEGUN, None, None, 0.0))
    threading.Thread(target=look, daemon=True).start()
    try:
        return plan_part(part, deadline, now_and_then(tell, SECONDS_BETWEEN_BOUNDS), stopped.is_set)
    finally:
        over.set()
