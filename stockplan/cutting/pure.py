"""The special case of pure cutting stock: leftovers worth nothing, cuts free, everything from one batch.

Then a plan's cost is what it takes from, every piece is alike to every other of its size, and published methods apply
as they stand: `covering.py` and its two oracles, `filling.py` and `tight.py` where lengths alone matter, `beam.py`
where there are few pieces, or few left.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product
from math import ceil, gcd

from stockplan.cutting.beam import GUIDES, Beam
from stockplan.cutting.budget import Budget
from stockplan.cutting.covering import Column, Covering, Oracle
from stockplan.cutting.filling import Filling
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.one_dimension import LengthOracle
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.rounding import Rounding
from stockplan.cutting.solution import Solution, trimmed
from stockplan.cutting.tight import settle, solve_over
from stockplan.cutting.two_dimensions import SheetOracle

MOST_LENGTH_CELLS = 3e8  # sizes times millimetres: beyond these the recursions are too slow or too large
MOST_SHEET_CELLS = 1.5e8
DIVES_BETWEEN = 8  # before a program over all columns is tried
DIVES_IF_TIGHT, TIGHT = 4, 0.02  # sooner where bound and relaxation are as close as this, in units of cost
BEAMS_BETWEEN = 3  # before each dive
SETTLE_SECONDS = 25.0
COMBINE_SECONDS = 8.0
SMALL, SMALL_SHARE = 30, 0.2  # up to so many pieces in two dimensions sets of them may be listed, which proves more
RELAX_SHARE, RELAX_SHARE_BEAMED = 0.5, 0.3  # of that, at most, for the first relaxation
MOST_SHEETS = 12  # sizes, for beam searches
MOST_BEAMED = 500  # pieces, for a beam search over a whole plan
FIRST_WIDTHS = 7  # before the relaxation
LEAST_WIDTH, WIDEST = 50, 102_400
MOST_CELLS = 8_000_000  # half-made plans times sizes, of one beam search
BOTH_TO = 1600  # up to this width two plans that have placed the same pieces are kept as well as one
SHAKEN_WIDTH = 6400
FIRST_FILLED, FILLED_BETWEEN = 5, 1  # answers source by source: before the relaxation, and before each dive
MOST_FILLED_CELLS = 3e8  # of one answer, which take a second
MOST_FINISHED = 120  # pieces left by a dive, for a beam search to finish it
FINISHING_WIDTH = 100
BEAM_PER_WORK = 20_000  # pieces placed in one half-made plan or another


@dataclass
class PureStock:
    """A pure cutting-stock problem and its answers as patterns.

    Parameters
    ----------
    instance
        The planner's problem.
    choice
        The batch everything comes from, in the one layout there is.
    types, sources
        Its sizes and its sources; a column's numbers are places in these.
    problem
        What to cover; costs in units of `unit` pence.
    unit
        What every source's value is a whole multiple of.
    """

    instance: Instance
    choice: Choice
    types: tuple[PieceType, ...]
    sources: tuple[Source, ...]
    problem: Covering
    unit: int
    patterns: dict[Column, Pattern] = field(default_factory=dict)

    @property
    def lengths_only(self) -> bool:
        """Whether every piece fits every width and no two lie side by side."""
        widths = [source.width_mm for source in self.sources]
        pieces = [piece.width_mm for piece in self.types]
        return max(pieces) <= min(widths) and 2 * min(pieces) > max(widths)

    @property
    def share(self) -> float:
        """Share of the clock to spend here: all, unless the general search may prove more."""
        return 1.0 if self.lengths_only or sum(self.problem.demands) > SMALL else SMALL_SHARE

    def column(self, pattern: Pattern) -> Column:
        """A pattern as a column."""
        made = tuple(sorted((self.types.index(piece), count) for piece, count in pattern.made().items()))
        column = Column(self.sources.index(pattern.source), made)
        self.patterns.setdefault(column, pattern)
        return column

    def solution(self, answer: Counter[Column], oracle: Oracle) -> Solution:
        """An answer in the planner's terms, surplus left uncut."""
        patterns: Counter[Pattern] = Counter()
        for column, count in answer.items():
            if column not in self.patterns:
                self.patterns[column] = self._pattern(column, oracle)
            patterns[self.patterns[column]] += count
        given = {(number, self.choice): group.units for number, group in enumerate(self.instance.groups)}
        return trimmed(self.instance, Solution(patterns, given, frozenset()))

    def _pattern(self, column: Column, oracle: Oracle) -> Pattern:
        if isinstance(oracle, SheetOracle):
            drops = tuple(
                DropPattern(length, tuple(LanePattern(w, tuple(self.types[i] for i in pieces)) for w, pieces in lanes))
                for length, lanes in oracle.cuts[column]
            )
        else:
            pieces = [self.types[i] for i, count in column.made for _ in range(count)]
            pieces.sort(key=lambda piece: -piece.length_mm)
            drops = tuple(DropPattern(p.length_mm, (LanePattern(p.width_mm, (p,)),)) for p in pieces)
        return Pattern(self.sources[column.source], drops)


def as_pure(instance: Instance) -> PureStock | None:
    """State a problem as pure cutting stock; None where it is not."""
    costs = instance.costs
    if costs.leftovers_have_worth or costs.crosscut_pence or costs.rip_pence or instance.fixed or not instance.groups:
        return None
    choices = {choice for group in instance.groups for choice in group.demands}
    if len(choices) != 1 or not all(group.demands for group in instance.groups):
        return None
    (choice,) = choices
    if any(group.cost(choice) for group in instance.groups):
        return None
    wanted: Counter[PieceType] = Counter()
    for group in instance.groups:
        for piece, count in group.demands[choice].items():
            wanted[piece] += count * group.units
    types = tuple(sorted(wanted, key=lambda t: (-t.length_mm, -t.width_mm, sorted(t.options), t.pinned)))
    sources = tuple(s for s in instance.sources if s.batch == choice.batch)
    if not all(source.open_to(piece) for source in sources for piece in types):
        return None
    unit = gcd(*(s.value_pence for s in sources))
    if unit <= 0 or any(s.value_pence <= 0 for s in sources):
        return None
    problem = Covering(
        demands=tuple(wanted[t] for t in types),
        costs=tuple(s.value_pence // unit for s in sources),
        copies=tuple(s.copies for s in sources),
    )
    return PureStock(instance, choice, types, sources, problem, unit)


def search_pure(
    pure: PureStock, start: Solution, budget: Budget, on_better: Callable[[Solution | None, float], None]
) -> None:
    """Search a pure cutting-stock problem until it is proven or the budget is over.

    Parameters
    ----------
    pure
        The problem.
    start
        An answer to begin from, no job short.
    budget
        Work and clock.
    on_better
        Told every better answer (or None) and the best bound in pence.
    """
    oracle = _oracle(pure)
    if oracle is None:
        return
    rounding = Rounding(pure.problem, oracle, budget)
    rounding.best = Counter()
    for pattern, count in start.patterns.items():
        rounding.best[pure.column(pattern)] += count
    told = rounding.best

    def tell() -> None:
        nonlocal told
        better = None
        if rounding.best is not None and rounding.best is not told:
            told = rounding.best
            better = pure.solution(told, oracle)
        on_better(better, float(rounding.bound * pure.unit))

    rounding.on_better = tell
    rounding.raise_to(_by_area(pure))
    beams = (
        _Beams(pure, oracle, rounding) if isinstance(oracle, SheetOracle) and len(pure.sources) <= MOST_SHEETS else None
    )
    if beams is not None:
        beams.run(FIRST_WIDTHS)
        rounding.finish, rounding.few = beams.finish, MOST_FINISHED
    filling = Filling(pure.problem, oracle) if isinstance(oracle, LengthOracle) else None
    if filling is not None and filling.cells > MOST_FILLED_CELLS:
        filling = None
    if filling is not None:
        filling.offer_to(rounding, FIRST_FILLED)
    if not rounding.proven:
        rounding.budget = budget.part(RELAX_SHARE_BEAMED if beams is not None and beams.small else RELAX_SHARE)
        rounding.relax()
        budget.absorb(rounding.budget)
        rounding.budget = budget
    _round(rounding, oracle, beams, filling)


def _by_area(pure: PureStock) -> int:
    """What the area of all pieces costs where it is cheapest, in whole units."""
    area = sum(t.width_mm * t.length_mm * n for t, n in zip(pure.types, pure.problem.demands, strict=True))
    rates = [Fraction(c, s.width_mm * s.length_mm) for c, s in zip(pure.problem.costs, pure.sources, strict=True)]
    return ceil(area * min(rates))


class _Beams:
    """Beam searches on a whole problem, of growing width and then shaken, and on what dives leave of it."""

    def __init__(self, pure: PureStock, oracle: SheetOracle, rounding: Rounding) -> None:
        self._problem, self._oracle, self._rounding = pure.problem, oracle, rounding
        self.small = sum(pure.problem.demands) <= MOST_BEAMED
        self._widest = min(WIDEST, MOST_CELLS // len(pure.types))
        self._width = 0
        self._seed: int | None = None

    def run(self, widths: int) -> None:
        """Search with the next so many widths, each twice the one before, for a better plan of the whole."""
        for _ in range(widths if self.small else 0):
            if self._seed is None and self._width < self._widest:
                self._width = max(LEAST_WIDTH, 2 * self._width)
            else:
                self._seed, self._width = 0 if self._seed is None else self._seed + 1, min(self._widest, SHAKEN_WIDTH)
            if self._rounding.proven or self._rounding.budget.over():
                return
            answer = self._search(
                self._problem.demands, Counter(), int(self._rounding.cost) - 1, self._width, self._seed
            )
            if answer is not None:
                self._rounding.offer(answer)

    def finish(self, wanted: Sequence[int], used: Counter[int], most: int) -> Counter[Column] | None:
        """A plan for what is wanted that costs at most so much, some copies used up; None when none is met."""
        return self._search(wanted, used, most, FINISHING_WIDTH)

    def _search(
        self, wanted: Sequence[int], used: Counter[int], most: int, width: int, seed: int | None = None
    ) -> Counter[Column] | None:
        copies = [None if n is None else n - used[s] for s, n in enumerate(self._problem.copies)]
        beam = Beam(self._oracle.sizes, wanted, self._oracle.sheets, self._problem.costs, copies)
        for guide, alike in product(range(GUIDES), (1, 2) if width <= BOTH_TO else (1,)):
            self._rounding.budget.spend(1 + beam.pieces * width // BEAM_PER_WORK)
            plan = beam.run(width, guide, most, self._rounding.budget.over, seed, alike=alike)
            if plan is not None:
                return Counter(self._oracle.keep(source, drops) for source, drops in plan)
        return None


def _oracle(pure: PureStock) -> LengthOracle | SheetOracle | None:
    """The oracle for a problem; None where its recursions would be too large."""
    if pure.lengths_only:
        sizes, lengths = [t.length_mm for t in pure.types], [s.length_mm for s in pure.sources]
        pieces = sum(min(n, max(lengths) // size) for n, size in zip(pure.problem.demands, sizes, strict=True))
        return LengthOracle(sizes, lengths) if pieces * max(lengths) / gcd(*sizes) <= MOST_LENGTH_CELLS else None
    pieces_mm = [(t.width_mm, t.length_mm) for t in pure.types]
    sheets_mm = [(s.width_mm, s.length_mm) for s in pure.sources]
    if SheetOracle.cells(pieces_mm, sheets_mm) > MOST_SHEET_CELLS:
        return None
    return SheetOracle(pieces_mm, sheets_mm, pure.problem.costs)


def _round(
    rounding: Rounding, oracle: LengthOracle | SheetOracle, beams: _Beams | None, filling: Filling | None
) -> None:
    """Whole answers by diving; between dives source by source, by programs over the columns in hand and by beams."""
    choice = random.Random(0)
    number, held = 0, 0
    while not rounding.proven and not rounding.budget.over():
        if beams is not None:
            beams.run(BEAMS_BETWEEN)
        if filling is not None:
            filling.offer_to(rounding, FILLED_BETWEEN if number else 0)
        rounding.dive(choice if number else None)
        number += 1
        due = number % DIVES_BETWEEN == 0 or (number == DIVES_IF_TIGHT and rounding.slack < TIGHT)
        if due and not rounding.proven and len(rounding.relaxation.columns) > held:
            held = len(rounding.relaxation.columns)
            _program(rounding, oracle)


def _program(rounding: Rounding, oracle: LengthOracle | SheetOracle) -> None:
    """A plan as cheap as the bound, or a better bound; or the best over the columns in hand."""
    left = rounding.budget.seconds_left()
    unlimited = all(copies is None for copies in rounding.problem.copies)
    if isinstance(oracle, LengthOracle) and unlimited and settle(rounding, oracle, min(SETTLE_SECONDS, 0.6 * left)):
        return
    seconds = min(COMBINE_SECONDS, 0.5 * rounding.budget.seconds_left())
    most = int(rounding.cost) - 1
    columns = list(rounding.relaxation.columns)
    answer, settled = solve_over(rounding.problem, columns, most, seconds, rounding.budget.should_stop)
    rounding.budget.spend(50)
    if answer is not None:
        rounding.offer(answer)
    if not settled:
        rounding.budget.by_the_clock = True
