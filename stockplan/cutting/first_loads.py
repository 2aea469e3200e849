"""Loads for a bound over whole loads to begin with: those that a search tells of, or ruin and recreate and walks here.

A search beside has seen as good ones by the time they are wanted: gathered here as well they took a tenth of two
processors' time in a plan of 20 s.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from stockplan.cutting.batch_columns import BatchColumn, columns_of
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recombining import Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution

SEED = 1
STEPS, HEAT = 150_000, 0.05  # of ruin and recreate
WALKS, MOVES = 2, 60_000  # rounds of walks at the prices of what it saw, and moves in each
MOST_STARTS = 60
SMALLEST = 1e-6


class FirstLoads(NamedTuple):
    """The relaxation over loads seen, and the best answer met."""

    recombiner: Recombiner
    best: Solution


class Told(NamedTuple):
    """What a search tells: loads and cuts of what is bought that lose little, and its best answer."""

    loads: list[BatchColumn]
    bought: list[Pattern]
    best: Solution


Hear = Callable[[], Sequence[Told]]  # what was told since it was asked last


def loads_told(instance: Instance, told: Sequence[Told]) -> FirstLoads:
    """What a search has told of a problem, once at least, to begin with."""
    recombiner = Recombiner(instance, Recreate(instance, SEED, alone=True).seen)
    for loads, bought, _ in told:
        recombiner.master.add(loads, bought)
    return FirstLoads(recombiner, min((one.best for one in told), key=lambda answer: answer.rank(instance)))


def first_loads(instance: Instance, start: Solution, budget: Budget) -> FirstLoads:
    """Gather such loads.

    Parameters
    ----------
    instance
        The problem.
    start
        An answer.
    budget
        Work and clock.
    """
    recreate = Recreate(instance, SEED)
    recombiner, pricing = Recombiner(instance, recreate.seen), BatchPricing(recreate)
    found = recreate.run(start, STEPS, budget, HEAT)
    best = min(start, found, key=lambda answer: answer.rank(instance))
    for _ in range(WALKS):
        if budget.over() or not recombiner.relax(best):
            break
        starts = [*columns_of(instance, best), *recombiner.master.columns_within(SMALLEST, MOST_STARTS)]
        starts = list(dict.fromkeys(starts))
        pricing.run(starts, recombiner.master.job_prices(), MOVES // max(1, len(starts)), budget)
    return FirstLoads(recombiner, best)
