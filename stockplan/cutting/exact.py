"""Small problems solved to the end: every set of pieces that a better plan could cut from one source is listed.

A pattern that makes no piece more often than it is needed is a set of pieces at its true cost. The relaxation of the
master program over sets is far tighter than the one over patterns that repeat pieces. With a plan of cost U in hand and
the relaxation's bound L, no better plan uses a set whose reduced cost exceeds U - L; all others are listed, and the
whole-number program over them gives the best plan there is (Baldacci, Christofides and Mingozzi, "An exact algorithm
for the vehicle routing problem based on the set partitioning formulation", Mathematical Programming 115, 2008).

On eight jobs the list has some hundreds to some ten thousands of sets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.bounds import lagrangian_bound, repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.kinds import Kind, Lengths
from stockplan.cutting.knapsack import Choices, Knapsack, Needs
from stockplan.cutting.links import Charges, Link, links_of, rebates
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.piece_sets import PieceSets
from stockplan.cutting.pricing import Priced

GAINS = 0.01  # pence: a set that promises less is not worth a round; above the tie-break of purchases
A_ROUND = 40  # sets taken from each class in a round
MOST_SEEN = 4_000  # sets gone through for one class in a round
FEW = 50  # new sets in a round, below which rows of `links.py` are looked for
WORTH_TYING = 1e-4  # of the bound: what a round of such rows must bring
LEAST_EXCESS = 0.02  # of a source, by which a row is violated
ROWS_A_ROUND = 60
MOST_LISTED = 40_000
MOST_CELLS = 12_000_000  # of one table from which sets are listed: 200 MB
UNITS_A_ROUND = 5  # of work
SETS_A_UNIT = 200
SETS_A_GLANCE = 20  # at the clock


@dataclass(frozen=True)
class SetColumn:
    """A set of pieces cut from one source of a class: its pattern and true cost, pence."""

    pattern: Pattern
    cost: int


class Listed(NamedTuple):
    """A set that a better plan could use, and what of the gap it takes up at the bound's prices, pence."""

    column: SetColumn
    loss: float


class Exact:
    """The relaxation over sets of pieces, and the list of those that matter.

    Parameters
    ----------
    instance
        The problem.
    kinds
        Its kinds of source.
    patterns
        Patterns to begin with.
    """

    def __init__(self, instance: Instance, kinds: list[Kind], patterns: Iterable[Pattern]) -> None:
        self.instance, self.kinds = instance, kinds
        self.master = Master(instance)
        self.bound = 0.0
        self._sets = [PieceSets(kind) for kind in kinds]
        self._sacks = [Knapsack(kind, Choices.of(kind)) for kind in kinds]
        self._columns: dict[tuple[int, int, Needs], SetColumn | None] = {}
        self._prices: Mapping[PieceType, float] | None = None
        self._links = links_of(instance)
        self._link_prices: Mapping[Source, Mapping[Link, float]] = {}
        self._floors: list[list[float]] = []
        for pattern in patterns:
            self._start_with(pattern)

    def _start_with(self, pattern: Pattern) -> None:
        made = pattern.made()
        for k, kind in enumerate(self.kinds):
            if pattern.source in kind.sources:
                c = next(i for i, lengths in enumerate(kind.lengths) if pattern.source in lengths.sources)
                column = self._column(k, c, tuple(made.get(t, 0) for t in (*kind.solos, *kind.narrow)))
                if column is not None:
                    self.master.add([column.pattern])

    def _column(self, k: int, c: int, needs: Needs) -> SetColumn | None:
        """The column of a set of pieces; None when they do not fit."""
        key = (k, c, needs)
        if key not in self._columns:
            cheapest = self._sets[k].cheapest(needs, self.kinds[k].lengths[c])
            self._columns[key] = (
                None if cheapest is None else SetColumn(self._sets[k].pattern(needs, cheapest), cheapest.cost)
            )
        return self._columns[key]

    @property
    def relaxed(self) -> bool:
        """Whether there is a bound with prices to list by."""
        return self._prices is not None

    def relax(self, budget: Budget, tell: Callable[[float], None]) -> None:
        """Solve the relaxation by column generation; `bound` is then the best bound seen.

        Parameters
        ----------
        budget
            Work and clock.
        tell
            Told every better bound.
        """
        tied_at = 0.0
        while not budget.over() and self.master.solve():
            budget.spend(UNITS_A_ROUND)
            fresh = self._round(budget, tell)
            if fresh > FEW:
                continue
            if not fresh and self.bound < tied_at * (1 + WORTH_TYING):
                return
            violated = self._violated()
            self.master.tie(violated)
            if not fresh and not violated:
                return
            tied_at = tied_at if fresh else self.bound

    def _violated(self) -> list[Link]:
        found = self.master.untied(self._links, LEAST_EXCESS)
        found.sort(key=lambda one: (-round(one[0], 6), one[1].group, one[1].source.tags))
        return [link for _, link in found[:ROWS_A_ROUND]]

    def _round(self, budget: Budget, tell: Callable[[float], None]) -> int:
        """Add sets that gain at the relaxation's prices, and bound at the same prices; returns how many were new."""
        prices, copies, links = self.master.prices(), self.master.class_prices(), self.master.link_prices()
        priced: list[Priced] = []
        floors: list[list[float]] = []
        added = 0
        for k, kind in enumerate(self.kinds):
            if budget.over():
                return 0
            mine = self._prices_of(k, prices)
            self._sacks[k].fill(mine)
            floors.append([])
            for c, lengths in enumerate(kind.lengths):
                own = copies.get(lengths.sources[0], 0.0)
                floor = self._sacks[k].least(lengths)
                if floor < own - GAINS:
                    charges = self._charges(k, lengths, links)
                    new, complete = self._gaining(k, c, mine, own - GAINS, charges, budget)
                    added += self.master.add(new)
                    if complete and not new:
                        floor = own - GAINS
                floors[-1].append(min(0.0, floor))
                source = min(lengths.sources, key=lambda s: s.value_pence)
                priced.append(Priced(source, source.value_pence - floor))
        off = rebates(self.instance, {link: pence for tied in links.values() for link, pence in tied.items()})
        bound = lagrangian_bound(self.instance, prices, priced, off)
        if bound > self.bound:
            self.bound, self._floors, self._prices = bound, floors, repaired(self.instance, prices, priced)
            self._link_prices = links
            tell(bound)
        return added

    def _prices_of(self, k: int, prices: Mapping[PieceType, float]) -> NDArray[np.float64]:
        kind = self.kinds[k]
        return np.array([prices.get(t, 0.0) for t in (*kind.solos, *kind.narrow)])

    def _charges(self, k: int, lengths: Lengths, links: Mapping[Source, Mapping[Link, float]]) -> Charges | None:
        """What the rows of a class charge; None where it has none."""
        mine = links.get(lengths.sources[0])
        return Charges((*self.kinds[k].solos, *self.kinds[k].narrow), mine) if mine else None

    def _gaining(
        self, k: int, c: int, prices: NDArray[np.float64], most: float, charges: Charges | None, budget: Budget
    ) -> tuple[list[Pattern], bool]:
        """Some sets whose reduced cost is below this, and whether there are surely no others."""
        found: list[Pattern] = []
        seen = 0
        for needs in self._sacks[k].good(self.kinds[k].lengths[c], most, MOST_SEEN, charges):
            seen += 1
            column = self._column(k, c, needs)
            if column is not None and column.cost - float(np.dot(needs, prices)) + charge(charges, needs) < most:
                found.append(column.pattern)
                if len(found) == A_ROUND:
                    return found, False
            if seen % SETS_A_GLANCE == 0 and budget.over():
                return found, False
        return found, seen < MOST_SEEN

    def listed(self, gap: float, budget: Budget) -> list[Listed] | None:
        """Every set that an answer may use whose cost exceeds the bound by less than the gap.

        Parameters
        ----------
        gap
            Pence.
        budget
            Work and clock.

        Returns
        -------
            None when there are too many, or the budget ends first.
        """
        if self._prices is None:
            return None
        found: list[Listed] = []
        seen = 0
        for k, kind in enumerate(self.kinds):
            mine = self._prices_of(k, self._prices)
            if not self._sacks[k].fill(mine, gap, MOST_CELLS):
                return None
            for c, lengths in enumerate(kind.lengths):
                floor = self._floor(k, c, lengths)
                most = floor + gap
                charges = self._charges(k, lengths, self._link_prices)
                for needs in self._sacks[k].good(lengths, most, 2 * MOST_LISTED, charges):
                    column = self._column(k, c, needs)
                    if column is not None:
                        loss = column.cost - float(np.dot(needs, mine)) + charge(charges, needs) - floor
                        if loss <= gap:
                            found.append(Listed(column, loss))
                    seen += 1
                    budget.spend(seen % SETS_A_UNIT == 0)
                    if seen % SETS_A_GLANCE == 0 and (
                        seen >= 2 * MOST_LISTED or len(found) > MOST_LISTED or budget.over()
                    ):
                        return None
        return found

    def floors(self) -> dict[Source, float]:
        """By class of stock: what leaving one of its sources whole takes of the gap, below nothing, pence."""
        return {
            lengths.sources[0]: self._floors[k][c]
            for k, kind in enumerate(self.kinds)
            for c, lengths in enumerate(kind.lengths)
            if lengths.copies is not None
        }

    def slacks(self) -> dict[tuple[int, Choice], float]:
        """By group and choice: how much more a unit takes of the gap than by its cheapest choice, pence."""
        prices = self._prices or {}
        off = rebates(
            self.instance, {link: pence for tied in self._link_prices.values() for link, pence in tied.items()}
        )
        found: dict[tuple[int, Choice], float] = {}
        for number, group in enumerate(self.instance.groups):
            costs = {
                h: group.cost(h) - off.get((number, h), 0.0) + sum(prices.get(t, 0.0) * n for t, n in demand.items())
                for h, demand in group.demands.items()
            }
            least = min(costs.values(), default=0.0)
            found.update({(number, h): cost - least for h, cost in costs.items()})
        return found

    def _floor(self, k: int, c: int, lengths: Lengths) -> float:
        """Least reduced cost of a class in the bound; nothing for purchases, whose prices are repaired."""
        return self._floors[k][c] if lengths.copies is not None else 0.0


def charge(charges: Charges | None, needs: Needs) -> float:
    """What a set is charged for the groups it holds pieces of."""
    return 0.0 if charges is None else charges.of(charges.bits(np.array([needs]))[0])
