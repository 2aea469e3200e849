"""Column generation: solve the relaxation, price every source, add what gains, and keep the best bound seen."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping

from stockplan.cutting.bounds import lagrangian_bound, repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.grid import MOST_LENGTH_POINTS, MOST_WIDTH_POINTS, Grid, choose_step
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricing import Priced, Pricer
from stockplan.domain.stock import CUT_LENGTH_STEP_MM
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

GAIN = 0.01  # pence between value and bound at which the relaxation counts as solved
LOSS = 2000.0  # pence a pattern may lose at smoothed prices and still be tried at the relaxation's own
SMOOTHING = 0.7  # share of the best bound's prices in those at which patterns are sought


class Pricers:
    """The pricing recursions of a problem, for plans and for bounds.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        types = instance.piece_types()
        along, self.along_exact = self._step(types, lengthwise=True)
        across, self.across_exact = self._step(types, lengthwise=False)
        self.exact = self.along_exact and self.across_exact
        self.real = self._build(types, along, across, optimistic=False)
        self.hopeful = self.real if self.exact else self._build(types, along, across, optimistic=True)

    def _step(self, types: tuple[PieceType, ...], *, lengthwise: bool) -> tuple[int, bool]:
        """Leftover thresholds lie on the grid too: a drop may be made longer until what is left is worth keeping."""
        if lengthwise:
            sizes = {t.length_mm for t in types} | {s.length_mm for s in self.instance.sources}
            sizes |= {LEAST_LENGTH_MM, CUT_LENGTH_STEP_MM}
            return choose_step(sizes, max(sizes), MOST_LENGTH_POINTS)
        sizes = {t.width_mm for t in types} | {s.width_mm for s in self.instance.sources} | {LEAST_WIDTH_MM}
        return choose_step(sizes, max(sizes), MOST_WIDTH_POINTS)

    def _build(self, types: tuple[PieceType, ...], along: int, across: int, *, optimistic: bool) -> list[Pricer]:
        alike: defaultdict[tuple[int, float, int | None], list[Source]] = defaultdict(list)
        for source in self.instance.sources:
            cost = source.unit_cost.pence / source.unit_cost.area_mm2 if source.option is None else 0.0
            alike[source.batch, cost, source.option].append(source)
        pricers = []
        for sources in alike.values():
            sources.sort(key=lambda s: -s.unit_cost.pence / s.unit_cost.area_mm2)
            pricer = Pricer(
                self.instance,
                sources,
                types,
                Grid(along, self.along_exact, optimistic),
                Grid(across, self.across_exact, optimistic),
            )
            if pricer.types:
                pricers.append(pricer)
        return pricers


class Generator:
    """Column generation with smoothed prices, resumable, keeping the best bound seen.

    Prices at which patterns are sought lie between those of the relaxation and those of the best bound so far
    (Wentges 1997; Pessoa et al. 2018); where that finds no pattern that gains, the relaxation's own prices decide.

    Parameters
    ----------
    master
        The relaxation; patterns are added to it.
    pricers
        Recursions of the same problem.
    budget
        Work and clock.
    """

    def __init__(self, master: Master, pricers: Pricers, budget: Budget) -> None:
        self.master, self.pricers, self.budget = master, pricers, budget
        self.bound = 0.0
        self._centre = first_guess(master.instance)
        self._own = -math.inf

    def run(self, rounds: int = 10_000, on_round: Callable[[float, float], None] | None = None) -> bool:
        """Add patterns until none gains; the master is left solved.

        Parameters
        ----------
        rounds
            Most rounds; default no limit to speak of.
        on_round
            Told the value and the bound after each round.

        Returns
        -------
        False when the relaxation is infeasible.
        """
        smoothing = SMOOTHING
        for _ in range(rounds):
            if not self.master.solve():
                return False
            if self.budget.over() or self.master.value - self._own < GAIN:
                return True
            prices = self.master.prices()
            mixed = {t: smoothing * self._centre.get(t, 0.0) + (1 - smoothing) * p for t, p in prices.items()}
            added = self._price(mixed, prices)
            if on_round is not None:
                on_round(self.master.value, self.bound)
            if added:
                smoothing = SMOOTHING
            elif smoothing == 0.0:
                return True
            else:
                smoothing = 0.0 if smoothing < SMOOTHING else SMOOTHING / 2
        return self.master.solve()

    def _price(self, prices: dict[PieceType, float], exact: dict[PieceType, float]) -> int:
        """Price everything, keep the bound, and add what gains at the relaxation's own prices."""
        class_prices = self.master.class_prices()
        fresh, priced = _price_all(self.pricers.real, prices, class_prices, self.budget)
        if not self.pricers.exact:
            _, priced = _price_all(self.pricers.hopeful, prices, {}, self.budget)
        bound = lagrangian_bound(self.master.instance, prices, priced)
        if bound > self._own:
            self._own = bound
            self._centre = repaired(self.master.instance, prices, priced)
        self.bound = max(self.bound, bound)
        return self.master.add(p for p in fresh if self._gains(p, exact, class_prices))

    def _gains(self, pattern: Pattern, prices: Mapping[PieceType, float], classes: Mapping[Source, float]) -> bool:
        value = sum(prices.get(t, 0.0) * n for t, n in pattern.made().items())
        return value - pattern.cost(self.master.instance) + classes.get(pattern.source, 0.0) > GAIN / 10


def first_guess(instance: Instance) -> dict[PieceType, float]:
    """Prices to begin with: a piece is worth the cheapest grass of its batch that it can be cut from."""
    guess = {}
    for piece in instance.piece_types():
        rates = [s.value_pence / (s.width_mm * s.length_mm) for s in instance.sources if s.makes(piece)]
        guess[piece] = min(rates, default=0.0) * piece.width_mm * piece.length_mm
    return guess


def _price_all(
    pricers: Iterable[Pricer], prices: Mapping[PieceType, float], class_prices: Mapping[Source, float], budget: Budget
) -> tuple[list[Pattern], list[Priced]]:
    """Patterns that gain at these prices, and every source's value."""
    fresh: list[Pattern] = []
    everything: list[Priced] = []
    for pricer in pricers:
        priced = pricer.price(prices)
        everything.extend(priced)
        budget.spend(1)
        gaining = [p for p in priced if p.value - p.source.value_pence + class_prices.get(p.source, 0.0) > -LOSS]
        if gaining and gaining[0].source.option is not None and len(gaining) > 3:
            gaining = sorted(gaining, key=lambda p: p.source.value_pence - p.value)[:3]
        fresh.extend(pricer.pattern(p.source) for p in gaining)
    return fresh, everything
