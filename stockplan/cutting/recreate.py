"""Ruin and recreate: take some jobs or sources apart and put them together again a little differently.

Schrimpf et al., "Record breaking optimization results using the ruin and recreate principle", Journal of Computational
Physics 159 (2000); the random skipping of good places is Christiaens and Vanden Berghe's ("Slack induction by string
removals", Transportation Science 54, 2020), the acceptance simulated annealing. A fixed number of steps and a seeded
generator make it repeatable; the clock only ever cuts it short.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance, PieceType
from stockplan.cutting.packing import Bench, Opened, Spot, holds, pieces_on
from stockplan.cutting.solution import Solution

SKIP = 0.02  # chance that a place is passed over
ROLLS_ONLY = 0.25  # chance that no cut length is bought
STEPS_PER_WORK = 10
MOST_CHOICES = 12  # of a batch and a layout, tried for one unit


@dataclass(slots=True)
class State:
    """A whole answer under way: by batch what is opened and which stock is still whole; by group what serves it."""

    opened: list[tuple[Opened, ...]]
    whole: list[dict[int, int]]
    given: dict[int, tuple[Choice, ...]]
    short: set[int]
    cost: int

    def copy(self) -> State:
        """A copy that can be changed batch by batch."""
        return State(list(self.opened), list(self.whole), dict(self.given), set(self.short), self.cost)


class Recreate:
    """The search.

    Parameters
    ----------
    instance
        The problem.
    seed
        Seed of every random choice.
    """

    def __init__(self, instance: Instance, seed: int) -> None:
        self.instance = instance
        self.bench = Bench(instance)
        self.random = random.Random(seed)
        self.groups_of: dict[int, list[int]] = {}
        for number, group in enumerate(instance.groups):
            self.groups_of.setdefault(group.job, []).append(number)
        self.needs = [
            {h: [self.bench.number[t] for t, n in sorted_need(d) for _ in range(n)] for h, d in group.demands.items()}
            for group in instance.groups
        ]
        self._many = [group.several_layouts and len(group.demands) > MOST_CHOICES for group in instance.groups]
        self._offered: dict[int, list[int]] = {}
        self._rolls: dict[int, list[int]] = {}
        for number, source in enumerate(instance.sources):
            if source.copies is None:
                self._offered.setdefault(source.batch, []).append(number)
                if source.on_core:
                    self._rolls.setdefault(source.batch, []).append(number)

    def state_of(self, solution: Solution) -> State:
        """The state of an answer without surplus."""
        instance, bench = self.instance, self.bench
        opened: list[list[Opened]] = [[] for _ in instance.batches]
        whole: list[dict[int, int]] = [{} for _ in instance.batches]
        for number, source in enumerate(instance.sources):
            if source.copies is not None:
                whole[source.batch][number] = source.copies
        for pattern in sorted(solution.patterns.elements(), key=lambda p: (p.source.tags, p.text())):
            one = bench.from_pattern(pattern)
            opened[pattern.source.batch].append(one)
            if pattern.source.copies is not None:
                whole[pattern.source.batch][one.source] -= 1
        given: dict[int, tuple[Choice, ...]] = dict.fromkeys(range(len(instance.groups)), ())
        seams = 0
        for (group, choice), units in sorted(solution.given.items()):
            given[group] = given[group] + (choice,) * units
            seams += instance.groups[group].cost(choice) * units
        penalty = sum(instance.penalties[j] for j in solution.short)
        cost = sum(one.cost for batch in opened for one in batch) + seams + penalty
        return State([tuple(b) for b in opened], whole, given, set(solution.short), cost)

    def solution_of(self, state: State) -> Solution:
        """The answer of a state."""
        patterns = Counter(self.bench.pattern(one) for batch in state.opened for one in batch)
        given = Counter((g, choice) for g, choices in state.given.items() for choice in choices)
        return Solution(patterns, dict(given), frozenset(state.short))

    def run(self, start: Solution, steps: int, budget: Budget, heat: float = 0.01) -> Solution:
        """Improve an answer.

        Parameters
        ----------
        start
            The answer to begin from; without surplus.
        steps
            How many times to ruin and recreate.
        budget
            Work and clock.
        heat
            Temperature at the start as a share of the mean cost of a job; it falls a hundredfold.
        """
        current = self.state_of(start)
        best = current
        jobs = max(1, len(self.instance.jobs) - len(current.short))
        penalty = sum(self.instance.penalties[j] for j in current.short)
        hot = max(1.0, heat * (current.cost - penalty) / jobs)
        for step in range(steps):
            if step % STEPS_PER_WORK == 0:
                budget.spend(1)
            if budget.over():
                break
            temperature = hot * 0.01 ** (step / steps)
            trial = self._disturbed(current)
            if trial is None:
                continue
            threshold = current.cost - temperature * math.log(1.0 - self.random.random())
            if trial.cost < threshold or trial.cost <= current.cost:
                current = trial
                if trial.cost < best.cost:
                    best = trial
        return self.solution_of(best)

    def serve(self, state: State, job: int) -> bool:
        """Try to serve a job that a state leaves short; True when it is served."""
        self._remove(state, job)
        self._insert(state, job)
        return job not in state.short

    def _disturbed(self, state: State) -> State | None:
        """One trial: ruin, then recreate; None when fixed pieces no longer fit."""
        trial = state.copy()
        if self.random.random() < 0.35:
            return trial if self._repack(trial) else None
        jobs = self._pick_jobs(trial)
        for job in jobs:
            self._remove(trial, job)
        order = list(jobs)
        if self.random.random() < 0.5:
            self.random.shuffle(order)
        else:
            order.sort(key=lambda j: -self.instance.jobs[j].area_mm2)
        for job in order:
            self._insert(trial, job)
        return trial

    def _pick_jobs(self, state: State) -> list[int]:
        """A few jobs, mostly ones that share a batch with the first."""
        everyone = range(len(self.instance.jobs))
        first = self.random.choice(everyone)
        count = min(len(everyone), self.random.choice((1, 2, 2, 3, 3, 4)))
        batches = {h.batch for g in self.groups_of.get(first, []) for h in state.given[g]}
        near = [
            j
            for j in everyone
            if j != first and any(h.batch in batches for g in self.groups_of[j] for h in state.given[g])
        ]
        jobs = [first, *sorted(state.short - {first})[: count - 1]]
        while len(jobs) < count:
            pool = near if near and self.random.random() < 0.6 else everyone
            other = self.random.choice(pool)
            if other not in jobs:
                jobs.append(other)
            elif len(pool) <= len(jobs):
                near = []
        return jobs

    def _remove(self, state: State, job: int) -> None:
        if job in state.short:
            state.short.discard(job)
            state.cost -= self.instance.penalties[job]
            return
        for g in self.groups_of.get(job, []):
            for choice in state.given[g]:
                state.cost -= self.instance.groups[g].cost(choice)
                for piece in self.needs[g][choice]:
                    self._take_out(state, choice.batch, piece)
            state.given[g] = ()

    def _take_out(self, state: State, batch: int, piece: int) -> None:
        holding = [i for i, one in enumerate(state.opened[batch]) if holds(one, piece)]
        at = self.random.choice(holding)
        one = state.opened[batch][at]
        after = self.bench.without(one, piece)
        kept = (after,) if after is not None else ()
        state.opened[batch] = state.opened[batch][:at] + kept + state.opened[batch][at + 1 :]
        state.cost += (after.cost if after is not None else 0) - one.cost
        if after is None:
            self._give_back(state, batch, one.source)

    def _give_back(self, state: State, batch: int, source: int) -> None:
        if source in state.whole[batch]:
            state.whole[batch] = state.whole[batch] | {source: state.whole[batch][source] + 1}

    def _insert(self, state: State, job: int) -> None:
        """Serve a job as cheaply as greedy placing can; leave it short when nothing holds it."""
        batches = {h.batch for g in self.groups_of.get(job, []) for h in self.needs[g]}
        saved = {b: (state.opened[b], state.whole[b]) for b in batches}
        before = state.cost
        groups = self.groups_of.get(job, [])
        for g in groups:
            for _ in range(self.instance.groups[g].units):
                if not self._serve_unit(state, g):
                    for b, (opened, whole) in saved.items():
                        state.opened[b], state.whole[b] = opened, whole
                    for other in groups:
                        state.given[other] = ()
                    state.cost = before + self.instance.penalties[job]
                    state.short.add(job)
                    return

    def _serve_unit(self, state: State, group: int) -> bool:
        best: tuple[float, Choice, tuple[Opened, ...], dict[int, int], int] | None = None
        for choice in self._tried(group):
            batch = choice.batch
            placed = self._place_all(state.opened[batch], state.whole[batch], batch, self.needs[group][choice])
            if placed is None:
                continue
            opened, whole, delta = placed
            delta += self.instance.groups[group].cost(choice)
            score = delta * (1.0 + 0.02 * self.random.random())
            if best is None or score < best[0]:
                best = (score, choice, opened, whole, delta)
        if best is None:
            return False
        _, choice, opened, whole, delta = best
        state.opened[choice.batch], state.whole[choice.batch] = opened, whole
        state.cost += delta
        state.given[group] = (*state.given[group], choice)
        return True

    def _tried(self, group: int) -> Iterable[Choice]:
        """The choices to try for a unit: all, or where layouts and batches make many some of them, by turns."""
        if not self._many[group]:
            return self.needs[group]
        return self.random.sample(list(self.needs[group]), MOST_CHOICES)

    def _place_all(
        self, opened: tuple[Opened, ...], whole: dict[int, int], batch: int, pieces: Sequence[int]
    ) -> tuple[tuple[Opened, ...], dict[int, int], int] | None:
        """Place pieces one by one at the cheapest spots; None when one has no place."""
        total = 0
        order = list(pieces)
        if len(order) > 1 and self.random.random() < 0.3:
            self.random.shuffle(order)
        # A cut length is the cheaper for one piece, a roll for many: now and then only rolls are bought.
        rolls = self._rolls.get(batch, [])
        offered = rolls if rolls and self.random.random() < ROLLS_ONLY else self._offered.get(batch, [])
        for piece in order:
            closed = [s for s, n in whole.items() if n > 0] + offered
            spot = self._choose(self.bench.spots(piece, opened, self._sensible(closed, piece)))
            if spot is None:
                return None
            total += spot.delta
            if spot.at >= 0:
                opened = (*opened[: spot.at], spot.after, *opened[spot.at + 1 :])
            else:
                opened = (*opened, spot.after)
                if spot.after.source in whole:
                    whole = whole | {spot.after.source: whole[spot.after.source] - 1}
        return opened, whole, total

    def _sensible(self, closed: list[int], piece: int) -> list[int]:
        """Leave out cut lengths other than the one just long enough."""
        return [s for s in closed if self.bench.resized(s, self.bench.length[piece]) == s]

    def _choose(self, spots: Iterable[Spot]) -> Spot | None:
        """The cheapest spot, each passed over with a small chance."""
        best: Spot | None = None
        passed: Spot | None = None
        for spot in spots:
            if best is None or spot.delta < best.delta:
                if self.random.random() < SKIP:
                    passed = spot
                else:
                    best = spot
        return best or passed

    def _repack(self, state: State) -> bool:
        """Empty one to three sources of one batch and place their pieces again in the same batch."""
        busy = [b for b, opened in enumerate(state.opened) if opened]
        if not busy:
            return False
        batch = self.random.choices(busy, weights=[len(state.opened[b]) for b in busy])[0]
        opened = state.opened[batch]
        count = min(len(opened), self.random.choice((1, 2, 2, 3)))
        emptied = set(self.random.sample(range(len(opened)), count))
        pieces = [p for i in sorted(emptied) for p in pieces_on(opened[i])]
        released = sum(opened[i].cost for i in emptied)
        for i in emptied:
            self._give_back(state, batch, opened[i].source)
        kept = tuple(one for i, one in enumerate(opened) if i not in emptied)
        if self.random.random() < 0.5:
            self.random.shuffle(pieces)
        else:
            pieces.sort(key=lambda p: -self.bench.length[p] * self.bench.width[p])
        placed = self._place_all(kept, state.whole[batch], batch, pieces)
        if placed is None:
            return False
        state.opened[batch], state.whole[batch] = placed[0], placed[1]
        state.cost += placed[2] - released
        return True


def sorted_need(demand: dict[PieceType, int]) -> list[tuple[PieceType, int]]:
    """A unit's pieces, largest first."""
    return sorted(demand.items(), key=lambda item: (-item[0].width_mm * item[0].length_mm, -item[0].length_mm))
