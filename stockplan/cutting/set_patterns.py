"""How sets of pieces are cut: a set is worth listing long before anybody needs to know that."""

from __future__ import annotations

import math

from stockplan.cutting.drop_sets import LENGTHS_OF_THE_RULE, TooManyWays
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.kinds import Kind
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.set_tables import SetTables

Made = tuple[tuple[PieceType, int], ...]


class SetPatterns:
    """Patterns of single sets, remembered.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self._known: dict[tuple[Source, Made], Pattern | None] = {}

    def of(self, source: Source, made: Made) -> Pattern | None:
        """How a set is cut from a source at its least cost; None where that cannot be told.

        Parameters
        ----------
        source
            The source.
        made
            Piece types and how many of each, in order.
        """
        key = source, made
        if key not in self._known:
            self._known[key] = self._cut(source, made)
        return self._known[key]

    def _cut(self, source: Source, made: Made) -> Pattern | None:
        step = math.gcd(source.length_mm, *LENGTHS_OF_THE_RULE, *(piece.length_mm for piece, _ in made))
        try:
            tables = SetTables(Kind(self.instance, [source], dict(made), step), lambda: False)
        except TooManyWays:
            return None
        number = tables.number_of(0, dict(made))
        return None if number is None else tables.pattern(0, number)
