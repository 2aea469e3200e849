"""What is in time and sound is told first, and what is not leaves out nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import product
from random import Random

import pytest
from cover_questions import TODAY, answered, asked
from estimator_yards import PENCE, exact_cost, lying

from stockplan.domain.cover import Answer, Ready
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.request import CostSettings
from stockplan.report.cover_text import verdict

COSTS = CostSettings()


def told(answers: Sequence[Answer]) -> list[tuple[str, ...]]:
    return [tuple(sorted(take.source.key for take in answer.takes)) for answer in answers]


def test_a_wet_thing_and_a_sound_one_cover_it_together_where_sound_ones_do_not() -> None:
    wet, sound = replace(lying("A", 2000, 2000), condition="wet"), lying("B", 2000, 2500)
    question = asked((2000, 2000), (2000, 2500))
    found = answered(question, wet, sound)
    assert told(found.of(Ready.FREE)) == [("A", "B")]
    assert found.misses == ()
    assert verdict(found).endswith(" cover it and are free; A is wet: see to that first.")
    dear = lying("C", 4000, 9000, "B2", pence=3000)
    assert told(answered(question, wet, sound, dear).of(Ready.FREE))[0] == ("C",), "sound ones first"


@pytest.mark.parametrize("what", ["free", "rests"])
def test_what_is_not_sound_is_said_to_be_so_at_once(what: str) -> None:
    damaged = replace(lying("A", 2000, 2000), condition="damaged")
    told_first = {"free": "free; it is damaged: see", "rests": "cut as planned; it is damaged: see"}
    given = answered(asked((2000, 2000)), damaged) if what == "free" else answered(asked((2000, 2000)), rests=[damaged])
    assert f"{told_first[what]} to that first." in verdict(given)


def every_cover(yard: Sequence[Source], pieces: Pieces) -> list[tuple[bool, float]]:
    """Whether not all is sound, and the least cost, of each set of sources of one batch that gives all pieces."""
    best: dict[frozenset[Source], float] = {}
    for chosen in product(yard, repeat=len(pieces)):
        things = frozenset(chosen)
        if len({one.batch for one in things}) == 1:
            given = {one: tuple(n for n, where in zip(pieces, chosen, strict=True) if where is one) for one in things}
            cost = sum(exact_cost(one, mine, COSTS) for one, mine in given.items())
            best[things] = min(best.get(things, math.inf), cost)
    return sorted((any(one.condition for one in things), cost) for things, cost in best.items() if cost < math.inf)


@pytest.mark.parametrize("block", range(4))
def test_sound_ones_first_and_then_the_cheapest_of_the_others_in_random_yards(block: int) -> None:
    tried = 0
    for seed in range(30 * block, 30 * block + 30):
        random = Random(seed)
        yard = [
            replace(
                lying(
                    f"T{number}", 500 * random.randint(1, 6), 500 * random.randint(2, 8), random.choice(["B1", "B2"])
                ),
                condition=random.choice(["", "", "wet"]),
            )
            for number in range(random.randint(2, 5))
        ]
        pieces = in_order([(500 * random.randint(1, 5), 500 * random.randint(2, 6)) for _ in range(2)])
        free = answered(asked(*pieces), *yard).of(Ready.FREE)
        best = every_cover(yard, pieces)
        assert len(free) == min(3, len(best)), seed
        for answer, (unsound, least) in zip(free, best, strict=False):
            assert any(take.source.condition for take in answer.takes) is unsound, seed
            assert abs(answer.cost_pence - least) <= PENCE, seed
        tried += any(unsound for unsound, _ in best[:3])
    assert tried >= 3


def test_cheap_rests_that_come_too_late_leave_out_none_that_comes_in_time() -> None:
    late = [replace(lying(f"L{number}", 2000, 2000), from_day=TODAY + timedelta(days=9)) for number in range(3)]
    in_time = replace(lying("P-1", 4000, 9000), from_day=TODAY + timedelta(days=1))
    wet = replace(in_time, key="P-2", condition="wet")
    found = answered(asked((2000, 2000), lay_on=TODAY + timedelta(days=5)), rests=[*late, wet, in_time])
    assert told(found.of(Ready.REST)) == [("P-1",), ("P-2",), ("L0",)]
    assert [answer.in_time for answer in found.of(Ready.REST)] == [True, True, False]


def test_nor_do_they_where_a_seam_joins_two() -> None:
    late = [replace(lying(f"L{number}", 1500, 3000), from_day=TODAY + timedelta(days=9)) for number in range(4)]
    dear = [replace(lying(f"P-{n}", 1500, 3000, pence=2000), from_day=TODAY + timedelta(days=1)) for n in range(2)]
    found = answered(asked((3000, 3000), lay_on=TODAY + timedelta(days=5)), rests=[*late, *dear])
    first, *others = found.of(Ready.REST)
    assert told([first]) == [("P-0", "P-1")]
    assert [first.in_time, *(answer.in_time for answer in others)] == [True, False, False]
