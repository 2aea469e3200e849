"""What pieces and units are worth at most where they are bought: prices at which no purchase gains.

Such a price is part of a bound only where no purchase gains at it: purchases have no end. They are priced over sets
that hold no piece more often than it is needed (`bought_sets.py`); where these cannot be listed in time, over patterns
that may repeat pieces.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from stockplan.cutting.ascent import first_price
from stockplan.cutting.batch_columns import bought_batches
from stockplan.cutting.batch_master import BatchMaster
from stockplan.cutting.bought_sets import BoughtSets
from stockplan.cutting.bounds import repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.pricers import Pricers

FINEST = 1 / 1024  # of prices of units, pence: with whole pence a bound ends a penny or two below a plan that is best
MOST_LOOKS = 40  # at purchases, each at prices of its own
HIGHER, LEAST_FENCE = 1.05, 0.1  # a fence than the price before; than what a piece costs from a roll without waste


def in_steps(price: float) -> float:
    """A price rounded down to a multiple of `FINEST`: these add up exactly."""
    return math.floor(price / FINEST) * FINEST


class BoughtPrices:
    """Such prices for one problem.

    Parameters
    ----------
    instance
        The problem.
    pricers
        Its recursions, exact.
    prices
        Prices of pieces at which no purchase gains.

    Raises
    ------
    ValueError
        When the grid does not carry all sizes.
    """

    def __init__(self, instance: Instance, pricers: Pricers, prices: Mapping[PieceType, float]) -> None:
        if not pricers.exact:
            raise ValueError("the grid does not carry all sizes")
        self.instance, self._pricers = instance, pricers
        self._bought = bought_batches(instance)
        self._sets = BoughtSets(instance, pricers)
        self._fences = {
            t: HIGHER * max(prices.get(t, 0.0), LEAST_FENCE * first_price(instance, t))
            for t in instance.piece_types()
            if t.batch in self._bought
        }
        self._higher = dict.fromkeys(self._fences, HIGHER)
        self._fenced: BatchMaster | None = None
        self.prices: Mapping[PieceType, float] = prices

    def settle(self, master: BatchMaster, budget: Budget, moving: Budget) -> bool:
        """Add to the relaxation what gains of purchases until nothing does; whether anything did.

        While few sets are known a piece may seem to be worth anything, so each is fenced in by a price a little above
        one at which none gained. The fences of those that lean on them are moved once nothing gains.

        Parameters
        ----------
        master
            The relaxation, solved.
        budget
            Work and clock.
        moving
            When that is over fences stay where they are.
        """
        if master is not self._fenced:
            master.fence(self._fences)
            self._fenced = master
            if not master.solve():
                return False
        for number in range(MOST_LOOKS):
            prices = master.piece_prices()
            changed = master.add(sets=self._sets.known(prices)) > 0 or self._look(master, prices, budget, moving)
            if not changed or budget.over() or not master.solve():
                return number > 0
        return True

    def _look(self, master: BatchMaster, prices: Mapping[PieceType, float], budget: Budget, moving: Budget) -> bool:
        """Price every purchase, note prices at which none gains, and change the relaxation; whether it was changed."""
        bought = self._sets.priced(prices, budget)
        if not bought.gaining and not bought.settled:
            safe = self._pricers.without_gain(prices, budget)
            self.prices = repaired(self.instance, safe.prices, safe.priced)
            return master.add((), safe.patterns) > 0
        self.prices = repaired(self.instance, prices, bought.priced)
        if bought.settled:
            return not moving.over() and self._move_fences(master)
        return master.add(sets=bought.gaining) > 0

    def _move_fences(self, master: BatchMaster) -> bool:
        """Raise the prices at which pieces are had that are bought so; whether there were any."""
        leant_on = master.leant_on()
        for piece in leant_on:
            self._fences[piece] *= self._higher[piece]
            self._higher[piece] *= HIGHER
        master.fence({piece: self._fences[piece] for piece in leant_on})
        return bool(leant_on)

    def of_units(self, worth: Sequence[float]) -> list[float]:
        """By group: what serving a unit is worth, no more than buying it costs, in steps of `FINEST`; pence.

        Parameters
        ----------
        worth
            By group: what a unit served is worth, pence.
        """
        prices = []
        for price, group in zip(worth, self.instance.groups, strict=True):
            least = [price]
            bought = (h for h, demand in group.demands.items() if h.batch in self._bought or not demand)
            least.extend(group.cost_at(choice, self.prices) for choice in bought)
            prices.append(max(0.0, in_steps(min(least))))
        return prices
