"""A bound from batches that each serve a whole load: no job is served in shares.

    bound(price)  = sum over g of units_g price_g  -  sum over stock batches b of V_b(price)

with V_b the best that the batch can serve at prices of units (`batch_load.py`), and no price above what the unit
costs when bought, or what leaving it short costs (Geoffrion's Lagrangian of the program at the head of
`batch_columns.py`, with batches as the blocks). Prices come from that program's relaxation over loads which ruin and
recreate was seen to make; the best loads of every batch are added to it, and so on from its new prices. Before each
pass over the batches they are tried with the sets of pieces listed so far alone, which takes 2 to 3 s in place of 4 to
15 and gives most of the loads; a batch that time does not reach has what `standing.py` says of it.

On weeks of 30 jobs relaxations that serve jobs in shares leave 0.6 to 2.2 % below the best plans, this 0.1 to 1.1 %
after a minute, the more so with sizes of 10 mm, where there is time for two passes.

Where jobs may be laid in several ways a batch also settles the layout of what it serves, and no source is cut into
pieces of two layouts of a job. Two lawns of eight layouts each, whose sets of pieces are far too many for `exact.py`,
are proven in 4 to 12 s, where relaxations over patterns end 0.2 to 8.6 % below the plan. Eight such lawns take longer:
a pass ends after a minute, and the best loads lie so far below the relaxation of their batch that they are not reached.

What is bought may still be cut in shares. With loads of it whole as well, of cuts that were known, the relaxation of
two such weeks rose by another 0.06 and 0.17 %, but after 10 to 30 whole-number programs of 2 to 12 s each. Rows that
say of three jobs that one load at most serves two of them raised that of three weeks by 0.03 to 0.13 %.
"""

from __future__ import annotations

import math
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from stockplan.cutting.abreast import abreast
from stockplan.cutting.batch_columns import BatchColumn, bought_batches
from stockplan.cutting.batch_load import OF_TRY, BatchLoad
from stockplan.cutting.batch_relaxation import BatchRelaxation, PoolRelaxation, of_batch
from stockplan.cutting.bought_prices import BoughtPrices, in_steps
from stockplan.cutting.boxed import Rows
from stockplan.cutting.budget import Budget
from stockplan.cutting.charged_sets import Pools
from stockplan.cutting.first_loads import FirstLoads, Hear
from stockplan.cutting.found_loads import FoundLoads
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.links import charged_once, rebates
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.solution import Load
from stockplan.cutting.standing import Standing

Show = Callable[[list[BatchColumn], list[Pattern]], None]

THREADS = 2  # batches at a time: the search beside leaves a good part of a second processor
RELAX_SHARE = 0.6  # of the time of a batch, for its relaxation
# Value and bound of a batch with all units left out counted in, relative, and of a try: no listing makes that slow.
CLOSE, CLOSE_OF_TRY = 5e-4, 5e-5
SPARE_SECONDS = 1.0  # of the clock, kept free by each pass so that it ends in time, and a share of what is left
SPARE_SHARE, LONG = 0.07, 600.0  # where that is no longer than this
PASS_SECONDS, MOST_AHEAD = 15.0, 3  # a pass leaves time for so many more as long, if there are so many seconds for each
WORTH_BEGINNING = 0.5  # of what the last pass took, that must be left for another
MOST_PASSES = 50
MOST_LOOKS = 10  # for loads that were seen
MOVING_SHARE = 0.06  # of the clock, after which prices of what is bought are near enough
MOST_TRIES, TRY_SHARE = 5, 0.25  # of sets listed before; of the time, for each
LEAST_DROP = 2e-4  # relative: a try that lowers the relaxation less is the last
SMOOTHING, LESS_SMOOTHING = 0.5, 0.3  # of the prices of the best bound, in those looked at first, and next
CERTAIN = 1e-8  # relative; allowance for rounding


class _Batch(NamedTuple):
    """A batch, by its number, prices of units, pence, and loads that it is known to serve."""

    number: int
    prices: Sequence[float]
    columns: Sequence[BatchColumn]


class _Looked(NamedTuple):
    """At most what a batch can serve, pence, `None` where there was no time; and loads that were found."""

    most: float | None
    loads: Sequence[BatchColumn] = ()


class WholeLoads:
    """Such a bound for one problem.

    Parameters
    ----------
    instance
        The problem: with nothing that must be made, and of sizes that the grid of `Pricers` carries, since a set may
        else be worth more than it is said to be.
    prices
        Prices of pieces from a relaxation of all of it.
    first
        Loads to begin with.
    budget
        Work and clock.
    found
        Keeps loads that are found; default one of its own.
    rows
        Prices of rows of `links.py` in that relaxation; default it had none.
    worth
        At most what each class of stock is worth at its prices, less what its rows charge, pence; default not known.

    Raises
    ------
    ValueError
        When the grid does not carry all sizes.
    """

    def __init__(
        self,
        instance: Instance,
        prices: Mapping[PieceType, float],
        first: FirstLoads,
        budget: Budget,
        found: FoundLoads | None = None,
        rows: Rows | None = None,
        worth: Mapping[Source, float] | None = None,
    ) -> None:
        self.instance, self.budget = instance, budget
        self._prices = dict(prices)
        self._bought = bought_batches(instance)
        self._bought_prices = BoughtPrices(instance, Pricers(instance), prices)
        self._recombiner, self._best = first
        self._pools: Pools = {}
        self._sets_known: set[int] = set()
        self._charges: dict[int, dict[tuple[Source, int], float]] = {}
        for (source, group), pence in charged_once(instance, rows or {}).items():
            self._charges.setdefault(source.batch, {})[source, group] = pence
        everybody = frozenset(range(len(instance.groups)))
        self._of_all = Standing(prices, rebates(instance, rows or {}), worth, everybody) if worth else None
        self._standing: dict[int, Standing] = {}
        self._found = found or FoundLoads(instance)
        self._told: dict[tuple[PieceType, ...], set[tuple[int, Load]]] = {}
        self._new, self._smoothing = 0, SMOOTHING
        self._best_prices = self._cheapest(prices)
        self.bound = 0.0

    def run(self, tell: Callable[[float], None], show: Show, hear: Hear = tuple) -> None:
        """Raise the bound pass by pass until it stays or the budget is over.

        Parameters
        ----------
        tell
            Told every better bound.
        show
            Shown loads found on the way, and cuts of what is bought, that may be of use in an answer.
        hear
            What a search of plans tells of what it has seen; default there is none.
        """
        seconds = 0.0
        for _ in range(MOST_PASSES):
            for loads, bought, best in hear():
                self._recombiner.master.add(loads, bought)
                self._best = min(self._best, best, key=lambda answer: answer.rank(self.instance))
            if self.budget.over(WORTH_BEGINNING * seconds) or not self._priced():
                return
            show(*self._found.to_show(self._recombiner.master))
            self._try_pools()
            show(*self._found.to_show(self._recombiner.master))
            began, self._new = time.monotonic(), 0
            bound = self._evaluated()
            seconds = time.monotonic() - began
            if bound is None:
                return
            if bound > self.bound:
                self.bound = bound
                tell(bound)
            if not self._new and not self._smoothing:
                return
            self._smoothing = LESS_SMOOTHING if self._new else 0.0

    def _priced(self) -> bool:
        """Solve the relaxation over loads, with purchases until hardly one gains; False where that fails."""
        moving = self.budget.part(MOVING_SHARE)
        for _ in range(MOST_LOOKS):
            if not self._recombiner.relax(self._best):
                return False
            if not self._bought_prices.settle(self._recombiner.master, self.budget, moving) or self.budget.over():
                break
        return not self.budget.over()

    def _cheapest(self, prices: Mapping[PieceType, float]) -> list[float]:
        """By group: what a unit costs at prices of pieces, pence."""
        groups = self.instance.groups
        return [in_steps(min((group.cost_at(h, prices) for h in group.demands), default=0.0)) for group in groups]

    def _smoothed(self, prices: list[float]) -> list[float]:
        """Prices between these and those of the best bound: no unit costs less than them where neither set gains."""
        both = zip(prices, self._best_prices, strict=True)
        return [in_steps(self._smoothing * best + (1 - self._smoothing) * price) for price, best in both]

    def _unit_prices(self) -> list[float]:
        """By group: what serving a unit is worth at the prices of the relaxation, pence."""
        return self._bought_prices.of_units(self._recombiner.master.job_prices())

    def _within_penalties(self, prices: list[float]) -> list[float]:
        """The same, lowered where serving a job is worth more than leaving it short costs."""
        total: defaultdict[int, float] = defaultdict(float)
        for group, price in zip(self.instance.groups, prices, strict=True):
            total[group.job] += group.units * price
        lowered = []
        for group, price in zip(self.instance.groups, prices, strict=True):
            penalty = self.instance.penalties[group.job]
            lowered.append(in_steps(price * penalty / total[group.job]) if total[group.job] > penalty else price)
        return lowered

    def _evaluated(self) -> float | None:
        """The bound at the prices of the relaxation; None where the budget ends first."""
        prices = self._within_penalties(self._smoothed(self._unit_prices()))
        total = float(sum(price * group.units for price, group in zip(prices, self.instance.groups, strict=True)))
        # Small ones first: what they leave of the time goes to the others.
        length = Counter[int]()
        for source in self.instance.sources:
            if source.batch not in self._bought:
                length[source.batch] += source.length_mm * (source.copies or 0)
        columns = self._columns()
        batches = [_Batch(b, prices, columns.get(b, [])) for b in sorted(length, key=lambda b: (length[b], b))]
        left = min(LONG, self.budget.seconds_left())
        passes = max(1, min(MOST_AHEAD, int(left // PASS_SECONDS)))
        spare = max(SPARE_SECONDS + SPARE_SHARE * left, left - left / passes)
        found = abreast(self._best_of, batches, self.budget, spare, THREADS)
        for most, loads in found:
            if most is None:
                return None
            total -= most
            self._new += self._recombiner.master.add(loads)
        bound = total - CERTAIN * (1.0 + abs(total))
        if bound > self.bound:
            self._best_prices = prices
        return bound

    def _best_of(self, batch: _Batch, until: Budget) -> _Looked:
        """Look at one of several batches side by side: nothing of another is changed."""
        alone, which = of_batch(self.instance, batch.number, batch.prices)
        if not alone.groups or not alone.sources:
            return _Looked(0.0)
        before = (self._of_all, self._standing.get(batch.number))
        most = min((one.most(alone, which) for one in before if one is not None), default=math.inf)
        if until.over():
            return _Looked(most if most < math.inf else None)
        relaxation = self._relaxed(batch, alone, which, until)
        self._note(batch.number, which, relaxation)
        search = BatchLoad(relaxation, self._known(batch))
        search.run(until)
        found = self._loads(batch, which, search)
        return _Looked(min(most, search.most), found)

    def _try_pools(self) -> None:
        """Loads of sets listed before, at the prices of the relaxation, until they gain little."""
        for _ in range(MOST_TRIES if self._sets_known else 0):
            prices, before = self._within_penalties(self._unit_prices()), self._recombiner.master.value
            self._new = 0
            batches = [_Batch(number, prices, columns) for number, columns in self._columns().items()]
            step = self.budget.part(TRY_SHARE)
            found = abreast(self._tried, batches, step, 0.0, THREADS)
            for _, loads in found:
                self._new += self._recombiner.master.add(loads)
            self.budget.absorb(step)
            if not self._new or not self._priced() or self._recombiner.master.value > before * (1.0 - LEAST_DROP):
                return

    def _tried(self, batch: _Batch, until: Budget) -> _Looked:
        """The same as `_best_of`, among sets listed before alone: no bound."""
        alone, which = of_batch(self.instance, batch.number, batch.prices)
        if not alone.groups or not alone.sources or batch.number not in self._sets_known or until.over():
            return _Looked(None)
        prices_of = {t: self._prices.get(t, 0.0) for t in alone.piece_types()}
        relaxation = PoolRelaxation(alone, prices_of, until, self._pools, self._charged(batch.number, which))
        self._learn(relaxation, batch.columns)
        relaxation.run(lambda _: None, CLOSE_OF_TRY)
        search = BatchLoad(relaxation, self._known(batch), OF_TRY)
        search.run(until)
        return _Looked(None, self._loads(batch, which, search))

    def _learn(self, relaxation: BatchRelaxation, columns: Sequence[BatchColumn]) -> None:
        """Note the sets that loads are cut of with those that were listed."""
        told = self._told.setdefault(tuple(relaxation.instance.piece_types()), set())
        new = [column for column in columns if column.key not in told]
        told.update(column.key for column in new)
        patterns = dict.fromkeys(pattern for column in new for pattern in column.patterns)
        for ground in relaxation.grounds:
            self._pools[ground.source, ground.types].learn(patterns, self.instance)

    def _columns(self) -> dict[int, list[BatchColumn]]:
        columns: dict[int, list[BatchColumn]] = {}
        for column in self._recombiner.master.columns():
            columns.setdefault(column.batch, []).append(column)
        return columns

    def _note(self, number: int, which: Sequence[int], relaxation: BatchRelaxation) -> None:
        """Keep the prices of a relaxation of a batch, of pieces and of rows, to begin the next with and to stand in."""
        self._prices.update(relaxation.prices)
        charges = charged_once(relaxation.instance, relaxation.rows)
        self._charges[number] = {(source, which[group]): pence for (source, group), pence in charges.items()}
        if relaxation.worth:
            off = {(which[g], h): pence for (g, h), pence in rebates(relaxation.instance, relaxation.rows).items()}
            self._standing[number] = Standing(relaxation.prices, off, relaxation.worth, frozenset(which))

    def _charged(self, number: int, which: Sequence[int]) -> dict[tuple[Source, int], float]:
        """What rows charge to begin with, by class and group of the batch as a problem of its own."""
        place = {group: n for n, group in enumerate(which)}
        known = self._charges.get(number, {})
        return {(source, place[group]): pence for (source, group), pence in known.items() if group in place}

    def _relaxed(self, batch: _Batch, alone: Instance, which: Sequence[int], until: Budget) -> BatchRelaxation:
        """The relaxation over sets of pieces of a batch, from the prices of its last one, or of the whole problem."""
        prices = {t: self._prices.get(t, 0.0) for t in alone.piece_types()}
        self._sets_known.add(batch.number)
        step = until.part(RELAX_SHARE)
        relaxation = BatchRelaxation(alone, prices, step, self._pools, self._charged(batch.number, which))
        self._learn(relaxation, batch.columns)
        relaxation.run(lambda _: None, CLOSE)
        until.absorb(step)
        return relaxation

    def _loads(self, batch: _Batch, which: Sequence[int], search: BatchLoad) -> list[BatchColumn]:
        """The loads that were found; the search itself holds far more, which is no longer needed."""
        units = [group for group in which for _ in range(self.instance.groups[group].units)]
        return self._found.columns(batch.number, search, units, batch.prices)

    def _known(self, batch: _Batch) -> float:
        """What the best load known of a batch is worth at prices of units, less what it costs; pence, at least 0."""
        groups, prices = self.instance.groups, batch.prices
        worth = (sum(prices[g] - groups[g].cost(h) for g, h in column.load) - column.cost for column in batch.columns)
        return float(max([0.0, *worth]))
