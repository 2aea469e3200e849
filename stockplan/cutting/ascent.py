"""Lower bounds for problems too large for the linear program: ascent on the prices.

The Lagrangian bound of `bounds.py` is concave in the prices; what the choices would take less what the patterns would
make is a subgradient (Held, Wolfe and Crowder 1974). Each price moves by the running mean of its slopes over the root
of the running mean of their squares (Kingma and Ba, "Adam: a method for stochastic optimization", 2015), as a share of
the first guess of it that shrinks, faster where no better bound is met: most prices have a slope only now and then, and
a common step is too long for some and too short for others. On a week of 30 jobs 100 rounds end 0.9 % below the linear
program, where steps along a mean of subgradients (Barahona and Anbil 2000) ended 2.0 % below; without going back to the
best prices some problems were left at a poor bound, having run away from it early.
Purchases, of which there is no end, count as made `PURCHASES_PER_JOB` times a job for the direction only; the bound
itself repairs the prices.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.bounds import cheapest_choices, lagrangian_bound
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.valuing import Priced

PURCHASES_PER_JOB = 1 / 3
MEMORY = 0.9  # weight of what was in the running means of slopes and of their squares
FIRST_STEP, LAST_STEP = 0.03, 0.002  # share of a price
PATIENCE, SHRINK = 2, 0.8  # rounds without a better bound before going back to the best prices, and the step then
LEAST_SLOPE = 1e-3  # pieces; keeps prices whose slope was nothing so far where they are


class Ascent:
    """Ascent from a first guess of the prices.

    Parameters
    ----------
    instance
        The problem.
    pricers
        Its recursions.
    budget
        Work and clock.
    start
        Prices to begin with; default a first guess of each.
    """

    def __init__(
        self, instance: Instance, pricers: Pricers, budget: Budget, start: Mapping[PieceType, float] | None = None
    ) -> None:
        self.instance, self.pricers, self.budget = instance, pricers, budget
        self._types = instance.piece_types()
        self._number = {t: i for i, t in enumerate(self._types)}
        known = start or {}
        self._prices = np.array([known[t] if t in known else first_price(instance, t) for t in self._types])
        self._purchases = max(3, round(len(instance.jobs) * PURCHASES_PER_JOB))
        self.bound = 0.0
        self.prices: dict[PieceType, float] = {}
        self.patterns: dict[Pattern, float] = {}

    def run(self, rounds: int, on_round: Callable[[float], None] | None = None) -> None:
        """Climb; the best bound is in `bound`, its prices in `prices`, patterns met and their costs in `patterns`.

        Parameters
        ----------
        rounds
            Most rounds.
        on_round
            Told the bound after each round.
        """
        guide, stuck, share = -math.inf, 0, FIRST_STEP
        best_prices, first = self._prices.copy(), self._prices.copy()
        mean, square = np.zeros_like(first), np.zeros_like(first)
        for number in range(rounds):
            if self.budget.over():
                break
            began = time.monotonic()
            bound, slope = self._look()
            if number == 0:
                rounds = self._affordable(rounds, time.monotonic() - began)
            if bound > guide:
                guide, best_prices, stuck = bound, self._prices.copy(), 0
                self.bound, self.prices = bound, self._by_type(best_prices)
            else:
                stuck += 1
            if on_round is not None:
                on_round(self.bound)
            share *= (LAST_STEP / FIRST_STEP) ** (1 / rounds)
            if stuck > PATIENCE:
                self._prices, stuck, share = best_prices.copy(), 0, share * SHRINK
            mean = MEMORY * mean + (1 - MEMORY) * slope
            square = MEMORY * square + (1 - MEMORY) * slope**2
            fair = 1 - MEMORY ** (number + 1)  # both means begin at nothing
            step = (mean / fair) / (np.sqrt(square / fair) + LEAST_SLOPE)
            self._prices = np.maximum(0.0, self._prices + share * first * step)

    def _affordable(self, rounds: int, seconds: float) -> int:
        """How many rounds of so many seconds the clock leaves time for: steps are to end short when it ends.

        Where work is limited the clock is but a guard, and may not change what is found.
        """
        if self.budget.work_limit is not None:
            return rounds
        return max(1, min(rounds, int(self.budget.seconds_left() / max(seconds, 1e-3))))

    def _by_type(self, prices: NDArray[np.float64]) -> dict[PieceType, float]:
        return dict(zip(self._types, prices.tolist(), strict=True))

    def _look(self) -> tuple[float, NDArray[np.float64]]:
        """The bound at the current prices, and the slope of what the direction climbs."""
        prices = self._by_type(self._prices)
        slope = np.zeros(len(self._types))
        priced_all: list[Priced] = []
        for pricer in self.pricers.each:
            priced = pricer.price(prices)
            priced_all.extend(priced)
            self.budget.spend(1)
            for one in _worth_cutting(priced):
                copies = one.source.copies if one.source.copies is not None else self._purchases
                pattern = pricer.pattern(one.source)
                self.patterns[pattern] = pricer.cost(pattern, one.value, prices)
                for piece, count in pattern.made().items():
                    slope[self._number[piece]] -= count * copies
            pricer.forget()
        for piece, count in self.instance.fixed.items():
            slope[self._number[piece]] += count
        for piece, count in cheapest_choices(self.instance, prices)[1].items():
            slope[self._number[piece]] += count
        return lagrangian_bound(self.instance, prices, priced_all), slope


def _worth_cutting(priced: list[Priced]) -> list[Priced]:
    """Stock whose best pattern gains, and of one supply option's purchases the one that gains most."""
    gaining = [p for p in priced if p.value > p.source.value_pence]
    bought = [p for p in gaining if p.source.option is not None]
    most = [max(bought, key=lambda p: p.value - p.source.value_pence)] if bought else []
    return [p for p in gaining if p.source.option is None] + most


def first_price(instance: Instance, piece: PieceType) -> float:
    """A price to begin with, pence: its share of what its batch is worth, or of the cheapest purchase."""
    stock = [s for s in instance.sources if s.makes(piece) and s.copies is not None]
    bought = [s.value_pence / (s.width_mm * s.length_mm) for s in instance.sources if s.makes(piece) and not s.tags]
    if bought:
        rate = min(bought)
    else:
        rate = sum(s.value_pence for s in stock) / max(1, sum(s.width_mm * s.length_mm for s in stock))
    return rate * piece.width_mm * piece.length_mm
