"""The recursions of `valuing.py` over whole tables, compiled: by profile nearly all the time of a bound.

Tables have a row for each lane width, or each width lanes add up to, and a column for each point of the length grid.
Worth is that of `domain.worth`, rounded down after adding `HAIR`, so that it is never below the true worth.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.worths import HAIR
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
NEVER = -1e15
BLOCK = 256  # lengths taken through all rows at once: their entries then stay in the processor's cache


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


@inlined
def raise_by(row: Floats, other: Floats, gained: float) -> None:
    """Raise each entry of a row to that of another and so much more, where that is higher; slices make it fast."""
    for x in range(row.size):
        value = other[x] + gained
        row[x] = value if value > row[x] else row[x]


@inlined
def raise_by_both(row: Floats, one: Floats, other: Floats, gained: float) -> None:
    """Raise each entry of a row to those of two others together and so much more, where that is higher."""
    for x in range(row.size):
        value = one[x] + other[x] + gained
        row[x] = value if value > row[x] else row[x]


@compiled
def empty_lanes(lane: Floats, widths: Floats, full: NDArray[np.bool_], rate: float, lengths: Floats) -> None:
    """What lanes of every width and length are worth with nothing cut of them, written into a table.

    Parameters
    ----------
    lane
        Where the worths go.
    widths, full
        By lane: the width at which it is valued, mm, and whether that counts as full.
    rate, lengths
        As for `worth_row`.
    """
    for k in range(lane.shape[0]):
        worth_row(widths[k], full[k], rate, lengths, lane[k])


@compiled
def fill_lanes(lane: Floats, filled: Floats, steps: Integers, gain: Floats, margin: float) -> None:
    """Recursions A and B, lane by lane.

    Two fillings of one lane, end to end, are worth at least what each is worth by itself, less the crosscut that only
    one of them still saves and a penny of rounding: leftovers that become one are worth no less. So a length that other
    pieces of the lane fill for more than its own best piece gains, by that much, is of no use in it. Of 266 lengths 23
    are left in a lane on a week of 150 jobs, at a grid of 10 mm.

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
    margin
        What a filling must gain more than a piece to put it out of use, pence; more where sizes are rounded.
    """
    points, shortest = lane.shape[1], steps[0]
    used = np.empty(steps.size, np.int64)
    for k in range(lane.shape[0]):
        filled[k, :] = NEVER
        count = following = 0
        for begin in range(shortest, points, shortest):
            # Within a block as long as the shortest piece no entry depends on another of the block.
            end = min(begin + shortest, points)
            for n in range(count):
                step = steps[used[n]]
                raise_by(filled[k, begin:end], lane[k, begin - step : end - step], gain[k, used[n]])
            while following < steps.size and steps[following] < end:
                step, gained = steps[following], gain[k, following]
                if gained > NEVER / 2 and gained > filled[k, step] - margin:
                    used[count] = following
                    count += 1
                    raise_by(filled[k, step:end], lane[k, : end - step], gained)
                following += 1
            raise_by(lane[k, begin:end], filled[k, begin:end], 0.0)


@compiled
def fill_widths(table: Floats, filled: Floats, chain: Integers, widths: Integers, rip: float, row_of: Integers) -> None:
    """Recursion K; the lane taken last is the narrowest, so no wider than half of what there is, or alone.

    Parameters
    ----------
    table
        Its first row is nothing; the others become K.
    filled
        B.
    chain, widths
        The lanes that may lie beside others, and their widths in points.
    rip
        What a cut along the pile costs, pence.
    row_of
        By width in points: the row of the table, -1 where lanes do not add up to it.
    """
    points = table.shape[1]
    for begin in range(0, points, BLOCK):
        fill_widths_between(table, filled, chain, widths, rip, row_of, (begin, min(begin + BLOCK, points)))


@compiled
def fill_widths_between(
    table: Floats,
    filled: Floats,
    chain: Integers,
    widths: Integers,
    rip: float,
    row_of: Integers,
    lengths: tuple[int, int],
) -> None:
    """The same for lengths from one up to another, which are independent of all others.

    Parameters
    ----------
    table, filled, chain, widths, rip, row_of
        As for `fill_widths`.
    lengths
        The first, and the one behind the last.
    """
    begin, end = lengths
    for u in range(1, row_of.size):
        row = row_of[u]
        if row < 0:
            continue
        table[row, begin:end] = NEVER
        for k in range(widths.size):
            if (2 * widths[k] > u and widths[k] != u) or row_of[u - widths[k]] < 0:
                continue
            before = row_of[u - widths[k]]
            raise_by_both(table[row, begin:end], table[before, begin:end], filled[chain[k], begin:end], -rip)


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
def fill_source(kept: Floats, drops: Floats, shortest: int, margin: float) -> None:
    """Recursion F; a length of drop that others fill for more than it gains is of no use, as for lanes.

    Parameters
    ----------
    kept
        What a tail is worth; becomes F.
    drops
        What a drop of each length gains, its crosscut taken off.
    shortest
        The shortest drop of use, in points, at least 1.
    margin
        As for `fill_lanes`.
    """
    used = np.empty(kept.size, np.int64)
    count = 0
    for begin in range(shortest, kept.size, shortest):
        end = min(begin + shortest, kept.size)
        before = count
        for n in range(before):
            raise_by(kept[begin:end], kept[begin - used[n] : end - used[n]], drops[used[n]])
        for d in range(begin, end):
            if drops[d] > NEVER / 2 and drops[d] > kept[d] - margin:
                used[count] = d
                count += 1
                raise_by(kept[d:end], kept[: end - d], drops[d])
