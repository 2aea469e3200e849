"""Drops led by one piece, compiled: every set of pieces that one worth enough holds.

The tables of `drops_led.py` are gone through forward: lane by lane, the leading piece's first, then the narrowest, and
piece by piece in each, as long as what they promise for the rest keeps the drop worth enough.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from typing import NamedTuple

import numpy as np

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.drops_led import Drop, Floats, Numbers, Parts
from stockplan.cutting.known_sets import Few, number_of
from stockplan.cutting.recursions import NEVER

MOST_PIECES = 40  # of one source
MOST_FRAMES = 4 * MOST_PIECES  # a piece, and at most two more for a lane of its own
HAIR = 1e-7
KIND, WIDTH, LANE, LEFT, NEXT, FIRST, LEAST, HELD, TAKER, FIELDS = range(10)
LANES, PIECES = 0, 1  # kinds of frame: a lane is to be chosen, or a piece of one
SETS, OPTIONS, TOUCHED, STEPS, MOST_STEPS, COUNTS = range(6)


class Listing(NamedTuple):
    """What was listed, and room for more: sets, options (a set and a length), what these are worth, and counts."""

    pieces: Few
    sizes: Numbers
    table: Numbers
    options: Numbers
    worths: Floats
    counts: Numbers


class Room(NamedTuple):
    """Room to work in: frames and their worths, pieces held, how many of each type, and their numbers in order.

    By set then: its best worth at the lengths of a step, from the longest on; the sets that have one; the longest
    length it was had at, and its worth there.
    """

    frames: Numbers
    worths: Floats
    held: Numbers
    used: Numbers
    key: Numbers
    best: Floats
    touched: Numbers
    last: Numbers
    last_worth: Floats


def room_for(sets: int, types: int, step: int) -> Room:
    """Room to list so many sets of so many types in steps of so many points; of sets it is made ready as they come."""
    frames = np.zeros((MOST_FRAMES, FIELDS), np.int64), np.zeros(MOST_FRAMES)
    held, key, used = np.zeros(MOST_FRAMES, np.int64), np.zeros(MOST_FRAMES, np.int64), np.zeros(types, np.int64)
    best, touched, last = np.empty((sets, step)), np.empty(sets, np.int64), np.empty(sets, np.int64)
    return Room(*frames, held, used, key, best, touched, last, np.empty(sets))


@compiled
def drops_from(  # noqa: PLR0912, PLR0915
    drop: Drop, room: Room, listing: Listing, place: tuple[int, int], enough: float
) -> bool:
    """Every drop of an end and a step that goes on from the lane of its leading piece, the first frame; False if full.

    It is one function, since an array taken out of a tuple in the innermost loop takes longer than what is done there.
    """
    lane, filled, widths, empty, gains = drop.lane, drop.filled, drop.widths, drop.nearly_empty, drop.gains
    chain, chain_widths, row_of = drop.chain, drop.chain_widths, drop.row_of
    lengths, steps, allowed, rip = drop.exact_lengths, drop.steps, drop.allowed, drop.cuts[0]
    frames, worths, held, used = room.frames, room.worths, room.held, room.used
    counts, depth, x = listing.counts, 1, place[1]
    whole = drop.reach[x]
    while depth > 0:
        counts[STEPS] += 1
        f = depth - 1
        frame, worth = frames[f], worths[f]
        width, taker, count, k, left = frame[WIDTH], frame[TAKER], frame[HELD], frame[LANE], frame[LEFT]
        if counts[STEPS] > counts[MOST_STEPS] or count == MOST_PIECES:
            return False
        following = frames[depth]
        depth = f  # unless there is a way on
        if frame[KIND] == PIECES:
            rest = widths[row_of[width], x]
            if taker >= 0:
                rest += filled[taker, x]
            if frame[NEXT] < 0:
                frame[NEXT], depth = frame[FIRST], f + 1
                if left < whole and worth + empty[k, left] + rest >= enough:
                    begin(following, LANES, width, taker, count)
                    following[LEAST], worths[depth] = frame[LEAST], worth + empty[k, left]
                    depth += 1
                continue
            while frame[NEXT] < lengths.size and lengths[frame[NEXT]] <= left:
                t = frame[NEXT]
                frame[NEXT] += 1
                value = worth + gains[k, t]
                if used[t] < allowed[t] and value + lane[k, steps[left - lengths[t]]] + rest >= enough:
                    held[count] = t
                    used[t] += 1
                    begin(following, PIECES, width, taker, count + 1)
                    following[LANE], following[LEFT], following[FIRST] = k, left - lengths[t], t
                    following[LEAST] = frame[LEAST]
                    worths[f + 1], depth = value, f + 2
                    break
            if depth == f and left < whole:
                used[held[count - 1]] -= 1
        elif taker >= 0:
            frame[NEXT] += 1
            if frame[NEXT] == 0:
                begin(following, PIECES, width, -1, count)
                following[LANE], following[LEFT] = taker, whole
                worths[f + 1], depth = worth, f + 2
        elif width > 0:
            frame[NEXT] += 1
            while frame[NEXT] < chain.size and chain_widths[frame[NEXT]] <= width:
                k, w = chain[frame[NEXT]], chain_widths[frame[NEXT]]
                before = row_of[width - w] if w >= frame[LEAST] and (2 * w <= width or w == width) else -1
                if before >= 0 and worth + widths[before, x] + filled[k, x] - rip >= enough:
                    begin(following, PIECES, width - w, -1, count)
                    following[LANE], following[LEFT], following[LEAST] = k, whole, w
                    worths[f + 1], depth = worth - rip, f + 2
                    break
                frame[NEXT] += 1
        elif not note_drop(drop, room, listing, (f, count), place, worth):
            return False
    return True


@inlined
def begin(frame: Numbers, kind: int, width: int, taker: int, count: int) -> None:
    """Fill in a frame."""
    frame[:] = 0
    frame[KIND], frame[WIDTH], frame[TAKER], frame[HELD], frame[NEXT] = kind, width, taker, count, -1


@compiled
def note_drop(
    drop: Drop, room: Room, listing: Listing, held: tuple[int, int], place: tuple[int, int], worth: float
) -> bool:
    """Note the pieces held as a set that a drop of the step looked at holds; False where there is no room.

    Parameters
    ----------
    drop, room, listing
        As above.
    held
        The last frame, and how many pieces are held.
    place
        The end and the step.
    worth
        Of the drop at most, pence.
    """
    counts, (e, x) = listing.counts, place
    number = number_of(room.held, held[1], room.key, (listing.pieces, listing.sizes, listing.table), counts[SETS])
    if number < 0:
        return False
    best = room.best[number]
    if number == counts[SETS]:
        counts[SETS] += 1
        best[:], room.last[number] = NEVER, -1
    if best[0] <= NEVER:
        room.touched[counts[TOUCHED]] = number
        counts[TOUCHED] += 1
    whole = drop.reach[x]
    for shorter in range(best.size):
        if drop.steps[whole - shorter] < x:
            break
        value = worth + drop.exact_worth[e, whole - shorter] - drop.worth[e, x]
        for g in range(1, held[0] + 1):
            if room.frames[g, KIND] == LANES:
                k, left = room.frames[g - 1, LANE], room.frames[g - 1, LEFT]
                if left < shorter:
                    return True
                value += drop.empty[k, left - shorter] - drop.nearly_empty[k, left]
        best[shorter] = max(best[shorter], value)
    return True


@compiled
def drops_with_end(drop: Drop, room: Room, listing: Listing, place: tuple[int, int, int], enough: float) -> bool:
    """Every drop led by a type, with an end, of a step; False where there are too many.

    Parameters
    ----------
    drop, room, listing
        As above.
    place
        The type, the end and the step.
    enough
        What it must be worth, pence.
    """
    leader, e, x = place
    row, taker = drop.ends[e, 0], drop.ends[e, 1]
    base = drop.worth[e, x] - drop.cuts[1]
    for i in range(-1 if taker >= 0 else 0, drop.chain.size):
        # The leading piece's lane is the one that takes the rest, or one of the others.
        k, left, after, value = taker, drop.sums[row], -1, base
        if i >= 0:
            k, left, after, value = drop.chain[i], left - drop.chain_widths[i], taker, base - drop.cuts[0]
        if left < 0:
            break
        if drop.row_of[left] < 0 or drop.gains[k, leader] < NEVER / 2:
            continue
        rest = drop.widths[drop.row_of[left], x]
        if after >= 0:
            rest += drop.filled[after, x]
        if value + drop.own[k, x] + rest >= enough:
            room.held[0] = leader
            room.used[leader] += 1
            frame = room.frames[0]
            begin(frame, PIECES, left, after, 1)
            frame[LANE], frame[LEFT] = k, drop.reach[x] - drop.exact_lengths[leader]
            room.worths[0] = value + drop.gains[k, leader]
            if not drops_from(drop, room, listing, (e, x), enough):
                return False
    return True


@compiled
def led_sets(parts: Parts, leader: int, lengths: tuple[int, int], limits: Parts, work: Parts, into: Parts) -> bool:
    """Every set that a drop led by one type holds at a length where it is worth enough; False where it is too much.

    Parameters
    ----------
    parts
        A `Drop`, with L, M and D of that type, as a plain tuple.
    leader
        The type.
    lengths
        The first step that is looked at, and the one behind the last.
    limits
        By length in points what a drop must be worth, and by step the least of it, pence; and by length in points at
        least what a tail loses by being so much shorter, pence: a longer drop must gain more.
    work, into
        A `Room`, the same for all of a listing, and a `Listing`, where they go, likewise.
    """
    drop, room, listing = Drop(*parts), Room(*work), Listing(*into)
    enough, least_enough, losses = limits
    own, among, filled, widths, best = drop.own, drop.among, drop.filled, drop.widths, drop.best
    which, worth, crosscut = drop.ends, drop.worth, drop.cuts[1]
    for x in range(max(lengths[0], drop.lengths[leader]), lengths[1]):
        least = least_enough[x]
        if best[x] < least:
            continue
        listing.counts[TOUCHED] = 0
        for e in range(which.shape[0]):
            row, taker = which[e, 0], which[e, 1]
            value = among[row, x]
            if taker >= 0:
                value = max(value + filled[taker, x], widths[row, x] + own[taker, x])
            if value + worth[e, x] - crosscut >= least and not drops_with_end(
                drop, room, listing, (leader, e, x), least
            ):
                return False
        if not keep_options(room, listing, losses, enough, drop.reach[x]):
            return False
    return True


@inlined
def keep_options(room: Room, listing: Listing, losses: Floats, enough: Floats, longest: int) -> bool:
    """Note how the sets met in a step may be had, but for those a shorter drop holds as well; False if full."""
    counts = listing.counts
    for n in range(counts[TOUCHED]):
        number = room.touched[n]
        for shorter in range(room.best.shape[1] - 1, -1, -1):
            value, x = room.best[number, shorter], longest - shorter
            room.best[number, shorter] = NEVER
            last = room.last[number]
            if value <= NEVER or value < enough[x]:
                continue
            if last >= 0 and value <= room.last_worth[number] + losses[x - last] + HAIR:
                continue
            if counts[OPTIONS] == listing.worths.size:
                return False
            listing.options[counts[OPTIONS], 0], listing.options[counts[OPTIONS], 1] = number, x
            listing.worths[counts[OPTIONS]] = value
            counts[OPTIONS] += 1
            room.last[number], room.last_worth[number] = x, value
    return True
