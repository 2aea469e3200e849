"""Lower bounds for problems too large for the linear program: subgradient ascent on the prices.

The Lagrangian bound of `bounds.py` is concave in the prices; what the choices would take less what the patterns would
make is a subgradient (Held, Wolfe and Crowder 1974). Steps are taken per square metre of piece and along a running mean
of subgradients (Barahona and Anbil's volume algorithm, 2000, without its primal side). Purchases, of which there is no
end, count as made `PURCHASES_PER_JOB` times a job for the direction only; the bound itself repairs the prices. On a
week of 30 jobs 100 rounds reach 98 % of the linear program's bound.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.bounds import cheapest_choices, lagrangian_bound
from stockplan.cutting.budget import Budget
from stockplan.cutting.generation import BOUND_RESERVE, Pricers
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricing import Priced

PURCHASES_PER_JOB = 1 / 3
MEMORY = 0.7  # weight of the running mean
FIRST_STEP = 0.1  # share of the distance to the target
PATIENCE = 5  # rounds without a better bound before the step shrinks
SHRINK = 0.7


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
    target
        Cost of a known answer, pence; sets the length of steps.
    """

    def __init__(self, instance: Instance, pricers: Pricers, budget: Budget, target: float) -> None:
        self.instance, self.pricers, self.budget, self._target = instance, pricers, budget, target
        self._types = instance.piece_types()
        self._number = {t: i for i, t in enumerate(self._types)}
        self._area = np.array([t.width_mm * t.length_mm / 1e6 for t in self._types])
        self._prices = np.array([first_price(instance, t) for t in self._types])
        self._purchases = max(3, round(len(instance.jobs) * PURCHASES_PER_JOB))
        self.bound = 0.0
        self.prices: dict[PieceType, float] = {}
        self.patterns: dict[Pattern, None] = {}

    def run(self, rounds: int, on_round: Callable[[float], None] | None = None) -> None:
        """Climb; the best bound is in `bound`, its prices in `prices`, the patterns met on the way in `patterns`.

        Parameters
        ----------
        rounds
            Most rounds.
        on_round
            Told the bound after each round.
        """
        share, stuck, guide = FIRST_STEP, 0, 0.0
        best_prices = self._prices.copy()
        mean: NDArray[np.float64] | None = None
        if not self.pricers.exact:
            self.bound, self.prices = self.pricers.bound(self._by_type(self._prices), self.budget)
        for _ in range(rounds):
            if self.budget.over(BOUND_RESERVE * self.pricers.bound_seconds):
                break
            bound, value, slope = self._look()
            if bound > guide:
                guide, best_prices, stuck = bound, self._prices.copy(), 0
                self.bound = bound if self.pricers.exact else self.bound
                self.prices = self._by_type(best_prices)
            else:
                stuck += 1
            if on_round is not None:
                on_round(self.bound)
            if stuck >= PATIENCE:
                share, stuck, mean = share * SHRINK, 0, None
                self._prices = best_prices.copy()
                continue
            mean = slope if mean is None else (1 - MEMORY) * slope + MEMORY * mean
            length = share * max(self._target - value, 1e-3 * self._target) / max(1e-9, float(mean @ mean))
            self._prices = np.maximum(0.0, self._prices + length * mean * self._area)
        if not self.pricers.exact:
            # The recursions that find patterns guided the way; these bound all patterns.
            bound, safe = self.pricers.bound(self._by_type(best_prices), self.budget)
            if bound > self.bound:
                self.bound, self.prices = bound, safe

    def _by_type(self, prices: NDArray[np.float64]) -> dict[PieceType, float]:
        return dict(zip(self._types, prices.tolist(), strict=True))

    def _look(self) -> tuple[float, float, NDArray[np.float64]]:
        """The bound at the current prices, the value the direction climbs, and its slope per square metre."""
        prices = self._by_type(self._prices)
        slope = np.zeros(len(self._types))
        priced_all: list[Priced] = []
        value = 0.0
        for pricer in self.pricers.real:
            priced = pricer.price(prices)
            priced_all.extend(priced)
            self.budget.spend(1)
            for one in _worth_cutting(priced):
                copies = one.source.copies if one.source.copies is not None else self._purchases
                pattern = pricer.pattern(one.source)
                self.patterns[pattern] = None
                value -= copies * (one.value - one.source.value_pence)
                for piece, count in pattern.made().items():
                    slope[self._number[piece]] -= count * copies
        for piece, count in self.instance.fixed.items():
            slope[self._number[piece]] += count
            value += count * prices[piece]
        cost, taken = cheapest_choices(self.instance, prices)
        for piece, count in taken.items():
            slope[self._number[piece]] += count
        return lagrangian_bound(self.instance, prices, priced_all), value + cost, slope * self._area


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
