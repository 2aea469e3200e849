"""Ruin and recreate: take some jobs or sources apart and put them together again a little differently.

Schrimpf et al., "Record breaking optimization results using the ruin and recreate principle", Journal of Computational
Physics 159 (2000); the random skipping of good places is Christiaens and Vanden Berghe's ("Slack induction by string
removals", Transportation Science 54, 2020), the acceptance simulated annealing. A fixed number of steps and a seeded
generator make it repeatable; the clock only ever cuts it short. The steps themselves are compiled (`trials.py`).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from copy import copy

import numpy as np

from stockplan.cutting import trials
from stockplan.cutting.budget import Budget
from stockplan.cutting.flat import (
    CLASS,
    G_LIST,
    GROUP_SIZE,
    JOB_SIZE,
    OPEN_SIZE,
    UNIT_SIZE,
    Flat,
    Numbers,
)
from stockplan.cutting.instance import Choice, Instance
from stockplan.cutting.memory import (
    B_NOW,
    B_STANDS,
    BATCH_SIZE,
    BATCHES_AT,
    BEST,
    BEST_AT,
    BEST_COST,
    BEST_ROWS,
    BEST_STANDS,
    CHANCE,
    CHANGED,
    COSTS,
    FOCUS,
    FOCUS_AT,
    FREE,
    FREE_AT,
    GIVEN,
    NOW,
    P_COST,
    P_LIST,
    P_LOAD,
    P_ROWS,
    P_VERSION,
    P_WHOLE,
    PICKED,
    ROW_ROOM,
    SERVED,
    SHORT,
    STANDS,
    TRIALS,
    UNDO,
    VERSIONS,
    Memory,
    most_on_a_source,
)
from stockplan.cutting.outcomes import keep_best
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.piles import note_unit, renewed
from stockplan.cutting.rows import COST, DROPS, HEAD, SIZE, SOURCE, openable, settle
from stockplan.cutting.seen import Seen
from stockplan.cutting.solution import Solution

STEPS_PER_WORK, PIECES_PER_WORK = 200, 20_000  # steps for one unit of work, fewer where a job alone has many pieces
WORK_IN_A_THREAD = 5  # at a time: between them it has to wait for its turn


class Recreate:
    """The search.

    Parameters
    ----------
    instance
        The problem.
    seed
        Seed of every random choice.
    alone
        Whether nobody will ask what was seen, so that little of it is remembered; default not.

    Attributes
    ----------
    near
        The only jobs to be taken apart; empty for all.
    """

    def __init__(self, instance: Instance, seed: int, *, alone: bool = False) -> None:
        self.instance = instance
        chance = random.Random(seed)
        units = sum(len(group.demands) for group in instance.groups)
        self.flat = Flat(instance, [chance.getrandbits(62) for _ in range(units)])
        self._salts = [chance.getrandbits(62) for _ in instance.batches]
        self._chance = chance.getrandbits(62)
        self.seen = Seen(self.flat, little=alone)
        self._note_opens()
        self._pieces = sum(instance.fixed.values()) + sum(
            group.units * max((sum(need.values()) for need in group.demands.values()), default=0)
            for group in instance.groups
        )
        self._most_on_a_source = most_on_a_source(self.flat, self._pieces)
        self._memory: Memory | None = None
        self._room = (0, 0)
        self.near: Sequence[int] = ()
        most = max((job.piece_count for job in instance.jobs), default=0)
        self._steps_per_work = max(1, min(STEPS_PER_WORK, PIECES_PER_WORK // max(1, most)))
        self._work_at_once = 1

    @property
    def state(self) -> Numbers:
        """The answer under way."""
        assert self._memory is not None, "there is none before one was taken up"
        return self._memory.state

    def twin(self, seed: int) -> Recreate:
        """One for the same problem with room, memory and chances of its own, for another thread.

        Parameters
        ----------
        seed
            Seed of its choices.
        """
        other = copy(self)
        other.seen, other._memory, other._room = Seen(self.flat), None, (0, 0)
        other._work_at_once = WORK_IN_A_THREAD
        other.shuffle_anew(seed)
        return other

    def shuffle_anew(self, seed: int) -> None:
        """Begin chance again from another seed."""
        self._chance = random.Random(seed).getrandbits(62)

    def _note_opens(self) -> None:
        """What may be opened for each piece."""
        flat, room = self.flat, np.zeros((64, OPEN_SIZE), dtype=np.int64)
        found = [np.zeros((0, OPEN_SIZE), dtype=np.int64)]
        place = len(flat.facts)
        for batch in range(len(self.instance.batches)):
            sources = np.array(flat.sources_in[batch], dtype=np.int64)
            types = np.array(flat.types_in[batch], dtype=np.int64)
            count = openable(flat.facts, sources, types, room, place)
            if count > len(room):
                room = np.zeros((count, OPEN_SIZE), dtype=np.int64)
                openable(flat.facts, sources, types, room, place)
            found.append(room[:count].copy())
            place += count * OPEN_SIZE
        flat.append(np.concatenate(found).ravel())

    def _make_room(self, pieces: int, on_a_source: int) -> Memory:
        """Room for so many pieces, and for so many on one source."""
        if self._memory is None or pieces > self._room[0] or on_a_source > self._room[1]:
            self._room = (pieces, on_a_source)
            self._memory = Memory(self.flat, pieces, on_a_source)
        return self._memory

    def load(self, start: Solution) -> None:
        """Take up an answer without surplus."""
        made = sum(sum(p.made().values()) * n for p, n in start.patterns.items())
        surplus = made - sum(start.demand(self.instance).values())
        pieces = self._pieces + max(0, surplus)
        most = max([0, *(sum(p.made().values()) for p in start.patterns)])
        memory = self._make_room(pieces, max(most, self._most_on_a_source))
        state = memory.state
        state[state[FREE_AT] : state[FREE_AT] + len(memory.rows)] = memory.rows[::-1]
        state[CHANCE], state[FREE] = self._chance, len(memory.rows)
        state[CHANGED] = state[UNDO] = state[PICKED] = 0
        state[FOCUS] = len(self.near)
        state[state[FOCUS_AT] : state[FOCUS_AT] + len(self.near)] = [
            self.flat.first_job + job * JOB_SIZE for job in self.near
        ]
        state[TRIALS] += 1
        self._piles = [self._empty_pile(batch) for batch in range(len(self.instance.batches))]
        for source, place in self.flat.source_at.items():
            if source.copies is not None:
                state[state[self._piles[source.batch] + P_WHOLE] + self.flat.facts[place + CLASS]] = source.copies
        cuts = [(self.flat.source_at[p.source], self.flat.tokens(p), p) for p in start.patterns]
        for _, tokens, pattern in sorted(cuts, key=lambda cut: cut[:2]):
            for _ in range(start.patterns[pattern]):
                self._add_row(pattern, tokens)
        self._note_served(start)
        cost = sum(int(state[pile + P_COST]) for pile in self._piles)
        cost += sum(self.instance.groups[g].cost(choice) * count for (g, choice), count in start.given.items())
        state[COSTS] = state[BEST_COST] = cost + sum(self.instance.penalties[job] for job in start.short)
        state[BEST_STANDS] = 1

    def _empty_pile(self, batch: int) -> int:
        state = self.state
        place = state[BATCHES_AT] + batch * BATCH_SIZE
        pile = int(state[place + B_STANDS])
        state[place + B_NOW] = pile
        state[pile : pile + P_VERSION] = 0
        state[pile + P_LOAD] = self._salts[batch]
        state[VERSIONS] += 1
        state[pile + P_VERSION] = state[VERSIONS]
        return pile

    def _add_row(self, pattern: Pattern, tokens: list[int]) -> None:
        state, flat = self.state, self.flat
        pile = self._piles[pattern.source.batch]
        state[FREE] -= 1
        row = state[state[FREE_AT] + state[FREE]]
        state[row + SOURCE], state[row + DROPS] = flat.source_at[pattern.source], len(pattern.drops)
        state[row + HEAD : row + HEAD + len(tokens)] = tokens
        renewed(state, row)
        settle(flat.facts, state, row)
        kind = flat.facts[state[row + SOURCE] + CLASS]
        if kind >= 0:
            state[state[pile + P_WHOLE] + kind] -= 1
        state[state[pile + P_LIST] + state[pile + P_ROWS]] = row
        state[pile + P_ROWS] += 1
        state[pile + P_COST] += state[row + COST]

    def _note_served(self, start: Solution) -> None:
        state, flat = self.state, self.flat
        for place in (NOW, STANDS):
            state[state[SERVED + place] : state[SERVED + place] + len(self.instance.groups)] = 0
            state[state[SHORT + place] : state[SHORT + place] + len(self.instance.jobs)] = 0
            state[state[SHORT + place] + np.array(sorted(start.short), dtype=np.int64)] = 1
        for (group, choice), count in sorted(start.given.items()):
            unit, first = flat.unit_at[group, choice], flat.facts[flat.first_group + group * GROUP_SIZE + G_LIST]
            for _ in range(count):
                note_unit(flat.facts, state, self._piles[choice.batch], unit)
                for place in (NOW, STANDS):
                    served = state[SERVED + place] + group
                    state[state[GIVEN + place] + first + state[served]] = unit
                    state[served] += 1

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
        self.load(start)
        state, seen = self.state, self.seen
        jobs = max(1, len(self.instance.jobs) - len(start.short))
        penalty = sum(self.instance.penalties[j] for j in start.short)
        hot, cooling = max(1.0, heat * (int(state[COSTS]) - penalty) / jobs), 0.01 ** (1 / max(1, steps))
        stride = self._steps_per_work * self._work_at_once
        for done in range(0, steps, stride):
            budget.spend(self._work_at_once)
            if budget.over():
                break
            count = min(stride, steps - done)
            trials.steps(self.flat.facts, state, seen.loads, seen.purchases, count, hot * cooling**done, cooling)
        self._chance = int(state[CHANCE])
        return self.best()

    def serve(self, job: int) -> bool:
        """Try to serve a job that the answer taken up leaves short, the others as they are; True when it is served."""
        served = trials.serve_job(self.flat.facts, self.state, self.flat.first_job + job * JOB_SIZE)
        self._chance = int(self.state[CHANCE])
        return served

    def best(self) -> Solution:
        """The best answer since one was taken up."""
        state, flat = self.state, self.flat
        if state[BEST_STANDS]:
            keep_best(flat.facts, state)
        patterns: Counter[Pattern] = Counter()
        for number in range(state[BEST_ROWS]):
            row = state[BEST_AT] + number * state[ROW_ROOM]
            patterns[flat.pattern(int(state[row + SOURCE]), state[row + HEAD : row + state[row + SIZE]])] += 1
        given: Counter[tuple[int, Choice]] = Counter()
        for group in range(len(self.instance.groups)):
            first = state[GIVEN + BEST] + flat.facts[flat.first_group + group * GROUP_SIZE + G_LIST]
            for unit in state[first : first + state[state[SERVED + BEST] + group]]:
                given[flat.unit_keys[(unit - flat.first_unit) // UNIT_SIZE]] += 1
        short = state[state[SHORT + BEST] : state[SHORT + BEST] + len(self.instance.jobs)]
        return Solution(patterns, dict(given), frozenset(np.flatnonzero(short).tolist()))
