"""Rows that tie what a job takes of a source to the share of the job that the source's batch serves.

    (link c, g)   sum over p cut from c that hold a piece of g of x_p  <=  copies_c  times  sum over h of y_gh

In whole numbers they say nothing new: a job that a batch does not serve takes nothing of its sources, one that it does
takes each copy at most once. In shares, a third of a job of three strips could fill a source that holds one of them;
with these rows it takes a third of the source (the strong rows of facility location). They are added where they are
violated. On a week of 30 jobs 155 of them lift the relaxation over sets of pieces from 36,999 to 37,139 pounds; on
weeks of eight jobs they close up to a third of the gap.

Where patterns may repeat pieces, and are priced without a look at whose they are, rows can only count pieces:

    (link c, g)   sum over p cut from c of its pieces of g times x_p  <=  copies_c  times  sum over h of most_cgh y_gh

with most_cgh what one copy holds at most of the pieces that choice h needs. Some 200 of them lift the relaxation of
weeks of 30 jobs by 0.2 to 0.4 %.

Only stock is tied, to groups of one unit, by piece types that nobody else needs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from stockplan.cutting.instance import Choice, Instance, PieceType, Source

NOBODY = -1  # in place of a group, of pieces that need not be of its batch


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
    counted
        Whether it counts pieces, or patterns that hold any.
    """

    source: Source
    group: int
    types: frozenset[PieceType]
    counted: bool = False

    def taken(self, made: Mapping[PieceType, int]) -> int:
        """What a pattern that makes these pieces takes of the row."""
        pieces = sum(count for piece, count in made.items() if piece in self.types)
        return pieces if self.counted else min(pieces, 1)

    def given(self, instance: Instance) -> dict[Choice, int]:
        """By choice of the group: what the row allows when it is made, all copies together."""
        copies = self.source.copies or 0
        found = {}
        for choice, demand in instance.groups[self.group].demands.items():
            mine = {piece: count for piece, count in demand.items() if piece in self.types}
            if mine:
                found[choice] = copies * (most_held(self.source, mine) if self.counted else 1)
        return found


def links_of(instance: Instance, *, counted: bool = False) -> dict[Source, tuple[Link, ...]]:
    """Every row there may be, by class of stock; of those that count pieces only where not all pieces fit."""
    users: defaultdict[PieceType, set[int]] = defaultdict(set)
    for number, group in enumerate(instance.groups):
        for demand in group.demands.values():
            for piece in demand:
                for way in instance.ways_to_have(piece):
                    users[way].add(number if way == piece else NOBODY)
    own: defaultdict[int, set[PieceType]] = defaultdict(set)
    for piece, groups in users.items():
        (first, *others) = groups
        if not others and first != NOBODY and piece not in instance.fixed and instance.groups[first].units == 1:
            own[first].add(piece)
    found: dict[Source, tuple[Link, ...]] = {}
    for source in instance.sources:
        if source.copies is not None:
            made = ((g, frozenset(t for t in types if source.makes(t))) for g, types in sorted(own.items()))
            rows = (Link(source, g, types, counted) for g, types in made if types)
            found[source] = tuple(row for row in rows if not counted or _says_something(instance, row))
    return found


def _says_something(instance: Instance, link: Link) -> bool:
    demands = instance.groups[link.group].demands
    return any(link.taken(demands[choice]) > most for choice, most in link.given(instance).items())


def most_held(source: Source, demand: Mapping[PieceType, int]) -> int:
    """No more of these pieces than this come off one source: by area, by size, and by length for those over half wide.

    Parameters
    ----------
    source
        What they are cut from.
    demand
        How many of each type.
    """
    fit = {t: min(n, (source.width_mm // t.width_mm) * (source.length_mm // t.length_mm)) for t, n in demand.items()}
    areas = sorted(t.width_mm * t.length_mm for t, n in fit.items() for _ in range(n))
    lengths = sorted(t.length_mm for t, n in fit.items() if 2 * t.width_mm > source.width_mm for _ in range(n))
    narrow = sum(n for t, n in fit.items() if 2 * t.width_mm <= source.width_mm)
    wide = _longest_start(lengths, source.length_mm)
    return min(_longest_start(areas, source.width_mm * source.length_mm), wide + narrow)


def _longest_start(sizes: Sequence[int], room: int) -> int:
    """How many of these, from the first on, have room together."""
    count = 0
    while count < len(sizes) and sizes[count] <= room:
        room -= sizes[count]
        count += 1
    return count


def rebates(instance: Instance, rows: Mapping[Source, Mapping[Link, float]]) -> dict[tuple[int, Choice], float]:
    """By group and choice: what the prices of rows, by source, take off serving a unit, pence."""
    found: defaultdict[tuple[int, Choice], float] = defaultdict(float)
    for held in rows.values():
        for link, price in held.items():
            if price > 0.0:
                for choice, most in link.given(instance).items():
                    found[link.group, choice] += price * most
    return dict(found)


def charged_once(instance: Instance, rows: Mapping[Source, Mapping[Link, float]]) -> dict[tuple[Source, int], float]:
    """By class and group: what a source is charged that holds any piece of the group, pence.

    A row that counts pieces, priced m, is taken for one that does not, priced m times what one copy holds at most: it
    allows as much, and no set of pieces is charged less.

    Parameters
    ----------
    instance
        The problem; its groups have one choice each.
    rows
        What its rows charge, pence.
    """
    found: defaultdict[tuple[Source, int], float] = defaultdict(float)
    for source, held in rows.items():
        for link, price in held.items():
            most = max(link.given(instance).values(), default=0) // max(1, source.copies or 0)
            if price * most > 0.0:
                found[source, link.group] += price * most
    return dict(found)


def discounted(prices: Mapping[PieceType, float], links: Mapping[Link, float]) -> dict[PieceType, float]:
    """Prices of pieces on one source, less what rows that count them charge; never below nothing."""
    found = dict(prices)
    for link, charge in links.items():
        if charge > 0.0:
            for piece in link.types:
                found[piece] = max(0.0, found.get(piece, 0.0) - charge)
    return found
