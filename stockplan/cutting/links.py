"""Rows that tie what a job takes of a source to the share of the job that the source's batch serves.

    (link c, g)   sum over p cut from c that hold a piece of g of x_p  <=  copies_c  times  sum over h of y_gh

In whole numbers they say nothing new: a job that a batch does not serve takes nothing of its sources, one that it does
takes each copy at most once. In shares, a third of a job of three strips could fill a source that holds one of them;
with these rows it takes a third of the source (the strong rows of facility location). They are added where they are
violated. On a week of 30 jobs 155 of them lift the relaxation over sets of pieces from 36,999 to 37,139 pounds; on
weeks of eight jobs they close up to a third of the gap.

Only stock is tied, to groups of one unit, by piece types that nobody else needs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.instance import Choice, Instance, PieceType, Source

MOST_CHARGED = 62  # bits of a whole number


class Link(NamedTuple):
    """One such row.

    Parameters
    ----------
    source
        A class of stock.
    group
        Index of the group.
    types
        Piece types of the group alone that the source makes.
    """

    source: Source
    group: int
    types: frozenset[PieceType]

    def holds(self, pieces: Iterable[PieceType]) -> bool:
        """Whether any of these pieces is the group's."""
        return not self.types.isdisjoint(pieces)

    def choices(self, instance: Instance) -> list[Choice]:
        """The group's choices that need such a piece."""
        demands = instance.groups[self.group].demands
        return [choice for choice, demand in demands.items() if self.holds(demand)]


def links_of(instance: Instance) -> dict[Source, tuple[Link, ...]]:
    """Every row there may be, by class of stock."""
    users: defaultdict[PieceType, set[int]] = defaultdict(set)
    for number, group in enumerate(instance.groups):
        for demand in group.demands.values():
            for piece in demand:
                users[piece].add(number)
    own: defaultdict[int, set[PieceType]] = defaultdict(set)
    for piece, groups in users.items():
        (first, *others) = groups
        if not others and piece not in instance.fixed and instance.groups[first].units == 1:
            own[first].add(piece)
    found: dict[Source, tuple[Link, ...]] = {}
    for source in instance.sources:
        if source.copies is not None:
            made = ((g, frozenset(t for t in types if source.makes(t))) for g, types in sorted(own.items()))
            found[source] = tuple(Link(source, g, types) for g, types in made if types)
    return found


def rebates(instance: Instance, prices: Mapping[Link, float]) -> dict[tuple[int, Choice], float]:
    """By group and choice: what the rows' prices take off serving a unit, pence."""
    found: defaultdict[tuple[int, Choice], float] = defaultdict(float)
    for link, price in prices.items():
        for choice in link.choices(instance):
            found[link.group, choice] += price * (link.source.copies or 0)
    return dict(found)


class Charges:
    """What a pattern is charged for holding pieces of tied groups, whatever their number.

    Parameters
    ----------
    types
        Piece types by number.
    prices
        Pence of each row of one class of stock. Of more than `MOST_CHARGED` the dearest are charged, which makes bounds
        lower, not false.
    """

    def __init__(self, types: Sequence[PieceType], prices: Mapping[Link, float]) -> None:
        charged = sorted(((price, link) for link, price in prices.items() if price > 0.0), key=lambda c: -c[0])
        del charged[MOST_CHARGED:]
        self._pence = [price for price, _ in charged]
        self._known: dict[int, float] = {0: 0.0}
        self._own = [[n for n, t in enumerate(types) if t in link.types] for _, link in charged]

    def of(self, held: int) -> float:
        """The charge for the groups whose bits are set."""
        if held not in self._known:
            self._known[held] = sum(pence for n, pence in enumerate(self._pence) if held >> n & 1)
        return self._known[held]

    def bits(self, needs: NDArray[np.int64]) -> list[int]:
        """Row by row, bits of the groups of which a pattern with so many of each type holds pieces."""
        held = np.zeros(len(needs), dtype=np.int64)
        for n, own in enumerate(self._own):
            held |= (needs[:, own] > 0).any(axis=1).astype(np.int64) << n
        return [int(row) for row in held]
