"""Drops led by one piece, compiled: what they are worth at most.

The recursions of `valuing.py` let pieces repeat without end, which at prices of a relaxation over sets of pieces seems
worth hundreds of pounds more than any real pattern is. So piece types are put in an order, and a drop is led by the
first of its types. With A, B and K over the types that come later, each at most as often in a lane as it is needed:

    L[k, d]  = A[k, d - l] + p + trim(k) - cross          the lane of the leading piece, l long and priced p
    M[u, d]  = max over k of L[k, d] + K[u - w_k, d] - rip  lanes up to u wide, that lane among them
    D[d]     = max over ends e of e(d) + max( M[u_e, d] + B[k_e, d],  K[u_e, d] + L[k_e, d] ) - cross

An end is what lies beside lanes that add up to u_e: a leftover, or a lane k_e that takes the rest; e(d) is what it is
worth beside that lane's own pieces. Types are taken from the last to the first, so that each adds to the tables of
those before it in one pass (the knapsack of Bellman 1957).

Lengths in these tables may be steps of several points of the grid, each piece as long as the steps it fills, each rest
as worth as the longest that has so many: what they tell is at most a little too much, and soon told.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.recursions import BLOCK, NEVER, fill_widths_between, raise_by, raise_by_both

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]
Parts = tuple[Any, ...]


class Drop(NamedTuple):
    """What drops of one class are put together from.

    Parameters
    ----------
    lane, filled, widths
        A, B and K over the types allowed beside the leading piece.
    own, among, best
        L, M and D.
    empty, nearly_empty
        By lane and length in points: what a lane is worth with nothing cut of it, pence; and at most, where it may be
        shorter by less than a step.
    chain, chain_widths
        The lanes that may lie beside others, and their widths in points, ascending.
    row_of, sums
        By width in points the row of K, -1 where there is none; by row the width.
    ends, worth, exact_worth
        By end: its row and the lane that takes the rest, -1 where none does; by step what is beside it at most, pence;
        and by length in points.
    gains
        By lane and type: what a piece brings, less its cuts, `NEVER` where it does not fit.
    calls_for
        By lane and type: as in `lane_widths.Lanes`.
    lengths, exact_lengths
        By type; the last in points, ascending.
    steps, reach
        By point its step; by step its last point.
    order, stages
        The types that may lie beside others, in the order in which they lead; A by lane, place in that order and
        length, over the types from there on, as far as drops are listed.
    allowed
        By type: how many there may be, the leading one counted.
    apart
        By type and type: whether no source holds both; of no types where there are no such two.
    cuts
        What a rip and a crosscut cost, pence.
    """

    lane: Floats
    filled: Floats
    widths: Floats
    own: Floats
    among: Floats
    best: Floats
    empty: Floats
    nearly_empty: Floats
    chain: Numbers
    chain_widths: Numbers
    row_of: Numbers
    sums: Numbers
    ends: Numbers
    worth: Floats
    exact_worth: Floats
    gains: Floats
    calls_for: NDArray[np.bool_]
    lengths: Numbers
    exact_lengths: Numbers
    steps: Numbers
    reach: Numbers
    order: Numbers
    stages: NDArray[np.float64]
    allowed: Numbers
    apart: NDArray[np.bool_]
    cuts: Floats


@inlined
def add_to_lane(lane: Floats, filled: Floats, gain: float, length: int, copies: int) -> None:
    """Let a lane hold a type of piece as well, so many times at most: its rows of A and B.

    Parameters
    ----------
    lane, filled
        Over the types so far.
    gain
        What one brings.
    length
        In steps.
    copies
        At least 1.
    """
    for _ in range(copies):
        end = lane.size
        while end > length:  # from the longest, so that none is taken twice
            begin = max(length, end - length)
            raise_by(filled[begin:end], lane[begin - length : end - length], gain)
            raise_by(lane[begin:end], lane[begin - length : end - length], gain)
            end = begin


@compiled
def add_block(
    tables: Parts, into: Parts, block: Parts, pieces: Parts, lengths: tuple[int, int], stages: Floats
) -> None:
    """Let every lane hold pieces of one of several layouts as well: A and B with those of the best at each length.

    Parameters
    ----------
    tables, into
        A and B over the types so far, and where they go.
    block
        Types; by layout how many of each; and by type its place in `Drop.order`, where stages are filled in.
    pieces
        `Drop.gains` and `Drop.lengths`.
    lengths
        From which step on stages are filled in, and below which all is.
    stages
        As in `Drop`, filled in with the types from each on; of no type where they are not wanted.
    """
    (lane, filled), (to_lane, to_filled), (types, ways, places), (gains, long) = tables, into, block, pieces
    fresh, steps = lengths
    base, base_filled, now, now_filled = np.empty(steps), np.empty(steps), np.empty(steps), np.empty(steps)
    for k in range(lane.shape[0]):
        base[:], base_filled[:] = lane[k, :steps], filled[k, :steps]
        for w in range(ways.shape[0]):
            now[:], now_filled[:] = base, base_filled
            for j in range(types.size - 1, -1, -1):
                if ways[w, j] and gains[k, types[j]] > NEVER / 2:
                    add_to_lane(now, now_filled, gains[k, types[j]], long[types[j]], ways[w, j])
                if stages.size:
                    raise_or_set(stages[k, places[j], fresh:steps], now[fresh:], w == 0)
            raise_or_set(to_lane[k, :steps], now, w == 0)
            raise_or_set(to_filled[k, :steps], now_filled, w == 0)


@compiled
def add_type(tables: Parts, one: tuple[int, int, int], pieces: Parts, steps: int, stages: Floats) -> None:
    """Let every lane hold a type of piece as well: A and B are written over, in half the time of `add_block`.

    Parameters
    ----------
    tables
        A and B over the types so far.
    one
        The type, how many of it, and its place in `Drop.order`, where stages are filled in.
    steps
        Below which step all is filled in.
    pieces, stages
        As for `add_block`.
    """
    (lane, filled), (piece, copies, place), (gains, long) = tables, one, pieces
    for k in range(lane.shape[0]):
        if copies > 0 and gains[k, piece] > NEVER / 2:
            add_to_lane(lane[k, :steps], filled[k, :steps], gains[k, piece], long[piece], copies)
        if stages.size:
            stages[k, place, :steps] = lane[k, :steps]


@inlined
def raise_or_set(row: Floats, other: Floats, is_first: bool) -> None:
    """Set a row to another, or raise it where the other is higher."""
    for x in range(row.size):
        row[x] = other[x] if is_first or other[x] > row[x] else row[x]


@compiled
def lead(parts: Parts, leader: int, lengths: tuple[int, int], beside: bool) -> None:
    """Recursions K, L, M and D for a leading type, at lengths from one up to another.

    Parameters
    ----------
    parts
        A `Drop` as a plain tuple, which is passed in no time; where its name has to be looked up it takes milliseconds.
    leader
        The type.
    lengths
        The first, and the one behind the last.
    beside
        Whether other pieces may lie beside it; else K is left as it is.
    """
    drop = Drop(*parts)
    lane, filled, widths, own, among, best = drop.lane, drop.filled, drop.widths, drop.own, drop.among, drop.best
    chain, chain_widths, row_of, sums, gains = drop.chain, drop.chain_widths, drop.row_of, drop.sums, drop.gains
    which, worth, length, rip, crosscut = drop.ends, drop.worth, drop.lengths[leader], drop.cuts[0], drop.cuts[1]
    best[lengths[0] : lengths[1]] = NEVER
    for begin in range(max(length, lengths[0]), lengths[1], BLOCK):
        end = min(begin + BLOCK, lengths[1])
        if beside:
            fill_widths_between(widths, filled, chain, chain_widths, rip, row_of, (begin, end))
        for k in range(lane.shape[0]):
            own[k, begin:end] = NEVER
            if gains[k, leader] > NEVER / 2:
                raise_by(own[k, begin:end], lane[k, begin - length : end - length], gains[k, leader])
        for row in range(among.shape[0]):
            among[row, begin:end] = NEVER
            for i in range(chain.size):
                if chain_widths[i] > sums[row]:
                    break
                before, k = row_of[sums[row] - chain_widths[i]], chain[i]
                if before >= 0 and gains[k, leader] > NEVER / 2:
                    raise_by_both(among[row, begin:end], own[k, begin:end], widths[before, begin:end], -rip)
        for e in range(which.shape[0]):
            row, taker, ends_worth = which[e, 0], which[e, 1], worth[e, begin:end]
            if taker < 0:
                raise_by_both(best[begin:end], among[row, begin:end], ends_worth, -crosscut)
            else:
                raise_by_all(best[begin:end], among[row, begin:end], filled[taker, begin:end], ends_worth, -crosscut)
                raise_by_all(best[begin:end], widths[row, begin:end], own[taker, begin:end], ends_worth, -crosscut)


@inlined
def raise_by_all(row: Floats, one: Floats, other: Floats, third: Floats, gained: float) -> None:
    """Raise each entry of a row to those of three others together and so much more, where that is higher."""
    for x in range(row.size):
        value = one[x] + other[x] + third[x] + gained
        row[x] = value if value > row[x] else row[x]
