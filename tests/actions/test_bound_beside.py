"""A bound worked out in another process while plans are looked for: true, told in time, and never waited for."""

from __future__ import annotations

import os
import signal
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from multiprocessing import Pipe
from random import Random

import pytest
from test_engines import alive

from stockplan.actions.bound_beside import BoundBeside, _Heard
from stockplan.actions.engines import OTHER_WAYS, WAYS_FOR_BOUND_BESIDE, planner_on, ways_to_lay
from stockplan.bench.lawns import lawns_for
from stockplan.bench.layouts import laid_out
from stockplan.bench.weeks import week, week_of
from stockplan.cutting.first_loads import Told
from stockplan.cutting.parts import Part, parts_of
from stockplan.cutting.planner import bound_part, plan_part
from stockplan.cutting.solution import Solution
from stockplan.domain.check import check
from stockplan.domain.plan import PlanStatus
from stockplan.domain.request import SearchLimits

REQUEST = week("M", 3)
PATIENCE = 60.0  # seconds


def part_of_thirty_jobs() -> Part:
    (part,) = parts_of(REQUEST, None, 0)
    return part


def wait_until(happened: Callable[[], bool]) -> bool:
    until = time.monotonic() + PATIENCE
    while not happened() and time.monotonic() < until:
        time.sleep(0.05)
    return happened()


def child_of(beside: BoundBeside) -> int:
    number = beside._process.pid
    assert number is not None
    return number


def test_the_bound_is_what_the_same_steps_tell_here() -> None:
    """A week of four jobs, whose relaxation both reach long before the clock."""
    (part,) = parts_of(week_of([4], 3), None, 0)
    told: list[float] = []
    bound_part(part, time.monotonic() + PATIENCE, told.append, lambda *_: None, lambda: False)
    # It waits a part of the clock for what a search has seen.
    with BoundBeside(part, time.monotonic() + PATIENCE / 3) as beside:
        assert wait_until(lambda: beside.bound() >= max(told))
        assert beside.bound() == max(told) > 0
        assert wait_until(lambda: (beside.bound(), beside._ended)[1])
        assert not beside.lost
        assert beside.free(PATIENCE), "its processor may be used for searching"
    assert not alive(child_of(beside))


def test_a_plan_takes_its_bound_from_beside() -> None:
    assert ways_to_lay(REQUEST) >= WAYS_FOR_BOUND_BESIDE
    plan = planner_on(2, print)(REQUEST, SearchLimits(8), None, None)
    (product,) = plan.products
    assert check(REQUEST, plan) == ()
    assert 0.5 * product.net_cost_pence < product.lower_bound_pence < product.net_cost_pence
    assert product.seconds < 10


@pytest.mark.slow
def test_the_search_works_the_bound_out_itself_when_the_process_is_killed() -> None:
    part = part_of_thirty_jobs()
    deadline = time.monotonic() + 10
    with BoundBeside(part, deadline) as beside:
        assert not beside.free(0)
        os.kill(child_of(beside), signal.SIGKILL)
        assert wait_until(lambda: (beside.bound(), beside.lost)[1])
        assert beside.free(0)
        plan = plan_part(part, deadline, None, None, beside)
    assert plan.lower_bound_pence > 0.5 * plan.net_cost_pence  # how near depends on the machine


def test_what_the_search_has_seen_is_heard_in_order_and_its_silence_too() -> None:
    """More of it than a pipe holds, and nobody asks meanwhile."""
    here, there = Pipe()
    heard = _Heard(there)
    told = [("a" * 1_000_000, number) for number in range(3)]
    for one in told:
        here.send(one)
    new: list[object] = []
    assert wait_until(lambda: new.extend(heard.new()) or len(new) == len(told))
    assert new == told
    assert not heard.gone
    here.close()
    assert wait_until(lambda: heard.gone)
    assert heard.new() == []


def test_a_process_that_is_gone_may_be_told_what_was_seen() -> None:
    with BoundBeside(part_of_thirty_jobs(), time.monotonic() + PATIENCE) as beside:
        os.kill(child_of(beside), signal.SIGKILL)
        assert beside.free(PATIENCE)
        beside.show(Told([], [], Solution(Counter(), {}, frozenset())))
        assert wait_until(lambda: (beside.bound(), beside.lost)[1])
        beside.show(Told([], [], Solution(Counter(), {}, frozenset())))


def interrupted(beside: BoundBeside) -> None:
    with beside:
        assert wait_until(lambda: beside.bound() > 0)
        raise KeyboardInterrupt


def test_whoever_leaves_takes_the_process_along() -> None:
    beside = BoundBeside(part_of_thirty_jobs(), time.monotonic() + PATIENCE)
    with pytest.raises(KeyboardInterrupt):
        interrupted(beside)
    assert not alive(child_of(beside))
    assert beside.bound() > 0


class Begun(Exception):
    """A process would have been begun."""


def test_a_few_lawns_that_may_be_laid_in_many_ways_have_their_bound_beside(monkeypatch: pytest.MonkeyPatch) -> None:
    def begin(*_: object) -> None:
        raise Begun

    monkeypatch.setattr("stockplan.actions.bound_beside.BoundBeside", begin)
    strips = replace(week("S", 1), jobs=week("S", 1).jobs[:2])
    lawns = laid_out(lawns_for(strips, Random(1)))
    few = replace(lawns, jobs=tuple(replace(job, layouts=job.layouts[:3]) for job in lawns.jobs))
    assert ways_to_lay(few) - 2 < OTHER_WAYS <= ways_to_lay(lawns) - 2
    assert ways_to_lay(lawns) < WAYS_FOR_BOUND_BESIDE
    with pytest.raises(Begun):
        planner_on(2, print)(lawns, SearchLimits(8), None, None)
    for request in (strips, few):
        assert check(request, planner_on(2, print)(request, SearchLimits(8), None, None)) == ()


def test_two_lawns_that_may_each_be_laid_in_eight_ways_are_proven() -> None:
    """All their sets of pieces are too many to list; batches that each serve a whole load prove them."""
    strips = replace(week("S", 1), jobs=week("S", 1).jobs[:2])
    lawns = laid_out(lawns_for(strips, Random(1)))
    plan = planner_on(2, print)(lawns, SearchLimits(PATIENCE), None, None)
    assert check(lawns, plan) == ()
    assert [product.status for product in plan.products] == [PlanStatus.OPTIMAL]


@pytest.mark.parametrize("limits", [SearchLimits(30, work=3), SearchLimits(1)])
def test_limited_work_and_little_time_need_no_process(limits: SearchLimits, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_process(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr("stockplan.actions.bound_beside.BoundBeside", no_process)
    request = replace(REQUEST, jobs=REQUEST.jobs[:WAYS_FOR_BOUND_BESIDE])
    assert check(request, planner_on(2, print)(request, limits, None, None)) == ()
