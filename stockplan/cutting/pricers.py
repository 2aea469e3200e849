"""The pricing recursions of a whole problem, one for all that is of the same grass, and the bound from prices."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from stockplan.cutting.bounds import lagrangian_bound, repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import bends_upward
from stockplan.cutting.grid import MOST_LENGTH_POINTS, MOST_WIDTH_POINTS, Grid, choose_step
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.valuing import Priced, Room
from stockplan.domain.stock import CUT_LENGTH_STEP_MM
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_LENGTH_MM, LEAST_WIDTH_MM

GAIN = 0.01  # pence; a pattern that gains no more is none
MOST_LOWERINGS = 40  # values of a purchase on the way to prices at which none gains
LOWERED = 4  # patterns looked into between two such values, for one of those usual


class Pricers:
    """The pricing recursions of a problem: no pattern that can be cut is worth more than they say.

    `exact` says that the grid carries every size, so that what they say can be cut; `too_coarse` that some piece is
    smaller than a step of it, so that no bound can be had; `points` how many steps long the longest source is.

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
        self._full_from = -(-instance.widest_mm * FULL_WIDTH_PERCENT // 100)
        types = instance.piece_types()
        along, across = self._grid(types, lengthwise=True), self._grid(types, lengthwise=False)
        self._along, self._across, self._apart = along, across, apart
        self.exact = along.exact and across.exact
        self.too_coarse = any(t.length_mm < along.step_mm or t.width_mm < across.step_mm for t in types)
        self.points = max((along.room(s.length_mm) for s in instance.sources), default=0)

    @cached_property
    def each(self) -> list[Pricer]:
        """One for what is of the same grass, or for each class of stock; none where the grid is too coarse."""
        return [] if self.too_coarse else self._build()

    def _grid(self, types: tuple[PieceType, ...], *, lengthwise: bool) -> Grid:
        """Leftover thresholds lie on the grid too: a drop may be made longer until what is left is worth keeping."""
        if lengthwise:
            sizes = {t.length_mm for t in types} | {s.length_mm for s in self.instance.sources}
            return Grid(*choose_step(sizes | {LEAST_LENGTH_MM, CUT_LENGTH_STEP_MM}, MOST_LENGTH_POINTS))
        widths = {s.width_mm for s in self.instance.sources}
        # Where lanes of every width on the grid are tried, one may be just wide enough to count as full width.
        kept = {LEAST_WIDTH_MM, self._full_from} if max(widths, default=0) >= 2 * self._full_from else {LEAST_WIDTH_MM}
        return Grid(*choose_step({t.width_mm for t in types} | widths | kept, MOST_WIDTH_POINTS))

    def _build(self) -> list[Pricer]:
        types, along, across = self.instance.piece_types(), self._along, self._across
        alike: defaultdict[tuple[int, float, int | None, Source | None], list[Source]] = defaultdict(list)
        for source in self.instance.sources:
            cost = source.unit_cost.pence / source.unit_cost.area_mm2 if source.option is None else 0.0
            itself = source if self._apart and source.option is None else None
            alike[source.batch, cost, source.gate, itself].append(source)
        bends = bends_upward(self.instance) and LEAST_WIDTH_MM % across.step_mm == 0
        pricers, memory = [], Room()
        for sources in alike.values():
            # Two leftovers of a source twice as wide as full width may count as full: no one lane takes the rest.
            taken = bends and max(s.width_mm for s in sources) < 2 * self._full_from
            sources.sort(key=lambda s: -s.unit_cost.pence / s.unit_cost.area_mm2)
            pricer = Pricer(self.instance, sources, types, along, across, taken=taken, room=memory)
            if pricer.types:
                pricers.append(pricer)
        return pricers

    def bound(self, prices: Mapping[PieceType, float], budget: Budget) -> tuple[float, dict[PieceType, float]]:
        """A lower bound from prices, by the recursions that no pattern exceeds, and the prices it holds at.

        Parameters
        ----------
        prices
            Price of each piece type, pence, at least 0.
        budget
            Work is counted on it.

        Returns
        -------
        The bound, 0 when the budget is over first, and prices at which no purchase gains.
        """
        stock: list[Priced] = []
        for pricer in self.each:
            if budget.over():
                return 0.0, dict(prices)
            if pricer.sources[0].option is None:
                stock.extend(pricer.price(prices))
                pricer.forget()
                budget.spend(1)
        bought = self.without_gain(prices, budget)
        everything = [*stock, *bought.priced]
        bound = lagrangian_bound(self.instance, bought.prices, everything)
        return bound, repaired(self.instance, bought.prices, everything)

    def without_gain(self, prices: Mapping[PieceType, float], budget: Budget) -> Bought:
        """Prices near these at which hardly a purchase gains, and the patterns of purchases that gained on the way.

        The pieces of a pattern that gains are made cheaper until it does not (a Newton step on their ratio), then those
        of the next that still gains; and so on from new values.

        Parameters
        ----------
        prices
            Price of each piece type, pence, at least 0.
        budget
            Work is counted on it.
        """
        safe, patterns, everything = dict(prices), dict[Pattern, float](), list[Priced]()
        for pricer in self.each:
            if pricer.sources[0].option is None:
                continue
            priced: list[Priced] = []
            for _ in range(MOST_LOWERINGS):
                priced = pricer.price(safe)
                budget.spend(1)
                one = max(priced, key=lambda p: p.value - p.source.value_pence, default=None)
                if one is None or one.value - one.source.value_pence <= GAIN:
                    break
                asked, cost = dict(safe), one.source.value_pence
                for pattern, value in pricer.patterns(one.source, cost + GAIN, LOWERED * pricer.usual):
                    made = pattern.made()
                    rest = value - sum(asked[t] * n for t, n in made.items())  # leftovers less cuts
                    pieces = sum(safe[t] * n for t, n in made.items())
                    if pieces > 0.0 and pieces + rest > cost + GAIN:
                        patterns[pattern] = pricer.cost(pattern, value, asked)
                        scale = max(0.0, (cost - rest) / pieces)
                        safe.update({t: safe[t] * scale for t in made})
            pricer.forget()
            everything.extend(priced)
        return Bought(safe, everything, patterns)


@dataclass(frozen=True, slots=True)
class Bought:
    """Prices at which hardly a purchase gains, every purchase's value at them, patterns that gained and their costs."""

    prices: dict[PieceType, float]
    priced: list[Priced]
    patterns: dict[Pattern, float]
