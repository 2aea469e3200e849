"""The cheapest place for a piece on a source being cut, and what the source is with a piece put there or taken out.

Compiled with `rows.py`, and for the same reason.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import CROSSCUT, LENGTH, OFF_GRID, RIP, WIDTH, Numbers
from stockplan.cutting.memory import ROW_ROOM
from stockplan.cutting.rows import (
    BESIDE,
    BESIDE_ALL,
    BESIDE_GROWN,
    COST,
    DROPS,
    HEAD,
    IN_GROWN,
    IN_LANE,
    NEW_DROP,
    NEW_DROP_ALL,
    NO_ROOM,
    NOWHERE,
    PER_PIECE,
    SIZE,
    SOURCE,
    USED,
    cost_on,
    drop_cost,
    end_cost,
    fits,
    lane_end_cost,
    loose,
    new_drop,
    resized,
    settle,
    side_cost,
    trim_cost,
)

Place = tuple[int, int, int, int]  # what it adds to net cost, its kind, and where its drop and its lane are


@compiled
def growing(facts: Numbers, state: Numbers, row: int, at: int, length: int, sized: int) -> int:
    """What a drop grown to a length adds, on the source that is then long enough."""
    s = state[row + SOURCE]
    used = state[row + USED] + length - state[at]
    if sized == s:
        cost = state[row + COST] - end_cost(facts, s, facts[s + LENGTH] - state[row + USED])
        cost -= drop_cost(facts, state, at, s, state[at])[0]
    else:
        cost = cost_on(facts, state, row, sized, at)
    cost += drop_cost(facts, state, at, sized, length)[0] + end_cost(facts, sized, facts[sized + LENGTH] - used)
    return cost - state[row + COST]


@compiled
def in_lane(facts: Numbers, state: Numbers, row: int, at: int, lane: int, piece: int) -> tuple[int, int]:
    """What a piece adds at the end of a lane that is wide enough, and the kind of place."""
    s, width, length = state[row + SOURCE], state[lane], facts[piece + LENGTH]
    left = state[at] - state[lane + 1]
    trimmed = width - facts[piece + WIDTH]
    if length <= left:
        change = lane_end_cost(facts, s, width, left - length) - lane_end_cost(facts, s, width, left)
        return change + facts[CROSSCUT] + trim_cost(facts, s, trimmed, length), IN_LANE
    if state[at + 1] == 1 and not facts[OFF_GRID]:
        return NO_ROOM, NOWHERE  # where the grid carries every size, recombining lays such pieces end to end
    # The lane then ends with the drop, which saves the crosscut that the piece costs.
    sized = resized(facts, s, state[row + USED] + state[lane + 1] + length - state[at])
    if sized < 0:
        return NO_ROOM, NOWHERE
    change = loose(facts, sized, width, length) + trim_cost(facts, sized, trimmed, length)
    return change + growing(facts, state, row, at, state[lane + 1] + length, sized), IN_GROWN


@compiled
def beside(facts: Numbers, state: Numbers, row: int, at: int, left: int, piece: int) -> tuple[int, int]:
    """What a piece adds in a new lane of a drop beside which so much is left, and the kind of place."""
    s, width, length, drop = state[row + SOURCE], facts[piece + WIDTH], facts[piece + LENGTH], state[at]
    if length > drop:
        sized = resized(facts, s, state[row + USED] + length - drop)
        if sized < 0:
            return NO_ROOM, NOWHERE
        change = facts[RIP] - side_cost(facts, sized, left, length) + side_cost(facts, sized, left - width, length)
        return change + growing(facts, state, row, at, length, sized), BESIDE_GROWN
    base = facts[RIP] + facts[CROSSCUT] - side_cost(facts, s, left, drop)
    cost = base + lane_end_cost(facts, s, width, drop - length) + side_cost(facts, s, left - width, drop)
    if width < left and length < drop:
        whole = base + lane_end_cost(facts, s, left, drop - length) + trim_cost(facts, s, left - width, length)
        whole -= facts[RIP]
        if whole < cost:
            return whole, BESIDE_ALL
    return cost, BESIDE


@compiled
def cheapest_place(facts: Numbers, state: Numbers, row: int, piece: int) -> Place:
    """The cheapest place for a piece on a row; NO_ROOM where there is none."""
    best, kind, drop, best_lane = NO_ROOM, NOWHERE, 0, 0
    s, width = state[row + SOURCE], facts[piece + WIDTH]
    if not fits(facts, piece, s) or state[row + SIZE] + PER_PIECE > state[ROW_ROOM]:
        return best, kind, drop, best_lane
    at = row + HEAD
    for _ in range(state[row + DROPS]):
        left = facts[s + WIDTH]
        lane = at + 2
        for _ in range(state[at + 1]):
            left -= state[lane]
            if width <= state[lane]:
                cost, way = in_lane(facts, state, row, at, lane, piece)
                if cost < best:
                    best, kind, drop, best_lane = cost, way, at, lane
            lane += 3 + state[lane + 2]
        if width <= left:
            cost, way = beside(facts, state, row, at, left, piece)
            if cost < best:
                best, kind, drop, best_lane = cost, way, at, lane
        at = lane
    sized = resized(facts, s, state[row + USED] + facts[piece + LENGTH])
    if sized >= 0:
        if sized == s:
            base = state[row + COST] - end_cost(facts, s, facts[s + LENGTH] - state[row + USED])
        else:
            base = cost_on(facts, state, row, sized, row)
        cost, way = new_drop(facts, piece, sized, state[row + USED], base)
        if cost - state[row + COST] < best:
            best, kind, drop, best_lane = cost - state[row + COST], way, at, at
    return best, kind, drop, best_lane


@compiled
def shift(state: Numbers, row: int, at: int, to: int) -> None:
    """Move what lies from a place to the end of a row."""
    end, by = row + state[row + SIZE], to - at
    if by > 0:
        for n in range(end - 1, at - 1, -1):
            state[n + by] = state[n]
    else:
        for n in range(at, end):
            state[n + by] = state[n]
    state[row + SIZE] += by


@compiled
def put(facts: Numbers, state: Numbers, row: int, piece: int, place: Place) -> None:
    """Put a piece at a place of a row."""
    added, kind, at, lane = place
    width, length = facts[piece + WIDTH], facts[piece + LENGTH]
    used = state[row + USED]
    if kind in (IN_LANE, IN_GROWN):
        end = lane + 3 + state[lane + 2]
        shift(state, row, end, end + 1)
        state[end] = piece
        state[lane + 1] += length
        state[lane + 2] += 1
        if kind == IN_GROWN:
            used += state[lane + 1] - state[at]
            state[at] = state[lane + 1]
    else:
        if kind in (NEW_DROP, NEW_DROP_ALL):
            shift(state, row, at, at + 2)
            state[row + SOURCE] = resized(facts, state[row + SOURCE], used + length)
            state[at] = length if kind == NEW_DROP else facts[state[row + SOURCE] + LENGTH] - used
            state[at + 1] = 0
            state[row + DROPS] += 1
            used += state[at]
            lane = at + 2
        elif kind == BESIDE_GROWN:
            used += length - state[at]
            state[at] = length
        elif kind == BESIDE_ALL:
            width = facts[state[row + SOURCE] + WIDTH]
            other = at + 2
            for _ in range(state[at + 1]):
                width -= state[other]
                other += 3 + state[other + 2]
        shift(state, row, lane, lane + 4)
        state[lane], state[lane + 1], state[lane + 2], state[lane + 3] = width, length, 1, piece
        state[at + 1] += 1
    state[row + SOURCE] = resized(facts, state[row + SOURCE], used)
    state[row + USED] = used
    state[row + COST] += added


@compiled
def open_for(facts: Numbers, state: Numbers, row: int, s: int, piece: int) -> None:
    """Open a source for a piece, at its cheapest."""
    sized = resized(facts, s, facts[piece + LENGTH])
    state[row + SOURCE], state[row + USED], state[row + COST] = sized, 0, 0
    state[row + SIZE], state[row + DROPS] = HEAD, 0
    cost, kind = new_drop(facts, piece, sized, state[row + USED], cost_on(facts, state, row, sized, row))
    put(facts, state, row, piece, (cost, kind, row + HEAD, row + HEAD))


@compiled
def holds(state: Numbers, row: int, piece: int) -> bool:
    """Whether a piece is on a row."""
    at = row + HEAD
    for _ in range(state[row + DROPS]):
        lanes = state[at + 1]
        at += 2
        for _ in range(lanes):
            end = at + 3 + state[at + 2]
            for p in range(at + 3, end):
                if state[p] == piece:
                    return True
            at = end
    return False


@compiled
def take_out(facts: Numbers, state: Numbers, row: int, piece: int) -> None:
    """Take one copy of a piece out of the row that holds it, and close up the cuts."""
    at = row + HEAD
    for _ in range(state[row + DROPS]):
        lane = at + 2
        for _ in range(state[at + 1]):
            for p in range(lane + 3, lane + 3 + state[lane + 2]):
                if state[p] == piece:
                    close_up(facts, state, row, at, lane, p)
                    return
            lane += 3 + state[lane + 2]
        at = lane


@compiled
def close_up(facts: Numbers, state: Numbers, row: int, at: int, lane: int, p: int) -> None:
    """Take the piece at a place out of its lane and drop."""
    state[lane + 1] -= facts[state[p] + LENGTH]
    state[lane + 2] -= 1
    shift(state, row, p + 1, p)
    state[lane] = 0
    for other in range(lane + 3, lane + 3 + state[lane + 2]):
        state[lane] = max(state[lane], facts[state[other] + WIDTH])
    if state[lane + 2] == 0:
        shift(state, row, lane + 3, lane)
        state[at + 1] -= 1
    state[at] = 0
    other = at + 2
    for _ in range(state[at + 1]):
        state[at] = max(state[at], state[other + 1])
        other += 3 + state[other + 2]
    if state[at + 1] == 0:
        shift(state, row, at + 2, at)
        state[row + DROPS] -= 1
    settle(facts, state, row)
