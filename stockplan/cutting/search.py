"""The search for one product's plan: first answers, bound, improvement, proof.

The foreman's plan is the first answer and ruin and recreate improves it at once. Then the bound: over sets of pieces
where they can be listed (`exact.py`), else from a short ascent on the prices and the linear program by column
generation, once more with pieces counted where that is affordable; a week too large for that has the ascent alone. A
week of eight jobs mostly ends there, with the whole-number program over every set that a better plan could use. Else
ruin and recreate goes on from the best answer in cycles, hot and cool ones by turns, and after each a whole-number
program puts together the best of what every batch served in any trial (`recombining.py`), until the bound is met or
the work is spent.

What was tried and left out: diving on the relaxation (it gives jobs to batches that cannot hold them whole, and ends
where ruin and recreate has long been); branching on which batch serves which job by hand (leaves are soon reached whose
bound is no better than the root's while patterns repeat pieces; over sets of pieces the engine's branching does it).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from stockplan.cutting.ascent import Ascent
from stockplan.cutting.batch_columns import columns_of
from stockplan.cutting.batch_pricing import BatchPricing
from stockplan.cutting.beside import Effort
from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import bends_upward
from stockplan.cutting.exact import Exact
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.generation import Generator, Pricers
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.integer import Whole, best_whole
from stockplan.cutting.kinds import kinds_of, most_needed
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pooled import with_coarse_widths
from stockplan.cutting.pure import as_pure, search_pure
from stockplan.cutting.recombining import Recombiner
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed

STEPS_PER_JOB = 120
LEAST_STEPS, MOST_STEPS = 2_000, 6_000
MOST_ROWS = 2500  # beyond this the linear program is slower than it is worth
ROUNDS_PER_JOB, MOST_ASCENT_ROUNDS = 3, 200
SECONDS_PER_JOB = 0.2  # below which an ascent batch by batch is not begun on a large week
MOST_COUNTED_CELLS = 1e9  # work of one round of counted pricing; beyond this rounds take seconds
FIRST_SHARE = 0.2  # of the clock, at most, for the first improvement
WIDE_GAP = 0.1  # a bound by sets of pieces that time cut short; the plain one comes sooner
WORTH_IMPROVING = 0.01  # the narrower the gap, the fewer sets of pieces are left to list
CHEAPER, SEEK_SHARE = 0.4, 0.3  # share of the gap, and of clock and work, for the first look at sets of pieces
PROVE_SHARE = 0.7  # of the clock and work, at most, for one attempt at the proof
BOUND_SHARE = 0.6  # of the clock, at most, for the bound
MOST_WAYS = 20_000  # to lay narrow pieces in lanes, for sets of pieces to be listed
MOST_STEPS_LONG = 30_000  # the longest roll in millimetres
HOPELESS = 0.95  # of a gap that left too much to list: worth another try below it
CYCLES = 30
STEPS_OF_CYCLE = 6_000
HEATS = (0.1, 0.02, 0.05, 0.02)  # of cycles by turns
MOST_COLUMNS, MOST_BOUGHT, MOST_COLUMNS_OF_STOCK = 1_500, 1_500, 1_000
MOST_GROUPS = 80  # beyond this a program that leaves open what is bought brings nothing
PRICING_ROUNDS, MOST_STARTS, MOVES_A_ROUND = 2, 60, 5_000
MOST_NODES = 200
SLOWER = 1.5  # a step that the clock cannot cut short is begun if it may take so many times as long as the last
RECOMBINING_SECONDS, RECOMBINING_SHARE = 15.0, 0.4  # of the clock, at most, for one program; at most, of what is left
UNITS_A_PROGRAM, UNITS_A_NODE, COLUMNS_A_UNIT = 50, 2, 10  # of work
UNITS_FOR_SETS = 20  # below which listing sets of pieces is not begun
SMALLEST = 1e-6


@dataclass(frozen=True)
class Found:
    """What the search found.

    Parameters
    ----------
    best
        The best answer.
    foreman
        The foreman's.
    bound
        Lower bound in pence, penalties included.
    """

    best: Solution
    foreman: Solution
    bound: float


class Search:
    """One product's search.

    Parameters
    ----------
    instance
        The problem.
    seed
        Seed of every random choice.
    budget
        Work and clock.
    report
        Told the phase, the best answer and the bound now and then.
    start
        An answer to begin from unless the foreman's beats it.
    """

    def __init__(
        self,
        instance: Instance,
        seed: int,
        budget: Budget,
        report: Callable[[str, Solution, float], None],
        start: Solution | None = None,
    ) -> None:
        self.instance, self.budget, self._report = instance, budget, report
        self.recreate = Recreate(instance, seed)
        self.foreman = trimmed(instance, foreman_plan(instance))
        self.best = self.foreman
        self.bound = 0.0
        self.prices: Mapping[PieceType, float] = {}
        self._mine: dict[Pattern, None] = dict.fromkeys(self.foreman.patterns)
        self._exact: Exact | None = None
        self._recombiner: Recombiner | None = None
        self._gap_left_open = math.inf
        self._step_seconds = self._relax_seconds = 0.0
        self._large = len(instance.piece_types()) > MOST_ROWS
        if start is not None:
            self._mine.update(dict.fromkeys(start.patterns))
            if start.rank(instance) <= self.best.rank(instance):
                self.best = start

    def run(self) -> Found:
        """Search until the bound is met, the work is spent or the budget is over."""
        self._tell("first plan")
        self._as_pure()
        steps = max(LEAST_STEPS, min(MOST_STEPS, STEPS_PER_JOB * len(self.instance.jobs)))
        if not self.proven:
            self._improve(steps, 0.02, self.budget.part(FIRST_SHARE))
            if self._large:
                self._bound_of_large()
            elif not self._relax_exactly() or self._gap > WIDE_GAP:
                self._bound()
            if self._gap > WORTH_IMPROVING:
                self._improve(steps, 0.03, self.budget.part(FIRST_SHARE))
            self._combine()
        self._go_on()
        if self.proven:
            self.budget.ended_by = "proof"
        elif not self.budget.over() or self.budget.ended_by == "work limit":
            self.budget.ended_by = "clock" if self.budget.by_the_clock else "work limit"
        return Found(self.best, self.foreman, self.bound)

    def _go_on(self) -> None:
        """Ruin and recreate by turns with the best of all that every batch served in it."""
        for cycle in range(CYCLES):
            if self.proven or self.budget.over():
                break
            self._improve(STEPS_OF_CYCLE, HEATS[cycle % len(HEATS)], self.budget)
            self._combine()

    @property
    def proven(self) -> bool:
        """Whether the best answer meets the bound, to the penny."""
        penalty = sum(self.instance.penalties[j] for j in self.best.short)
        return whole_pence(self.instance, self.bound - penalty) >= self.best.net_cost(self.instance)

    @property
    def _gap(self) -> float:
        cost = self.best.rank(self.instance)[0]
        return (cost - self.bound) / cost if cost > 0 else 0.0

    def _as_pure(self) -> None:
        """Answer and bound by published methods, where the problem is pure cutting stock."""
        pure = as_pure(self.instance)
        if pure is None or self.best.short or self.budget.over():
            return
        until = self.budget.part(pure.share)
        search_pure(pure, self.best, until, self._hear)
        self.budget.absorb(until)
        self.budget.by_the_clock |= until.by_the_clock

    def _hear(self, answer: Solution | None, bound: float) -> None:
        """Take a step of the search on pure cutting stock."""
        if answer is not None:
            self._offer(answer)
        self._raise(bound)

    def _improve(self, steps: int, heat: float, until: Budget) -> None:
        """Ruin and recreate; of fewer steps where the clock leaves no time for all, so that it cools down in time."""
        began, left = time.monotonic(), until.seconds_left()
        if steps * self._step_seconds > left:
            steps = max(1, int(left / self._step_seconds))
            self.budget.by_the_clock = True
        self._offer(self.recreate.run(self.best, steps, until, heat))
        if not until.over():
            self._step_seconds = (time.monotonic() - began) / steps
        self.budget.absorb(until)
        self._tell("improving")

    def _relax_exactly(self) -> bool:
        """The bound over sets of pieces, where the problem is small enough to list them; False where it is not."""
        until = self.budget.part(BOUND_SHARE)
        enough = until.work_limit is None or until.work_limit >= UNITS_FOR_SETS
        listable = bends_upward(self.instance) and enough and not until.over()
        kinds = kinds_of(self.instance, MOST_WAYS, MOST_STEPS_LONG, until.over) if listable else None
        if kinds is None:
            return False
        self._exact = Exact(self.instance, kinds, [*self._mine, *self.best.patterns])
        self._exact.relax(until, self._raise)
        self.budget.absorb(until)
        return True

    def _prove(self) -> None:
        """The best answer over every set of pieces that a better one could use; proven best where that ends.

        Where the gap is wide the cheaper of those sets are tried first: a better answer leaves fewer to list.
        """
        if self._gap > WORTH_IMPROVING:
            self._over_sets(CHEAPER, SEEK_SHARE)
        self._over_sets(1.0, PROVE_SHARE)

    def _over_sets(self, share: float, of_budget: float) -> None:
        """The best answer over the sets of pieces that cost no more above the bound than a share of the gap."""
        exact, ceiling = self._exact, self.best.rank(self.instance)[0]
        if exact is None or not exact.relaxed or self.proven or self.budget.over():
            return
        gap = share * (ceiling - exact.bound)
        if gap > HOPELESS * self._gap_left_open:
            return
        self._tell("proving")
        until = self.budget.part(of_budget)
        columns = exact.listed(gap + 1.0, until)
        self.budget.absorb(until)
        whole = None
        if columns is not None:
            patterns = {column.pattern: column.cost for column in columns}
            whole = self._whole(patterns, until.seconds_left())
        if whole is None or not whole.proven:
            self._gap_left_open = min(gap, self._gap_left_open)
        elif share == 1.0:
            self._raise(min(whole.bound, float(ceiling)))

    def _whole(self, patterns: Mapping[Pattern, int], seconds: float) -> Whole:
        """Solve the whole-number program over some patterns, and take its answer."""
        effort = Effort(min(seconds, self.budget.seconds_left()), self.budget.over)
        whole = best_whole(self.instance, patterns, self.best, effort, prove=True)
        self._take(whole, 0)
        return whole

    def _effort(self) -> Effort:
        """How long one program over batches may take: by nodes alone where work is limited."""
        limit, seconds, nodes = self.budget.work_limit, self.budget.seconds_left(), MOST_NODES
        if limit is None:
            seconds = min(RECOMBINING_SECONDS, RECOMBINING_SHARE * seconds)
        else:
            nodes = min(MOST_NODES, max(0, limit - self.budget.work) // UNITS_A_NODE)
        return Effort(seconds, self.budget.over, nodes)

    def _take(self, whole: Whole, columns: int) -> None:
        """Count the work of a whole-number program, and take its answer."""
        self.budget.spend(UNITS_A_PROGRAM + columns // COLUMNS_A_UNIT + UNITS_A_NODE * whole.nodes)
        self.budget.by_the_clock |= whole.by_the_clock
        if whole.answer is not None:
            self._offer(trimmed(self.instance, whole.answer))

    def _bound(self) -> None:
        """A bound as strong as the size of the problem and the budget allow."""
        if self.budget.over():
            return
        until = self.budget.part(BOUND_SHARE)
        pricers = Pricers(self.instance)
        if pricers.too_coarse:
            return
        ascent = Ascent(self.instance, pricers, until)
        ascent.run(min(MOST_ASCENT_ROUNDS, ROUNDS_PER_JOB * len(self.instance.jobs)), self._raise)
        self._raise(ascent.bound)
        if not until.over():
            master = Master(self.instance, [*ascent.patterns, *self._mine])
            centre = self._generate(master, pricers, until, ascent.prices)
            affordable = pricers.on_grid and counted_cells(self.instance, pricers) <= MOST_COUNTED_CELLS
            if affordable and not self.proven and not until.over():
                counted = Pricers(self.instance, proper=True)
                master.leave_out(counted.counts)
                self._generate(master, counted, until, centre)
        self.budget.absorb(until)

    def _bound_of_large(self) -> None:
        """A bound by ascent alone, with sources as wide as makes pricing fast, where the clock leaves time enough."""
        until = self.budget.part(BOUND_SHARE)
        if until.over(SECONDS_PER_JOB * len(self.instance.jobs)):
            return
        easier = with_coarse_widths(self.instance)
        pricers = Pricers(easier)
        if not pricers.too_coarse:
            Ascent(easier, pricers, until, self.prices).run(MOST_ASCENT_ROUNDS, self._raise)
            self.budget.absorb(until)

    def _generate(
        self, master: Master, pricers: Pricers, until: Budget, centre: Mapping[PieceType, float]
    ) -> Mapping[PieceType, float]:
        """Generate columns from the prices of a good bound; returns those of the best bound found."""
        generator = Generator(master, pricers, until, centre)
        generator.run(tolerance=1e-5, on_round=lambda _, bound: self._raise(bound))
        return generator.centre

    def _raise(self, bound: float) -> None:
        self.bound = max(self.bound, bound)
        self._tell("bound")

    def _combine(self) -> None:
        """The best answer over sets of pieces where they can be listed, else over what batches were seen to serve."""
        self._prove()
        self._recombine()

    def _recombine(self) -> None:
        """The best answer that gives every batch one of the loads it was seen to serve."""
        if self.proven or self.budget.over():
            return
        if self._recombiner is None:
            self._recombiner = Recombiner(self.instance, self.recreate.bench)
            self._pricing = BatchPricing(self.recreate)
        one = self._recombiner
        for _ in range(PRICING_ROUNDS):
            if not self._relaxed(one):
                return
            starts = [*columns_of(self.instance, self.best), *one.master.columns_within(SMALLEST, MOST_STARTS)]
            starts = list(dict.fromkeys(starts))
            self._pricing.run(starts, one.master.job_prices(), MOVES_A_ROUND // max(1, len(starts)), self.budget)
        if not self._relaxed(one):
            return
        self._recombine_stock(one)
        if len(self.instance.groups) <= MOST_GROUPS:
            self._recombine_all(one)
        self._tell("combining")

    def _relaxed(self, one: Recombiner) -> bool:
        """Take what was seen into the relaxation and solve it; False where that fails or the clock leaves no time."""
        if self.budget.over(SLOWER * self._relax_seconds):
            return False
        began = time.monotonic()
        one.learn(self.recreate.seen)
        solved = one.relax(self.best)
        self._relax_seconds = time.monotonic() - began
        return solved

    def _recombine_stock(self, one: Recombiner) -> None:
        """With what is bought serving the units it serves already."""
        if self.budget.over(SLOWER * self._relax_seconds):
            return
        whole = one.whole_of_stock(self.best, self._effort(), most_columns=MOST_COLUMNS_OF_STOCK)
        if whole is not None:
            self._take(whole, MOST_COLUMNS_OF_STOCK)

    def _recombine_all(self, one: Recombiner) -> None:
        """With what is bought free to change."""
        if self.budget.over(SLOWER * self._relax_seconds):
            return
        whole = one.whole(self.best, self._effort(), most_columns=MOST_COLUMNS, most_patterns=MOST_BOUGHT)
        self._take(whole, MOST_COLUMNS + MOST_BOUGHT)

    def _offer(self, answer: Solution) -> None:
        self._mine.update(dict.fromkeys(answer.patterns))
        if answer.rank(self.instance) < self.best.rank(self.instance):
            self.best = answer

    def _tell(self, phase: str) -> None:
        self._report(phase, self.best, self.bound)


def whole_pence(instance: Instance, bound: float) -> int:
    """A bound on net cost rounded up to what a plan can cost at all.

    Plans cost whole pence; where leftovers are worth nothing and cuts are free, whole multiples of what divides every
    source's value and every layout's seams.
    """
    costs = instance.costs
    if costs.leftovers_have_worth or costs.crosscut_pence or costs.rip_pence:
        unit = 1
    else:
        seams = [cost for group in instance.groups for cost in group.costs.values()]
        unit = math.gcd(*(s.value_pence for s in instance.sources), *seams) or 1
    return math.ceil((bound - SMALLEST) / unit) * unit


def counted_cells(instance: Instance, pricers: Pricers) -> float:
    """Work of one round of counted pricing: items times points squared times shapes, over all recursions."""
    counts = most_needed(instance)
    return sum(p.points**2 * p.shapes * sum(counts.get(t, 0) for t in p.types) for p in pricers.real)
