"""The search for one product's plan: first answers, bound, improvement, proof.

The foreman's plan is the first answer and ruin and recreate improves it at once. Then the bound (`bounding.py`), unless
another process works it out. A week of eight jobs ends there, with the proof over every set of pieces that a better
plan could use (`proving.py`). Else ruin and recreate goes on from the best answer in cycles, hot and cool ones by
turns, and after each the best of what every batch served in any trial is put together anew (`rounds.py`), until the
bound is met or the work is spent. A large answer is improved a portion at a time between them (`portions.py`). On idle
processors threads ruin and recreate too (`alongside.py`).

What was tried and left out: diving on the relaxation over patterns (it gives jobs to batches that cannot hold them
whole, and ends where ruin and recreate has long been; over whole loads it helps, `diving.py`); branching on which batch
serves which job by hand (leaves are soon reached whose bound is no better than the root's while patterns repeat pieces;
over sets of pieces loads can be gone through).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from stockplan.cutting.bounding import Beside, Bounding, Pool
from stockplan.cutting.bounds import whole_pence
from stockplan.cutting.budget import Budget
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance, for_bounds
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pure import as_pure, search_pure
from stockplan.cutting.solution import Solution, trimmed

if TYPE_CHECKING:
    from stockplan.cutting.alongside import Alongside
    from stockplan.cutting.exact import Exact
    from stockplan.cutting.portions import Portions
    from stockplan.cutting.proving import Proof
    from stockplan.cutting.recreate import Recreate
    from stockplan.cutting.rounds import Rounds

FIRST_STEPS = 20_000  # of ruin and recreate, to begin with
FIRST_SHARE = 0.2  # of the clock, at most, for the first improvement
WORTH_IMPROVING = 0.01  # the narrower the gap, the fewer sets of pieces are left to list
PROVE_SHARE = 0.7  # of the clock and work, at most, for one attempt at the proof
BOUND_SHARE = 0.6  # of the clock, at most, for the bound
CYCLES = 200
STEPS_OF_CYCLE, STEPS_TIMES_JOBS = 200_000, 24_000_000  # of the first cycle, at most, the second by the number of jobs
SMALL, STEPS_OF_SMALL = 80, 90_000  # jobs; of their first cycle, since programs between cycles bring more
GROWTH, MOST_GROWTH = 1.3, 16.0  # each cycle has so many times the steps of the one before; at most, of the first
HEATS = (0.1, 0.02)  # of cycles by turns
STEPS_IN_PORTIONS = 4_000  # after the first cycle, for each job
LAST_ROUND, ROUNDS_LEFT = 1.3, 2.0  # times as long as the last; so many must be left for one to be waited for
STEPS_ALONGSIDE, SEEDS_APART = 2, 1_000_003  # times those of the first cycle


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
    beside
        What works the bound out meanwhile; default None, this search itself.
    pool
        As for `Bounding`.
    """

    def __init__(
        self,
        instance: Instance,
        seed: int,
        budget: Budget,
        report: Callable[[str, Solution, float], None],
        start: Solution | None = None,
        beside: Beside | None = None,
        pool: Pool | None = None,
    ) -> None:
        self._beside, self._bounded, self._pool = beside, False, pool
        self.instance, self.budget, self._report = instance, budget, report
        self._seed = seed
        self.foreman = trimmed(instance, foreman_plan(instance))
        self.best = self.foreman
        self.bound = 0.0
        self._mine: dict[Pattern, None] = dict.fromkeys(self.foreman.patterns)
        self._exact: Exact | None = None
        self._rounds: Rounds | None = None
        self._portions: Portions | None = None
        self._proof: Proof | None = None
        self._step_seconds = 0.0
        self._alongside: list[Alongside] = []
        if start is not None:
            self._mine.update(dict.fromkeys(start.patterns))
            if start.rank(instance) <= self.best.rank(instance):
                self.best = start

    def run(self) -> Found:
        """Search until the bound is met, the work is spent or the budget is over."""
        self._tell("first plan")
        self._as_pure()
        try:
            self._run()
        finally:
            for one in self._alongside:
                one.end()
        self._hear_alongside()
        self._tell("done")
        if self.proven:
            self.budget.ended_by = "proof"
        elif not self.budget.over() or self.budget.ended_by == "work limit":
            self.budget.ended_by = "clock" if self.budget.by_the_clock else "work limit"
        return Found(self.best, self.foreman, self.bound)

    def _run(self) -> None:
        if not self.proven:
            self._improve(FIRST_STEPS, 0.02, self.budget.part(FIRST_SHARE))
            self._search_alongside()
            self._find_bound()
            if self._gap > WORTH_IMPROVING:
                self._improve(FIRST_STEPS, 0.03, self.budget.part(FIRST_SHARE))
            self._prove()
        self._go_on()

    @cached_property
    def recreate(self) -> Recreate:
        """Ruin and recreate; made when first asked for, since it is slow to load."""
        from stockplan.cutting.recreate import Recreate  # noqa: PLC0415

        return Recreate(self.instance, self._seed)

    def _find_bound(self) -> None:
        """Work the bound out, once, unless it comes from beside."""
        if self._bounded or (self._beside is not None and not self._beside.lost):
            return
        self._bounded = True
        known = [*self._mine, *self.best.patterns]
        easier = for_bounds(self.instance)
        bounding = Bounding(easier, self.budget, BOUND_SHARE, self._raise, known, self._pool)
        bounding.climb(self.best.rank(self.instance)[0])
        self._exact = bounding.exact if easier is self.instance else None

    def _search_alongside(self) -> None:
        """Have threads search too, on processors beside: one as soon as the bound needs its own no more."""
        if self._beside is None or self.proven or self.budget.over():
            return
        from stockplan.cutting.alongside import Alongside  # noqa: PLC0415  as for ruin and recreate

        self.budget.by_the_clock = True
        steps, deadline = STEPS_ALONGSIDE * self._steps(), self.budget.deadline
        for number in range(self._beside.processors):
            seed, processor = self._seed + (number + 1) * SEEDS_APART, None if number else self._beside
            one = Alongside(self.recreate, seed, steps, deadline, lambda: self.best, processor)
            self._alongside.append(one)

    def _hear_alongside(self) -> None:
        """Take what threads found and saw."""
        for one in self._alongside:
            for answer in one.take(self.recreate.seen):
                self._offer(answer)

    def _steps(self) -> int:
        """Of the first cycle."""
        jobs = len(self.instance.jobs)
        return STEPS_OF_SMALL if jobs <= SMALL else min(STEPS_OF_CYCLE, STEPS_TIMES_JOBS // jobs)

    def _go_on(self) -> None:
        """Ruin and recreate by turns with the best of all that every batch served in it."""
        for cycle in range(CYCLES):
            if self.proven or self.budget.over():
                break
            self._find_bound()
            growth = min(MOST_GROWTH, GROWTH**cycle)
            self._improve(int(self._steps() * growth), HEATS[cycle % len(HEATS)], self._before_last_round())
            self._hear_alongside()
            self._combine()
            self._improve_portions(int(STEPS_IN_PORTIONS * len(self.instance.jobs) * growth), self._before_last_round())

    def _before_last_round(self) -> Budget:
        """What is left before the last round of programs has to begin; all where there is no time for it."""
        seconds = 0.0 if self._rounds is None else LAST_ROUND * self._rounds.seconds
        return self.budget.before(seconds if self.budget.seconds_left() > ROUNDS_LEFT * seconds else 0.0)

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
        if pure is None or self.best.short or self.budget.over() or for_bounds(self.instance) is not self.instance:
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
        if until.should_stop():  # not even what has to be compiled for it, perhaps
            return
        began, left = time.monotonic(), until.seconds_left()
        if until.work_limit is None and steps * self._step_seconds > left:
            steps = max(1, int(left / self._step_seconds))
            self.budget.by_the_clock = True
        self._offer(self.recreate.run(self.best, steps, until, heat))
        if not until.over():
            self._step_seconds = (time.monotonic() - began) / steps
        self.budget.absorb(until)
        self._tell("improving")

    def _improve_portions(self, steps: int, until: Budget) -> None:
        """Improve a large answer a portion at a time."""
        from stockplan.cutting.portions import LEAST_JOBS, Portions  # noqa: PLC0415  as for ruin and recreate

        if len(self.instance.jobs) < LEAST_JOBS or self.proven or until.over():
            return
        if self._portions is None:
            self._portions = Portions(self.instance, self._seed)
        self._offer(self._portions.improved(self.best, steps, until))
        self.budget.absorb(until)
        self._tell("improving")

    def _prove(self) -> None:
        """Go through the sets of pieces that a better plan could use; proven best where that ends."""
        if self._exact is None or not self._exact.relaxed or self.proven or self.budget.over():
            return
        from stockplan.cutting.proving import Proof  # noqa: PLC0415  as for ruin and recreate

        if self._proof is None:
            self._proof = Proof(self.instance, self._exact)
        self._tell("proving")
        until = self.budget.part(PROVE_SHARE)
        self._proof.run(self.best, until, self._hear)
        self.budget.absorb(until)

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
        from stockplan.cutting.rounds import Rounds  # noqa: PLC0415  as for ruin and recreate

        if self._rounds is None:
            self._rounds = Rounds(self.recreate, self.budget, None if self._beside is None else self._beside.show)
        if self._beside is not None and any(found := self._beside.found()):
            self._rounds.learn(*found)
            self.budget.by_the_clock = True
        self._offer(self._rounds.run(self.best))
        self._tell("combining")

    def _offer(self, answer: Solution) -> None:
        self._mine.update(dict.fromkeys(answer.patterns))
        if answer.rank(self.instance) < self.best.rank(self.instance):
            self.best = answer

    def _tell(self, phase: str) -> None:
        if self._beside is not None:
            self.bound = max(self.bound, self._beside.bound())
        self._report(phase, self.best, self.bound)
