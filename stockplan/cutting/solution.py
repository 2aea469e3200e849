"""An answer in the planner's own terms: which patterns, which batch for which unit, which jobs left short."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stockplan.cutting.instance import Choice, Instance, PieceType
from stockplan.cutting.patterns import Pattern, without_surplus

Unit = tuple[int, Choice]  # a group, and what one of its units is given
Load = tuple[Unit, ...]  # the units a batch serves, in order, each as often as it is served


@dataclass(frozen=True)
class Solution:
    """An answer.

    Parameters
    ----------
    patterns
        How often each pattern is cut.
    given
        By group index and choice: how many of the group's units it serves.
    short
        Indices of the jobs left short.
    """

    patterns: Counter[Pattern]
    given: dict[tuple[int, Choice], int]
    short: frozenset[int]

    def net_cost(self, instance: Instance) -> int:
        """Net cost in pence, penalties left out."""
        cut = sum(pattern.cost(instance) * count for pattern, count in self.patterns.items())
        return cut + sum(instance.groups[group].cost(choice) * units for (group, choice), units in self.given.items())

    def rank(self, instance: Instance) -> tuple[int, int]:
        """What the planner minimises: cost with penalties, then purchases."""
        penalty = int(sum(instance.penalties[j] for j in self.short))
        bought = sum(n for p, n in self.patterns.items() if p.source.option is not None)
        return self.net_cost(instance) + penalty, bought

    def demand(self, instance: Instance) -> Counter[PieceType]:
        """Pieces of each type that the choices made need."""
        need = Counter(instance.fixed)
        for (group, choice), units in self.given.items():
            for piece, count in instance.groups[group].demands[choice].items():
                need[piece] += count * units
        return need

    def layouts(self, instance: Instance) -> dict[int, int]:
        """By job served: which of its layouts it is given, 0 where strips were given."""
        return {instance.groups[group].job: choice.layout for (group, choice), units in self.given.items() if units}


@dataclass(frozen=True)
class Prices:
    """What things are worth, in pence.

    Parameters
    ----------
    groups
        By group: one unit served.
    batches
        By stock batch: that it serves something.
    pieces
        By piece type of what is bought.
    """

    groups: Sequence[float] = ()
    batches: Mapping[int, float] = field(default_factory=dict)
    pieces: Mapping[PieceType, float] = field(default_factory=dict)


def trimmed(instance: Instance, solution: Solution) -> Solution:
    """The same answer without surplus pieces: a plan cuts nothing that no job needs.

    Parameters
    ----------
    instance
        The problem.
    solution
        An answer that makes at least what it needs.
    """
    made: Counter[PieceType] = Counter()
    for pattern, count in solution.patterns.items():
        for piece, number in pattern.made().items():
            made[piece] += number * count
    surplus = made - solution.demand(instance)
    if not surplus:
        return solution
    patterns: Counter[Pattern] = Counter()
    dear_first = sorted(solution.patterns.elements(), key=lambda p: (-p.source.value_pence, p.text()))
    for pattern in dear_first:
        smaller = without_surplus(pattern, surplus)
        if smaller is not None:
            patterns[smaller] += 1
    return Solution(patterns, solution.given, solution.short)
