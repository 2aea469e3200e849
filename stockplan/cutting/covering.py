"""Pure cutting stock as a covering program: what to cover, ways to cut, and bounds from prices.

    minimise    sum over k of cost_k x_k
    subject to  (size t)    sum over k of made_tk x_k  >=  demand_t
                (source s)  sum over k cut from s of x_k  <=  copies_s
                x >= 0 whole

A column k is one way to cut one source. An `Oracle` finds columns at given prices. Prices are whole numbers, `SCALE` to
the unit of cost, and so is everything that follows from them: the bound is Farley's (1990), Lagrange's where copies
are limited, worked in fractions, and needs no allowance for rounding. `rounding.py` solves the program.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]
SCALE = 10**9  # of prices, to the unit of cost
MOST_TOGETHER = 2**62  # that an oracle may add up of prices: its sums are whole numbers of 64 bits
MOST_AT_ONCE = 20  # columns of one source in one round


class Column(NamedTuple):
    """One way to cut one source.

    Parameters
    ----------
    source
        Number of the source.
    made
        Number of the size and how many, in order.
    """

    source: int
    made: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Covering:
    """What to cover, and from what.

    Parameters
    ----------
    demands
        How many of each size.
    costs
        Of each source, in whole units.
    copies
        Of each source; None when without end.
    """

    demands: tuple[int, ...]
    costs: tuple[int, ...]
    copies: tuple[int | None, ...]

    def cost(self, taken: Counter[Column]) -> int:
        """Cost of an answer."""
        return sum(self.costs[column.source] * count for column, count in taken.items())


@dataclass(frozen=True)
class Offer:
    """What an oracle has of one source.

    Parameters
    ----------
    source
        Number of the source.
    most
        No way to cut it is worth more, as long as no more is made of a size than asked for.
    columns
        Ways to cut it, the best first, each making no more of a size than asked for where the oracle can.
    """

    source: int
    most: int
    columns: list[Column]


class Oracle(Protocol):
    """Finds ways to cut at given prices."""

    def highest(self, counts: Sequence[int]) -> list[int]:
        """By size: prices no higher than these come to no more than `MOST_TOGETHER`, whatever it adds up of them.

        Parameters
        ----------
        counts
            How many of each size are wanted at most.
        """
        ...

    def price(self, prices: Integers, counts: Sequence[int]) -> list[Offer]:
        """Ways to cut every source.

        Parameters
        ----------
        prices
            Of each size, whole, at least 0.
        counts
            How many of each size are still wanted.
        """
        ...


def bound_at(problem: Covering, prices: Integers, offers: Iterable[Offer]) -> Fraction:
    """Lower bound in units of cost: what no answer undercuts.

    Parameters
    ----------
    problem
        What to cover.
    prices
        Whole, at least 0.
    offers
        An oracle's, at these prices and for all demands.
    """
    offers = list(offers)
    scale = Fraction(1)
    for offer in offers:
        if problem.copies[offer.source] is None and offer.most > problem.costs[offer.source] * SCALE:
            scale = min(scale, Fraction(problem.costs[offer.source] * SCALE, offer.most))
    bound = scale * sum(int(p) * d for p, d in zip(prices, problem.demands, strict=True))
    for offer in offers:
        copies = problem.copies[offer.source]
        if copies is not None:
            bound -= copies * max(Fraction(0), scale * offer.most - problem.costs[offer.source] * SCALE)
    return bound / SCALE
