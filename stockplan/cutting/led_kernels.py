"""Drops led by one piece, compiled: every set of pieces that one worth enough holds.

The tables of `drops_led.py` are gone through forward: lane by lane, the leading piece's first, then the narrowest, and
piece by piece in each, as long as what they promise for the rest keeps the drop worth enough. Pieces of a lane, and
lanes as wide as each other by their first pieces, are in the order in which types lead, and what the rest of a lane
promises is of types from there on. A lane that takes the rest of the width holds no piece that calls for its width
(`lane_widths.py`), for then it is one of the others; these hold one that does. So few ways are gone that lead nowhere
or to a set already met.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.drops_led import Drop, Numbers, Parts
from stockplan.cutting.known_sets import is_apart
from stockplan.cutting.led_listing import (
    BEGUN,
    FIRST,
    FITS,
    HELD,
    KIND,
    LANE,
    LANES,
    LEAST,
    LEFT,
    MOST_PIECES,
    MOST_STEPS,
    NEXT,
    PIECES,
    STEPS,
    TAKER,
    TAKING,
    TOUCHED,
    WIDTH,
    Listing,
    Room,
    keep_options,
    note_drop,
)
from stockplan.cutting.recursions import NEVER


@compiled
def drops_from(  # noqa: PLR0912, PLR0915
    drop: Drop, room: Room, listing: Listing, place: tuple[int, int, int], enough: float
) -> bool:
    """Every drop of an end and a step that goes on from the lane of its leading piece, the first frame; False if full.

    It is one function, since an array taken out of a tuple in the innermost loop takes longer than what is done there.

    Parameters
    ----------
    drop, room, listing
        With L, M and D of the leading type; its first frame filled in; what was listed so far.
    place
        The end, the step, and the place of the first type in `order` that may lie beside the leading piece.
    enough
        What a drop must be worth, pence.
    """
    stages, order, empty, gains = drop.stages, drop.order, drop.nearly_empty, drop.gains
    filled, widths = drop.filled, drop.widths
    chain, chain_widths, row_of, calls_for = drop.chain, drop.chain_widths, drop.row_of, drop.calls_for
    lengths, steps, allowed, rip = drop.exact_lengths, drop.steps, drop.allowed, drop.cuts[0]
    frames, worths, held, used = room.frames, room.worths, room.held, room.used
    counts, depth, x, first, apart = listing.counts, 1, place[1], place[2], drop.apart
    whole = drop.reach[x]
    while depth > 0:
        counts[STEPS] += 1
        f = depth - 1
        worth = worths[f]
        width, taker, count = frames[f, WIDTH], frames[f, TAKER], frames[f, HELD]
        k, left = frames[f, LANE], frames[f, LEFT]
        if counts[STEPS] > counts[MOST_STEPS] or count == MOST_PIECES:
            return False
        depth = f  # unless there is a way on
        if frames[f, KIND] != LANES:
            rest = widths[row_of[width], x]
            if taker >= 0:
                rest += filled[taker, x]
            if frames[f, NEXT] < 0:
                frames[f, NEXT], depth = frames[f, FIRST], f + 1
                fits = frames[f, KIND] == TAKING or frames[f, FITS] == 1
                if left < whole and fits and worth + empty[k, left] + rest >= enough:
                    begin(frames, f + 1, LANES, width, taker, count)
                    frames[f + 1, LEAST], frames[f + 1, BEGUN] = frames[f, LEAST], frames[f, BEGUN]
                    frames[f + 1, LANE] = k if frames[f, KIND] == PIECES else -1
                    worths[depth] = worth + empty[k, left]
                    depth += 1
                continue
            at = frames[f, NEXT]
            while at < order.size and worth + stages[k, at, steps[left]] + rest >= enough:
                t = order[at]
                at += 1
                after = left - lengths[t]
                called = calls_for[k, t]
                if after < 0 or used[t] >= allowed[t] or (called and frames[f, KIND] == TAKING):
                    continue
                value = worth + gains[k, t]
                promised = value + stages[k, at - 1, steps[after]] + rest
                if promised >= enough and not is_apart(held, count, t, apart):
                    held[count] = t
                    used[t] += 1
                    begin(frames, f + 1, frames[f, KIND], width, taker, count + 1)
                    frames[f + 1, LANE], frames[f + 1, LEFT], frames[f + 1, FIRST] = k, after, at - 1
                    frames[f + 1, FITS] = 1 if called else frames[f, FITS]
                    frames[f + 1, LEAST] = frames[f, LEAST]
                    frames[f + 1, BEGUN] = frames[f, BEGUN] if left < whole else at - 1
                    worths[f + 1], depth = value, f + 2
                    break
            frames[f, NEXT] = at
            if depth == f and left < whole:
                used[held[count - 1]] -= 1
        elif taker >= 0:
            frames[f, NEXT] += 1
            if frames[f, NEXT] == 0:
                begin(frames, f + 1, TAKING, width, -1, count)
                frames[f + 1, LANE], frames[f + 1, LEFT], frames[f + 1, FIRST] = taker, whole, first
                worths[f + 1], depth = worth, f + 2
        elif width > 0:
            frames[f, NEXT] += 1
            while frames[f, NEXT] < chain.size and chain_widths[frames[f, NEXT]] <= width:
                k, w = chain[frames[f, NEXT]], chain_widths[frames[f, NEXT]]
                before = row_of[width - w] if w >= frames[f, LEAST] and (2 * w <= width or w == width) else -1
                if before >= 0 and worth + widths[before, x] + filled[k, x] - rip >= enough:
                    begin(frames, f + 1, PIECES, width - w, -1, count)
                    frames[f + 1, LANE], frames[f + 1, LEFT], frames[f + 1, LEAST] = k, whole, w
                    frames[f + 1, FIRST] = frames[f, BEGUN] if k == frames[f, LANE] else first
                    worths[f + 1], depth = worth - rip, f + 2
                    break
                frames[f, NEXT] += 1
        elif not note_drop(drop, room, listing, (f, count), (place[0], x), worth):
            return False
    return True


@inlined
def begin(frames: Numbers, f: int, kind: int, width: int, taker: int, count: int) -> None:
    """Fill in a frame."""
    frames[f, KIND], frames[f, WIDTH], frames[f, TAKER] = kind, width, taker
    frames[f, HELD], frames[f, NEXT] = count, -1
    frames[f, LANE] = frames[f, LEFT] = frames[f, FIRST] = frames[f, LEAST] = frames[f, BEGUN] = frames[f, FITS] = 0


@compiled
def drops_with_end(
    drop: Drop, room: Room, listing: Listing, leader: tuple[int, int], place: tuple[int, int], enough: float
) -> bool:
    """Every drop led by a type, with an end, of a step; False where there are too many.

    Parameters
    ----------
    drop, room, listing
        As above.
    leader
        The type, and the place of the first type in `order` that may lie beside it.
    place
        The end and the step.
    enough
        What it must be worth, pence.
    """
    (leading, first), (e, x) = leader, place
    row, taker = drop.ends[e, 0], drop.ends[e, 1]
    base = drop.worth[e, x] - drop.cuts[1]
    for i in range(-1 if taker >= 0 else 0, drop.chain.size):
        # The leading piece's lane is the one that takes the rest, or one of the others.
        k, left, after, value = taker, drop.sums[row], -1, base
        if i >= 0:
            k, left, after, value = drop.chain[i], left - drop.chain_widths[i], taker, base - drop.cuts[0]
        if left < 0:
            break
        called = drop.calls_for[k, leading]
        if drop.row_of[left] < 0 or drop.gains[k, leading] < NEVER / 2 or (called and i < 0):
            continue
        rest = drop.widths[drop.row_of[left], x]
        if after >= 0:
            rest += drop.filled[after, x]
        if value + drop.own[k, x] + rest >= enough:
            room.held[0] = leading
            room.used[leading] += 1
            frames = room.frames
            begin(frames, 0, TAKING if i < 0 else PIECES, left, after, 1)
            frames[0, FITS], frames[0, BEGUN] = 1 if called else 0, first
            frames[0, LANE], frames[0, LEFT] = k, drop.reach[x] - drop.exact_lengths[leading]
            frames[0, FIRST] = first
            room.worths[0] = value + drop.gains[k, leading]
            if not drops_from(drop, room, listing, (e, x, first), enough):
                return False
    return True


@compiled
def led_sets(
    parts: Parts, leader: tuple[int, int], lengths: tuple[int, int], limits: Parts, work: Parts, into: Parts
) -> bool:
    """Every set that a drop led by one type holds at a length where it is worth enough; False where it is too much.

    Parameters
    ----------
    parts
        A `Drop`, with L, M and D of that type, as a plain tuple.
    leader
        As for `drops_with_end`.
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
    for x in range(max(lengths[0], drop.lengths[leader[0]]), lengths[1]):
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
                drop, room, listing, leader, (e, x), least
            ):
                return False
        if not keep_options(room, listing, losses, enough, drop.reach[x]):
            return False
    return True
