"""Products planned side by side: the same plan wherever they are planned, whatever happens to those who plan."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from types import TracebackType

import pytest

from stockplan.actions.engines import planner_on
from stockplan.actions.hands import Answer, Heard, Lost, Renewed, now_and_then
from stockplan.actions.processes import Processes
from stockplan.actions.side_by_side import plan_products
from stockplan.bench.weeks import week_of
from stockplan.cutting import plan_cuts
from stockplan.cutting.parts import Part
from stockplan.cutting.planner import plan_part
from stockplan.domain.check import check
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest, Progress, SearchLimits

REQUEST = week_of([3, 2, 2], 3)
BY_WORK = SearchLimits(seconds=60, work=2)


def timeless(plan: Plan) -> Plan:
    return replace(plan, products=tuple(replace(one, seconds=0.0) for one in plan.products))


@cache
def planned_here() -> Plan:
    return timeless(plan_cuts(REQUEST, BY_WORK))


class Script:
    """Workers in this process that lose what a script says, the first times it is given to them."""

    def __init__(self, count: int, losses: Sequence[Lost] = (), renewed: Sequence[str] = ()) -> None:
        self.count = count
        self.losses = list(losses)
        self.renewed = list(renewed)
        self.given: list[tuple[int, str]] = []
        self.in_work: list[Part] = []
        self.most_at_once = 0
        self.stopped = self.closed = False

    def __enter__(self) -> Script:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self.closed = True

    def give(self, worker: int, part: Part, deadline: float) -> None:
        assert deadline > time.monotonic()
        self.given.append((worker, part.product))
        self.in_work.append(part)
        self.most_at_once = max(self.most_at_once, len(self.in_work))

    def hear(self, seconds: float) -> Sequence[Heard]:
        part = self.in_work[0]
        if part.product in self.renewed:
            self.renewed.remove(part.product)
            return [Renewed(part.product, "its worker went")]
        self.in_work.pop(0)
        for lost in self.losses:
            if lost.product == part.product:
                self.losses.remove(lost)
                return [lost]
        told = Progress(part.product, "improving", 100, None, 0.0)
        return [told, Answer(plan_part(part, time.monotonic() + seconds, should_stop=lambda: True))]

    def stop(self) -> None:
        self.stopped = True


def scripted(script: Script, limits: SearchLimits = BY_WORK, **more: Callable[..., object]) -> tuple[Plan, list[str]]:
    told: list[str] = []
    plan = plan_products(REQUEST, limits, script, told.append, **more)  # type: ignore[arg-type]
    assert script.closed
    assert check(REQUEST, plan) == ()
    assert [one.product for one in plan.products] == sorted({job.product for job in REQUEST.jobs})
    return plan, told


def test_no_more_are_in_work_than_there_are_workers_and_each_once() -> None:
    script = Script(2)
    heard: list[Progress] = []
    _, told = scripted(script, progress=heard.append)
    assert told == []
    assert script.most_at_once == 2
    assert sorted(product for _, product in script.given) == sorted({job.product for job in REQUEST.jobs})
    assert {one.product for one in heard if one.phase == "improving"} == {job.product for job in REQUEST.jobs}


def test_a_product_lost_once_is_given_again_and_lost_twice_is_planned_here() -> None:
    script = Script(2, [Lost("G30", "it ended", again=True)])
    _, told = scripted(script)
    assert [product for _, product in script.given].count("G30") == 2
    assert len(told) == 1
    assert told == ["G30: it ended; it is planned again, which takes as much work again."]
    script = Script(2, [Lost("G30", "it ended", again=True)] * 2)
    _, told = scripted(script)
    assert [product for _, product in script.given].count("G30") == 2
    assert "planned again in this process" in told[1]


def test_how_long_a_product_takes_again_is_told_in_seconds_where_only_they_limit_it() -> None:
    _, told = scripted(Script(3, [Lost("G30", "it ended", again=True)]), SearchLimits(seconds=60))
    assert told[0].startswith("G30: it ended; it is planned again, which takes up to ")
    assert told[0].endswith(" s more.")


def test_a_cluster_that_is_gone_leaves_all_to_this_process() -> None:
    products = sorted({job.product for job in REQUEST.jobs})
    script = Script(3, [Lost(product, "gone", again=False) for product in products])
    plan, told = scripted(script)
    assert len(told) == 3
    assert timeless(plan) == planned_here()


def test_what_another_worker_has_begun_by_itself_is_only_told() -> None:
    script = Script(1, renewed=["G40"])
    _, told = scripted(script)
    assert len(script.given) == 3
    assert told[0].startswith("G40: its worker went; it is planned again")


def test_told_to_stop_all_are_told() -> None:
    script = Script(2)
    scripted(script, should_stop=lambda: True)
    assert script.stopped


@pytest.mark.parametrize(
    ("request_", "limits", "workers"),
    [
        (week_of([13], 1), SearchLimits(seconds=60, work=1), 2),  # one product
        (week_of([2, 2], 1), SearchLimits(seconds=60, work=1), 2),  # few jobs
        (week_of([7, 6], 1), SearchLimits(seconds=2, work=1), 2),  # little time
        (week_of([7, 6], 1), SearchLimits(seconds=60, work=1), 1),  # as asked
    ],
)
def test_nothing_is_started_where_that_would_take_longer(
    request_: PlanRequest, limits: SearchLimits, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(_: int) -> Processes:
        raise AssertionError("a process would be started")

    monkeypatch.setattr("stockplan.actions.processes.Processes", none)
    assert check(request_, planner_on(workers, print)(request_, limits, None, None)) == ()


def test_a_better_plan_or_another_phase_is_told_at_once_and_a_bound_now_and_then() -> None:
    told: list[Progress] = []
    hear = now_and_then(told.append, 60.0)
    first = Progress("G30", "bound", 100, 1, 0.0)
    for one in (first, replace(first, bound_pence=2), replace(first, best_pence=99), replace(first, phase="improving")):
        hear(one)
    assert [(one.phase, one.best_pence, one.bound_pence) for one in told] == [
        ("bound", 100, 1), ("bound", 99, 1), ("improving", 100, 1),
    ]  # fmt: skip


# --- real processes ---------------------------------------------------------------------------------------------------


class Watched(Processes):
    """Processes whose ids are known, one of which may be killed at the first word of a product."""

    def __init__(self, count: int, kill_at: str = "") -> None:
        super().__init__(count)
        self.kill_at = kill_at
        self.ids: list[int] = []

    def hear(self, seconds: float) -> Sequence[Heard]:
        heard = super().hear(seconds)
        self.ids = [worker.process.pid or 0 for worker in self._workers]
        for told in heard:
            if isinstance(told, Progress) and told.product == self.kill_at:
                self.kill_at = ""
                (worker,) = (one for one in self._workers if one.product == told.product)
                worker.process.kill()
        return heard


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_two_processes_make_the_same_plan_though_one_is_killed() -> None:
    told: list[str] = []
    hands = Watched(2, kill_at="G40")
    plan = plan_products(REQUEST, BY_WORK, hands, told.append)
    assert timeless(plan) == planned_here()
    assert len(told) == 1
    assert told[0].startswith("G40: the process that planned it was ended from outside (signal 9); it is planned again")
    assert not any(map(alive, hands.ids))


def test_told_to_stop_every_product_has_the_best_plan_so_far() -> None:
    request = week_of([12, 10], 1)
    heard: list[Progress] = []
    improved: dict[str, int] = {}

    def hear(progress: Progress) -> None:
        heard.append(progress)
        if progress.phase != "first plan" and progress.best_pence is not None:
            improved[progress.product] = progress.best_pence

    plan = plan_products(request, SearchLimits(seconds=60), Watched(2), print, hear, lambda: len(improved) == 2)
    assert check(request, plan) == ()
    assert {one.ended_by for one in plan.products} == {"interrupt"}
    assert all(one.net_cost_pence <= improved[one.product] for one in plan.products)


# Twice, since the first process that a program starts has another one started first.
DEAF = """
import signal, time
from multiprocessing import get_context
from stockplan.actions.processes import interrupts_held_back

for _ in range(2):
    process = get_context("spawn").Process(target=time.sleep, args=(0,), daemon=True)
    with interrupts_held_back():
        process.start()
        print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()))
    process.join()
    print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
def test_no_process_hears_an_interrupt_while_it_starts() -> None:
    told = subprocess.run([sys.executable, "-c", DEAF], capture_output=True, text=True, check=True, timeout=60)
    assert told.stdout.split() == ["True", "False"] * 2


ORPHANS = """
import sys
from stockplan.actions.side_by_side import plan_products
from stockplan.actions.processes import Processes
from stockplan.bench.weeks import week_of
from stockplan.domain.request import SearchLimits

class Told(Processes):
    def __enter__(self):
        super().__enter__()
        print(*[worker.process.pid for worker in self._workers], flush=True)
        return self

plan_products(week_of([30, 25], 1), SearchLimits(seconds=120), Told(2), print)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
def test_processes_end_when_whoever_started_them_is_killed() -> None:
    child = subprocess.Popen([sys.executable, "-c", ORPHANS], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    workers = [int(one) for one in child.stdout.readline().split()]
    assert len(workers) == 2
    time.sleep(1.5)  # by then they plan
    child.send_signal(signal.SIGKILL)
    child.communicate(timeout=30)
    ends = time.monotonic() + 20
    while any(map(running, workers)) and time.monotonic() < ends:
        time.sleep(0.1)
    assert not any(map(running, workers))


def running(process: int) -> bool:
    """Whether a process is there and has not ended; one that nobody waits for may be there ended."""
    if not alive(process):
        return False
    try:
        with open(f"/proc/{process}/stat", encoding="ascii") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return alive(process)
