"""What one batch can serve at given prices of units, at most: a relaxation over sets of pieces.

    R_b  = max over shares y, x of  sum over g of price_g y_g - sum over sets p of b of cost_p x_p

It is the program of `set_master.py` with this batch alone and every unit free to be left out at its price. Sets are
found as they gain: among those listed before, and where none of them gains by listing anew (`near_sets.py`), class by
class until one of them does; where none does either, that tells the bound too. Prices are kept near those that bound
best (`boxed.py`), and rows of `links.py` are added where they are violated.

It begins with prices of rows as well as of pieces, from the relaxation of the whole problem or the last one of the
batch: without the former the latter are far too high, and listing sets at such prices is slow. With them, and the
lower of prices that bound alike (`TIE_SLACK` in `master.py`), a pass over the batches of M 2, M 3, M 7 and M 9 took
15, 7, 4 and 10 s in place of 38, 11, 11 and 22.

It is not solved to its end: the last half of the time brings less than a thousandth, and rows that are added late make
listing slow, for the best load as well. A look at classes ends early only for what is worth a round, and all of it
where what was found would cost as much without fences. From equal prices that halves the time of a pass.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from stockplan.cutting.bounds import lagrangian_bound
from stockplan.cutting.boxed import Boxed, Rows
from stockplan.cutting.budget import Budget
from stockplan.cutting.charged_sets import Charged, Listed, Pools
from stockplan.cutting.grounds import Ground
from stockplan.cutting.instance import Choice, Group, Instance, PieceType, Source
from stockplan.cutting.kinds import most_needed
from stockplan.cutting.links import Link, rebates
from stockplan.cutting.master import Master
from stockplan.cutting.near_sets import Effort, Near
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricers import GAIN, Pricers
from stockplan.cutting.set_master import PieceSet, SetMaster
from stockplan.cutting.valuing import Priced

LISTING = Effort(drops=200_000, sets=400_000, drop_steps=200_000_000, set_steps=2_000_000_000)
DROP_STEPS_A_SECOND, SET_STEPS_A_SECOND = 10_000_000, 80_000_000  # of listing, and fewer than it does
FENCES = 0.05
LITTLE = 5e-4  # of what all units are worth, that sets may promise before the other classes are looked at as well
LATE = 0.4  # of the time, when every class is listed each time, for a bound


def of_batch(instance: Instance, batch: int, prices: Sequence[float]) -> tuple[Instance, tuple[int, ...]]:
    """One batch as a problem of its own, where every unit may be left out at its price; and which groups it has.

    Parameters
    ----------
    instance
        The problem.
    batch
        Index of the batch.
    prices
        By group: what one unit served is worth, pence.
    """
    groups: list[Group] = []
    jobs, penalties, which = [], [], []
    for number, group in enumerate(instance.groups):
        demands = {choice: demand for choice, demand in group.demands.items() if choice.batch == batch}
        if demands and prices[number] > 0:
            groups.append(replace(group, job=len(groups), demands=demands))
            jobs.append(instance.jobs[group.job])
            penalties.append(prices[number] * group.units)
            which.append(number)
    sources = tuple(source for source in instance.sources if source.batch == batch)
    alone = replace(
        instance, sources=sources, groups=tuple(groups), jobs=tuple(jobs), penalties=tuple(penalties), fixed={}
    )
    return alone, tuple(which)


def unit_prices(instance: Instance) -> list[float]:
    """By group of such a problem: what one unit served is worth, pence."""
    return [instance.penalties[group.job] / group.units for group in instance.groups]


def choice_costs(
    instance: Instance, prices: Mapping[PieceType, float], off: Mapping[tuple[int, Choice], float]
) -> list[list[float]]:
    """By group and choice: what one unit served so costs at prices of pieces, less its rebates, pence."""
    return [
        [group.cost_at(choice, prices) - off.get((number, choice), 0.0) for choice in group.demands]
        for number, group in enumerate(instance.groups)
    ]


class BatchRelaxation(Boxed):
    """The relaxation over sets of pieces of one batch; `bound` is what leaving units out and serving the others costs.

    Parameters
    ----------
    instance
        The batch as a problem of its own.
    prices
        Prices of pieces to begin with.
    budget
        Work and clock.
    pools
        By class: what was listed before; added to.
    charges
        By class and group: what rows that do not count pieces charge to begin with, pence; default nothing.

    Attributes
    ----------
    values, charged
        By class, at the prices of the best bound: what it is worth at most, pence (`worth`, by its number), and the
        listing that told so.
    """

    def __init__(
        self,
        instance: Instance,
        prices: Mapping[PieceType, float],
        budget: Budget,
        pools: Pools,
        charges: Mapping[tuple[Source, int], float] | None = None,
    ) -> None:
        super().__init__(instance, Pricers(instance, apart=True), prices, budget, share=FENCES)
        self._tied = True
        most = most_needed(instance)
        self.grounds = [Ground.in_steps(pricer, most) for pricer in self.pricers.each]
        self.pools = pools
        for ground in self.grounds:
            if (ground.source, ground.types) not in pools:
                pools[ground.source, ground.types] = Listed(ground)
        known = charges or {}
        links = [link for rows in self._touching.values() for link in rows if (link.source, link.group) in known]
        self.master.tie(links)
        rows: dict[Source, dict[Link, float]] = {}
        for link in links:
            rows.setdefault(link.source, {})[link] = known[link.source, link.group]
        self.rows = rows
        self.values: list[float] = []
        self.charged: list[Charged] = []
        self._next = 0  # class to be listed first
        self._little = LITTLE * sum(instance.penalties)
        self._late = LATE * budget.seconds_left()
        self._sets: SetMaster

    def _stated(self, patterns: Mapping[Pattern, float] | None) -> Master:
        self._sets = SetMaster(self.instance)
        return self._sets

    def _look(self, prices: Mapping[PieceType, float], classes: Mapping[Source, float], rows: Rows) -> int:
        """Add sets listed before that gain; where none does, price every class and keep the bound, and add what gains.

        Returns how many sets were new.
        """
        off = rebates(self.instance, rows)
        prices = self._no_higher_than_of_use(prices, off)
        needed = {g.source: g.source.value_pence - classes.get(g.source, 0.0) + GAIN for g in self.grounds}
        charged = [Charged(ground, prices, rows.get(ground.source, {})) for ground in self.grounds]
        if self.values:
            fresh = [s for one in charged for s in one.known(self.pools[one.key], needed[one.source])]
            if added := self._sets.add_sets(fresh):
                return added
        values, added, gain = dict.fromkeys(range(len(charged)), 0.0), 0, 0.0
        for n in [*range(self._next, len(charged)), *range(self._next)]:
            source = charged[n].source
            values[n], found = self._gaining(charged[n], needed[source])
            self.budget.spend(1)
            added += self._sets.add_sets(found)
            gain += (source.copies or 0) * (values[n] - needed[source])
            if added and self.values and gain > self._little and self.budget.seconds_left() > self._late:
                self._next = (n + 1) % len(charged)  # the others when there is nothing more to gain here
                return added
        priced = [Priced(g.source, value) for g, value in zip(self.grounds, values.values(), strict=True)]
        bound = lagrangian_bound(self.instance, prices, priced, off)
        if bound > self.bound or not self.values:
            self.bound, self.prices, self.values, self.charged = bound, dict(prices), list(values.values()), charged
            self.rows = {source: dict(held) for source, held in rows.items()}
            self.worth = {one.source: one.value for one in priced}
        return added

    def _no_higher_than_of_use(
        self, prices: Mapping[PieceType, float], off: Mapping[tuple[int, Choice], float]
    ) -> dict[PieceType, float]:
        """Prices lowered where every choice that needs a piece is not the cheapest, or its unit left out all the same.

        The bound is no lower then; and sets that hold such pieces seem to be worth less, so that fewer are near.
        """
        costs = zip(choice_costs(self.instance, prices, off), unit_prices(self.instance), strict=True)
        spare = [cost - min(price, *own) for own, price in costs for cost in own]
        users: dict[PieceType, list[tuple[int, int]]] = {}
        demands = [demand for group in self.instance.groups for demand in group.demands.values()]
        for number, demand in enumerate(demands):
            for piece, count in demand.items():
                users.setdefault(piece, []).append((number, count))
        lowered = dict(prices)
        for piece, needs in users.items():
            by = min([lowered.get(piece, 0.0), *(spare[number] / count for number, count in needs)])
            if by > 0.0:
                lowered[piece] -= by
                for number, count in needs:
                    spare[number] -= by * count
        return lowered

    def _gaining(self, charged: Charged, needed: float) -> tuple[float, list[PieceSet]]:
        """At most what a class is worth less its charges, pence, and the sets that gain most, near that."""
        return charged.gaining(self.pools[charged.key], needed)

    def listed(self, charged: Charged, least: float, seconds: float) -> Near | None:
        """Every set of a class worth so much less its charges; None where that takes longer than there is."""
        long = 1.0 + seconds
        effort = replace(
            LISTING,
            drop_steps=int(min(LISTING.drop_steps, DROP_STEPS_A_SECOND * long)),
            set_steps=int(min(LISTING.set_steps, SET_STEPS_A_SECOND * long)),
        )
        return charged.sets(least, effort, self.pools[charged.key])

    @property
    def most(self) -> float:
        """R_b, pence."""
        return sum(self.instance.penalties) - self.bound


class PoolRelaxation(BatchRelaxation):
    """The same over what was listed before alone: soon had, for the loads it leads to; `bound` is none."""

    def _gaining(self, charged: Charged, needed: float) -> tuple[float, list[PieceSet]]:
        return max(needed, charged.best_known(self.pools[charged.key])), []

    def listed(self, charged: Charged, least: float, seconds: float) -> Near | None:
        """Every set of a class listed before that is worth so much less its charges, pence."""
        return charged.sets_known(self.pools[charged.key], least)
