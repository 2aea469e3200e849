"""Column generation: solve the relaxation, price every source, add what gains, and keep the best bound seen."""

from __future__ import annotations

import math
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from stockplan.cutting.bounds import lagrangian_bound, repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import bends_upward
from stockplan.cutting.grid import MOST_LENGTH_POINTS, MOST_WIDTH_POINTS, Grid, choose_step
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricing import Priced, Pricer
from stockplan.domain.stock import CUT_LENGTH_STEP_MM
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

TOLERANCE = 1e-6
GAIN = 0.01  # pence between value and bound at which the relaxation counts as solved, whatever its size
SMOOTHING = 0.5  # share of the best bound's prices in those at which patterns are sought
LEAST_SMOOTHING = 0.1
MOST_LANE_WIDTHS = 100  # beyond this, lanes of every width are tried for bounds only
MOST_LOWERINGS = 40  # steps towards prices at which no purchase gains
BOUND_RESERVE = 1.5  # time kept back for a last bound, in times of how long one takes
ROUNDS_WITH_EVERY_WIDTH = 15
MOST_AT_ONCE = 12  # patterns from one batch in one round


class Pricers:
    """The pricing recursions of a problem, for plans and for bounds.

    `real` finds patterns that can be cut. `hopeful` gives values that no pattern exceeds: the same recursions where the
    grid is exact and coarse enough to try lanes of every width (`exact`), else slower ones, to be used sparingly; how
    long the last bound from them took is in `bound_seconds`. `on_grid` says that every size lies on the grid,
    `too_coarse` that some piece is smaller than a step of it, so that no bound can be had.

    Parameters
    ----------
    instance
        The problem.
    apart
        Price every class of stock by itself, so that each may have prices of its own; default all that are of the same
        grass at once.
    """

    def __init__(self, instance: Instance, *, apart: bool = False) -> None:
        self.instance = instance
        self._apart = apart
        types = instance.piece_types()
        along, along_exact = self._step(types, lengthwise=True)
        across, across_exact = self._step(types, lengthwise=False)
        widest = max((s.width_mm for s in instance.sources), default=0)
        self._exact = (along_exact, across_exact)
        self.on_grid = along_exact and across_exact
        self._taken = across_exact and bends_upward(instance)
        coarse = widest <= across * MOST_LANE_WIDTHS
        self.exact = self.on_grid and (coarse or self._taken)
        self.too_coarse = any(t.length_mm < along or t.width_mm < across for t in types)
        self.real = self._build(types, along, across, optimistic=False, every_width=coarse)
        self._steps = along, across
        self.bound_seconds = 0.0

    @cached_property
    def hopeful(self) -> list[Pricer]:
        """The recursions whose values no pattern exceeds."""
        if self.exact:
            return self.real
        return self._build(self.instance.piece_types(), *self._steps, optimistic=True, every_width=True)

    def _step(self, types: tuple[PieceType, ...], *, lengthwise: bool) -> tuple[int, bool]:
        """Leftover thresholds lie on the grid too: a drop may be made longer until what is left is worth keeping."""
        if lengthwise:
            sizes = {t.length_mm for t in types} | {s.length_mm for s in self.instance.sources}
            sizes |= {LEAST_LENGTH_MM, CUT_LENGTH_STEP_MM}
            return choose_step(sizes, max(sizes), MOST_LENGTH_POINTS)
        sizes = {t.width_mm for t in types} | {s.width_mm for s in self.instance.sources} | {LEAST_WIDTH_MM}
        return choose_step(sizes, max(sizes), MOST_WIDTH_POINTS)

    def _build(
        self, types: tuple[PieceType, ...], along: int, across: int, *, optimistic: bool, every_width: bool
    ) -> list[Pricer]:
        alike: defaultdict[tuple[int, float, int | None, Source | None], list[Source]] = defaultdict(list)
        for source in self.instance.sources:
            cost = source.unit_cost.pence / source.unit_cost.area_mm2 if source.option is None else 0.0
            itself = source if self._apart and source.option is None else None
            alike[source.batch, cost, source.gate, itself].append(source)
        pricers = []
        for sources in alike.values():
            sources.sort(key=lambda s: -s.unit_cost.pence / s.unit_cost.area_mm2)
            grids = Grid(along, self._exact[0], optimistic), Grid(across, self._exact[1], optimistic)
            pricer = Pricer(self.instance, sources, types, *grids, every_width=every_width, taken=self._taken)
            if pricer.types:
                pricers.append(pricer)
        return pricers

    def bound(
        self, prices: Mapping[PieceType, float], budget: Budget, stock: Iterable[Priced] | None = None
    ) -> tuple[float, dict[PieceType, float]]:
        """A lower bound from prices, by the recursions that no pattern exceeds, and the prices it holds at.

        Parameters
        ----------
        prices
            Price of each piece type, pence, at least 0.
        budget
            Work is counted on it.
        stock
            Values of the sources in the yard at these prices, where they are known already.

        Returns
        -------
        The bound, 0 when the budget is over first, and prices at which no purchase gains.
        """
        began = time.monotonic()
        if stock is None:
            stock = []
            for pricer in self.hopeful:
                if budget.over():
                    return 0.0, dict(prices)
                if pricer.sources[0].option is None:
                    stock.extend(pricer.price(prices))
                    pricer.forget()
                    budget.spend(1)
        bought = self.without_gain(prices, budget)
        everything = [*(p for p in stock if p.source.option is None), *bought.priced]
        self.bound_seconds = time.monotonic() - began
        bound = lagrangian_bound(self.instance, bought.prices, everything)
        return bound, repaired(self.instance, bought.prices, everything)

    def without_gain(self, prices: Mapping[PieceType, float], budget: Budget) -> Bought:
        """Prices near these at which hardly a purchase gains, and the patterns of purchases that gained on the way.

        The pieces of a pattern that gains are made cheaper until it does not (a Newton step on their ratio), and so on.

        Parameters
        ----------
        prices
            Price of each piece type, pence, at least 0.
        budget
            Work is counted on it.
        """
        safe, patterns, everything = dict(prices), list[Pattern](), list[Priced]()
        for pricer in self.hopeful:
            if pricer.sources[0].option is None:
                continue
            priced: list[Priced] = []
            for _ in range(MOST_LOWERINGS):
                priced = pricer.price(safe)
                budget.spend(1)
                one = max(priced, key=lambda p: p.value - p.source.value_pence, default=None)
                if one is None or one.value - one.source.value_pence <= GAIN / 10:
                    break
                patterns.append(pricer.pattern(one.source))
                made = patterns[-1].made()
                scale = _no_gain(one, sum(safe[t] * n for t, n in made.items()))
                safe.update({t: safe[t] * scale for t in made})
            pricer.forget()
            everything.extend(priced)
        return Bought(safe, everything, patterns)


@dataclass(frozen=True, slots=True)
class Bought:
    """Prices at which hardly a purchase gains, the value of every purchase at them, and patterns that gained before."""

    prices: dict[PieceType, float]
    priced: list[Priced]
    patterns: list[Pattern]


def _no_gain(one: Priced, pieces: float) -> float:
    """What to scale the prices of a purchase's pieces by, worth so much together, so that it no longer gains."""
    rest = one.value - pieces  # leftovers less cuts
    return max(0.0, (one.source.value_pence - rest) / pieces) if pieces > 0 else 0.0


class Generator:
    """Column generation with smoothed prices, resumable, keeping the best bound seen.

    Patterns are sought at prices between those of the relaxation and those of the best bound so far (Wentges 1997);
    where that finds none that gains, the share of the latter is halved. From the prices of an ascent of 100 rounds it
    takes a third fewer rounds than without; from poor prices it takes more.

    Parameters
    ----------
    master
        The relaxation; patterns are added to it.
    pricers
        Recursions of the same problem.
    budget
        Work and clock.
    centre
        Prices of a good bound; without them nothing is smoothed. Kept at those of the best bound found.
    """

    def __init__(
        self, master: Master, pricers: Pricers, budget: Budget, centre: Mapping[PieceType, float] | None = None
    ) -> None:
        self.master, self.pricers, self.budget = master, pricers, budget
        self.bound = 0.0
        self._own = -math.inf
        self.centre = dict(centre or {})

    def run(
        self, rounds: int = 10_000, tolerance: float = TOLERANCE, on_round: Callable[[float, float], None] | None = None
    ) -> bool:
        """Add patterns until none gains; the master is left solved.

        Parameters
        ----------
        rounds
            Most rounds; default no limit to speak of.
        tolerance
            Distance between value and bound, relative, at which the relaxation counts as solved.
        on_round
            Told the value and the bound after each round.

        Returns
        -------
        False when the relaxation is infeasible.
        """
        smoothing = SMOOTHING if self.centre else 0.0
        for _ in range(rounds):
            if not self.master.solve():
                return False
            if self.budget.over(BOUND_RESERVE * self.pricers.bound_seconds):
                break
            added = self._price(smoothing)
            if on_round is not None:
                on_round(self.master.value, self.bound)
            if self.master.value - self._own < max(GAIN, tolerance * self.master.value):
                break
            if added == 0 and smoothing == 0.0:
                break
            if added == 0:
                smoothing = smoothing / 2 if smoothing > LEAST_SMOOTHING else 0.0
        if not self.pricers.exact and self.centre:
            self.bound = max(self.bound, self.pricers.bound(self.centre, self.budget)[0])
            if on_round is not None:
                on_round(self.master.value, self.bound)
            if self.pricers.on_grid:
                self._with_every_width(on_round)
        return True

    def _with_every_width(self, on_round: Callable[[float, float], None] | None) -> None:
        """A few rounds more with lanes of every width, which the rounds before did without."""
        for _ in range(ROUNDS_WITH_EVERY_WIDTH):
            if self.budget.over(2 * BOUND_RESERVE * self.pricers.bound_seconds):
                return
            prices, classes = self.master.prices(), self.master.class_prices()
            fresh, priced = _price_all(self.pricers.hopeful, prices, classes, self.budget)
            self.bound = max(self.bound, self.pricers.bound(prices, self.budget, priced)[0])
            if on_round is not None:
                on_round(self.master.value, self.bound)
            if not self.master.add(fresh) or not self.master.solve():
                return

    def _price(self, smoothing: float) -> int:
        """Price everything, keep the bound, and add what gains at the relaxation's own prices.

        Where the recursions that find patterns do not bound all patterns, what they give only guides the prices.
        """
        exact, classes = self.master.prices(), self.master.class_prices()
        prices = {t: smoothing * self.centre.get(t, p) + (1 - smoothing) * p for t, p in exact.items()}
        fresh, priced = _price_all(self.pricers.real, prices, classes, self.budget)
        if self.pricers.exact:
            bound, safe = self.pricers.bound(prices, self.budget, priced)
            self.bound = max(self.bound, bound)
        else:
            bound = lagrangian_bound(self.pricers.instance, prices, priced)
            safe = repaired(self.pricers.instance, prices, priced)
        if bound > self._own:
            self._own, self.centre = bound, safe
        return self.master.add(p for p in fresh if self._gains(p, exact, classes))

    def _gains(self, pattern: Pattern, prices: Mapping[PieceType, float], classes: Mapping[Source, float]) -> bool:
        value = sum(prices.get(t, 0.0) * n for t, n in pattern.made().items())
        return value - pattern.cost(self.pricers.instance) + classes.get(pattern.source, 0.0) > GAIN / 10


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
        gains = [(p.value - p.source.value_pence + class_prices.get(p.source, 0.0), p.source) for p in priced]
        gaining = sorted((g for g in gains if g[0] > GAIN / 10), key=lambda g: -g[0])
        fresh.extend(pricer.pattern(source) for _, source in gaining[:MOST_AT_ONCE])
        pricer.forget()
    return fresh, everything
