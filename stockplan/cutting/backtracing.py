"""How the best drops and sources are cut, traced back from the tables of `valuing.py`, in the letters used there.

Compiled: on a week of 30 jobs with sizes of 10 mm 37,000 drops are traced back before prices settle.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled
from stockplan.cutting.recursions import NEVER, worth_row

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Truths = NDArray[np.bool_]


class Widths(NamedTuple):
    """The lanes there are, and what they add up to (`lane_widths.py`); widths in points.

    Parameters
    ----------
    chain, chain_points
        The lanes that may lie beside others, and their widths.
    points
        By lane: its width.
    sums, row_of
        By row of K: the width that lanes add up to; and by width its row, -1 where they do not.
    """

    chain: Integers
    chain_points: Integers
    points: Integers
    sums: Integers
    row_of: Integers


class Beside(NamedTuple):
    """What may lie beside the lanes of K in a drop of one width and length (`lane_widths.Shape`).

    Parameters
    ----------
    sides, full, gifts
        By row of K but the first: width left, mm, whether it counts as full, and cuts given back, pence.
    pairs
        A row of K, and the lane that takes the rest; shape (pairs, 2).
    kept
        By pair: what is kept beside both is worth, less its rip, pence.
    """

    sides: Floats
    full: Truths
    gifts: Floats
    pairs: Integers
    kept: Floats


class Pieces(NamedTuple):
    """What pieces bring in a lane; `gain` by lane and type, ordered by length, `step_gain` by lane and length.

    Parameters
    ----------
    gain, step_gain
        What the piece, or the best one of the length, gains, pence.
    steps, starts
        By length: itself, in points, ascending, and its first type.
    valued, full
        By lane: the width at which its rest is valued, mm, and whether that counts as full.
    lengths
        By point: millimetres at which a rest so long is valued.
    rate, crosscut
        Of a rest, pence for a square millimetre; of a cut, pence.
    short
        Points of a rest that take no cut, at most.
    """

    gain: Floats
    step_gain: Floats
    steps: Integers
    starts: Integers
    valued: Floats
    full: Truths
    lengths: Floats
    rate: float
    crosscut: float
    short: int


@compiled
def lengths_of_drops(
    kept: Floats, tail: Floats, drops: Floats, room: int, short: int, crosscut: float, found: Integers
) -> int:
    """Trace recursion F back from a length left of a source; how many drops there are.

    Parameters
    ----------
    kept, tail, drops
        F, what a tail is worth, and D, by length in points.
    room
        Points left.
    short
        Points of a tail that takes no cut, at most.
    crosscut
        What a cut costs, pence.
    found
        Where their lengths go, in points.
    """
    count = 0
    while room > 0 and kept[room] > tail[room] + (crosscut if room <= short else 0.0):
        best, length = NEVER / 2, 0
        for d in range(1, room + 1):
            value = drops[d] - crosscut + kept[room - d]
            if value > best:
                best, length = value, d
        if length == 0:
            break
        found[count] = length
        count += 1
        room -= length
    return count


@compiled
def lanes_of(table: Floats, filled: Floats, length: int, widths: Widths, beside: Beside, pieces: Pieces) -> Integers:
    """Trace recursions D and K back for a drop of a length in points: the lanes it is ripped into.

    Parameters
    ----------
    table, filled
        K and B.
    length
        Points.
    widths, beside, pieces
        Of these what is kept beside holds for that length.
    """
    best, row, taker = -np.inf, 0, -1
    side = np.empty(1)
    for n in range(beside.sides.size):
        worth_row(beside.sides[n], beside.full[n], pieces.rate, pieces.lengths[length : length + 1], side)
        value = table[n + 1, length] + beside.gifts[n] + side[0]
        if value > best:
            best, row = value, n + 1
    for n in range(beside.kept.size):
        value = table[beside.pairs[n, 0], length] + filled[beside.pairs[n, 1], length] + beside.kept[n]
        if value > best:
            best, row, taker = value, beside.pairs[n, 0], beside.pairs[n, 1]
    u = widths.sums[row]
    found = np.empty(2 + u // max(1, widths.points.min()), np.int64)
    count = 0
    if taker >= 0:
        found[0] = taker
        count = 1
    while u > 0:
        best, last = -np.inf, -1
        for n in range(widths.chain.size):
            before = widths.row_of[u - widths.chain_points[n]] if widths.chain_points[n] <= u else -1
            if before >= 0:
                value = table[before, length] + filled[widths.chain[n], length]
                if value > best:
                    best, last = value, widths.chain[n]
        found[count] = last
        count += 1
        u -= widths.points[last]
    return found[:count]


@compiled
def pieces_of(any_of: Floats, k: int, length: int, pieces: Pieces) -> Integers:
    """Trace recursions A and B back for a lane and a length in points: the types of its pieces.

    Parameters
    ----------
    any_of
        A.
    k, length
        The lane, and its length in points.
    pieces
        What they bring.
    """
    found = np.empty(1 + length // pieces.steps[0], np.int64)
    count, empty = 0, np.empty(1)
    while True:
        if count > 0:
            worth_row(pieces.valued[k], pieces.full[k], pieces.rate, pieces.lengths[length : length + 1], empty)
            if length <= 0 or any_of[k, length] <= empty[0] + (pieces.crosscut if length <= pieces.short else 0.0):
                break
        best, step = -np.inf, -1
        for n in range(pieces.steps.size):
            if pieces.steps[n] > length:
                break
            value = any_of[k, length - pieces.steps[n]] + pieces.step_gain[k, n]
            if value > best:
                best, step = value, n
        if step < 0:
            break
        stop = pieces.starts[step + 1] if step + 1 < pieces.starts.size else pieces.gain.shape[1]
        found[count] = pieces.starts[step] + pieces.gain[k, pieces.starts[step] : stop].argmax()
        count += 1
        length -= pieces.steps[step]
    return found[:count]
