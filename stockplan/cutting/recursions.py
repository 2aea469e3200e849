"""The pricing recursions of `pricing.py` over whole tables, compiled: by profile nearly all the time of a bound.

Tables have a row for each lane width, or each width lanes add up to, and a column for each point of the length grid.
Worth is that of `domain.worth`, rounded down after adding `HAIR`, so that it is never below the true worth.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled
from stockplan.cutting.worths import HAIR
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
NEVER = -1e15


@compiled
def worth_row(width: float, full: bool, rate: float, lengths: Floats, row: Floats) -> None:
    """Worth in pence of a leftover of one width and every length given, written into a row.

    Parameters
    ----------
    width
        Millimetres.
    full
        Whether it counts as full width.
    rate
        Pence for a square millimetre; 0 where leftovers are worth nothing.
    lengths
        Millimetres.
    row
        Where the worths go.
    """
    for x in range(lengths.size):
        length = lengths[x]
        share = (675_000.0 + 75.0 * min(length, 3000.0)) / 1_000_000.0
        if not full:
            share = min(share, (20_000.0 + 9.0 * width) / 80_000.0 * (9000.0 + min(length, 6000.0)) / 15_000.0)
        pence = np.floor(rate * width * length * share + HAIR)
        row[x] = pence if width >= LEAST_WIDTH_MM and length >= LEAST_LENGTH_MM else 0.0


@compiled
def fill_lanes(lane: Floats, filled: Floats, steps: Integers, gain: Floats) -> None:
    """Recursions A and B, lane by lane.

    Parameters
    ----------
    lane
        What an empty lane is worth; becomes A.
    filled
        Becomes B; nothing is read of it.
    steps
        Lengths of pieces in points, ascending.
    gain
        By lane and length: what the best piece of that length gains, `NEVER` where none fits.
    """
    points = lane.shape[1]
    shortest = steps[0]
    for k in range(lane.shape[0]):
        filled[k, :] = NEVER
        for begin in range(shortest, points, shortest):
            # Within a block as long as the shortest piece no entry depends on another of the block.
            end = min(begin + shortest, points)
            for s in range(steps.size):
                step, gained = steps[s], gain[k, s]
                if step >= end:
                    break
                if gained > NEVER / 2:
                    for x in range(max(begin, step), end):
                        value = lane[k, x - step] + gained
                        filled[k, x] = value if value > filled[k, x] else filled[k, x]
            for x in range(begin, end):
                lane[k, x] = filled[k, x] if filled[k, x] > lane[k, x] else lane[k, x]


@compiled
def fill_widths(table: Floats, filled: Floats, rip: float, widths: Integers, row_of: Integers) -> None:
    """Recursion K.

    Parameters
    ----------
    table
        Its first row is nothing; the others become K.
    filled
        B, of the lanes that may lie beside others.
    rip
        What a cut along the pile costs, pence.
    widths
        Of those lanes, in points.
    row_of
        By width in points: the row of the table, -1 where lanes do not add up to it.
    """
    points = table.shape[1]
    for u in range(1, row_of.size):
        row = row_of[u]
        if row < 0:
            continue
        table[row, :] = NEVER
        for k in range(widths.size):
            if widths[k] > u or row_of[u - widths[k]] < 0:
                continue
            before = row_of[u - widths[k]]
            for x in range(points):
                value = table[before, x] + filled[k, x] - rip
                table[row, x] = value if value > table[row, x] else table[row, x]


@compiled
def fill_drops(
    best: Floats, table: Floats, sides: Floats, full: NDArray[np.bool_], gifts: Floats, rate: float, lengths: Floats
) -> None:
    """Recursion D where every lane is at a width of K.

    Parameters
    ----------
    best
        Raised to the value of the best drop of each length.
    table
        K, without its first row.
    sides, full, gifts
        By row: the width left beside, mm, whether it counts as full, and the cuts given back, pence.
    rate, lengths
        As for `worth_row`.
    """
    side = np.empty(best.size)
    for row in range(sides.size):
        worth_row(sides[row], full[row], rate, lengths, side)
        for x in range(best.size):
            value = table[row, x] + side[x] + gifts[row]
            best[x] = value if value > best[x] else best[x]


@compiled
def fill_taken(best: Floats, table: Floats, filled: Floats, pairs: Integers, side: Floats) -> None:
    """Recursion D where one lane takes all the width that the others leave, but for what is kept beside.

    Parameters
    ----------
    best
        Raised to the value of the best drop of each length.
    table, filled
        K and B.
    pairs
        A row of K, and the lane that takes the rest: shape (pairs, 2).
    side
        By length: what is kept beside is worth, less the rip it takes.
    """
    for n in range(pairs.shape[0]):
        row, lane = pairs[n, 0], pairs[n, 1]
        for x in range(best.size):
            value = table[row, x] + filled[lane, x] + side[x]
            best[x] = value if value > best[x] else best[x]


@compiled
def fill_source(kept: Floats, drops: Floats, shortest: int) -> None:
    """Recursion F.

    Parameters
    ----------
    kept
        What a tail is worth; becomes F.
    drops
        What a drop of each length gains, its crosscut taken off.
    shortest
        The shortest drop of use, in points, at least 1.
    """
    for begin in range(shortest, kept.size, shortest):
        end = min(begin + shortest, kept.size)
        for d in range(shortest, end):
            gained = drops[d]
            if gained > NEVER / 2:
                for x in range(max(begin, d), end):
                    value = kept[x - d] + gained
                    kept[x] = value if value > kept[x] else kept[x]
