"""The program over whole batches: what each batch serves, cut in the cheapest way known.

    minimise    sum over k of cost_k z_k  +  sum over p of cost_p x_p  +  sum over g, h of seams_gh y_gh  +  penalties
    subject to  (group g)  sum over k of units_gk z_k + sum over h of y_gh + units_g s_job(g)  =  units_g
                (batch b)  sum over k of b of z_k  <=  1, exactly 1 where pieces of it are fixed
                (piece t)  sum over p of made_tp x_p - sum over g, h of need_ght y_gh  >=  fixed_t
                (class c)  sum over p cut from c of x_p  <=  copies_c
                z, x, y >= 0 whole, s in {0, 1}

A column k is a batch, its load (units by group and choice) and patterns that make just that. What is bought hardly ever
serves the same units twice, so that the batch `new` is stated piece by piece as at the head of `master.py`: there
alone are x, y and rows of pieces and classes. So are units that need no pieces. Dantzig and Wolfe's reformulation,
with batches as the blocks (Operations Research 8, 1960).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ortools.math_opt.python import mathopt

from stockplan.cutting.beside import PURCHASE_TIE_BREAK, SCALE
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.set_master import PieceSet
from stockplan.cutting.solution import Load, Solution


@dataclass(frozen=True)
class BatchColumn:
    """What one batch serves, and how it is cut.

    Parameters
    ----------
    batch
        Index of the batch.
    load
        The units it serves, each as often as it serves it, in order; none that need no pieces.
    patterns
        One for each source touched; they make what the load needs, and what is fixed.
    cost
        Net cost of the patterns, pence.
    """

    batch: int
    load: Load
    patterns: tuple[Pattern, ...]
    cost: int

    @property
    def key(self) -> tuple[int, Load]:
        """Batch and load."""
        return self.batch, self.load


def bought_batches(instance: Instance) -> frozenset[int]:
    """The batches stated piece by piece: what is bought."""
    return frozenset(source.batch for source in instance.sources if source.copies is None)


def columns_of(instance: Instance, answer: Solution) -> list[BatchColumn]:
    """What each stock batch serves in an answer, without surplus."""
    bought = bought_batches(instance)
    patterns: dict[int, list[Pattern]] = {}
    for pattern in sorted(answer.patterns.elements(), key=lambda p: (p.source.tags, p.text())):
        patterns.setdefault(pattern.source.batch, []).append(pattern)
    loads: dict[int, list[tuple[int, Choice]]] = {}
    for (group, choice), units in sorted(answer.given.items()):
        loads.setdefault(choice.batch, []).extend([(group, choice)] * units)
    return [
        BatchColumn(b, loaded(instance, loads.get(b, ())), tuple(cut), sum(p.cost(instance) for p in cut))
        for b, cut in sorted(patterns.items())
        if b not in bought
    ]


def loaded(instance: Instance, units: Iterable[tuple[int, Choice]]) -> Load:
    """Units of a batch in order, without those that need no pieces."""
    return tuple(sorted(unit for unit in units if instance.groups[unit[0]].demands[unit[1]]))


class BatchProgram:
    """The program's rows, and columns as they are added; in shares or in whole numbers.

    Parameters
    ----------
    instance
        The problem.
    whole
        Whether in whole numbers.
    ceiling
        No job may be left short whose penalty is above it, pence; default none.
    """

    def __init__(self, instance: Instance, *, whole: bool, ceiling: float = float("inf")) -> None:
        self.instance, self._whole = instance, whole
        self.model = mathopt.Model()
        self.bought = bought_batches(instance)
        add = self.model.add_linear_constraint
        fixed = {piece.batch for piece, count in instance.fixed.items() if count}
        self.batch_rows = {
            b: add(lb=float(b in fixed), ub=1.0) for b in range(len(instance.batches)) if b not in self.bought
        }
        self.piece_rows = {
            t: add(lb=instance.fixed.get(t, 0)) for t in instance.piece_types() if t.batch in self.bought
        }
        self.class_rows = {
            s: add(ub=s.copies) for s in instance.sources if s.batch in self.bought and s.copies is not None
        }
        self.short = [self._variable(float(penalty <= ceiling)) for penalty in instance.penalties]
        for variable, penalty in zip(self.short, instance.penalties, strict=True):
            if penalty <= ceiling:
                self.model.objective.set_linear_coefficient(variable, penalty / SCALE)
        self.group_rows = [add(lb=group.units, ub=group.units) for group in instance.groups]
        self.serve: dict[tuple[int, Choice], mathopt.Variable] = {}
        self.columns: dict[tuple[int, Load], tuple[BatchColumn, mathopt.Variable]] = {}
        self.patterns: dict[Pattern, mathopt.Variable] = {}
        self.sets: dict[PieceSet, mathopt.Variable] = {}
        self.had: dict[PieceType, mathopt.Variable] = {}
        for number in range(len(instance.groups)):
            self._state_group(number)

    def _variable(self, most: float) -> mathopt.Variable:
        # In shares the rows alone bound everything: a bound of a variable's own would keep its price out of theirs.
        return self.model.add_variable(
            lb=0.0, ub=most if self._whole or not most else float("inf"), is_integer=self._whole
        )

    def _state_group(self, number: int) -> None:
        """How a group's units may be left short, or served without a column."""
        group, row = self.instance.groups[number], self.group_rows[number]
        row.set_coefficient(self.short[group.job], group.units)
        for choice, demand in group.demands.items():
            if demand and choice.batch not in self.bought:
                continue
            variable = self._variable(group.units)
            self.serve[number, choice] = variable
            self.model.objective.set_linear_coefficient(variable, group.cost(choice) / SCALE)
            row.set_coefficient(variable, 1)
            for piece, count in demand.items():
                self.piece_rows[piece].set_coefficient(variable, -count)

    def add_column(self, column: BatchColumn) -> bool:
        """Add a column, or make one of its load cheaper; False where one as cheap is held."""
        known = self.columns.get(column.key)
        if known is not None and known[0].cost <= column.cost:
            return False
        units = Counter(group for group, _ in column.load)
        seams = sum(self.instance.groups[group].cost(choice) for group, choice in column.load)
        if known is None:
            variable = self._variable(1.0)
            self.batch_rows[column.batch].set_coefficient(variable, 1)
            for group, count in units.items():
                self.group_rows[group].set_coefficient(variable, count)
        else:
            variable = known[1]
        self.model.objective.set_linear_coefficient(variable, (column.cost + seams) / SCALE)
        self.columns[column.key] = (column, variable)
        return True

    def add_pattern(self, pattern: Pattern) -> bool:
        """Add a pattern of a batch stated piece by piece; False where it is held."""
        if pattern in self.patterns:
            return False
        self.patterns[pattern] = self._cut(pattern.source, pattern.made(), pattern.cost(self.instance))
        return True

    def add_set(self, one: PieceSet) -> bool:
        """Add a set of pieces of a batch stated piece by piece, however it is cut; False where it is held."""
        if one in self.sets:
            return False
        self.sets[one] = self._cut(one.source, dict(one.pieces), one.cost)
        return True

    def fence(self, prices: Mapping[PieceType, float]) -> None:
        """Let pieces of a batch stated piece by piece be had at some prices, pence, so that they are worth no more."""
        for piece, price in prices.items():
            if piece not in self.had:
                self.had[piece] = self._variable(float("inf"))
                self.piece_rows[piece].set_coefficient(self.had[piece], 1)
            self.model.objective.set_linear_coefficient(self.had[piece], price / SCALE)

    def _cut(self, source: Source, made: Mapping[PieceType, int], cost: int) -> mathopt.Variable:
        """How many sources are cut in a way that makes so much."""
        variable = self._variable(float("inf") if source.copies is None else source.copies)
        tie_break = PURCHASE_TIE_BREAK if source.option is not None else 0.0
        self.model.objective.set_linear_coefficient(variable, (cost + tie_break) / SCALE)
        for piece, count in made.items():
            if piece in self.piece_rows:
                self.piece_rows[piece].set_coefficient(variable, count)
        if source.copies is not None:
            self.class_rows[source].set_coefficient(variable, 1)
        return variable

    def hold_bought(self, answer: Solution) -> None:
        """What is bought is to serve just the units that it serves in an answer."""
        for unit, variable in self.serve.items():
            if unit[1].batch in self.bought:
                variable.lower_bound = variable.upper_bound = answer.given.get(unit, 0)

    def add_answer(self, answer: Solution) -> None:
        """Add what an answer is made of."""
        for column in columns_of(self.instance, answer):
            self.add_column(column)
        for pattern in answer.patterns:
            if pattern.source.batch in self.bought:
                self.add_pattern(pattern)
