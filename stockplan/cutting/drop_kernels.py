"""What a drop costs, compiled: its lanes as wide as is best.

The mathematics is that of `drop_sets.py`. What drops of one kind of source are cut from is a row of whole numbers, its
ground; types of pieces are a row of widths and one of lengths; lanes are rows of width, length used, number of pieces,
and the pieces by number of their type; a way to cut a drop is a row of lanes by number, with `NONE` behind the last.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.exact_worth import worth_of
from stockplan.cutting.load_kernels import NONE
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

Numbers = NDArray[np.int64]
Drops = tuple[Numbers, Numbers, Numbers, Numbers]  # ground, types, lanes; by steps of length what `least_loss` says
# of a ground
WIDTH, FULL_WIDTH, ON_CORE, HAS_WORTH, PENCE, AREA, CROSSCUT, RIP, STEP = range(9)
# of a lane
L_WIDTH, L_USED, L_COUNT, L_PIECES = range(4)
NEVER = 10**15
MOST_FRONT = 200  # ways to make lanes wider that are kept at a time; beyond, a set is given up
TOO_MANY = -(10**16)
RULE = (LEAST_LENGTH_MM, 3000, 6000)  # lengths where worth changes its rule; see domain.worth
FAR = 60_000
ROUNDING = 2  # pence


@compiled
def worth(ground: Numbers, width: int, length: int, tail: bool) -> int:
    """Worth of a leftover, or of a tail."""
    if ground[HAS_WORTH] == 0:
        return 0
    full = width >= ground[FULL_WIDTH] or (tail and ground[ON_CORE] != 0)
    return worth_of(width, length, full, ground[PENCE], ground[AREA])


@compiled
def tail_worth(ground: Numbers, length: int) -> int:
    """Worth of a tail; of none, the crosscut that it saves."""
    return int(ground[CROSSCUT]) if length == 0 else worth(ground, ground[WIDTH], length, True)


@compiled
def least_loss(ground: Numbers, length: int) -> int:
    """At least how much a tail loses by being this much shorter, unless it is worth nothing either way.

    Less than nothing where none left saves a cut that is dearer than what it was worth.
    """
    kept = tail_worth(ground, FAR + length) - tail_worth(ground, FAR)
    for rule in RULE:
        kept = min(kept, tail_worth(ground, rule + length) - tail_worth(ground, rule))
        if rule - length >= LEAST_LENGTH_MM:
            kept = min(kept, tail_worth(ground, rule) - tail_worth(ground, rule - length))
    lost = tail_worth(ground, max(length, LEAST_LENGTH_MM)) - ground[CROSSCUT]
    return int(max(-ground[CROSSCUT], min(kept, lost) - ROUNDING))


@compiled
def in_lane(ground: Numbers, types: Numbers, lane: Numbers, length: int, width: int) -> int:
    """Cost of what happens inside a lane: its pieces' cuts less worth of what it leaves."""
    cost = ground[CROSSCUT] * lane[L_COUNT]
    if lane[L_USED] == length:
        cost -= ground[CROSSCUT]
    else:
        cost -= worth(ground, width, length - lane[L_USED], False)
    for i in range(lane[L_COUNT]):
        piece = lane[L_PIECES + i]
        if types[0, piece] < width:
            cost += ground[RIP] - worth(ground, width - types[0, piece], types[1, piece], False)
    return int(cost)


@compiled
def beside(ground: Numbers, width: int, length: int) -> int:
    """What stays of a drop beside its lanes: its worth, or the rip saved."""
    return int(ground[RIP]) if width == 0 else worth(ground, width, length, False)


@compiled
def add_step(front: Numbers, size: int, used: int, gain: int) -> int:
    """Keep a way to make lanes wider where none of as little width gains as much; returns how many are kept."""
    at = 0
    while at < size and front[at, 0] <= used:
        if front[at, 1] >= gain:
            return size
        at += 1
    if at > 0 and front[at - 1, 0] == used:
        at -= 1
    end = at
    while end < size and front[end, 1] <= gain:
        end += 1
    if end == at:
        if size == MOST_FRONT:
            return TOO_MANY
        for i in range(size, at, -1):
            front[i, 0], front[i, 1] = front[i - 1, 0], front[i - 1, 1]
        size += 1
    else:
        for i in range(end, size):
            front[at + 1 + i - end, 0], front[at + 1 + i - end, 1] = front[i, 0], front[i, 1]
        size -= end - at - 1
    front[at, 0], front[at, 1] = used, gain
    return size


@inlined
def just_worth(ground: Numbers, types: Numbers, lane: Numbers, rest: int, k: int) -> int:
    """How much wider a lane has to be for something in it to be just worth keeping, one of several answers; 0 for none.

    What lies beside a piece, or what is left at the lane's end, and either as full width.
    """
    kept = ground[FULL_WIDTH] if k % 2 else LEAST_WIDTH_MM
    if k // 2 < lane[L_COUNT]:
        piece = lane[L_PIECES + k // 2]
        return int(types[0, piece] + kept - lane[L_WIDTH]) if types[1, piece] >= LEAST_LENGTH_MM else 0
    return int(kept - lane[L_WIDTH]) if rest >= LEAST_LENGTH_MM else 0


@inlined
def widened(drops: Drops, way: Numbers, length: int, taker: int, slack: int, space: Numbers) -> int:
    """Fill a front with ways to make all lanes but the taker wider, to where something in them is just worth keeping.

    Returns how many there are, or `TOO_MANY`. The space holds two fronts; the first is filled.
    """
    ground, types, lanes, _ = drops
    front, other = space[0], space[1]
    front[0, 0], front[0, 1], size = 0, 0, 1
    for i in range(way.size):
        if way[i] == NONE:
            break
        if i == taker:
            continue
        lane = lanes[way[i]]
        width, rest = lane[L_WIDTH], length - lane[L_USED]
        before = in_lane(ground, types, lane, length, width)
        for j in range(size):
            other[j, 0], other[j, 1] = front[j, 0], front[j, 1]
        old = size
        for k in range(2 * lane[L_COUNT] + 2):
            wider = just_worth(ground, types, lane, rest, k)
            if not 0 < wider <= slack:
                continue
            gain = before - in_lane(ground, types, lane, length, width + wider)
            if gain <= 0:
                continue
            for j in range(old):
                if other[j, 0] + wider <= slack:
                    size = add_step(front, size, other[j, 0] + wider, other[j, 1] + gain)
                    if size == TOO_MANY:
                        return TOO_MANY
    return size


@inlined
def may_take(types: Numbers, lane: Numbers, length: int, slack: int) -> bool:
    """Whether a lane that takes what remains of the width may leave something of worth."""
    if length - lane[L_USED] >= LEAST_LENGTH_MM:
        return True
    for k in range(lane[L_COUNT]):
        piece = lane[L_PIECES + k]
        if types[1, piece] >= LEAST_LENGTH_MM and lane[L_WIDTH] + slack - types[0, piece] >= LEAST_WIDTH_MM:
            return True
    return False


@compiled
def cost_of_way(drops: Drops, way: Numbers, length: int, space: Numbers) -> int:
    """Least cost of a drop of this length with these lanes, however wide they are; or `TOO_MANY`."""
    ground, types, lanes, _ = drops
    inside, slack, count = 0, ground[WIDTH], 0
    for i in range(way.size):
        if way[i] == NONE:
            break
        lane = lanes[way[i]]
        inside += in_lane(ground, types, lane, length, lane[L_WIDTH])
        slack -= lane[L_WIDTH]
        count += 1
    inside += ground[CROSSCUT] + ground[RIP] * count
    best = inside - beside(ground, slack, length)
    if slack == 0 or ground[HAS_WORTH] == 0:
        return int(best)
    for taker in range(-1, count):
        if taker >= 0 and not may_take(types, lanes[way[taker]], length, slack):
            continue
        size = widened(drops, way, length, taker, slack, space)
        if size == TOO_MANY:
            return TOO_MANY
        if taker < 0:
            for j in range(size):
                cost = inside - space[0, j, 1] - beside(ground, slack - space[0, j, 0], length)
                best = min(best, cost)
            continue
        lane = lanes[way[taker]]
        own = in_lane(ground, types, lane, length, lane[L_WIDTH])
        for j in range(size):
            for kept in (0, LEAST_WIDTH_MM, int(ground[FULL_WIDTH])):
                rest = slack - kept - space[0, j, 0]
                if rest >= 0:
                    taken = in_lane(ground, types, lane, length, lane[L_WIDTH] + rest)
                    best = min(best, inside - space[0, j, 1] - own + taken - beside(ground, kept, length))
    return int(best)


@compiled
def longest_lane(lanes: Numbers, way: Numbers) -> int:
    """The shortest drop that holds a way."""
    used = 0
    for i in range(way.size):
        if way[i] == NONE:
            break
        used = max(used, lanes[way[i], L_USED])
    return used
