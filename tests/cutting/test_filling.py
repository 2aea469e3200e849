"""Answers filled source by source: sound, and as good as can be where pieces are many and small."""

from __future__ import annotations

import math
from collections import Counter
from itertools import pairwise
from random import Random

import pytest

from stockplan.cutting.covering import Column, Covering
from stockplan.cutting.filling import Filling
from stockplan.cutting.one_dimension import LengthOracle

LENGTH = 1000


def never() -> bool:
    """Time without end."""
    return False


def made(answer: Counter[Column]) -> Counter[int]:
    """How many of each size an answer makes."""
    found: Counter[int] = Counter()
    for column, count in answer.items():
        for size, number in column.made:
            found[size] += number * count
    return found


def least_for(pieces: Counter[int]) -> Counter[Column] | None:
    """The first answer for pieces of one length without end."""
    problem = Covering(tuple(pieces.values()), (1,), (None,))
    return Filling(problem, LengthOracle(list(pieces), [LENGTH])).next(never)


@pytest.mark.parametrize("seed", range(40))
def test_every_answer_makes_what_is_wanted_and_no_more_from_the_copies_there_are(seed: int) -> None:
    random = Random(seed)
    lengths = [random.randint(40, 100) for _ in range(random.randint(1, 3))]
    sizes = random.sample(range(5, min(lengths)), random.randint(1, 8))
    demands = [random.randint(1, 6) for _ in sizes]
    copies = tuple(random.choice((None, 1, 2)) for _ in lengths[1:])
    problem = Covering(tuple(demands), tuple(random.randint(1, 9) for _ in lengths), (None, *copies))
    filling = Filling(problem, LengthOracle(sizes, lengths))
    for _ in range(6):
        answer = filling.next(never)
        assert answer is not None
        assert made(answer) == Counter(dict(enumerate(demands)))
        used = Counter[int]()
        for column, count in answer.items():
            used[column.source] += count
            assert sum(sizes[size] * number for size, number in column.made) <= lengths[column.source]
        assert all(most is None or used[source] <= most for source, most in enumerate(problem.copies))


@pytest.mark.parametrize("mean", [5, 7, 9])
@pytest.mark.parametrize("seed", range(4))
def test_many_small_pieces_take_no_more_lengths_than_their_sum(mean: int, seed: int) -> None:
    # Drawn as in the second data set of Scholl, Klein and Jürgens (Computers and Operations Research 24, 1997, from
    # memory): 500 pieces, a fifth to a ninth of a length on average, up to 90 % longer or shorter.
    random, most = Random(seed), 1.9 * LENGTH / mean
    pieces = Counter(random.randint(int(0.1 * LENGTH / mean), int(most)) for _ in range(500))
    answer = least_for(pieces)
    assert answer is not None
    assert answer.total() == math.ceil(sum(size * n for size, n in pieces.items()) / LENGTH)


@pytest.mark.parametrize("seed", range(6))
def test_lengths_cut_up_at_random_are_put_together_again(seed: int) -> None:
    random, pieces = Random(seed), Counter[int]()
    for _ in range(30):
        ends = sorted({0, LENGTH, *random.sample(range(10, LENGTH), 7)})
        pieces.update(b - a for a, b in pairwise(ends))
    answer = least_for(pieces)
    assert answer is not None
    assert answer.total() == 30


def test_there_is_no_answer_where_copies_run_out() -> None:
    filling = Filling(Covering((3,), (1,), (1,)), LengthOracle([60], [100]))
    assert filling.next(never) is None


def test_it_ends_when_it_has_to() -> None:
    filling = Filling(Covering((3,), (1,), (None,)), LengthOracle([60], [100]))
    assert filling.next(lambda: True) is None
