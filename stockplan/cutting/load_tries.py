"""The best load that one batch may serve, among sources cut into listed sets of pieces.

Sets, units served or not, and sources left whole each take from a purse what they lose at the prices of a relaxation,
as in `load_search.py`; but units are settled one after the other, not counted through all together, so that batches
that may serve any of 30 jobs are gone through. On weeks of 30 jobs it takes some thousands to millions of steps, of
which there are ten million a second and more. The search is in `trie_kernels.py`.

A row of `links.py` charges each set that holds any piece of a job, and gives as much for every copy to a job that is
served. A copy that holds none of its pieces then is paid for nothing, up to 50 pounds in all; that is taken back as
soon as the job's last piece is shared out, so that what a load takes is true to the penny.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.instance import PieceType
from stockplan.cutting.trie_kernels import (
    LEFT_OUT,
    NONE,
    Floats,
    Numbers,
    Ties,
    Tries,
    Units,
    grow,
    least_below,
    least_loads,
)

MOST_TIES = 62  # of one source, a bit each


class Tie(NamedTuple):
    """What is taken, pence, when a unit is served and a source holds none of some pieces, which no other unit needs.

    Nothing is where the unit is served a way that needs none of them.
    """

    unit: int
    types: frozenset[PieceType]
    pence: float


@dataclass(frozen=True)
class Sets:
    """What one source may be cut into.

    Parameters
    ----------
    types
        Piece types of its class.
    pieces, sizes
        By set: places among those types, and how many there are of it; see `near_sets.Near`.
    losses
        By set: what it takes, pence, at least 0.
    whole
        What the source takes that is left whole.
    ties
        Of the source to units; all but the first `MOST_TIES` are passed over, so that loads seem to take less.
    """

    types: tuple[PieceType, ...]
    pieces: NDArray[np.int16]
    sizes: Numbers
    losses: Floats
    whole: float
    ties: tuple[Tie, ...] = ()


class Way(NamedTuple):
    """A way to serve a unit: what it takes, pence, and what it needs."""

    taken: float
    needs: Mapping[PieceType, int]


class Unit(NamedTuple):
    """A unit that the batch may serve: what it takes when left out, pence, and its ways, one at least.

    One that needs no piece in any of them is in no load, and takes nothing.
    """

    left_out: float
    ways: tuple[Way, ...]


class Load(NamedTuple):
    """A load.

    Parameters
    ----------
    taken
        What it takes from the purse.
    served
        The places of its units, and which of its ways each is served.
    sets
        By source the set it is cut into, or `NONE`.
    """

    taken: float
    served: tuple[tuple[int, int], ...]
    sets: tuple[int, ...]


def best_loads(
    sources: Sequence[Sets], units: Sequence[Unit], purse: float, most_steps: int, most: int
) -> list[Load] | None:
    """The loads that take least, if they take less than there is, the best first; None where that takes too many steps.

    Parameters
    ----------
    sources
        Every source of the batch; those given by the same `Sets`, one behind the other, are alike.
    units
        Every unit that it may serve.
    purse
        Pence.
    most_steps
        Of the search.
    most
        How many loads are told, at most; no two serve the same units the same ways.
    """
    # Large units first: there are few ways to have them.
    area = [max(sum(t.width_mm * t.length_mm * n for t, n in way.needs.items()) for way in unit.ways) for unit in units]
    level: dict[PieceType, int] = {}
    for u in sorted(range(len(units)), key=lambda u: (-area[u], u)):
        for way in units[u].ways:
            for piece in way.needs:
                level.setdefault(piece, len(level))
    tries, roots, sets, held = _tries(sources, level)
    served, taken = np.zeros((most, len(units)), dtype=np.int64), np.full(most, np.inf)
    nodes = np.zeros((most, len(sources)), dtype=np.int64)
    into = served, nodes, taken
    alike = np.array([n > 0 and one is sources[n - 1] for n, one in enumerate(sources)], dtype=np.int64)
    ways = _units(units, level)
    steps = least_loads(tries, (roots, alike), ways, _ties(sources, units, level, held), purse, most_steps, into)
    if steps >= most_steps:
        return None
    order = [n for n in np.argsort(taken, kind="stable").tolist() if taken[n] < purse]
    first = ways[1].tolist()
    loads = []
    for n in order:
        chosen = [(u, way - first[u]) for u, way in enumerate(served[n].tolist()) if way > LEFT_OUT]
        loads.append(Load(float(taken[n]), tuple(chosen), tuple(sets[nodes[n]].tolist())))
    return loads


def _units(units: Sequence[Unit], level: Mapping[PieceType, int]) -> Units:
    """As `least_loads` takes them."""
    ways = [way for unit in units for way in unit.ways]
    wanted = sorted((level[t], w, n) for w, way in enumerate(ways) for t, n in way.needs.items())
    levels, numbers, needs = (column.copy() for column in np.array(wanted, dtype=np.int64).reshape(len(wanted), 3).T)
    starts = np.searchsorted(levels, np.arange(len(level) + 1))
    first = np.cumsum([0, *(len(unit.ways) for unit in units)])
    unit_of = np.repeat(np.arange(len(units)), np.diff(first))
    left_out, taken = np.array([unit.left_out for unit in units]), np.array([way.taken for way in ways])
    return left_out, first, taken, unit_of, needs, numbers, starts


def _ties(sources: Sequence[Sets], units: Sequence[Unit], level: Mapping[PieceType, int], held: Numbers) -> Ties:
    """As `least_loads` takes them."""
    first = np.cumsum([0, *(len(unit.ways) for unit in units)]).tolist()
    last = sorted(
        (max(level[t] for t in own), number, first[tie.unit] + w, bit, tie.pence)
        for number, source in enumerate(sources)
        for bit, tie in enumerate(source.ties[:MOST_TIES])
        for w, way in enumerate(units[tie.unit].ways)
        if (own := tie.types & way.needs.keys())
    )
    places = np.array([one[:4] for one in last], dtype=np.int64).reshape(len(last), 4)
    starts = np.searchsorted(places[:, 0], np.arange(len(level) + 1))
    source, way_of, bit = (places[:, column].copy() for column in (1, 2, 3))
    return starts, source, way_of, bit, np.array([one[4] for one in last], dtype=np.float64), held


def _tries(sources: Sequence[Sets], level: Mapping[PieceType, int]) -> tuple[Tries, Numbers, Numbers, Numbers]:
    """The tries of all sources in one, and where each begins; by node its set, or `NONE`, and its bits."""
    each = {id(one): _trie(one, level) for one in dict(zip(map(id, sources), sources, strict=True)).values()}
    parts, sets, held = zip(*(each[id(one)] for one in sources), strict=True)
    roots = np.cumsum([0, *(len(own) for own, *_ in parts)])
    steps = np.cumsum([0, *(len(levels) for _, _, levels, *_ in parts)])
    own = np.concatenate([part[0] for part in parts])
    first = np.concatenate([part[1][:-1] + steps[n] for n, part in enumerate(parts)] + [steps[-1:]])
    levels, counts = (np.concatenate([part[i] for part in parts]) for i in (2, 3))
    nodes = np.concatenate([part[4] + roots[n] for n, part in enumerate(parts)])
    least = np.concatenate([part[5] for part in parts])
    return (own, first, levels, counts, nodes, least), roots[:-1], np.concatenate(sets), np.concatenate(held)


def _trie(source: Sets, level: Mapping[PieceType, int]) -> tuple[Tries, Numbers, Numbers]:
    """By node what its set takes and where its steps begin; by step its level, pieces, node, and the least from it.

    Then by node its set, and a bit for each tie of whose pieces it holds any.
    """
    filler = len(level)
    places = np.array([level.get(t, filler) for t in source.types] + [filler], dtype=np.int64)
    width = int(source.sizes.max(initial=0))
    is_piece = np.arange(width) < source.sizes[:, None]
    levels = places[np.where(is_piece, source.pieces[:, :width], len(source.types))]
    wanted = np.flatnonzero(~((levels == filler) & is_piece).any(axis=1))  # no unit needs anything else
    levels = np.sort(levels, axis=1)
    order = wanted[np.lexsort(levels[wanted].T[::-1])] if width else wanted
    nodes = np.zeros((1 + int(source.sizes.sum()), 3), dtype=np.int64)
    ends = np.zeros(len(order), dtype=np.int64)
    count = grow(np.ascontiguousarray(levels[order]), filler, nodes, ends)
    own = np.full(count, np.inf)
    own[ends] = source.losses[order]
    own[0] = source.whole
    sets = np.full(count, NONE)
    sets[ends] = order
    sets[0] = NONE
    bits = np.zeros(len(level), dtype=np.int64)
    for bit, tie in enumerate(source.ties[:MOST_TIES]):
        bits[[level[t] for t in tie.types]] |= 1 << bit
    held = np.zeros(count, dtype=np.int64)
    for node in range(1, count):
        held[node] = held[nodes[node, 0]] | bits[nodes[node, 1]]
    return _with_steps(own, nodes[:count]), sets, held


def _with_steps(own: Floats, nodes: Numbers) -> Tries:
    """The same with the steps of each node together, in order of their levels."""
    parents = nodes[1:, 0]
    order = np.lexsort((nodes[1:, 2], nodes[1:, 1], parents))
    first = np.searchsorted(parents[order], np.arange(len(own) + 1))
    least = np.empty(len(order))
    least_below(nodes, own.copy(), order, least)
    return own, first, nodes[1 + order, 1], nodes[1 + order, 2], 1 + order, least
