"""What a round of programs over loads shows of what was seen: what is of use, once, and nothing it was told itself."""

from __future__ import annotations

import math
import time

from small_problems import GRASS

from stockplan.bench.weeks import week_of
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.first_loads import Told, loads_told
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.rounds import SHOWN_WITHIN, Rounds
from stockplan.cutting.solution import trimmed

STEPS, PATIENCE = 5_000, 600.0
INSTANCE = build_instance(week_of([8], 2), GRASS)
UNLIMITED = Budget(math.inf)


def shown_in_two_rounds() -> list[Told]:
    recreate, told = Recreate(INSTANCE, 1), list[Told]()
    rounds = Rounds(recreate, Budget(time.monotonic() + PATIENCE, 100_000), told.append)
    best = trimmed(INSTANCE, foreman_plan(INSTANCE))
    for heat in (0.1, 0.02):
        best = rounds.run(recreate.run(best, STEPS, UNLIMITED, heat))
    return told


def test_what_is_shown_is_cut_as_it_says_and_makes_the_relaxation_that_it_comes_from() -> None:
    first, _ = shown_in_two_rounds()
    assert len(first.loads) > 10
    for load in first.loads:
        assert load.cost == sum(pattern.cost(INSTANCE) for pattern in load.patterns)
        assert {pattern.source.batch for pattern in load.patterns} <= {load.batch}
    recombiner, best = loads_told(INSTANCE, [first])
    assert recombiner.relax(best)
    alone = loads_told(INSTANCE, [Told([], [], best)]).recombiner
    assert alone.relax(best)
    # Without loads it is the best answer's own.
    assert recombiner.master.value < alone.master.value * (1.0 - SHOWN_WITHIN)


def test_all_that_was_told_by_then_is_begun_with() -> None:
    first, second = shown_in_two_rounds()
    recombiner, best = loads_told(INSTANCE, [first, second])
    assert {load.key for load in (*first.loads, *second.loads)} <= {load.key for load in recombiner.master.columns()}
    assert best.rank(INSTANCE) == min(first.best.rank(INSTANCE), second.best.rank(INSTANCE))


def test_nothing_is_shown_twice_nor_to_those_it_was_learnt_from() -> None:
    first, second = shown_in_two_rounds()
    assert second.loads
    assert not set(first.loads) & set(second.loads)
    assert not set(first.bought) & set(second.bought)
    recreate, told = Recreate(INSTANCE, 1), list[Told]()
    rounds = Rounds(recreate, Budget(time.monotonic() + PATIENCE, 100_000), told.append)
    rounds.learn(first.loads, first.bought)
    rounds.run(recreate.run(trimmed(INSTANCE, foreman_plan(INSTANCE)), STEPS, UNLIMITED, 0.1))
    assert not set(told[0].loads) & set(first.loads)
    assert not set(told[0].bought) & set(first.bought)
