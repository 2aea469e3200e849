"""Which units a batch has served as a whole in some answer tried, and how cheaply: what ruin and recreate remembers.

Most trial answers are worse than the best, but each of their batches may be better than the best's: put together anew
(`recombining.py`) they make answers that no single trial came near. What is bought hardly ever serves the same units
twice; of it the cuts of single purchases are kept, from trials that were taken up. Far more is remembered than a linear
program could hold: what is asked for is what loses least at given prices.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from stockplan.cutting.flat import UNIT_SIZE, Flat, Numbers
from stockplan.cutting.loads import (
    BATCH,
    ENTRIES_AT,
    ENTRY_SIZE,
    EVER,
    MOST_ENTRIES,
    PLACE,
    PRICE,
    ROWS,
    TAKEN,
    UNITS,
    Worths,
    losses,
    new_log,
    ring_at,
)
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Load, Prices

LOADS, PURCHASES = 2**16, 2**14
NUMBERS_OF_LOADS, NUMBERS_OF_PURCHASES = 2**22, 2**19
LITTLE = 2**6  # one in so many


class SeenLoad(NamedTuple):
    """What a batch was seen to serve: the units in order, the patterns that make them, and their cost in pence."""

    batch: int
    load: Load
    patterns: tuple[Pattern, ...]
    cost: int


class Seen:
    """What was seen, told once each.

    Parameters
    ----------
    flat
        The problem.
    little
        Whether to remember but a little, where nobody will ask; default not.
    """

    def __init__(self, flat: Flat, *, little: bool = False) -> None:
        self._flat = flat
        part = LITTLE if little else 1
        self.loads = new_log(LOADS // part, NUMBERS_OF_LOADS // part)
        self.purchases = new_log(PURCHASES // part, NUMBERS_OF_PURCHASES // part)

    def new_loads(self, prices: Prices | None, loss: float, most: int) -> list[SeenLoad]:
        """Loads not told before, or cheaper than they were told, that lose at most so many pence at some prices.

        Parameters
        ----------
        prices
            None takes the newest.
        loss
            Pence, exclusive.
        most
            Those that lose least, at most so many.
        """
        return [self._load(entry) for entry in self._take(self.loads, prices, loss, most)]

    def new_purchases(self, prices: Prices | None, loss: float, most: int) -> list[Pattern]:
        """Cuts of purchases not told before, likewise."""
        entries = self._take(self.purchases, prices, loss, most)
        return [self._patterns(self.purchases, ring_at(self.purchases, entry), 1)[0] for entry in entries]

    def tell_again(self) -> None:
        """What was told may be told once more."""
        for log in (self.loads, self.purchases):
            entries = log[log[ENTRIES_AT] : log[ENTRIES_AT] + log[MOST_ENTRIES] * ENTRY_SIZE]
            entries[TAKEN::ENTRY_SIZE] = 0

    def _take(self, log: Numbers, prices: Prices | None, loss: float, most: int) -> Iterator[int]:
        """Places of the entries asked for, which from now on are told."""
        lost = losses(log, *self.worths(prices or Prices()))
        places = log[ENTRIES_AT] + ENTRY_SIZE * np.arange(log[MOST_ENTRIES])
        open_ones = np.flatnonzero(np.isfinite(lost))
        if prices is None:
            chosen = open_ones[np.argsort(-log[places[open_ones] + PLACE])][:most]
        else:
            open_ones = open_ones[lost[open_ones] < loss]
            chosen = open_ones[np.argsort(lost[open_ones], kind="stable")][:most]
        for number in chosen:
            log[places[number] + TAKEN] = 1
            yield int(places[number])

    def worths(self, prices: Prices) -> tuple[Worths, Worths]:
        """What units and pieces are worth by their place in `facts`, and what batches are."""
        flat = self._flat
        worth = np.zeros(len(flat.facts))
        if prices.groups:
            units = [prices.groups[g] - flat.instance.groups[g].cost(choice) for g, choice in flat.unit_keys]
            worth[flat.first_unit : flat.first_unit + UNIT_SIZE * len(units) : UNIT_SIZE] = units
        for piece, price in prices.pieces.items():
            worth[flat.type_at[piece]] = price
        batches = np.zeros(len(flat.instance.batches))
        for batch, price in prices.batches.items():
            batches[batch] = price
        return worth, batches

    def _load(self, entry: int) -> SeenLoad:
        log, flat = self.loads, self._flat
        at = ring_at(log, entry)
        units = (flat.unit_keys[(unit - flat.first_unit) // UNIT_SIZE] for unit in log[at : at + log[entry + UNITS]])
        load = tuple(sorted((g, choice) for g, choice in units if flat.instance.groups[g].demands[choice]))
        patterns = self._patterns(log, at + log[entry + UNITS], log[entry + ROWS])
        return SeenLoad(int(log[entry + BATCH]), load, patterns, int(log[entry + PRICE]))

    def _patterns(self, log: Numbers, at: int, count: int) -> tuple[Pattern, ...]:
        found = []
        for _ in range(count):
            end = at + 3 + log[at]
            found.append(self._flat.pattern(int(log[at + 1]), log[at + 3 : end]))
            at = end
        return tuple(found)

    @property
    def noted(self) -> tuple[int, int]:
        """How many loads and purchases were ever noted."""
        return int(self.loads[EVER]), int(self.purchases[EVER])
