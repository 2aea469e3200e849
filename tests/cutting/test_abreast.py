"""Work on several things at a time: all of it is done, in time, and a fault in it is heard."""

from __future__ import annotations

import threading
import time

import pytest

from stockplan.cutting.abreast import abreast
from stockplan.cutting.budget import Budget

LONG = 30.0  # seconds


def test_results_come_in_order_and_two_are_worked_on_at_a_time() -> None:
    together = threading.Barrier(2, timeout=LONG)

    def work(thing: int, until: Budget) -> int:
        together.wait()
        until.spend(thing)
        return 10 * thing

    budget = Budget(time.monotonic() + LONG)
    assert abreast(work, [1, 2, 3, 4], budget, 0.0, 2) == [10, 20, 30, 40]
    assert budget.work == 10
    assert abreast(work, [], budget, 0.0, 2) == []


def test_each_has_its_share_of_the_clock_less_what_is_spared() -> None:
    seconds = abreast(lambda _, until: until.seconds_left(), range(4), Budget(time.monotonic() + 12.0), 2.0, 1)
    assert seconds == pytest.approx([2.5, 10.0 / 3, 5.0, 10.0], abs=0.5)


@pytest.mark.parametrize("by_the_clock", [False, True])
def test_work_under_way_is_told_when_the_budget_of_all_is_over(*, by_the_clock: bool) -> None:
    asked_by: set[threading.Thread] = set()
    began = time.monotonic()

    def stop() -> bool:
        asked_by.add(threading.current_thread())
        return not by_the_clock and time.monotonic() > began + 0.3

    def work(_: int, until: Budget) -> bool:
        while not until.over():
            time.sleep(0.01)
        return True

    budget = Budget(began + (0.3 if by_the_clock else LONG), None, stop)
    assert abreast(work, range(5), budget, 0.0, 2) == [True] * 5
    assert time.monotonic() - began < LONG / 3
    assert asked_by <= {threading.main_thread()}, "what tells of the end is asked by one thread alone"


def test_a_fault_is_raised_and_the_others_are_told_to_end() -> None:
    def work(thing: int, until: Budget) -> None:
        if thing == 0:
            raise LookupError(thing)
        while not until.over():
            time.sleep(0.01)

    began = time.monotonic()
    with pytest.raises(LookupError):
        abreast(work, range(3), Budget(began + LONG), 0.0, 2)
    assert time.monotonic() - began < LONG / 3
