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
from dataclasses import dataclass, field
from itertools import chain

from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance, PieceType
from stockplan.cutting.packing import Bench, Opened, pieces_on
from stockplan.cutting.seen import Load, Seen, Unit, with_unit, without_unit
from stockplan.cutting.solution import Solution

_Placed = tuple[tuple[Opened, ...], dict[int, int], int]  # what is opened and whole then, and what it adds to net cost

NO_ROOM = 10**15
NOISE = 0.02  # most by which a choice is thought dearer than it is
SKIP = 0.02  # chance that a place is passed over
ROLLS_ONLY = 0.25  # chance that no cut length is bought
STEPS_PER_WORK = 10
MOST_CHOICES = 12  # of a batch and a layout, tried for one unit where there are several layouts


@dataclass(slots=True, eq=False)
class Pile:
    """One batch of an answer under way; never changed, but for what it remembers.

    Parameters
    ----------
    opened
        What is being cut.
    whole
        By source: how many copies are still whole.
    load
        The units it serves.
    offers
        By group and choice: what serving one unit would add to net cost, None where there is no room.
    """

    opened: tuple[Opened, ...]
    whole: dict[int, int]
    load: Load
    offers: dict[tuple[int, Choice], int | None] = field(default_factory=dict)

    @property
    def cost(self) -> int:
        """Net cost of what is opened, pence."""
        return sum([one.cost for one in self.opened])


@dataclass(slots=True)
class State:
    """A whole answer under way: the batches, and by group what serves it."""

    piles: list[Pile]
    given: dict[int, tuple[Choice, ...]]
    short: set[int]
    cost: int

    def copy(self) -> State:
        """A copy that can be changed batch by batch."""
        return State(list(self.piles), dict(self.given), set(self.short), self.cost)


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
        self.seen = Seen(instance)
        self.groups_of: dict[int, list[int]] = {}
        for number, group in enumerate(instance.groups):
            self.groups_of.setdefault(group.job, []).append(number)
        self.needs = [
            {h: [self.bench.number[t] for t, n in sorted_need(d) for _ in range(n)] for h, d in group.demands.items()}
            for group in instance.groups
        ]
        self._many = [group.several_layouts and len(group.demands) > MOST_CHOICES for group in instance.groups]
        bought = [number for number, source in enumerate(instance.sources) if source.copies is None]
        self._offered = [self._sensible(bought, piece) for piece in range(len(self.bench.types))]
        self._rolls = [[s for s in offered if instance.sources[s].on_core] for offered in self._offered]

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
        loads: list[list[tuple[int, Choice]]] = [[] for _ in instance.batches]
        seams = 0
        for (group, choice), units in sorted(solution.given.items()):
            given[group] = given[group] + (choice,) * units
            loads[choice.batch] += [(group, choice)] * units
            seams += instance.groups[group].cost(choice) * units
        penalty = sum(instance.penalties[j] for j in solution.short)
        cost = sum(one.cost for batch in opened for one in batch) + seams + penalty
        piles = [Pile(tuple(cut), left, tuple(load)) for cut, left, load in zip(opened, whole, loads, strict=True)]
        return State(piles, given, set(solution.short), cost)

    def solution_of(self, state: State) -> Solution:
        """The answer of a state."""
        patterns = Counter(self.bench.pattern(one) for pile in state.piles for one in pile.opened)
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
            changed = [b for b, pile in enumerate(trial.piles) if pile is not current.piles[b]]
            for batch in changed:
                self.seen.note(batch, trial.piles[batch].load, trial.piles[batch].opened)
            threshold = current.cost - temperature * math.log(1.0 - self.random.random())
            if trial.cost < threshold or trial.cost <= current.cost:
                for batch in changed:
                    self.seen.note_taken(batch, trial.piles[batch].opened)
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
                pile = state.piles[choice.batch]
                state.piles[choice.batch] = after = self.without(pile, (g, choice))
                state.cost += after.cost - pile.cost
            state.given[g] = ()

    def without(self, pile: Pile, unit: Unit) -> Pile:
        """A pile with a unit taken out, each piece from any source that holds it."""
        opened, whole = pile.opened, pile.whole
        for piece in self.needs[unit[0]][unit[1]]:
            at = self.random.choice([i for i, one in enumerate(opened) if piece in one.held])
            after = self.bench.without(opened[at], piece)
            kept = (after,) if after is not None else ()
            whole = whole if after is not None else _given_back(whole, [opened[at].source])
            opened = (*opened[:at], *kept, *opened[at + 1 :])
        return Pile(opened, whole, without_unit(pile.load, unit))

    def _insert(self, state: State, job: int) -> None:
        """Serve a job as cheaply as greedy placing can; leave it short when nothing holds it."""
        saved = list(state.piles)
        before = state.cost
        groups = self.groups_of.get(job, [])
        for g in groups:
            for _ in range(self.instance.groups[g].units):
                if not self._serve_unit(state, g):
                    state.piles = saved
                    for other in groups:
                        state.given[other] = ()
                    state.cost = before + self.instance.penalties[job]
                    state.short.add(job)
                    return

    def _serve_unit(self, state: State, group: int) -> bool:
        seams = self.instance.groups[group]
        best: tuple[float, Choice] | None = None
        for choice in self._tried(group):
            offer = self.offer(state.piles[choice.batch], group, choice)
            if offer is not None:
                score = (offer + seams.cost(choice)) * (1.0 + NOISE * self.random.random())
                if best is None or score < best[0]:
                    best = (score, choice)
        if best is None:
            return False
        choice = best[1]
        pile = state.piles[choice.batch]
        after = self.with_unit(pile, (group, choice))
        if after is None:
            return False
        state.piles[choice.batch] = after
        state.cost += after.cost - pile.cost + seams.cost(choice)
        state.given[group] = (*state.given[group], choice)
        return True

    def with_unit(self, pile: Pile, unit: Unit) -> Pile | None:
        """A pile with a unit served as well, its pieces at cheap places; None when there is no room."""
        pieces = self.needs[unit[0]][unit[1]]
        # What chance lays may find no room where laying the largest first does.
        placed = self._place_at_random(pile, pieces) or self._place(pile.opened, pile.whole, pieces, self._offered)
        return None if placed is None else Pile(placed[0], placed[1], with_unit(pile.load, unit))

    def offer(self, pile: Pile, group: int, choice: Choice) -> int | None:
        """What serving a unit from a batch adds when its pieces go to the cheapest spots, largest first."""
        key = (group, choice)
        if key not in pile.offers:
            placed = self._place(pile.opened, pile.whole, self.needs[group][choice], self._offered)
            pile.offers[key] = None if placed is None else placed[2]
        return pile.offers[key]

    def _tried(self, group: int) -> Iterable[Choice]:
        """The choices to try for a unit: all, or where layouts and batches make many some of them, by turns."""
        if not self._many[group]:
            return self.needs[group]
        return self.random.sample(list(self.needs[group]), MOST_CHOICES)

    def _place_at_random(self, pile: Pile, pieces: Sequence[int]) -> _Placed | None:
        """Place pieces at cheap spots, now and then in another order or not at the cheapest."""
        order = list(pieces)
        if len(order) > 1 and self.random.random() < 0.3:
            self.random.shuffle(order)
        # A cut length is the cheaper for one piece, a roll for many: now and then only rolls are bought.
        offered = self._rolls if self.random.random() < ROLLS_ONLY else self._offered
        return self._place(pile.opened, pile.whole, order, offered, skip=SKIP)

    def _place(
        self,
        opened: tuple[Opened, ...],
        whole: dict[int, int],
        pieces: Sequence[int],
        offered: list[list[int]],
        skip: float = 0.0,
    ) -> _Placed | None:
        """Place pieces one by one at the cheapest spots, each passed over with a chance; None when one has no place."""
        bench, total = self.bench, 0
        for piece in pieces:
            at, new, gain = self._cheapest(piece, opened, whole, offered[piece], skip)
            if at >= 0:
                opened = (*opened[:at], bench.placed(piece, opened[at]), *opened[at + 1 :])
            elif new is not None:
                opened = (*opened, new)
                if new.source in whole:
                    whole = whole | {new.source: whole[new.source] - 1}
            else:
                return None
            total += gain
        return opened, whole, total

    def _cheapest(
        self, piece: int, opened: tuple[Opened, ...], whole: dict[int, int], offered: list[int], skip: float
    ) -> tuple[int, Opened | None, int]:
        """The cheapest place: on which opened source, or else a source newly opened, and what it adds."""
        bench, chance = self.bench, self.random.random
        best: tuple[int, Opened | None, int] = (-1, None, NO_ROOM)
        passed = best
        for at, one in enumerate(opened):
            gain = one.gains[piece] if piece in one.gains else bench.gain(piece, one)
            if gain is not None and gain < best[2]:
                if skip and chance() < skip:
                    passed = (at, None, gain)
                else:
                    best = (at, None, gain)
        for source in chain((s for s, n in whole.items() if n > 0), offered):
            new = bench.newly(piece, source)
            if new is not None and new.cost < best[2]:
                if skip and chance() < skip:
                    passed = (-1, new, new.cost)
                else:
                    best = (-1, new, new.cost)
        return best if best[2] < NO_ROOM else passed

    def _sensible(self, bought: list[int], piece: int) -> list[int]:
        """What may be bought for a piece: of cut lengths the one just long enough."""
        batch, length = self.bench.types[piece].batch, self.bench.length[piece]
        return [s for s in bought if self.bench.sources[s].batch == batch and self.bench.resized(s, length) == s]

    def _repack(self, state: State) -> bool:
        """Empty one to three sources of one batch and place their pieces again in the same batch."""
        busy = [b for b, pile in enumerate(state.piles) if pile.opened]
        if not busy:
            return False
        batch = self.random.choices(busy, weights=[len(state.piles[b].opened) for b in busy])[0]
        opened = state.piles[batch].opened
        count = min(len(opened), self.random.choice((1, 2, 2, 3)))
        emptied = set(self.random.sample(range(len(opened)), count))
        pieces = [p for i in sorted(emptied) for p in pieces_on(opened[i])]
        load = state.piles[batch].load
        whole = _given_back(state.piles[batch].whole, [opened[i].source for i in emptied])
        kept = tuple(one for i, one in enumerate(opened) if i not in emptied)
        if self.random.random() < 0.5:
            self.random.shuffle(pieces)
        else:
            pieces.sort(key=lambda p: -self.bench.length[p] * self.bench.width[p])
        placed = self._place_at_random(Pile(kept, whole, load), pieces)
        if placed is None:
            return False
        state.piles[batch] = Pile(placed[0], placed[1], load)
        state.cost += placed[2] - sum(opened[i].cost for i in emptied)
        return True


def _given_back(whole: dict[int, int], sources: Iterable[int]) -> dict[int, int]:
    """Stock with copies whole again; what was bought is gone."""
    back = dict(whole)
    for source in sources:
        if source in back:
            back[source] += 1
    return back


def sorted_need(demand: dict[PieceType, int]) -> list[tuple[PieceType, int]]:
    """A unit's pieces, largest first."""
    return sorted(demand.items(), key=lambda item: (-item[0].width_mm * item[0].length_mm, -item[0].length_mm))
