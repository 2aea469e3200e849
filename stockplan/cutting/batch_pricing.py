"""Loads worth serving at the prices of the program over whole batches, sought within one batch at a time.

What a batch's best load is at given prices is a knapsack over its cuts (prize-collecting cutting stock), too hard to
answer exactly for more than a few pieces. So a load is ruined and recreated (`walks.py`), and every load met is
remembered with the others (`seen.py`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.budget import Budget
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Prices, Solution
from stockplan.cutting.walks import walk

MOVES_PER_WORK = 500
HEAT = 0.05  # temperature at the start, as a share of the median price of a unit; it falls a hundredfold


class BatchPricing:
    """Looks for loads that gain at given prices.

    Parameters
    ----------
    recreate
        Whose room, chance and memory are used.
    """

    def __init__(self, recreate: Recreate) -> None:
        self._recreate, flat = recreate, recreate.flat
        servable: list[list[int]] = [[] for _ in recreate.instance.batches]
        for (group, choice), place in flat.unit_at.items():
            if recreate.instance.groups[group].demands[choice]:
                servable[choice.batch].append(place)
        self._servable = [np.array(places, dtype=np.int64) for places in servable]

    def run(self, starts: Sequence[BatchColumn], prices: Sequence[float], moves: int, budget: Budget) -> None:
        """Walk from each of some columns.

        Parameters
        ----------
        starts
            Where to begin.
        prices
            By group: what one unit served is worth, pence.
        moves
            From each column.
        budget
            Work and clock.
        """
        recreate = self._recreate
        paid = [max(0.0, price) for price in prices]
        # The median: what would be left short is priced by its penalty.
        wanted = sorted(price for price in paid if price > 0.0)
        heat = max(1.0, HEAT * wanted[len(wanted) // 2]) if wanted else 1.0
        worth, _ = recreate.seen.worths(Prices(paid))
        for column in starts:
            budget.spend(-(-moves // MOVES_PER_WORK))
            if budget.over():
                return
            recreate.load(Solution(Counter(column.patterns), dict(Counter(column.load)), frozenset()))
            for done in range(0, moves, MOVES_PER_WORK):
                walk(
                    recreate.flat.facts,
                    recreate.state,
                    recreate.seen.loads,
                    self._servable[column.batch],
                    worth,
                    min(MOVES_PER_WORK, moves - done),
                    np.array([heat * 0.01 ** (done / moves), 0.01 ** (1 / moves)]),
                )
