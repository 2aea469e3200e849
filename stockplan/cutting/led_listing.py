"""Sets of pieces that drops hold, noted as `led_kernels.py` meets them, compiled, each with its best worths."""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from typing import NamedTuple

import numpy as np

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.drops_led import Drop, Floats, Numbers
from stockplan.cutting.known_sets import Few, number_of
from stockplan.cutting.recursions import NEVER

MOST_PIECES = 40  # of one source
MOST_FRAMES = 4 * MOST_PIECES  # a piece, and at most two more for a lane of its own
HAIR = 1e-7
KIND, WIDTH, LANE, LEFT, NEXT, FIRST, LEAST, HELD, TAKER, BEGUN, FITS, FIELDS = range(12)
LANES, PIECES, TAKING = 0, 1, 2  # kinds of frame: a lane is to be chosen, or a piece of one, of one that takes the rest
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
def note_drop(
    drop: Drop, room: Room, listing: Listing, held: tuple[int, int], place: tuple[int, int], worth: float
) -> bool:
    """Note the pieces held as a set that a drop of the step looked at holds; False where there is no room.

    Parameters
    ----------
    drop, room, listing
        As for `led_kernels.drops_from`.
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
