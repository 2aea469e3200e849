"""Small problems solved to the end: every set of pieces that a better plan could cut from one source is listed.

A pattern that makes no piece more often than it is needed is a set of pieces at its true cost. The relaxation of the
master program over sets is far tighter than the one over patterns that repeat pieces. With a plan of cost U in hand and
the relaxation's bound L, no better plan uses a set whose reduced cost exceeds U - L; all others are listed, and the
best answer over them is the best plan there is (Baldacci, Christofides and Mingozzi, "An exact algorithm for the
vehicle routing problem based on the set partitioning formulation", Mathematical Programming 115, 2008).

On eight jobs there are a few thousand to some hundred thousand sets in all, held in the tables of `set_tables.py`, and
some hundreds to some ten thousands in the list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.bounds import lagrangian_bound, repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.kinds import Lengths
from stockplan.cutting.links import Link, links_of, rebates
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.set_master import PieceSet, SetMaster
from stockplan.cutting.set_tables import SetTables
from stockplan.cutting.valuing import Priced

GAINS = 0.01  # pence: a set that promises less is not worth a round; above the tie-break of purchases
A_ROUND = 40  # sets taken from each class in a round
FEW = 50  # new sets in a round, below which rows of `links.py` are looked for
WORTH_TYING = 1e-4  # of the bound: what a round of such rows must bring
LEAST_EXCESS = 0.02  # of a source, by which a row is violated
ROWS_A_ROUND = 60
MOST_LISTED = 400_000
UNITS_A_ROUND = 5  # of work
SETS_A_UNIT = 2_000

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]
LinkPrices = Mapping[Source, Mapping[Link, float]]


@dataclass(frozen=True)
class Listed:
    """The sets of one class that a better plan could use.

    Parameters
    ----------
    tables, c
        Their tables, and the class.
    numbers
        Which of the class's table they are.
    costs, losses
        Their cost, and what of the gap each takes up at the bound's prices, pence.
    """

    tables: SetTables
    c: int
    numbers: Numbers
    costs: Floats
    losses: Floats

    @property
    def source(self) -> Source:
        """The class, by its first source."""
        return self.tables.kind.lengths[self.c].sources[0]

    def pattern(self, number: int) -> Pattern:
        """How one of them is cut."""
        return self.tables.pattern(self.c, int(self.numbers[number]))

    def within(self, gap: float) -> Listed:
        """Those that take up no more than this."""
        kept = self.losses <= gap
        return Listed(self.tables, self.c, self.numbers[kept], self.costs[kept], self.losses[kept])


class Exact:
    """The relaxation over sets of pieces, and the list of those that matter.

    Parameters
    ----------
    instance
        The problem.
    tables
        Of its kinds of source.
    patterns
        Patterns to begin with.

    Attributes
    ----------
    bound
        The best bound seen, pence.
    prices, link_prices
        Its prices of pieces, at which no purchase gains, None before the first bound; and those of the rows.
    """

    def __init__(self, instance: Instance, tables: list[SetTables], patterns: Iterable[Pattern]) -> None:
        self.instance, self.tables = instance, tables
        self.master = SetMaster(instance)
        self.bound = 0.0
        self.prices: Mapping[PieceType, float] | None = None
        self._links = links_of(instance)
        self.link_prices: LinkPrices = {}
        self._floors: dict[tuple[int, int], float] = {}
        for pattern in patterns:
            self._start_with(pattern)

    def _start_with(self, pattern: Pattern) -> None:
        made = pattern.made()
        for k, tables in enumerate(self.tables):
            if pattern.source in tables.kind.sources:
                c = next(i for i, lengths in enumerate(tables.kind.lengths) if pattern.source in lengths.sources)
                number = tables.number_of(c, made)
                if number is not None:
                    self.master.add_sets([self._set(k, c, number)])

    def _set(self, k: int, c: int, number: int) -> PieceSet:
        tables = self.tables[k]
        source = tables.kind.lengths[c].sources[0]
        return PieceSet(source, tables.pieces(c, number), int(tables.tables[c].costs[number]))

    @property
    def relaxed(self) -> bool:
        """Whether there is a bound with prices to list by."""
        return self.prices is not None

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
            fresh = self._round(tell)
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

    def _round(self, tell: Callable[[float], None]) -> int:
        """Add sets that gain at the relaxation's prices, and bound at the same prices; returns how many were new."""
        prices, copies, links = self.master.prices(), self.master.class_prices(), self.master.link_prices()
        priced: list[Priced] = []
        floors: dict[tuple[int, int], float] = {}
        fresh: list[PieceSet] = []
        for k, c, lengths, reduced in self._reduced(prices, links):
            floor = min(0.0, float(reduced.min(initial=0.0)))
            own = copies.get(lengths.sources[0], 0.0) - GAINS
            if floor < own:
                fresh.extend(self._set(k, c, number) for number in _least(reduced, own))
            floors[k, c] = floor
            source = min(lengths.sources, key=lambda s: s.value_pence)
            priced.append(Priced(source, source.value_pence - floor))
        off = rebates(self.instance, links)
        bound = lagrangian_bound(self.instance, prices, priced, off)
        if bound > self.bound:
            self.bound, self._floors, self.prices = bound, floors, repaired(self.instance, prices, priced)
            self.link_prices = links
            tell(bound)
        return self.master.add_sets(fresh)

    def _reduced(
        self, prices: Mapping[PieceType, float], links: LinkPrices
    ) -> Iterable[tuple[int, int, Lengths, Floats]]:
        """Class by class, its kind first: what every set costs less its pieces' prices, with what rows charge."""
        for k, tables in enumerate(self.tables):
            solos, narrow = tables.worth(prices)
            for c, lengths in enumerate(tables.kind.lengths):
                rows, columns, table = solos, narrow, tables.tables[c]
                charged = [(pence, link) for link, pence in links.get(lengths.sources[0], {}).items() if pence > 0.0]
                twice = np.zeros(len(table.costs))
                for pence, link in charged:
                    in_row, in_column = tables.holding(link.types)
                    rows, columns = rows - pence * in_row, columns - pence * in_column
                    if in_row.any() and in_column.any():
                        twice += pence * in_row[table.rows] * in_column[table.columns]
                yield k, c, lengths, table.costs - rows[table.rows] - columns[table.columns] - twice

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
        if self.prices is None:
            return None
        found: list[Listed] = []
        count = 0
        for k, c, lengths, reduced in self._reduced(self.prices, self.link_prices):
            floor = self._floors[k, c] if lengths.copies is not None else 0.0  # prices of purchases are repaired
            numbers = np.flatnonzero(reduced <= floor + gap)
            count += len(numbers)
            budget.spend(len(numbers) // SETS_A_UNIT)
            if count > MOST_LISTED or budget.over():
                return None
            if len(numbers):
                costs = self.tables[k].tables[c].costs[numbers]
                found.append(Listed(self.tables[k], c, numbers, costs, reduced[numbers] - floor))
        return found

    def floors(self) -> dict[Source, float]:
        """By class of stock: what leaving one of its sources whole takes of the gap, below nothing, pence."""
        return {
            lengths.sources[0]: self._floors[k, c]
            for k, tables in enumerate(self.tables)
            for c, lengths in enumerate(tables.kind.lengths)
            if lengths.copies is not None
        }

    def slacks(self) -> dict[tuple[int, Choice], float]:
        """By group and choice: how much more a unit takes of the gap than by its cheapest choice, pence."""
        prices = self.prices or {}
        off = rebates(self.instance, self.link_prices)
        found: dict[tuple[int, Choice], float] = {}
        for number, group in enumerate(self.instance.groups):
            costs = {
                h: group.cost(h) - off.get((number, h), 0.0) + sum(prices.get(t, 0.0) * n for t, n in demand.items())
                for h, demand in group.demands.items()
            }
            least = min(costs.values(), default=0.0)
            found.update({(number, h): cost - least for h, cost in costs.items()})
        return found


def _least(reduced: Floats, most: float) -> list[int]:
    """Where the least reduced costs below this stand, as many as a round takes."""
    numbers = np.flatnonzero(reduced < most)
    if len(numbers) > A_ROUND:
        numbers = numbers[np.argpartition(reduced[numbers], A_ROUND)[:A_ROUND]]
    return [int(number) for number in numbers]
