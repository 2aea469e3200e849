"""Sets of pieces cut from what is bought, none with more of a piece than is needed at all.

Recursions that repeat pieces without end (`valuing.py`) fill a roll with the strips of a job five times over; a
relaxation then buys a fifth of such a roll, and wastes nothing. On weeks of 30 jobs an eighth to a third of the rolls
bought was of this sort, and without it the relaxation over whole loads (`whole_loads.py`) is 0.07 to 0.34 % higher.
Listing what gains takes a few hundredths of a second for a roll (`near_sets.py`), once prices are near.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from stockplan.cutting.budget import Budget
from stockplan.cutting.charged_sets import Charged, Listed
from stockplan.cutting.grounds import Ground
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.kinds import most_needed
from stockplan.cutting.near_sets import NearSets
from stockplan.cutting.pricers import GAIN, Pricers
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.set_master import PieceSet
from stockplan.cutting.valuing import Priced

ENOUGH = 60  # sets in a round
FIRST_STEP = 2_000.0  # pence below what a purchase is worth at most: many sets at a time, since rounds take longer


class Bought(NamedTuple):
    """What every purchase is worth at most, sets that gain, and whether there are no others that do."""

    priced: list[Priced]
    gaining: list[PieceSet]
    settled: bool


class BoughtSets:
    """Such sets for one problem.

    Parameters
    ----------
    instance
        The problem.
    pricers
        Its recursions, exact.
    """

    def __init__(self, instance: Instance, pricers: Pricers) -> None:
        self._pricers = [pricer for pricer in pricers.each if pricer.sources[0].option is not None]
        self._most = most_needed(instance)
        self._grounds: dict[Source, Ground] = {}  # exact, since one must tell of all lengths which of them gain
        self._in_steps: dict[Source, Ground] = {}  # to list what does
        self._pools: dict[Source, Listed] = {}

    def priced(self, prices: Mapping[PieceType, float], budget: Budget) -> Bought:
        """What every purchase is worth at most, and sets that gain, where they can be listed in time.

        Parameters
        ----------
        prices
            Price of each piece type, pence, at least 0.
        budget
            Work is counted on it.
        """
        worth: list[Priced] = []
        found: list[PieceSet] = []
        for pricer in self._pricers:
            for one, near in self._at_most(pricer, prices):
                if len(found) < ENOUGH and one.value > one.source.value_pence + GAIN and not budget.over():
                    value, fresh = self._gaining(one.source, prices, near)
                    budget.spend(1)
                    found.extend(fresh)
                    worth.append(Priced(one.source, min(value, one.value)))
                else:
                    worth.append(one)
        settled = all(one.value <= one.source.value_pence + GAIN for one in worth)
        return Bought(worth, found, settled)

    def known(self, prices: Mapping[PieceType, float]) -> list[PieceSet]:
        """The sets listed before that gain most at prices of pieces, pence, as many as are enough for a round."""
        found: list[PieceSet] = []
        for source, pool in self._pools.items():
            if len(found) < ENOUGH:
                found.extend(Charged(self._grounds[source], prices, {}).known(pool, source.value_pence + GAIN))
        return found

    def _at_most(self, pricer: Pricer, prices: Mapping[PieceType, float]) -> list[tuple[Priced, NearSets]]:
        """What every source is worth at most, and the listing that tells so, the one that gains most first."""
        near: dict[tuple[int, bool], NearSets] = {}
        worth = []
        for source in sorted(pricer.sources, key=lambda source: -source.length_mm):
            alike, ground = (source.width_mm, source.on_core), self._ground(pricer, source)
            if alike not in near:
                near[alike] = NearSets(ground, prices)
            worth.append((Priced(source, near[alike].most_of(ground.points)), near[alike]))
        return sorted(worth, key=lambda one: one[0].source.value_pence - one[0].value)

    def _ground(self, pricer: Pricer, source: Source) -> Ground:
        if source not in self._grounds:
            ground = self._grounds[source] = Ground(pricer, self._most, source)
            self._pools[source] = Listed(ground, FIRST_STEP)
        return self._grounds[source]

    def _gaining(
        self, source: Source, prices: Mapping[PieceType, float], longest: NearSets
    ) -> tuple[float, list[PieceSet]]:
        """At most what a purchase is worth, pence, and sets that gain."""
        pool = self._pools[source]
        if source not in self._in_steps:
            self._in_steps[source] = Ground.in_steps(longest.ground.pricer, self._most, source)
        ground = self._in_steps[source]
        same = longest.ground.source == source and len(longest.ground.reach) == len(ground.reach)
        return Charged(ground, prices, {}, longest if same else None).gaining(pool, source.value_pence + GAIN)
