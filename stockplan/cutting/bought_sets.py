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
from stockplan.cutting.grounds import STEP_MM, Ground
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.kinds import most_needed
from stockplan.cutting.near_sets import NearSets
from stockplan.cutting.pricers import GAIN, Pricers
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.set_master import PieceSet
from stockplan.cutting.valuing import Priced

ENOUGH = 60  # sets in a round
FEW, MOST_LISTED = 3, 1_000  # sources listed at a time by tables in steps, which promise too much, and by exact ones
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
        self._fine = any(pricer.along.step_mm < STEP_MM for pricer in self._pricers)
        self._in_steps: dict[Source, Ground] = {}
        self._exact: dict[Source, Ground] = {}
        self._pools: dict[Source, Listed] = {}

    def priced(self, prices: Mapping[PieceType, float], budget: Budget) -> Bought:
        """What every purchase is worth at most, and sets that gain, where they can be listed in time.

        Where the grid is fine tables in steps are sooner made and mostly lead to some; where not, exact ones tell which
        lengths may gain at all.

        Parameters
        ----------
        prices
            Price of each piece type, pence, at least 0.
        budget
            Work is counted on it.
        """
        if self._fine:
            roughly = self._looked(prices, budget, self._in_steps, FEW)
            if roughly.gaining or roughly.settled or budget.over():
                return roughly
        return self._looked(prices, budget, self._exact, MOST_LISTED)

    def _looked(
        self, prices: Mapping[PieceType, float], budget: Budget, grounds: dict[Source, Ground], listings: int
    ) -> Bought:
        """The same by some tables, with at most so many sources of each of the recursions listed."""
        worth: list[Priced] = []
        found: list[PieceSet] = []
        for pricer in self._pricers:
            left = listings
            for one, near in self._at_most(pricer, prices, grounds):
                gains = one.value > one.source.value_pence + GAIN
                if left and len(found) < ENOUGH and gains and not budget.over():
                    left -= 1
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
                found.extend(Charged(self._in_steps[source], prices, {}).known(pool, source.value_pence + GAIN))
        return found

    def _at_most(
        self, pricer: Pricer, prices: Mapping[PieceType, float], grounds: dict[Source, Ground]
    ) -> list[tuple[Priced, NearSets]]:
        """What every source is worth at most, and the listing that tells so, the one that gains most first."""
        near: dict[tuple[int, bool], NearSets] = {}
        worth = []
        for source in sorted(pricer.sources, key=lambda source: -source.length_mm):
            alike, points = (source.width_mm, source.on_core), pricer.along.room(source.length_mm)
            if alike not in near:
                near[alike] = NearSets(self._ground(pricer, source, grounds), prices)
            worth.append((Priced(source, near[alike].most_of(points)), near[alike]))
        return sorted(worth, key=lambda one: one[0].source.value_pence - one[0].value)

    def _ground(self, pricer: Pricer, source: Source, grounds: dict[Source, Ground]) -> Ground:
        if source not in grounds:
            made = Ground if grounds is self._exact else Ground.in_steps
            grounds[source] = made(pricer, self._most, source)
        return grounds[source]

    def _gaining(
        self, source: Source, prices: Mapping[PieceType, float], longest: NearSets
    ) -> tuple[float, list[PieceSet]]:
        """At most what a purchase is worth, pence, and sets that gain."""
        ground = self._ground(longest.ground.pricer, source, self._in_steps)
        if source not in self._pools:
            self._pools[source] = Listed(ground, FIRST_STEP)
        same = longest.ground.source == source and len(longest.ground.reach) == len(ground.reach)
        return Charged(ground, prices, {}, longest if same else None).gaining(
            self._pools[source], source.value_pence + GAIN
        )
