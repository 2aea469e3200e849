"""Ruin and recreate: answers stay feasible, and no account that it keeps goes astray."""

from __future__ import annotations

import math
import time
from collections import Counter
from dataclasses import replace
from itertools import product
from random import Random

import pytest
from small_problems import GRASS, cut_lengths, item, job, problem, rolls
from test_brute_force import random_request
from test_brute_force_layouts import layout

from stockplan.bench.weeks import week
from stockplan.cutting.batch_columns import columns_of
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.flat import CLASS
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.memory import (
    B_NOW,
    B_STANDS,
    BATCH_SIZE,
    BATCHES_AT,
    BEST_COST,
    COSTS,
    FOCUS_AT,
    FREE,
    FREE_AT,
    P_COST,
    P_LIST,
    P_ROWS,
    P_WHOLE,
    TRIALS,
)
from stockplan.cutting.piles import gain
from stockplan.cutting.places import cheapest_place
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.rows import COST, HEAD, SIZE, SOURCE
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.jobs import BatchRule, Job


def assert_feasible(instance: Instance, answer: Solution) -> None:
    """Copies suffice, every source makes what is cut from it, every unit has one batch, demand is met."""
    for source in {pattern.source for pattern in answer.patterns}:
        used = sum(count for pattern, count in answer.patterns.items() if pattern.source == source)
        assert source.copies is None or used <= source.copies
    made = dict.fromkeys(instance.piece_types(), 0)
    for pattern, count in answer.patterns.items():
        for piece, number in pattern.made().items():
            assert pattern.source.makes(piece)
            made[piece] += count * number
    assert all(made[piece] >= count for piece, count in answer.demand(instance).items())
    for number, group in enumerate(instance.groups):
        units = sum(n for (g, _), n in answer.given.items() if g == number)
        assert units == (0 if group.job in answer.short else group.units)


@pytest.mark.parametrize("seed", range(12))
def test_the_foremans_plan_is_feasible_and_trimming_it_never_costs(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    answer = foreman_plan(instance)
    assert_feasible(instance, answer)
    leaner = trimmed(instance, answer)
    assert_feasible(instance, leaner)
    assert leaner.net_cost(instance) <= answer.net_cost(instance)


@pytest.mark.parametrize("seed", range(6))
def test_ruin_and_recreate_keeps_an_answer_feasible_and_never_makes_it_worse(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    better = improved(instance, start, seed)
    assert better.rank(instance)[0] < start.rank(instance)[0]


def improved(instance: Instance, start: Solution, seed: int, steps: int = 500) -> Solution:
    """What ruin and recreate makes of an answer, and all that it kept account of meanwhile gone over."""
    search = Recreate(instance, seed)
    better = search.run(start, steps, Budget(deadline=math.inf), 0.05)
    assert_feasible(instance, better)
    assert better.rank(instance)[0] <= start.rank(instance)[0]
    assert search.state[BEST_COST] == better.rank(instance)[0]
    assert_in_order(search)
    return better


def assert_in_order(search: Recreate) -> None:
    """Costs, stock left whole, rows in use and what is remembered of them are what they would be if made anew."""
    state, facts, flat = search.state, search.flat.facts, search.flat
    rows: list[int] = state[state[FREE_AT] : state[FREE_AT] + state[FREE]].tolist()
    total = 0
    for batch in range(len(search.instance.batches)):
        place = state[BATCHES_AT] + batch * BATCH_SIZE
        pile = state[place + B_STANDS]
        assert state[place + B_NOW] == pile
        mine = state[state[pile + P_LIST] : state[pile + P_LIST] + state[pile + P_ROWS]].tolist()
        rows += mine
        patterns = [flat.pattern(int(state[row + SOURCE]), state[row + HEAD : row + state[row + SIZE]]) for row in mine]
        assert [state[row + COST] for row in mine] == [pattern.cost(search.instance) for pattern in patterns]
        assert state[pile + P_COST] == sum(pattern.cost(search.instance) for pattern in patterns)
        total += state[pile + P_COST]
        used = Counter(pattern.source for pattern in patterns)
        for source, at in flat.source_at.items():
            if source.batch == batch and source.copies is not None:
                assert state[state[pile + P_WHOLE] + facts[at + CLASS]] == source.copies - used[source]
        for row, piece in product(mine, flat.types):
            if piece.batch == batch:
                at = flat.type_at[piece]
                assert gain(facts, state, row, at) == cheapest_place(facts, state, row, at)[0]
    assert len(rows) == len(set(rows)), "a row is in use twice, or lost"
    assert total <= state[COSTS]


@pytest.mark.parametrize("seed", range(60))
def test_small_problems_of_every_kind_stay_feasible_and_exact(seed: int) -> None:
    """Pins, late rolls, cut lengths, strips from any batch, several layouts, jobs that nothing holds."""
    instance = build_instance(random_request(seed), GRASS)
    improved(instance, trimmed(instance, foreman_plan(instance)), seed, 200)


@pytest.mark.parametrize("seed", range(12))
def test_awkward_problems_too(seed: int) -> None:
    random = Random(seed)
    jobs = [awkward_job(f"J{n}", random) for n in range(random.randint(1, 5))]
    stock = [item(f"T{n}", f"{random.randint(600, 4000)}x{random.randint(1000, 9000)}", f"B{n % 3}") for n in range(5)]
    supply = [rolls("4000x12000", 50_000), cut_lengths("4000x9050", 5_500)]
    instance = build_instance(problem(jobs, stock, supply), GRASS)
    start = Solution(Counter(), {}, frozenset(range(len(instance.jobs))))
    improved(instance, start, seed)


def awkward_job(code: str, random: Random) -> Job:
    sizes = [(random.randint(300, 4100), random.randint(300, 5000)) for _ in range(random.randint(1, 4))]
    wanted = " ".join(f"{width}x{length}*{random.randint(1, 6)}" for width, length in sizes)
    return job(code, wanted, rule=random.choice([BatchRule.ANY, BatchRule.ONE]))


def test_the_same_seed_gives_the_same_answer_and_another_another() -> None:
    instance = build_instance(week("M", 1), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    first, again, other = (Recreate(instance, seed).run(start, 2000, Budget(math.inf), 0.05) for seed in (4, 4, 5))
    assert first == again
    assert first != other


def test_it_ends_when_the_clock_the_work_or_the_user_says_so() -> None:
    instance = build_instance(week("M", 0), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    search = Recreate(instance, 0)
    search.run(start, 1, Budget(math.inf))  # what is compiled is there from now on
    began = time.monotonic()
    search.run(start, 100_000_000, Budget(began + 0.2))
    assert time.monotonic() - began < 2.0
    work = Budget(math.inf, 20)
    search.run(start, 100_000_000, work)
    assert work.work == 20
    asked: list[int] = []
    search.run(start, 100_000_000, Budget(math.inf, None, lambda: asked.append(1) or len(asked) > 5))
    assert len(asked) == 6
    assert search.run(start, 1000, Budget(0.0)) == start


def test_the_more_pieces_a_job_has_the_fewer_steps_are_taken_between_two_looks_at_the_clock() -> None:
    def steps_in_one_unit_of_work(pieces: int) -> int:
        request = problem([job("J1", f"2000x3000*{pieces}")], supply=[rolls("4000x25000", 100_000)])
        instance = build_instance(request, GRASS)
        search = Recreate(instance, 0)
        search.run(trimmed(instance, foreman_plan(instance)), 1_000, Budget(math.inf, 2))
        return int(search.state[TRIALS]) - 1  # taking an answer up counts as one

    assert [steps_in_one_unit_of_work(pieces) for pieces in (10, 100, 1_000)] == [200, 200, 20]


def test_no_source_is_given_more_pieces_than_there_is_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty small pieces fit one offcut; where there is room for ten in ten drops, it is not full."""
    request = problem([job("J1", "400x500*40")], [item("C1", "4000x5000")], [rolls("4000x5000", 9000)])
    instance = build_instance(request, GRASS)
    nothing = Solution(Counter(), {}, frozenset({0}))
    free = improved(instance, nothing, 0)
    assert sum(free.patterns.values()) == 1
    monkeypatch.setattr("stockplan.cutting.memory.MOST_ON_A_SOURCE", 9)
    tight = improved(instance, nothing, 0)
    assert 10 <= max(sum(pattern.made().values()) for pattern in tight.patterns) <= 20
    assert sum(tight.patterns.values()) > 1
    # An answer to begin from may hold more.
    assert improved(instance, free, 0).rank(instance) <= free.rank(instance)


def test_walks_from_a_batch_with_more_choices_than_jobs_write_nowhere_but_in_their_own_room() -> None:
    ways = tuple(layout(n + 1, f"{500 * (n % 5 + 1)}x{1000 + 500 * n} 1000x1500", 0) for n in range(8))
    jobs = [replace(job(f"J{n}", "500x500"), strips=(), layouts=ways) for n in range(6)]
    request = problem(jobs, [item(f"T{n}", "3000x9000", form="roll") for n in range(6)])
    instance = build_instance(request, GRASS)
    search = Recreate(instance, 0)
    best = search.run(trimmed(instance, foreman_plan(instance)), 200, Budget(math.inf))
    search.load(best)
    state = search.state
    behind = state[state[FOCUS_AT] : state[BATCHES_AT]].copy()
    assert not behind.any(), "no jobs were named to keep to"
    BatchPricing(search).run(columns_of(instance, best), [40_000.0] * len(instance.groups), 500, Budget(math.inf))
    assert not state[state[FOCUS_AT] : state[BATCHES_AT]].any()
