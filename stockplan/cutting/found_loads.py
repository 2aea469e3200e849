"""Loads that exact pricing found, for the relaxation at once, and for a search of plans when they are of use."""

from __future__ import annotations

import math
from collections.abc import Sequence

from stockplan.cutting.batch_columns import BatchColumn
from stockplan.cutting.batch_load import BatchLoad
from stockplan.cutting.batch_master import BatchMaster
from stockplan.cutting.instance import Choice, Instance, Source
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.set_patterns import Made, SetPatterns
from stockplan.cutting.solution import Load

SHOWN_WITHIN = 0.003  # of the relaxation's value: what loses more is not shown
MOST_SHOWN, MOST_BOUGHT = 3_000, 500  # loads, and cuts of what is bought, looked through


class FoundLoads:
    """Such loads of one problem.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self._cuts: dict[tuple[int, Load], list[tuple[Source, Made]]] = {}
        self._patterns = SetPatterns(instance)
        self._shown: set[Pattern] = set()

    def columns(
        self, batch: int, search: BatchLoad, groups: Sequence[int], prices: Sequence[float]
    ) -> list[BatchColumn]:
        """What a search for the best loads of a batch found, as columns of which nobody has said how they are cut.

        Parameters
        ----------
        batch
            Index of the batch.
        search
            The search.
        groups
            By unit of the search: its group.
        prices
            By group: what a unit served was worth, pence.
        """
        columns = []
        for found in search.loads:
            choices = ((groups[unit], self._choices(groups[unit], batch)[way]) for unit, way in found.served)
            if load := tuple(sorted(choices)):
                seams = sum(self.instance.groups[g].cost(choice) for g, choice in load)
                cost = sum(prices[g] for g, _ in load) - search.worth(found) - seams
                columns.append(BatchColumn(batch, load, (), math.ceil(cost)))
                self._cuts[batch, load] = search.cut(found)
        return columns

    def _choices(self, group: int, batch: int) -> list[Choice]:
        return [h for h in self.instance.groups[group].demands if h.batch == batch]

    def to_show(self, master: BatchMaster) -> tuple[list[BatchColumn], list[Pattern]]:
        """Loads, with their patterns, and cuts of what is bought, not shown before, that lose little.

        Parameters
        ----------
        master
            The relaxation, solved.
        """
        loss, loads = SHOWN_WITHIN * master.value, []
        for column in master.columns_within(loss, MOST_SHOWN):
            cut = self._cuts.pop(column.key, [])
            patterns = [pattern for source, made in cut if (pattern := self._patterns.of(source, made)) is not None]
            if patterns and len(patterns) == len(cut):
                cost = sum(pattern.cost(self.instance) for pattern in patterns)
                loads.append(BatchColumn(column.batch, column.load, tuple(patterns), cost))
        cuts: list[Pattern | None] = [*master.patterns_within(loss, MOST_BOUGHT)]
        cuts += [self._patterns.of(one.source, one.pieces) for one in master.sets_within(loss, MOST_BOUGHT)]
        bought = list(dict.fromkeys(cut for cut in cuts if cut is not None and cut not in self._shown))
        self._shown.update(bought)
        return loads, bought
