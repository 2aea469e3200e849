"""What one batch can serve at most at new prices of units, told at once by prices of its pieces found before.

    R_b  <=  sum over c of copies_c max(0, worth_c - value_c)  +  sum over g of units_g max(0, price_g - cost_g)

Worth of a class and cost of a unit are at those prices of pieces, less what rows of `links.py` charge and give back
there; only the prices of units are new (Lagrange's bound of `bounds.py`, which holds at any prices). Where a batch is
left no time, or too little to find better ones, it stands in, so that no pass over the batches is lost.

Worths are over sets that hold no piece more often than the groups need it that were worth serving then, and its rows
tie pieces that no other of these needs. Where another group that needs such a piece is worth serving now, neither need
be so, and nothing is known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from stockplan.cutting.bounds import lagrangian_bound
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.valuing import Priced


class Standing(NamedTuple):
    """Prices found before.

    Parameters
    ----------
    prices
        Of pieces, pence; others are free.
    rebates
        By group and choice: pence that rows take off serving a unit.
    worth
        By class: at most what it is worth at these prices, less what its rows charge, pence. Classes left out hold no
        piece that is not free.
    groups
        Those that were worth serving then.
    """

    prices: Mapping[PieceType, float]
    rebates: Mapping[tuple[int, Choice], float]
    worth: Mapping[Source, float]
    groups: frozenset[int]

    def most(self, alone: Instance, which: Sequence[int]) -> float:
        """R_b at most, pence; infinite where nothing is known.

        Parameters
        ----------
        alone
            The batch as a problem of its own (`batch_relaxation.of_batch`).
        which
            Its groups, by their numbers here.
        """
        others = (one for number, one in zip(which, alone.groups, strict=True) if number not in self.groups)
        if any(piece in self.prices for one in others for demand in one.demands.values() for piece in demand):
            return math.inf
        place = {group: number for number, group in enumerate(which)}
        off = {(place[group], choice): pence for (group, choice), pence in self.rebates.items() if group in place}
        priced = [Priced(source, self.worth[source]) for source in alone.sources if source in self.worth]
        return sum(alone.penalties) - lagrangian_bound(alone, self.prices, priced, off)
