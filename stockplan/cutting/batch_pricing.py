"""Loads worth serving at the prices of the program over whole batches, sought within one batch at a time.

What a batch's best load is at given prices is a knapsack over its cuts (prize-collecting cutting stock), too hard to
answer exactly for more than a few pieces. So a load is ruined and recreated: a unit or two are dropped, then units are
taken on as long as one is worth more than the cheapest place for it costs; simulated annealing decides what is kept.
Every load met is remembered with the others (`seen.py`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.budget import Budget
from stockplan.cutting.recreate import Pile, Recreate
from stockplan.cutting.seen import Unit

MOVES_PER_WORK = 20
HEAT = 0.05  # temperature at the start, as a share of the median price of a unit; it falls a hundredfold
TRIED = 8  # units tried for a place
MOST_TAKEN_ON = 3
NOISE = 0.05


class BatchPricing:
    """Looks for loads that gain at given prices.

    Parameters
    ----------
    recreate
        Whose bench, chance and memory are used.
    """

    def __init__(self, recreate: Recreate) -> None:
        self.instance, self._recreate, self._random = recreate.instance, recreate, recreate.random
        self._servable: list[list[Unit]] = [[] for _ in self.instance.batches]
        for number, group in enumerate(self.instance.groups):
            for choice, demand in group.demands.items():
                if demand:
                    self._servable[choice.batch].append((number, choice))
        self._copies: list[dict[int, int]] = [{} for _ in self.instance.batches]
        for number, source in enumerate(self.instance.sources):
            if source.copies is not None:
                self._copies[source.batch][number] = source.copies

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
        worth = [max(0.0, price) for price in prices]
        # The median: what would be left short is priced by its penalty.
        heat = max(1.0, HEAT * sorted(worth)[len(worth) // 2]) if worth else 1.0
        for column in starts:
            budget.spend(-(-moves // MOVES_PER_WORK))
            if budget.over():
                return
            self._walk(column.batch, self._pile(column), worth, moves, heat)

    def _pile(self, column: BatchColumn) -> Pile:
        opened = tuple(self._recreate.bench.from_pattern(pattern) for pattern in column.patterns)
        used = Counter(one.source for one in opened)
        whole = {source: copies - used[source] for source, copies in self._copies[column.batch].items()}
        return Pile(opened, whole, column.load)

    def _walk(self, batch: int, pile: Pile, worth: Sequence[float], moves: int, heat: float) -> None:
        value = self._value(pile, worth)
        for move in range(moves):
            trial = self._moved(batch, pile, worth)
            if trial is pile:
                continue
            self._recreate.seen.note(batch, trial.load, trial.opened)
            after = self._value(trial, worth)
            temperature = heat * 0.01 ** (move / moves)
            if after < value - temperature * math.log(1.0 - self._random.random()):
                pile, value = trial, after

    def _value(self, pile: Pile, worth: Sequence[float]) -> float:
        """Cost less what is served is worth, pence."""
        served = sum([worth[g] - self.instance.groups[g].cost(choice) for g, choice in pile.load])
        return pile.cost - served

    def _moved(self, batch: int, pile: Pile, worth: Sequence[float]) -> Pile:
        """A pile with a unit or two dropped and others taken on."""
        for _ in range(min(len(pile.load), self._random.choice((0, 1, 1, 2)))):
            pile = self._recreate.without(pile, self._random.choice(pile.load))
        for _ in range(MOST_TAKEN_ON):
            unit = self._best_unit(batch, pile, worth)
            more = None if unit is None else self._recreate.with_unit(pile, unit)
            if more is None:
                break
            pile = more
        return pile

    def _best_unit(self, batch: int, pile: Pile, worth: Sequence[float]) -> Unit | None:
        """Of some units not served, the one worth most above its cheapest place, give or take; None where none is."""
        units = self._servable[batch]
        served = Counter(group for group, _ in pile.load)
        best: tuple[float, Unit] | None = None
        for unit in self._random.sample(units, min(TRIED, len(units))):
            group, choice = unit
            if served[group] >= self.instance.groups[group].units:
                continue
            offer = self._recreate.offer(pile, group, choice)
            if offer is None:
                continue
            gain = worth[group] - offer - self.instance.groups[group].cost(choice)
            gain += NOISE * worth[group] * (self._random.random() - 0.5)
            if gain > 0 and (best is None or gain > best[0]):
                best = (gain, unit)
        return None if best is None else best[1]
