"""One source being cut, as a row of whole numbers, and what it costs.

After a head a row holds its drops from the cut end: length and number of lanes, and for each lane its width, the length
that its pieces take, how many there are, and which. Costs are those of `Pattern.cost`. What a place adds is worked out
without making the row that it leads to, part by part: what a drop costs does not depend on the rest of its source.
Compiled, since ruin and recreate looks at tens of thousands of places a second.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.compiled import compiled
from stockplan.cutting.exact_worth import worth_of
from stockplan.cutting.flat import (
    AREA,
    CHAIN,
    CLASS,
    COPIES,
    CORE,
    CROSSCUT,
    FULL_WIDTH,
    GATE,
    GATES,
    HAS_WORTH,
    LENGTH,
    O_CLASS,
    O_COST,
    O_ROLL,
    O_SOURCE,
    OPEN_SIZE,
    OPENS,
    OPENS_END,
    PENCE,
    RIP,
    VALUE,
    WIDTH,
    Numbers,
    whole,
)
from stockplan.domain.stock import CUT_LENGTH_LEAST_MM, CUT_LENGTH_STEP_MM

NO_ROOM = 10**15
# of the head of a row: SIZE counts the head and all drops; VERSION tells what is remembered of it, MADE and TRIAL when
SOURCE, USED, COST, SIZE, DROPS, VERSION, MADE, TRIAL, HEAD = range(9)
PER_PIECE = 6  # numbers that one piece more may take: a drop, a lane and itself
# kinds of places
NOWHERE, IN_LANE, IN_GROWN, BESIDE, BESIDE_ALL, BESIDE_GROWN, NEW_DROP, NEW_DROP_ALL = range(8)
SHORTEST_STEPS = CUT_LENGTH_LEAST_MM // CUT_LENGTH_STEP_MM


@compiled
def worth(facts: Numbers, s: int, width: int, length: int, full: bool) -> int:
    """Worth of a rectangle left of a source, of full width or not."""
    if facts[HAS_WORTH] == 0:
        return 0
    return worth_of(width, length, full, facts[s + PENCE], facts[s + AREA])


@compiled
def loose(facts: Numbers, s: int, width: int, length: int) -> int:
    """Worth of a loose leftover."""
    return worth(facts, s, width, length, width >= facts[FULL_WIDTH])


@compiled
def end_cost(facts: Numbers, s: int, left: int) -> int:
    """What is left of a source behind its drops: its worth, or the crosscut saved, less than nothing."""
    if left == 0:
        return -facts[CROSSCUT]
    full = facts[s + CORE] != 0 or facts[s + WIDTH] >= facts[FULL_WIDTH]
    return -worth(facts, s, facts[s + WIDTH], left, full)


@compiled
def side_cost(facts: Numbers, s: int, width: int, length: int) -> int:
    """What is left of a drop beside its lanes: its worth, or the rip saved, less than nothing."""
    if width == 0:
        return -facts[RIP]
    return -loose(facts, s, width, length)


@compiled
def lane_end_cost(facts: Numbers, s: int, width: int, left: int) -> int:
    """What is left of a lane behind its pieces, likewise."""
    if left == 0:
        return -facts[CROSSCUT]
    return -loose(facts, s, width, left)


@compiled
def trim_cost(facts: Numbers, s: int, width: int, length: int) -> int:
    """A sliver so wide taken off a piece so long."""
    if width == 0:
        return 0
    return facts[RIP] - loose(facts, s, width, length)


@compiled
def resized(facts: Numbers, s: int, used: int) -> int:
    """A cut length just long enough for so much use; other sources as they are; -1 when too short."""
    chain = facts[s + CHAIN]
    if chain == 0:
        return s if used <= facts[s + LENGTH] else -1
    steps = max(SHORTEST_STEPS, (used + CUT_LENGTH_STEP_MM - 1) // CUT_LENGTH_STEP_MM)
    if steps >= facts[chain]:
        return -1
    return facts[chain + 1 + steps] - (facts[chain + 1 + steps] == 0)


@compiled
def drop_cost(facts: Numbers, state: Numbers, at: int, s: int, length: int) -> tuple[int, int]:
    """What the drop at a place costs on a source, were it so long; and where the next one is."""
    left = facts[s + WIDTH]
    cost = facts[CROSSCUT]
    lane = at + 2
    for _ in range(state[at + 1]):
        width, count = state[lane], state[lane + 2]
        left -= width
        cost += facts[RIP] + facts[CROSSCUT] * count + lane_end_cost(facts, s, width, length - state[lane + 1])
        for p in range(lane + 3, lane + 3 + count):
            piece = state[p]
            cost += trim_cost(facts, s, width - facts[piece + WIDTH], facts[piece + LENGTH])
        lane += 3 + count
    return cost + side_cost(facts, s, left, length), lane


@compiled
def cost_on(facts: Numbers, state: Numbers, row: int, s: int, without: int) -> int:
    """What a row costs on a source, but for the drop at a place, if there is one, and what is left behind the drops."""
    cost = facts[s + VALUE]
    at = row + HEAD
    for _ in range(state[row + DROPS]):
        one, after = drop_cost(facts, state, at, s, state[at])
        if at != without:
            cost += one
        at = after
    return cost


@compiled
def settle(facts: Numbers, state: Numbers, row: int) -> None:
    """Note the length used, and what the row costs on the shortest source for it."""
    used, at = whole(0), row + HEAD
    for _ in range(state[row + DROPS]):
        used += state[at]
        lanes = state[at + 1]
        at += 2
        for _ in range(lanes):
            at += 3 + state[at + 2]
    source = resized(facts, state[row + SOURCE], used)
    if source >= 0:
        state[row + SOURCE] = source
    state[row + USED], state[row + SIZE] = used, at - row
    state[row + COST] = cost_on(facts, state, row, state[row + SOURCE], row)
    state[row + COST] += end_cost(facts, state[row + SOURCE], facts[state[row + SOURCE] + LENGTH] - used)


@compiled
def single_cost(facts: Numbers, s: int, piece: int, length: int) -> int:
    """A drop so long with one piece in it and nothing else."""
    width = facts[piece + WIDTH]
    cost = 2 * facts[CROSSCUT] + facts[RIP]
    cost += lane_end_cost(facts, s, width, length - facts[piece + LENGTH])
    return cost + side_cost(facts, s, facts[s + WIDTH] - width, length)


@compiled
def new_drop(facts: Numbers, piece: int, s: int, used: int, base: int) -> tuple[int, int]:
    """A new drop off what is left: what the whole costs then, and whether the drop takes all that is left.

    `base` is what it costs without the drop and what is left behind it. It takes all of it where the tail would be
    worth nothing and that is cheaper.
    """
    length = facts[piece + LENGTH]
    left = facts[s + LENGTH] - used
    behind = end_cost(facts, s, left - length)
    cost = base + single_cost(facts, s, piece, length) + behind
    if length < left and behind == 0:
        whole = base + single_cost(facts, s, piece, left) - facts[CROSSCUT]
        if whole < cost:
            return whole, NEW_DROP_ALL
    return cost, NEW_DROP


@compiled
def fits(facts: Numbers, piece: int, s: int) -> bool:
    """Whether a source is wide enough for a piece, arrives in time for it, and pins allow it."""
    return facts[piece + WIDTH] <= facts[s + WIDTH] and facts[facts[piece + GATES] + facts[s + GATE]] != 0


@compiled
def opening(facts: Numbers, piece: int, s: int) -> int:
    """What opening a source for a piece costs at its cheapest."""
    if not fits(facts, piece, s) or facts[piece + LENGTH] > facts[s + LENGTH]:
        return NO_ROOM
    sized = resized(facts, s, facts[piece + LENGTH])
    if sized < 0:
        return NO_ROOM
    return new_drop(facts, piece, sized, whole(0), facts[sized + VALUE])[0]


@compiled
def openable(facts: Numbers, sources: Numbers, types: Numbers, opens: Numbers, place: int) -> int:
    """Note for the pieces of a batch what may be opened for them and at what cost; how much that is.

    It is to lie behind a place, and is not noted where `opens` has no room. Of cut lengths the one just long enough is
    offered.
    """
    found = 0
    for piece in types:
        facts[piece + OPENS] = place + found * OPEN_SIZE
        for s in sources:
            bought = facts[s + COPIES] < 0
            if bought and resized(facts, s, facts[piece + LENGTH]) != s:
                continue
            cost = opening(facts, piece, s)
            if cost < NO_ROOM:
                if found < len(opens):
                    opens[found, O_SOURCE], opens[found, O_COST], opens[found, O_CLASS] = s, cost, facts[s + CLASS]
                    opens[found, O_ROLL] = not bought or facts[s + CORE] != 0
                found += 1
        facts[piece + OPENS_END] = place + found * OPEN_SIZE
    return found
