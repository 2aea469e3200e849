"""Threads that search beside the search: what they find is sound and heard, and they end when they are told to."""

from __future__ import annotations

import math
import threading
import time

import pytest
from small_problems import GRASS
from test_recreate import assert_feasible

from stockplan.bench.weeks import week, week_of
from stockplan.cutting.alongside import Alongside, Processor
from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.bounding import Beside
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.first_loads import Told
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.loads import EVER, newer, take_in
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.search import Search
from stockplan.cutting.seen import Seen, SeenLoad
from stockplan.cutting.solution import Prices, Solution, trimmed

PATIENCE = 30.0  # seconds
NAME = "search alongside"


def stated(seed: int) -> Instance:

    return build_instance(week("S", seed), GRASS)


def begun(instance: Instance) -> tuple[Recreate, Solution]:
    """Ruin and recreate after some steps, and its answer."""
    search = Recreate(instance, 1)
    return search, search.run(trimmed(instance, foreman_plan(instance)), 400, Budget(math.inf))


def loads_of(seen: Seen) -> dict[tuple[object, ...], SeenLoad]:
    seen.tell_again()
    return {(one.batch, one.load): one for one in seen.new_loads(Prices(), math.inf, 100_000)}


def alive() -> list[str]:
    return [thread.name for thread in threading.enumerate() if thread.name == NAME]


def wait_for_answers(one: Alongside, seen: Seen, count: int) -> list[Solution]:
    found: list[Solution] = []
    until = time.monotonic() + PATIENCE
    while len(found) < count and time.monotonic() < until:
        found += one.take(seen)
        time.sleep(0.02)
    assert len(found) >= count
    return found


# --- what was seen, told to another ----------------------------------------------------------------------------------


def test_what_was_seen_can_be_told_to_another_in_parts() -> None:
    instance = stated(1)
    search, best = begun(instance)
    first, since = newer(search.seen.loads, 0), int(search.seen.loads[EVER])
    search.run(best, 400, Budget(math.inf), 0.1)
    second = newer(search.seen.loads, since)
    other = Seen(search.flat)
    take_in(other.loads, second)
    assert 0 < len(loads_of(other)) < len(loads_of(search.seen))
    take_in(other.loads, first)
    take_in(other.purchases, newer(search.seen.purchases, 0))
    assert loads_of(other) == loads_of(search.seen)
    assert set(other.new_purchases(None, 0.0, 100_000)) == set(search.seen.new_purchases(None, 0.0, 100_000)) != set()
    noted = other.noted
    take_in(other.loads, newer(search.seen.loads, 0))
    assert other.noted == noted, "nothing is noted twice"


def test_of_a_load_seen_by_both_the_cheaper_way_is_kept() -> None:
    instance = stated(2)
    search, best = begun(instance)
    twin = search.twin(7)
    twin.run(best, 400, Budget(math.inf), 0.1)
    mine, others = loads_of(search.seen), loads_of(twin.seen)
    take_in(search.seen.loads, newer(twin.seen.loads, 0))
    both = loads_of(search.seen)
    assert set(both) == set(mine) | set(others)
    assert len(set(mine) & set(others)) > 10
    for key, one in both.items():
        assert one.cost == min(known[key].cost for known in (mine, others) if key in known)
        assert one.cost == sum(pattern.cost(instance) for pattern in one.patterns)


# --- the thread ------------------------------------------------------------------------------------------------------


def test_a_thread_finds_answers_and_tells_what_it_saw() -> None:
    instance = stated(1)
    search, best = begun(instance)
    before = len(loads_of(search.seen))
    one = Alongside(search, 5, 5_000, time.monotonic() + PATIENCE, lambda: best)
    found = wait_for_answers(one, search.seen, 3)
    one.end()
    assert alive() == []
    for answer in found:
        assert_feasible(instance, answer)
        assert answer.rank(instance) <= best.rank(instance)
    assert len(loads_of(search.seen)) > before


class Busy:
    """A processor in use until it is not."""

    def __init__(self) -> None:
        self.idle = threading.Event()

    def free(self, seconds: float) -> bool:
        return self.idle.wait(seconds)


def test_a_thread_waits_for_its_processor() -> None:
    processor = Busy()
    checked: Processor = processor
    search, best = begun(stated(4))
    one = Alongside(search, 5, 2_000, time.monotonic() + PATIENCE, lambda: best, checked)
    time.sleep(0.3)
    assert one.take(search.seen) == []
    processor.idle.set()
    assert wait_for_answers(one, search.seen, 1)
    one.end()


def test_a_thread_that_waits_in_vain_ends() -> None:
    search, best = begun(stated(4))
    one = Alongside(search, 5, 2_000, time.monotonic() + PATIENCE, lambda: best, Busy())
    began = time.monotonic()
    one.end()
    assert time.monotonic() - began < 2
    assert alive() == []


def test_a_fault_in_a_thread_is_heard() -> None:
    search, _ = begun(stated(4))

    def none_known() -> Solution:
        message = "no answer is known"
        raise LookupError(message)

    one = Alongside(search, 5, 2_000, time.monotonic() + PATIENCE, none_known)
    one.end()
    with pytest.raises(LookupError, match="no answer is known"):
        one.take(search.seen)


# --- the search with it ----------------------------------------------------------------------------------------------


class Bounded:
    """A bound that was worked out elsewhere, with processors left by it."""

    lost = False
    processors = 2

    def bound(self) -> float:
        return 1.0

    def found(self) -> tuple[list[BatchColumn], list[Pattern]]:
        return [], []

    def show(self, told: Told) -> None:
        self.told = told

    def free(self, seconds: float) -> bool:
        return seconds >= 0


@pytest.mark.parametrize("interrupted", [False, True])
def test_a_search_with_threads_obeys_clock_and_interrupt(*, interrupted: bool) -> None:
    instance = build_instance(week_of([12], 2), GRASS)
    seen_alive: list[str] = []
    heard: list[int] = []

    def stop() -> bool:
        seen_alive.extend(alive())
        return interrupted and bool(seen_alive)

    began = time.monotonic()
    budget = Budget(began + (PATIENCE if interrupted else 2.5), None, stop)

    class Listening(Search):
        def _hear_alongside(self) -> None:
            super()._hear_alongside()
            heard.append(len(self._alongside))

    bounded: Beside = Bounded()
    found = Listening(instance, 0, budget, lambda *_: None, None, bounded).run()
    assert time.monotonic() - began < (PATIENCE / 2 if interrupted else 5)
    assert alive() == []
    assert set(heard) == {2}, "what they found is heard, in the end too"
    assert_feasible(instance, found.best)
    assert found.best.rank(instance) <= found.foreman.rank(instance)
    assert budget.ended_by == ("interrupt" if interrupted else "clock")
