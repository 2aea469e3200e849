"""A large answer improved a portion at a time: each is a problem of its own, small and soon searched.

A step of ruin and recreate looks at all that could hold a piece: on 375 jobs it takes some 130 us, on a portion of 40
of them 17 us, and a portion is annealed to its end in a second (Taillard and Voss, "POPMUSIC: partial optimization
metaheuristic under special intensification conditions", 2002). There are two kinds by turns: some batches with the jobs
they serve and some of the jobs that are bought for; and some of the rolls bought, each piece by itself. On 375 jobs
with sizes of 10 mm that had been searched for 150 s, 40 s of the former saved 0.46 %, 58 s of ruin and recreate at
large 0.25 %; 30 s of the latter saved 0.5 %. On 150 jobs it is 0.1 % or nothing.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from stockplan.cutting.batch_columns import bought_batches
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Group, Instance, PieceType
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution
from stockplan.domain.jobs import Job, Strip

JOBS, ROLLS = 40, 40  # of a portion, about
LEAST_JOBS = 2 * JOBS  # of a problem, for portions of it to be worth their while
STEPS = 50_000  # of ruin and recreate, for each
HEATS, HEATS_OF_ROLLS = (0.01, 0.005), (0.05, 0.02)  # by turns
SMALLEST = 1e-9  # pence for a square millimetre
SPARED = 0.98  # of the least cost of grass in a roll: what is dearer makes a roll likelier to be taken


@dataclass(frozen=True)
class Portion:
    """Some of an answer as a problem of its own, with the answer to it that the whole one holds.

    Parameters
    ----------
    instance, answer
        The problem and the answer; nothing is left short.
    origins
        By group: its number in the whole problem; None for pieces by themselves.
    """

    instance: Instance
    answer: Solution
    origins: tuple[int | None, ...]

    def put_back(self, whole: Solution, found: Solution) -> Solution:
        """The whole answer with another answer to the portion in it."""
        given = Counter(whole.given)
        for sign, part in ((-1, self.answer), (1, found)):
            for (number, choice), units in part.given.items():
                group = self.origins[number]
                if group is not None:
                    given[group, choice] += sign * units
        patterns = whole.patterns - self.answer.patterns + found.patterns
        return Solution(patterns, {unit: units for unit, units in given.items() if units}, whole.short)


class Portions:
    """Takes portions of answers to one problem, by chance, and improves them.

    Parameters
    ----------
    instance
        The problem.
    seed
        Seed of every random choice.
    """

    def __init__(self, instance: Instance, seed: int) -> None:
        self.instance = instance
        self._chance = random.Random(seed)
        self._bought = bought_batches(instance)
        self._stock = [b for b in range(len(instance.batches)) if b not in self._bought]
        self._groups_of = Counter(group.job for group in instance.groups)
        self._turn = 0

    def improved(self, answer: Solution, steps: int, budget: Budget) -> Solution:
        """The answer, or a better one.

        Parameters
        ----------
        answer
            Without surplus.
        steps
            Of ruin and recreate in all; at least one portion is taken.
        budget
            Work and clock.
        """
        for _ in range(max(1, steps // STEPS)):
            if budget.over():
                break
            of_rolls, cool = self._turn % 2 == 1, self._turn // 2 % 2
            self._turn += 1
            portion = self.of_rolls(answer) if of_rolls else self.of_batches(answer)
            if portion.answer.patterns:
                search = Recreate(portion.instance, self._chance.getrandbits(32), alone=True)
                heat = (HEATS_OF_ROLLS if of_rolls else HEATS)[cool]
                found = search.run(portion.answer, STEPS, budget, heat)
                if found.rank(portion.instance) < portion.answer.rank(portion.instance):
                    answer = portion.put_back(answer, found)
        return answer

    def of_rolls(self, answer: Solution) -> Portion:
        """Some of what is bought, rather such as makes dear pieces, each piece by itself."""
        bought = self._of_bought(answer)
        dear = [p.cost(self.instance) / sum(t.width_mm * t.length_mm for t in p.made().elements()) for p in bought]
        least = SPARED * min(dear, default=0.0) - SMALLEST
        drawn = sorted((self._chance.random() / (one - least), number) for number, one in enumerate(dear))
        rolls = Counter(bought[number] for _, number in drawn[:ROLLS])
        return self._portion(answer, (), [], rolls)

    def of_batches(self, answer: Solution) -> Portion:
        """Some batches with all they serve, and some of the jobs that are bought for with the rolls they are cut from.

        What else lies on those rolls is bought piece by piece.
        """
        jobs: defaultdict[int, set[int]] = defaultdict(set)
        for (number, choice), _ in self._served(answer):
            jobs[choice.batch].add(self.instance.groups[number].job)
        of_bought = sorted(set().union(*(jobs[b] for b in self._bought)))
        of_stock = sum(len(jobs[b]) for b in self._stock)
        wanted = JOBS * of_stock / max(1, of_stock + len(of_bought))
        batches, count = set[int](), 0
        for batch in self._chance.sample(self._stock, len(self._stock)):
            if count >= wanted:
                break
            batches.add(batch)
            count += len(jobs[batch])
        near = set(self._chance.sample(of_bought, min(len(of_bought), max(1, round(JOBS - wanted)))))
        units = [
            (number, choice)
            for (number, choice), _ in self._served(answer)
            if choice.batch in batches or (choice.batch in self._bought and self.instance.groups[number].job in near)
        ]
        needed = self._needed(answer, (unit for unit in units if unit[1].batch in self._bought))
        return self._portion(answer, batches, units, self._rolls_with(answer, needed))

    def _served(self, answer: Solution) -> list[tuple[tuple[int, Choice], int]]:
        """Units that need pieces, in order, and how many of each."""
        given = sorted(answer.given.items())
        return [(unit, count) for unit, count in given if count and self.instance.groups[unit[0]].demands[unit[1]]]

    def _of_bought(self, answer: Solution) -> list[Pattern]:
        found = (p for p in answer.patterns.elements() if p.source.batch in self._bought)
        return sorted(found, key=lambda p: (p.source.option or 0, p.source.length_mm, p.text()))

    def _needed(self, answer: Solution, units: Iterable[tuple[int, Choice]]) -> Counter[PieceType]:
        """The pieces that units need as often as an answer serves them."""
        needed = Counter[PieceType]()
        for group, choice in units:
            for piece, count in self.instance.groups[group].demands[choice].items():
                needed[piece] += count * answer.given[group, choice]
        return needed

    def _rolls_with(self, answer: Solution, needed: Counter[PieceType]) -> Counter[Pattern]:
        """Cuts of what is bought that make some pieces, first those of which they take most."""
        bought = self._of_bought(answer)
        self._chance.shuffle(bought)
        bought.sort(key=lambda p: -_area(p.made() & needed) / (p.source.width_mm * p.source.length_mm))
        left, rolls = Counter(needed), Counter[Pattern]()
        for pattern in bought:
            taken = pattern.made() & left
            if taken:
                rolls[pattern] += 1
                left -= taken
        return rolls

    def _portion(
        self, answer: Solution, batches: Collection[int], units: list[tuple[int, Choice]], rolls: Counter[Pattern]
    ) -> Portion:
        """Some batches, units, and cuts of what is bought; what these make beside for others is bought as well."""
        places = self._bought.union(batches)
        groups, origins, given = list[Group](), list[int | None](), dict[tuple[int, Choice], int]()
        jobs, penalties = list[Job](), list[int]()

        def add(group: Group, choice: Choice, job: Job, origin: int | None) -> None:
            given[len(groups), choice] = group.units
            jobs.append(job)
            penalties.append(int(max(self.instance.penalties)))
            origins.append(origin)
            groups.append(group)

        for number, choice in units:
            group, count = self.instance.groups[number], answer.given[number, choice]
            mine = self._choices(group, choice, places)
            add(
                replace(group, job=len(groups), units=count, demands=mine),
                choice,
                self.instance.jobs[group.job],
                number,
            )
        made = Counter[PieceType]()
        for pattern in rolls.elements():
            made.update(pattern.made())
        made -= self._needed(answer, (unit for unit in units if unit[1].batch in self._bought))
        for piece, count in sorted(made.items(), key=lambda one: _order(one[0])):
            choice = Choice(piece.batch)
            strip = Strip("", piece.width_mm, piece.length_mm, 1)
            job = replace(self.instance.jobs[0], strips=(strip,))
            add(Group(len(groups), count, {choice: {piece: 1}}), choice, job, None)
        patterns = rolls + Counter({p: n for p, n in answer.patterns.items() if p.source.batch in batches})
        instance = replace(
            self.instance,
            jobs=tuple(jobs),
            penalties=tuple(penalties),
            sources=tuple(source for source in self.instance.sources if source.batch in places),
            groups=tuple(groups),
            fixed={piece: count for piece, count in self.instance.fixed.items() if piece.batch in batches},
        )
        return Portion(instance, Solution(patterns, given, frozenset()), tuple(origins))

    def _choices(self, group: Group, choice: Choice, places: Collection[int]) -> dict[Choice, dict[PieceType, int]]:
        """What a group may be given within a portion; another layout only where that is the whole job's."""
        whole = group.units == 1 and self._groups_of[group.job] == 1
        return {
            other: need
            for other, need in group.demands.items()
            if need and other.batch in places and (whole or other.layout == choice.layout)
        }


def _area(pieces: Counter[PieceType]) -> int:
    return sum(piece.width_mm * piece.length_mm * count for piece, count in pieces.items())


def _order(piece: PieceType) -> tuple[int, int, int, list[int], bool]:
    return piece.batch, piece.width_mm, piece.length_mm, sorted(piece.options), piece.pinned
