"""The master program over sets of pieces: that of `master.py`, of columns that nobody has worked out how to cut yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from ortools.math_opt.python import mathopt

from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.links import Link
from stockplan.cutting.master import PURCHASE_TIE_BREAK, SCALE, Master


class PieceSet(NamedTuple):
    """A set of pieces from one source of a class.

    Parameters
    ----------
    source
        The class, by its first source.
    pieces
        How many of each type.
    cost
        Pence.
    """

    source: Source
    pieces: tuple[tuple[PieceType, int], ...]
    cost: int


class SetMaster(Master):
    """Such a program.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        super().__init__(instance)
        self.sets: dict[PieceSet, mathopt.Variable] = {}

    def add_sets(self, sets: Iterable[PieceSet]) -> int:
        """Add sets not yet held; returns how many were new."""
        before = len(self.sets)
        for one in sets:
            if one in self.sets:
                continue
            self.sets[one] = variable = self._model.add_variable(lb=0.0)
            tie_break = PURCHASE_TIE_BREAK if one.source.option is not None else 0.0
            self._model.objective.set_linear_coefficient(variable, (one.cost + tie_break) / SCALE)
            for piece, count in one.pieces:
                self._pieces[piece].set_coefficient(variable, count)
            if one.source in self._classes:
                self._classes[one.source].set_coefficient(variable, 1)
            rows = self._ties.get(one.source)
            if rows:
                made = dict(one.pieces)
                for link, row in rows.items():
                    if taken := link.taken(made):
                        row.set_coefficient(variable, taken)
        return len(self.sets) - before

    def tie(self, links: Iterable[Link]) -> None:
        """Add rows of `links.py` not yet held."""
        fresh = [link for link in links if link not in self._ties.get(link.source, {})]
        super().tie(fresh)
        for one, variable in self.sets.items():
            for link in fresh:
                if link.source == one.source and (taken := link.taken(dict(one.pieces))):
                    self._ties[link.source][link].set_coefficient(variable, taken)

    def _used(self, least: float) -> dict[Source, list[tuple[float, Mapping[PieceType, int]]]]:
        """By class: shares of its sets in the relaxation's solution, above a least, and what each makes."""
        values = self._result.variable_values()
        found: dict[Source, list[tuple[float, Mapping[PieceType, int]]]] = {}
        for one, variable in self.sets.items():
            share = values.get(variable, 0.0)  # what was added since has none
            if share > least:
                found.setdefault(one.source, []).append((share, dict(one.pieces)))
        return found
