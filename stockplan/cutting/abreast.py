"""The same work on many things, some of them at a time, each with its share of the clock.

Most of it is in compiled functions, which let other threads go on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from typing import TypeVar

from stockplan.cutting.budget import Budget

SECONDS_BETWEEN_LOOKS = 0.1  # at the budget of all
Thing = TypeVar("Thing")
Result = TypeVar("Result")


def abreast(
    work: Callable[[Thing, Budget], Result], things: Sequence[Thing], budget: Budget, spare: float, threads: int
) -> list[Result]:
    """What comes of the work on each, in order.

    Parameters
    ----------
    work
        Given one of them and a budget of its own, which may be over at once; what one thread does another may not undo.
    things
        Begun in this order.
    budget
        Work and clock of all.
    spare
        Seconds of the clock that none may use.
    threads
        How many are worked on at a time; at least 1.
    """
    ended = threading.Event()

    def one(number: int) -> tuple[Result, Budget]:
        until = budget.before(spare).part(min(1.0, threads / (len(things) - number)))
        until.should_stop = ended.is_set
        return work(things[number], until), until

    results: list[Result] = []
    with ThreadPoolExecutor(threads) as pool:
        try:
            waited_for = [pool.submit(one, number) for number in range(len(things))]
            while (state := wait(waited_for, SECONDS_BETWEEN_LOOKS)).not_done:
                if budget.over() or any(future.exception() for future in state.done):
                    ended.set()
            for future in waited_for:
                result, until = future.result()
                budget.absorb(until)
                results.append(result)
        finally:
            ended.set()
    return results
