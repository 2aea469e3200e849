"""Whole answers filled source by source, each as well as it can be with what is still wanted.

What a size is worth is first a little more than its share of a length, so that long pieces go first. After each source
its pieces are worth more by what was wasted beside them, the more so the fewer of them are left to place better, and
the next answer begins with those worths (sequential value correction: Mukhacheva, Belov, Kartak and Mukhacheva,
Pesquisa Operacional 20, 2000). Where pieces are many and small, so that nearly every source can be filled to its end,
one such answer is mostly as good as the bound: 500 pieces, seven to a length and 32 of 72,000 wasted, take 0.1 s, where
fifty seconds of dives left one source more.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from fractions import Fraction

import numpy as np

from stockplan.cutting.covering import SCALE, Column, Covering
from stockplan.cutting.one_dimension import LengthOracle
from stockplan.cutting.rounding import Rounding

POWERS = (1.02, 1.0, 1.04, 1.08, 1.01)  # of a size's share of a length, in turn; above 1 long pieces go first
CELLS_PER_WORK = 1e7
MOST_WEIGHT = 1.5  # of the worth so far beside the new one, at least 1, for each source that the pieces left would fill


class Filling:
    """Such answers for one problem of lengths, one after another.

    Parameters
    ----------
    problem, oracle
        What to cover, and the lengths.
    """

    def __init__(self, problem: Covering, oracle: LengthOracle) -> None:
        self._problem, self._oracle = problem, oracle
        self._choice = random.Random(0)
        self._answers = 0
        self._worth = self._plain()

    def _plain(self) -> list[float]:
        power, longest = POWERS[self._answers % len(POWERS)], max(self._oracle.rooms)
        return [(size / longest) ** power for size in self._oracle.sizes]

    @property
    def cells(self) -> float:
        """How many cells the recursions of one answer take, roughly."""
        sizes, longest = self._oracle.sizes, max(self._oracle.rooms)
        sources = sum(size * n for size, n in zip(sizes, self._problem.demands, strict=True)) / longest
        return len(sizes) * longest * (1.0 + sources)

    def offer_to(self, rounding: Rounding, answers: int) -> None:
        """Offer more answers, as long as better ones may be had.

        Parameters
        ----------
        rounding
            Keeps the best, and has the clock and work.
        answers
            How many, at most.
        """
        for _ in range(answers):
            answer = None if rounding.proven else self.next(rounding.budget.over)
            if answer is None:
                return
            rounding.offer(answer)
            rounding.budget.spend(1 + int(self.cells / CELLS_PER_WORK))

    def next(self, over: Callable[[], bool]) -> Counter[Column] | None:
        """One more answer; None where sources run out, or time does.

        Parameters
        ----------
        over
            Asked before each source whether to end.
        """
        plain, left = self._plain(), list(self._problem.demands)
        self._answers += 1
        answer: Counter[Column] = Counter()
        used: Counter[int] = Counter()
        while any(left):
            column = None if over() else self._fullest(left, used)
            if column is None:
                return None
            answer[column] += 1
            used[column.source] += 1
            self._correct(column, plain, left)
            for size, count in column.made:
                left[size] -= count
        return answer

    def _fullest(self, left: list[int], used: Counter[int]) -> Column | None:
        """The way to cut a source that is worth most for its cost, of those with copies left."""
        prices = np.array([int(worth * SCALE) for worth in self._worth], dtype=np.int64)
        found: tuple[Fraction, Column] | None = None
        for offer in self._oracle.price(prices, left):
            copies = self._problem.copies[offer.source]
            if offer.columns and (copies is None or used[offer.source] < copies):
                rate = Fraction(offer.most, self._problem.costs[offer.source])
                if found is None or rate > found[0]:
                    found = rate, offer.columns[0]
        return None if found is None else found[1]

    def _correct(self, column: Column, plain: list[float], left: list[int]) -> None:
        """Make the pieces of a source worth more by what is wasted beside them."""
        room = self._oracle.rooms[column.source]
        wasteful = room / sum(self._oracle.sizes[size] * count for size, count in column.made)
        for size, count in column.made:
            weight = self._choice.uniform(1.0, MOST_WEIGHT) * left[size] / count
            self._worth[size] = (weight * self._worth[size] + plain[size] * wasteful) / (weight + 1.0)
