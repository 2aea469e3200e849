"""Collections of a kind's pieces, counted through: of its solos those that a source holds, of its narrow pieces all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.drop_sets import TooManyWays
from stockplan.cutting.kinds import Kind

Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Solos:
    """Collections of solos, the shortest first.

    Parameters
    ----------
    needs
        How many of each type: a row a collection.
    lengths, costs
        What each takes along the source, mm, and what its cuts cost, pence.
    """

    needs: Numbers
    lengths: Numbers
    costs: Numbers


@dataclass(frozen=True)
class Narrow:
    """Collections of narrow pieces.

    Parameters
    ----------
    needs
        How many of each type: a row a collection.
    moves
        By type: how far one piece more moves the number of a collection.
    """

    needs: Numbers
    moves: Numbers


def solos_of(kind: Kind, limit: int) -> Solos:
    """Every collection of solos that the longest source holds; those of one width share a drop that is wider.

    Parameters
    ----------
    kind
        The kind of source.
    limit
        Most collections times types.

    Raises
    ------
    TooManyWays
        When there are more.
    """
    costs = kind.instance.costs
    needs, lengths = np.zeros((1, len(kind.solos)), dtype=np.int64), np.zeros(1, dtype=np.int64)
    for place, piece in enumerate(kind.solos):
        more = np.arange(kind.most[piece] + 1)
        needs = np.repeat(needs, len(more), axis=0)
        needs[:, place] = np.tile(more, len(lengths))
        lengths = np.repeat(lengths, len(more)) + needs[:, place] * piece.length_mm
        fits = lengths <= kind.longest
        needs, lengths = needs[fits], lengths[fits]
        if needs.size > limit:
            raise TooManyWays
    cuts = needs.sum(axis=1) * costs.crosscut_pence
    for width in sorted({t.width_mm for t in kind.solos if t.width_mm < kind.width}):
        mine = [place for place, t in enumerate(kind.solos) if t.width_mm == width]
        cuts += costs.rip_pence * (needs[:, mine].sum(axis=1) > 0)
    order = np.argsort(lengths, kind="stable")
    return Solos(needs[order], lengths[order], cuts[order])


def narrow_of(kind: Kind, limit: int) -> Narrow:
    """Every collection of narrow pieces, whether a source holds it or not.

    Parameters
    ----------
    kind
        The kind of source.
    limit
        Most collections.

    Raises
    ------
    TooManyWays
        When there are more.
    """
    needs = np.zeros((1, len(kind.narrow)), dtype=np.int64)
    moves = np.ones(len(kind.narrow), dtype=np.int64)
    for place, piece in enumerate(kind.narrow):
        moves[place] = len(needs)
        count = kind.most[piece] + 1
        if len(needs) * count > limit:
            raise TooManyWays
        needs = np.tile(needs, (count, 1))
        needs[:, place] = np.repeat(np.arange(count), moves[place])
    return Narrow(needs, moves)
