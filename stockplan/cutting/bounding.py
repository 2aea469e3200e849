"""A lower bound as strong as size and clock allow: over sets of pieces, by columns, or from the pool alone.

Over sets of pieces where they can be listed (`exact.py`), else from all stock pooled (`pooled.py`), whose prices are
soon found, and then by column generation near them with rows that tie sources to jobs (`boxed.py`); a week too large
for that has the prices of the pool alone.

The bound needs nothing of the search but the cost of an answer, so another process may work it out at the same time:
what tells of it then is a `Beside`.
"""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

from stockplan.cutting.ascent import Ascent, first_price
from stockplan.cutting.boxed import Boxed, Rows
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import TooManyWays, bends_upward
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.kinds import Kind, kinds_of
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pooled import with_coarse_sizes
from stockplan.cutting.pricers import Pricers

if TYPE_CHECKING:
    from stockplan.cutting.batch_columns import BatchColumn
    from stockplan.cutting.exact import Exact
    from stockplan.cutting.first_loads import Told
    from stockplan.cutting.set_tables import SetTables

MOST_ROWS = 4_000  # beyond this the linear program is slower than it is worth
ROUNDS_PER_JOB, MOST_ASCENT_ROUNDS = 3, 200
POOL_SHARE = 0.7  # of the clock and work, at most, for the pool
NEAR_ENOUGH = 2e-4  # bound and relaxation by columns, relative, where it need not be solved to its end
FIRST_SHARE = 0.05  # how far from the prices of the pool the first fences stand
WIDE_GAP = 0.1  # a bound by sets of pieces that time cut short; the plain one comes sooner
MOST_STEPS_LONG = 30_000  # the longest roll in millimetres
MOST_COLLECTIONS_IN_ALL = 1 << 20  # of narrow pieces, over all kinds of source
MOST_SETS, SETS_A_UNIT = 4_000_000, 20_000  # of pieces, in all; for one unit of work
ENOUGH_TO_FORESEE = 0.1  # of the most sets, from which those to come are foreseen
UNITS_FOR_SETS = 20  # of work, below which listing sets of pieces is not begun


Pool = Callable[[Budget, Callable[[float], None]], tuple[float, dict[PieceType, float]]]


class Beside(Protocol):
    """A bound being worked out somewhere else."""

    @property
    def lost(self) -> bool:
        """Whether it ended before its time, so that no better bound will come."""

    def bound(self) -> float:
        """The best bound told so far, penalties included, pence; 0 before the first."""

    def found(self) -> tuple[list[BatchColumn], list[Pattern]]:
        """Loads and cuts of what is bought that were found on the way to it, and not told before."""

    def show(self, told: Told) -> None:
        """Take what the search has seen."""

    @property
    def processors(self) -> int:
        """How many processors there are beside this one's, its own among them."""

    def free(self, seconds: float) -> bool:
        """Whether it needs its processor no more, waited for so many seconds at most; may be asked by any thread."""


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
    pool
        Works out a bound from all stock pooled, and prices: given a budget, and whom to tell of every bound. Default
        none: prices come from an ascent.
    roughly
        Whether the relaxation by columns need not be solved to its end, where sizes are as they are; default not.

    Attributes
    ----------
    bound
        The best so far, penalties included, pence.
    exact
        The relaxation over sets of pieces, where there is one.
    prices
        Of pieces, where the bound comes from columns or sets with sizes as they are; else empty.
    rows, worth
        Prices of rows of `links.py` with those, and at most what each class of stock is worth at them, where it comes
        from columns.
    """

    def __init__(
        self,
        instance: Instance,
        budget: Budget,
        share: float,
        tell: Callable[[float], None],
        patterns: Iterable[Pattern],
        pool: Pool | None = None,
        *,
        roughly: bool = False,
    ) -> None:
        self.instance, self.budget, self._share, self._tell = instance, budget, share, tell
        self._roughly = roughly
        needed = set(instance.piece_types())
        self._patterns = [pattern for pattern in patterns if needed.issuperset(pattern.made())]
        self._pool = pool
        self.bound = 0.0
        self.exact: Exact | None = None
        self.prices: Mapping[PieceType, float] = {}
        self.rows: Rows = {}
        self.worth: Mapping[Source, float] = {}

    def climb(self, ceiling: float) -> None:
        """Raise the bound as far as it goes.

        Parameters
        ----------
        ceiling
            Cost of an answer in hand, penalties included, pence.
        """
        if is_large(self.instance):
            self._by_prices()
        elif not self._over_sets() or ceiling - self.bound > WIDE_GAP * ceiling:
            self._by_columns(ceiling)
        elif self.exact is not None:
            self.prices = self.exact.prices or {}

    def _raise(self, bound: float) -> None:
        self.bound = max(self.bound, bound)
        self._tell(self.bound)

    def _by_prices(self) -> None:
        """From prices found at sizes rounded up; at sizes as they are these bound a week of 150 jobs by 0.1 % more."""
        easier = with_coarse_sizes(self.instance)
        until = self.budget.part(self._share)
        prices = self._first_prices(easier, Pricers(easier), until)
        if prices and easier.sources != self.instance.sources and not until.over():
            pricers = Pricers(self.instance)
            if not pricers.too_coarse:
                self._raise(pricers.bound(prices, until)[0])
        self.budget.absorb(until)

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
        """Every set of pieces; None where there are too many, or kinds like those listed so far will make them so."""
        from stockplan.cutting.set_tables import MOST_COLLECTIONS, SetTables  # noqa: PLC0415

        found: list[SetTables] = []
        most = max(MOST_COLLECTIONS, MOST_COLLECTIONS_IN_ALL // len(kinds)) if kinds else 0
        began = time.monotonic()
        for kind in kinds:
            try:
                found.append(SetTables(kind, until.over, most))
            except TooManyWays:
                return None
            until.spend(found[-1].size // SETS_A_UNIT)
            listed = sum(one.size for one in found)
            to_come = sets_to_come(kinds, [one.size for one in found]) if listed > ENOUGH_TO_FORESEE * MOST_SETS else 0
            if listed + to_come > MOST_SETS:
                return None
            seconds = (time.monotonic() - began) * to_come / max(1, listed)
            if until.work_limit is None and to_come and until.over(seconds):
                return None
        return found

    def _by_columns(self, ceiling: float) -> None:
        """By column generation with rows that tie sources to jobs."""
        if self.budget.over():
            return
        until = self.budget.part(self._share)
        instance, pricers = self.instance, Pricers(self.instance)
        if not pricers.exact:
            instance = with_coarse_sizes(self.instance)
            pricers = Pricers(instance)
        prices = self._first_prices(instance, pricers, until)
        if prices and self.bound < ceiling and not until.over():
            known = {p: float(p.cost(instance)) for p in self._patterns if p.source in instance.sources}
            apart = Pricers(instance, apart=True)
            boxed = Boxed(instance, apart, prices, until, patterns=known, share=FIRST_SHARE, tied=True)
            if self._roughly and instance is self.instance:
                boxed.run(self._raise, NEAR_ENOUGH, roughly=True)
            else:
                boxed.run(self._raise)
            if instance is self.instance:
                self.prices, self.rows, self.worth = boxed.prices, boxed.rows, boxed.worth
        self.budget.absorb(until)

    def _first_prices(self, instance: Instance, pricers: Pricers, until: Budget) -> Mapping[PieceType, float]:
        """Prices to begin with, and the bound they give; none where the clock leaves no time."""
        if pricers.too_coarse or until.over():
            return {}
        prices = self._from_pool(instance, until) if self._pool is not None else {}
        if not prices:
            ascent = Ascent(instance, pricers, until)
            ascent.run(min(MOST_ASCENT_ROUNDS, ROUNDS_PER_JOB * len(instance.jobs)), self._raise)
            self._raise(ascent.bound)
            return ascent.prices
        bound, safe = pricers.bound(prices, until)
        self._raise(bound)
        return safe

    def _from_pool(self, instance: Instance, until: Budget) -> dict[PieceType, float]:
        """The prices of all stock pooled, size by size."""
        if self._pool is None:
            return {}
        step = until.part(POOL_SHARE)
        bound, prices = self._pool(step, self._raise)
        until.absorb(step)
        self._raise(bound)
        return {t: prices[t] if t in prices else first_price(instance, t) for t in instance.piece_types() if prices}


def sets_to_come(kinds: Sequence[Kind], sizes: Sequence[int]) -> int:
    """How many sets of pieces the kinds not yet listed may come to, by the mean of those like them that are.

    Alike are kinds of the same width, of rolls or loose: they hold the same pieces, if not equally many.

    Parameters
    ----------
    kinds
        All of them; the first ones are listed.
    sizes
        How many sets each of those listed has.
    """
    alike = [(kind.width, kind.sources[0].on_core) for kind in kinds]
    known: defaultdict[tuple[int, bool], list[int]] = defaultdict(list)
    for one, size in zip(alike, sizes, strict=False):
        known[one].append(size)
    ahead = Counter(alike[len(sizes) :])
    return sum(ahead[one] * sum(those) // len(those) for one, those in known.items())


def is_large(instance: Instance) -> bool:
    """Whether a problem has too many piece types for the linear program.

    On 30 lawns of five layouts each, 2,600 types, it lifts the bound of the pool by 1 % in 40 s of processor; on 150
    jobs of strips, 7,600 types, by 0.01 % in 80 s.
    """
    return len(instance.piece_types()) > MOST_ROWS
