"""Sets of pieces of one class of stock, less what rows of `links.py` charge for them; and those listed before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.grounds import Ground
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.led_listing import MOST_PIECES
from stockplan.cutting.links import Link
from stockplan.cutting.near_sets import Effort, Near, NearSets
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.set_master import PieceSet
from stockplan.cutting.touching import charges_of
from stockplan.cutting.valuing import Floats

A_ROUND = 40  # sets taken from each class in a round
FIRST_STEP = 500.0  # pence below what a class is worth at most, where sets are first looked for
STEPS_LONGER, SHORTER = 2.0, 0.8  # than the last step downward; than the last one that brought a set
LEAST_SHARE, EASIER = 1 / 16, 4.0  # of that, for a class where it was too little; by how much less each time
PRICING = Effort(drops=100_000, sets=20_000, drop_steps=15_000_000, set_steps=100_000_000)


class Listed:
    """Sets of pieces of one class that were listed before, at whatever prices: looked through first.

    Parameters
    ----------
    ground
        The class.
    step
        Pence below what it is worth at most, where sets are first looked for; default `FIRST_STEP`.
    """

    def __init__(self, ground: Ground, step: float = FIRST_STEP) -> None:
        self._needs = np.zeros((0, len(ground.types)), dtype=np.int8)
        self._costs = np.zeros(0)
        self._number: dict[bytes, int] = {}
        self._places = {piece: place for place, piece in enumerate(ground.types)}
        self.source, self.step, self.slack = ground.source, step, step
        self.share = 1.0  # of the effort for each listing

    def add(self, needs: NDArray[np.int8], costs: Floats) -> None:
        """Note sets, by how many of each type they hold, and what they cost; of two costs of one set the lower."""
        new: list[int] = []
        for n, row in enumerate(needs):
            number = self._number.setdefault(row.tobytes(), len(self._costs) + len(new))
            if number == len(self._costs) + len(new):
                new.append(n)
            elif number < len(self._costs):
                self._costs[number] = min(self._costs[number], costs[n])
        self._needs = np.concatenate([self._needs, needs[new]])
        self._costs = np.concatenate([self._costs, costs[new]])

    def learn(self, patterns: Iterable[Pattern], instance: Instance) -> None:
        """Note the sets of patterns, of its own class or others.

        Those with pieces of no type of it, or more than can be listed, are passed over.
        """
        needs, costs = [], []
        for pattern in patterns:
            made = pattern.made()
            listable = self._places.keys() >= made.keys() and made.total() <= MOST_PIECES
            if pattern.source == self.source and listable:
                row = np.zeros(len(self._places), dtype=np.int8)
                row[[self._places[piece] for piece in made]] = list(made.values())
                needs.append(row)
                costs.append(float(pattern.cost(instance) - self.source.value_pence))
        if needs:
            self.add(np.array(needs), np.array(costs))

    def worth(self, paid: Floats, charges: Sequence[tuple[float, NDArray[np.bool_]]]) -> Floats:
        """What a source is worth with each.

        Parameters
        ----------
        paid
            By type: its price, pence.
        charges
            What is charged for holding any of some types.
        """
        return _worth(self._needs, self._costs, paid, charges)

    def near(self, values: Floats, least: float) -> Near:
        """Those that are worth so much or more.

        Parameters
        ----------
        values
            What each is worth, pence.
        least
            Pence.
        """
        chosen = np.flatnonzero(values >= least)
        needs = self._needs[chosen]
        sizes = needs.sum(axis=1, dtype=np.int64)
        pieces = np.zeros((len(chosen), MOST_PIECES), dtype=np.int16)
        rows, types = np.nonzero(needs)
        counts = needs[rows, types]
        rows, types = np.repeat(rows, counts), np.repeat(types, counts)
        pieces[rows, np.arange(len(rows)) - np.repeat(np.cumsum(sizes) - sizes, sizes)] = types
        return Near(pieces, sizes, values[chosen])

    def made(self, number: int) -> list[int]:
        """How many of each type a set holds."""
        return [int(count) for count in self._needs[number]]

    def cost(self, number: int) -> float:
        """What it costs, pence, its source's own value aside."""
        return float(self._costs[number])


Pools = dict[tuple[Source, tuple[PieceType, ...]], Listed]  # by class and the types that its sets are made of


class Charged:
    """Sets of one class at given prices, less what rows that do not count pieces charge.

    Parameters
    ----------
    ground
        The class.
    prices
        Pence by piece type.
    rows
        What its rows charge, pence.
    near
        Listing at those prices, where nothing is charged; default it is worked out.
    """

    def __init__(
        self,
        ground: Ground,
        prices: Mapping[PieceType, float],
        rows: Mapping[Link, float],
        near: NearSets | None = None,
    ) -> None:
        self.source, self.key, self._ground = ground.source, (ground.source, ground.types), ground
        self._paid = np.array([prices.get(t, 0.0) for t in ground.types])
        self._charges = charges_of(ground.pricer, rows, dict(zip(ground.types, ground.most.tolist(), strict=True)))
        self._holding = [(c.pence, np.array([t in c.types for t in ground.types])) for c in self._charges]
        self._prices, self._near = prices, near

    @cached_property
    def _lowered(self) -> dict[PieceType, float]:
        """Prices lowered by the charges, each shared out over the pieces that may pay it."""
        lowered = dict(self._prices)
        for charge in self._charges:
            for piece in charge.types & lowered.keys():
                lowered[piece] = max(0.0, lowered[piece] - charge.pence / charge.held)
        return lowered

    @cached_property
    def near(self) -> NearSets:
        """Listing at those prices."""
        return self._near or NearSets(self._ground, self._lowered)

    def sets(self, least: float, effort: Effort, pool: Listed) -> Near | None:
        """Sets worth so much less their charges, and what each then is worth; None where there are too many to list.

        Those with pieces of two layouts of a job are left out.
        """
        found = self.near.worth(least, effort)
        if found is None:
            return None
        places = np.where(np.arange(found.pieces.shape[1]) < found.sizes[:, None], found.pieces, len(self._paid))
        needs = np.zeros((len(places), len(self._paid) + 1), dtype=np.int8)
        np.add.at(needs, (np.arange(len(places))[:, None], places), 1)
        fits = self._ground.laid_one_way(needs[:, :-1])
        found, needs = Near(found.pieces[fits], found.sizes[fits], found.values[fits]), needs[fits, :-1]
        costs = needs @ np.array([self._lowered.get(t, 0.0) for t in self._ground.types]) - found.values
        pool.add(needs, costs)
        values = _worth(needs, costs, self._paid, self._holding)
        kept = values >= least
        return Near(found.pieces[kept], found.sizes[kept], values[kept])

    def gaining(self, pool: Listed, needed: float) -> tuple[float, list[PieceSet]]:
        """At most what a source is worth less its charges, pence, and the sets worth most, if more than needed.

        Parameters
        ----------
        pool
            What was listed before; added to.
        needed
            Pence; what is worth no more is not looked for, and the source then said to be worth as much.
        """
        step, most = pool.slack, self.near.most
        while most > needed:
            least = max(needed, self.near.most - step)
            found = self.sets(least, PRICING.part(pool.share), pool)
            pool.share = max(LEAST_SHARE, pool.share / EASIER) if found is None else min(1.0, pool.share * EASIER)
            if found is None:
                return most, self.known(pool, needed)
            if found.values.size:
                best = float(found.values.max())
                pool.slack = max(pool.step, SHORTER * (self.near.most - best))
                return best, self.known(pool, needed)
            most, step = least, step * STEPS_LONGER
        return needed, []

    def sets_known(self, pool: Listed, least: float) -> Near:
        """The same among those listed before."""
        return pool.near(pool.worth(self._paid, self._holding), least)

    def best_known(self, pool: Listed) -> float:
        """What the best of those is worth less its charges, pence; minus infinity where there is none."""
        return float(pool.worth(self._paid, self._holding).max(initial=-np.inf))

    def known(self, pool: Listed, least: float) -> list[PieceSet]:
        """The sets listed before that are worth most, if more than so much, as columns."""
        values = pool.worth(self._paid, self._holding)
        chosen = np.flatnonzero(values > least)
        if len(chosen) > A_ROUND:
            chosen = chosen[np.argpartition(-values[chosen], A_ROUND)[:A_ROUND]]
        columns = []
        for number in chosen.tolist():
            made = {t: n for t, n in zip(self._ground.types, pool.made(number), strict=True) if n}
            columns.append(PieceSet(self.source, in_order(made), round(self.source.value_pence + pool.cost(number))))
        return columns


def in_order(made: Mapping[PieceType, int]) -> tuple[tuple[PieceType, int], ...]:
    """Pieces and how many of each, in the order in which sets of them are known."""
    return tuple(sorted(made.items(), key=lambda one: (one[0].width_mm, one[0].length_mm, sorted(one[0].options))))


def _worth(
    needs: NDArray[np.int8], costs: Floats, paid: Floats, charges: Sequence[tuple[float, NDArray[np.bool_]]]
) -> Floats:
    """As `Listed.worth`, of sets by how many of each type they hold and what they cost."""
    values = needs @ paid - costs
    for pence, types in charges:
        values -= pence * needs[:, types].any(axis=1)
    return np.asarray(values)
