"""Sets of narrow pieces that one drop can hold, compiled: every way to lay them in lanes, and lengths that can be best.

The mathematics is that of `drop_sets.py`, the rows are those of `drop_kernels.py`.
"""

from __future__ import annotations

import numpy as np

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.drop_kernels import (
    CROSSCUT,
    HAS_WORTH,
    L_COUNT,
    L_PIECES,
    L_USED,
    L_WIDTH,
    NEVER,
    RIP,
    RULE,
    STEP,
    TOO_MANY,
    WIDTH,
    Drops,
    Numbers,
    cost_of_way,
    longest_lane,
    worth,
)
from stockplan.cutting.load_kernels import NONE, place_of
from stockplan.domain.worth import LEAST_LENGTH_MM

MOST_LOOKS = 300_000_000  # at a lane beside others


@compiled
def every_way(
    lanes: Numbers,
    lane_codes: Numbers,
    shape: tuple[int, int, int, int],
    ways: Numbers,
    way_sets: Numbers,
    set_codes: Numbers,
    table: Numbers,
) -> tuple[int, int]:
    """Every way to lay pieces in lanes side by side; returns how many, and how many sets of pieces they hold.

    Parameters
    ----------
    lanes, lane_codes
        The lanes, and their pieces as a code.
    shape
        The width there is; of codes the bits that stand alone, all counts at their most with guards, the guards.
    ways
        Filled in: numbers of lanes, row by row, with `NONE` behind the last.
    way_sets
        Filled in: which set each way holds.
    set_codes, table
        Filled in: the sets, and their table. `TOO_MANY` ways are found where there is no room for all.
    """
    room, single, full, guards = shape
    depth = ways.shape[1]
    chain, next_lane = np.zeros(depth + 1, np.int64), np.zeros(depth + 1, np.int64)
    width, code = np.zeros(depth + 1, np.int64), np.zeros(depth + 1, np.int64)
    count, sets, level, looks = 0, 0, 0, 0
    while level >= 0:
        k = next_lane[level]
        looks += 1
        if k == lanes.shape[0] or level == depth:
            level -= 1
            continue
        next_lane[level] += 1
        if width[level] + lanes[k, L_WIDTH] > room:
            continue
        if code[level] & lane_codes[k] & single or (full - code[level] - lane_codes[k]) & guards != guards:
            continue
        if count == ways.shape[0] or sets == set_codes.size or looks > MOST_LOOKS:
            return TOO_MANY, sets
        chain[level] = k
        together = code[level] + lane_codes[k]
        at = place_of(together, set_codes, table)
        if table[at] == NONE:
            table[at] = sets
            set_codes[sets] = together
            sets += 1
        for i in range(depth):
            ways[count, i] = chain[i] if i <= level else NONE
        way_sets[count] = table[at]
        count += 1
        level += 1
        if level < depth:
            next_lane[level] = k
        width[level], code[level] = width[level - 1] + lanes[k, L_WIDTH], together
    return count, sets


@inlined
def hopeless(drops: Drops, way: Numbers, length: int, shortest: int, cost: int) -> bool:
    """Whether a drop this long surely saves less than the tail loses: by area, at the best share there is."""
    ground, types, lanes, losses = drops
    longer = length - shortest
    if longer < LEAST_LENGTH_MM:
        return False
    widest, left, pieces, broadest, count = ground[WIDTH], ground[WIDTH] * length, 0, 0, 0
    for i in range(way.size):
        if way[i] == NONE:
            break
        lane = lanes[way[i]]
        widest -= lane[L_WIDTH]
        broadest = max(broadest, lane[L_WIDTH])
        pieces += lane[L_COUNT]
        count += 1
        for k in range(lane[L_COUNT]):
            left -= types[0, lane[L_PIECES + k]] * types[1, lane[L_PIECES + k]]
    widest += broadest
    worths = (worth(ground, widest, RULE[2], False) + 1) * left / (widest * RULE[2])
    cuts = ground[CROSSCUT] * (pieces + 1 - count) + ground[RIP] * (count - 1)
    return bool(cost - (cuts - worths) <= losses[longer // ground[STEP]])


@compiled
def cost_at(drops: Drops, ways: Numbers, first: int, end: int, length: int, space: Numbers) -> int:
    """Least cost of a drop of just this length over some ways; `NEVER` when it is too short for all."""
    best = NEVER
    for w in range(first, end):
        if longest_lane(drops[2], ways[w]) <= length:
            cost = cost_of_way(drops, ways[w], length, space)
            if cost == TOO_MANY:
                return TOO_MANY
            best = min(best, cost)
    return best


@compiled
def settle(
    drops: Drops,
    ways: Numbers,
    starts: Numbers,
    longest: int,
    found: Numbers,
    space: Numbers,
    options: Numbers,
) -> int:
    """The lengths that can be best for every set, ascending, each with its cost; returns how many there are in all.

    Parameters
    ----------
    drops
        Ground, types and lanes; see `drop_kernels.py`.
    ways
        Sorted by set.
    starts
        By set: its first way, and behind the last set the number of ways.
    longest
        Of the sources, mm.
    found, space
        Room to work in.
    options
        Filled in: set, length and cost. `TOO_MANY` where there is no room.
    """
    step, losses, total = drops[0][STEP], drops[3], 0
    for s in range(starts.size - 1):
        count = lengths_of(drops, ways, starts[s], starts[s + 1], longest, found, space)
        if count == TOO_MANY:
            return TOO_MANY
        sort_lengths(found, count)
        cheapest, useful = NEVER, 0
        for k in range(count):
            length, cost = found[0, k], found[1, k]
            if length > longest or cost >= cheapest:
                continue
            covered = far = False
            for u in range(useful):
                if found[3, u] <= cost + losses[(length - found[2, u]) // step]:
                    covered = True
                    far |= length - found[2, u] >= LEAST_LENGTH_MM
            if not covered:
                found[2, useful], found[3, useful] = length, cost
                useful += 1
            if not far:
                if total == options.shape[0]:
                    return TOO_MANY
                options[total, 0], options[total, 1], options[total, 2] = s, length, cost
                total += 1
                cheapest = cost
    return total


@inlined
def sort_lengths(found: Numbers, count: int) -> None:
    """Put the first so many lengths in order, each with its cost."""
    for k in range(1, count):
        length, cost, at = found[0, k], found[1, k], k
        while at > 0 and found[0, at - 1] > length:
            found[0, at], found[1, at] = found[0, at - 1], found[1, at - 1]
            at -= 1
        found[0, at], found[1, at] = length, cost


@inlined
def lengths_of(
    drops: Drops,
    ways: Numbers,
    first: int,
    end: int,
    longest: int,
    found: Numbers,
    space: Numbers,
) -> int:
    """Lengths at which something left in a drop is at a size of the rule of worth, and what they cost, in any order."""
    ground, _, lanes, _ = drops
    count, shortest, least_cost = 0, NEVER, NEVER
    for w in range(first, end):
        length = longest_lane(lanes, ways[w])
        cost = cost_of_way(drops, ways[w], length, space)
        if cost == TOO_MANY:
            return TOO_MANY
        count = note_length(found, count, length, cost)
        if length < shortest or (length == shortest and cost < least_cost):
            shortest, least_cost = length, cost
    if ground[HAS_WORTH] == 0:
        return count
    for w in range(first, end):
        least = longest_lane(lanes, ways[w])
        wide = 0
        for i in range(ways.shape[1] + 1):
            last = i == ways.shape[1] or ways[w, i] == NONE
            if last and wide >= ground[WIDTH]:
                break
            used = 0 if last else lanes[ways[w, i], L_USED]
            for rule in RULE:
                length = used + rule
                if not least < length <= longest or hopeless(drops, ways[w], length, shortest, least_cost):
                    continue
                cost = cost_of_way(drops, ways[w], length, space)
                if cost == TOO_MANY or count == found.shape[1]:
                    return TOO_MANY
                count = note_length(found, count, length, cost)
            if last:
                break
            wide += lanes[ways[w, i], L_WIDTH]
    return count


@compiled
def note_length(found: Numbers, count: int, length: int, cost: int) -> int:
    """Keep the least cost of a length; returns how many lengths there are."""
    for k in range(count):
        if found[0, k] == length:
            found[1, k] = min(found[1, k], cost)
            return count
    found[0, count], found[1, count] = length, cost
    return count + 1
