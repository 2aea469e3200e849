"""A lower bound as strong as size and clock allow: over sets of pieces, by columns, or by ascent alone.

Over sets of pieces where they can be listed (`exact.py`), else from a short ascent on the prices and the linear program
by column generation, then with rows that tie sources to jobs (`tied.py`), and with pieces counted where that is
affordable; a week too large for that has the ascent alone, with sources as wide as makes pricing fast.

The bound needs nothing of the search but the cost of an answer, so another process may work it out at the same time:
what tells of it then is a `Beside`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Protocol

from stockplan.cutting.ascent import Ascent
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import TooManyWays, bends_upward
from stockplan.cutting.generation import Generator, Pricers
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.kinds import Kind, kinds_of, most_needed
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pooled import with_coarse_widths
from stockplan.cutting.tied import Tied

if TYPE_CHECKING:
    from stockplan.cutting.exact import Exact
    from stockplan.cutting.set_tables import SetTables

MOST_ROWS = 2500  # beyond this the linear program is slower than it is worth
ROUNDS_PER_JOB, MOST_ASCENT_ROUNDS = 3, 200
SECONDS_PER_JOB = 0.2  # below which an ascent batch by batch is not begun on a large week
MOST_COUNTED_CELLS = 1e9  # work of one round of counted pricing; beyond this rounds take seconds
WIDE_GAP = 0.1  # a bound by sets of pieces that time cut short; the plain one comes sooner
MOST_STEPS_LONG = 30_000  # the longest roll in millimetres
MOST_SETS, SETS_A_UNIT = 4_000_000, 20_000  # of pieces, in all; for one unit of work
UNITS_FOR_SETS = 20  # of work, below which listing sets of pieces is not begun


class Beside(Protocol):
    """A bound being worked out somewhere else."""

    @property
    def lost(self) -> bool:
        """Whether it ended before its time, so that no better bound will come."""

    def bound(self) -> float:
        """The best bound told so far, penalties included, pence; 0 before the first."""


class Bounding:
    """One product's bound.

    Parameters
    ----------
    instance
        The problem.
    budget
        Work and clock of the whole search.
    share
        Of the clock and work left, at most, for each of the ways; above 0, at most 1.
    tell
        Told every bound.
    patterns
        Patterns to begin with.
    prices
        Of a bound that is known, for a large week; default none.
    """

    def __init__(
        self,
        instance: Instance,
        budget: Budget,
        share: float,
        tell: Callable[[float], None],
        patterns: Iterable[Pattern],
        prices: Mapping[PieceType, float] | None = None,
    ) -> None:
        self.instance, self.budget, self._share, self._tell = instance, budget, share, tell
        self._patterns = list(patterns)
        self._prices = prices or {}
        self.bound = 0.0
        self.exact: Exact | None = None

    def climb(self, ceiling: float) -> None:
        """Raise the bound as far as it goes; `exact` is then the relaxation over sets of pieces, where there is one.

        Parameters
        ----------
        ceiling
            Cost of an answer in hand, penalties included, pence.
        """
        if is_large(self.instance):
            self._by_ascent()
        elif not self._over_sets() or ceiling - self.bound > WIDE_GAP * ceiling:
            self._by_columns(ceiling)

    def _raise(self, bound: float) -> None:
        self.bound = max(self.bound, bound)
        self._tell(self.bound)

    def _over_sets(self) -> bool:
        """The bound over sets of pieces, where the problem is small enough to list them; False where it is not."""
        from stockplan.cutting.exact import Exact  # noqa: PLC0415  slow to load, and for small problems alone

        until = self.budget.part(self._share)
        enough = until.work_limit is None or until.work_limit >= UNITS_FOR_SETS
        listable = bends_upward(self.instance) and enough and not until.over()
        kinds = kinds_of(self.instance, MOST_STEPS_LONG) if listable else None
        if kinds is None:
            return False
        tables = self._tables(kinds, until)
        if tables is not None:
            self.exact = Exact(self.instance, tables, self._patterns)
            self.exact.relax(until, self._raise)
        self.budget.absorb(until)
        return tables is not None

    @staticmethod
    def _tables(kinds: list[Kind], until: Budget) -> list[SetTables] | None:
        """Every set of pieces; None where there are too many."""
        from stockplan.cutting.set_tables import SetTables  # noqa: PLC0415

        found: list[SetTables] = []
        for kind in kinds:
            try:
                found.append(SetTables(kind, until.over))
            except TooManyWays:
                return None
            until.spend(found[-1].size // SETS_A_UNIT)
            if sum(one.size for one in found) > MOST_SETS:
                return None
        return found

    def _by_columns(self, ceiling: float) -> None:
        """By ascent and column generation, then with rows that tie sources to jobs, then with pieces counted."""
        if self.budget.over():
            return
        until = self.budget.part(self._share)
        instance, pricers = self._easiest_to_price()
        if pricers.too_coarse:
            return
        ascent = Ascent(instance, pricers, until)
        ascent.run(min(MOST_ASCENT_ROUNDS, ROUNDS_PER_JOB * len(instance.jobs)), self._raise)
        self._raise(ascent.bound)
        if not until.over():
            known = [p for p in self._patterns if p.source in instance.sources]
            master = Master(instance, [*ascent.patterns, *known])
            centre = self._generate(master, pricers, until, ascent.prices)
            if pricers.exact and self.bound < ceiling and not until.over():
                apart = Pricers(instance, apart=True)
                Tied(instance, apart, master.columns, centre, until).run(self._raise)
            affordable = pricers.on_grid and counted_cells(instance, pricers) <= MOST_COUNTED_CELLS
            if affordable and self.bound < ceiling and not until.over():
                counted = Pricers(instance, proper=True)
                master.leave_out(counted.counts)
                self._generate(master, counted, until, centre)
        self.budget.absorb(until)

    def _easiest_to_price(self) -> tuple[Instance, Pricers]:
        """The problem, or one that costs no more, with recursions that need no second look for a bound, if it has any.

        Sources a little wider than they are put all widths on a coarse grid.
        """
        pricers = Pricers(self.instance)
        if not pricers.exact:
            easier = with_coarse_widths(self.instance)
            others = Pricers(easier)
            if others.exact:
                return easier, others
        return self.instance, pricers

    def _by_ascent(self) -> None:
        """By ascent alone, batch by batch, where the clock leaves time enough."""
        until = self.budget.part(self._share)
        if until.over(SECONDS_PER_JOB * len(self.instance.jobs)):
            return
        easier = with_coarse_widths(self.instance)
        pricers = Pricers(easier)
        if not pricers.too_coarse:
            Ascent(easier, pricers, until, self._prices).run(MOST_ASCENT_ROUNDS, self._raise)
            self.budget.absorb(until)

    def _generate(
        self, master: Master, pricers: Pricers, until: Budget, centre: Mapping[PieceType, float]
    ) -> Mapping[PieceType, float]:
        """Generate columns from the prices of a good bound; returns those of the best bound found."""
        generator = Generator(master, pricers, until, centre)
        generator.run(tolerance=1e-5, on_round=lambda _, bound: self._raise(bound))
        return generator.centre


def is_large(instance: Instance) -> bool:
    """Whether a problem has too many piece types for the linear program."""
    return len(instance.piece_types()) > MOST_ROWS


def counted_cells(instance: Instance, pricers: Pricers) -> float:
    """Work of one round of counted pricing: items times points squared times shapes, over all recursions."""
    counts = most_needed(instance)
    return sum(p.points**2 * p.shapes * sum(counts.get(t, 0) for t in p.types) for p in pricers.real)
