"""Sets of pieces put together source by source, as whole numbers: compiled, as millions of pairs are gone through.

How many pieces of each type of a batch a set holds is one whole number, its code: a field of bits for each type, with a
bit above it that guards against overflow where more than one may be needed. Two sets together have the sum of their
codes. What can be made so far is a list of states: a code, its least cost, what was taken from the purse, and the
record of the last set put on, by which it is taken apart again.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled, inlined

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]
NONE = -1
NEVER = 1 << 60
MOST_PAIRS = 20_000_000  # of a state and a set, before the clock is looked at
FACTOR = 0x1E3779B97F4A7C15  # odd: spreads codes over the table


@compiled
def place_of(code: int, codes: Numbers, table: Numbers) -> int:
    """Where a code stands in the table of states, or where it would."""
    at = ((code * FACTOR) >> 32) & (table.size - 1)
    while table[at] != NONE and codes[table[at]] != code:
        at = (at + 1) & (table.size - 1)
    return at


@compiled
def enter(codes: Numbers, count: int, table: Numbers) -> None:
    """Enter the first so many states into an empty table."""
    for state in range(count):
        table[place_of(codes[state], codes, table)] = state


@compiled
def look_up(wanted: Numbers, codes: Numbers, table: Numbers, found: Numbers) -> None:
    """The number of each code's state, or `NONE`."""
    for i in range(wanted.size):
        found[i] = table[place_of(wanted[i], codes, table)]


@compiled
def lowest_field(code: int, masks: Numbers) -> int:
    """Number of the first type of which a set holds pieces; of none, how many types there are."""
    for field in range(masks.size):
        if code & masks[field]:
            return field
    return masks.size


@inlined
def bits_of(code: int, groups: Numbers) -> int:
    """Bits of the groups of which a set holds pieces, by masks of their fields."""
    bits = 0
    for group in range(groups.size):
        if code & groups[group]:
            bits |= 1 << group
    return bits


@compiled
def extend(
    begun: tuple[Numbers, Numbers, Floats, Numbers],
    start: int,
    sets: tuple[Numbers, Numbers, Floats, Floats, Numbers, Numbers],
    ascending: bool,
    purse: tuple[float, Floats, Numbers],
    shape: tuple[Numbers, int, int, int],
    store: tuple[Numbers, Numbers, Floats, Numbers, Numbers, Numbers, Numbers, Numbers],
) -> tuple[int, int]:
    """Put one set on every state of a list; returns the next state to go on from, and how many pairs were looked at.

    Parameters
    ----------
    begun
        Codes, costs, what was taken from the purse, and records of the states to begin from.
    start
        The first of them.
    sets
        As in `load_states.Sets`.
    ascending
        Whether a set must hold a type no later than the first of the state it goes on: that says in which order sets
        without end are taken.
    purse
        What there is; by bits of groups what they take together at least; by group the mask of the fields it owns.
    shape
        Masks of the fields; bits that stand alone; all counts at their most with the guards set; the guards.
    store
        Codes, costs, takings and records of the states, added to; their table; the record before each record, and the
        set put on; how many states and records there are. It ends where there might be no room for more.
    """
    b_code, b_cost, b_taken, b_record = begun
    s_code, s_cost, s_loss, s_least, s_groups, s_number = sets
    limit, slacks, groups = purse
    masks, single, full, guards = shape
    codes, costs, takings, records, table, before, put_on, sizes = store
    pairs = 0
    first_of = np.zeros(s_code.size, np.int64)
    if ascending:
        for s in range(s_code.size):
            first_of[s] = lowest_field(s_code[s], masks)
    for i in range(start, b_code.size):
        if pairs > MOST_PAIRS or sizes[0] + s_code.size > codes.size or sizes[1] + s_code.size > before.size:
            return i, pairs
        code = b_code[i]
        bits = bits_of(code, groups)
        first = lowest_field(code, masks) if ascending else 0
        for s in range(s_code.size):
            if b_taken[i] + s_least[s] > limit:
                break
            pairs += 1
            if code & s_code[s] & single or (full - code - s_code[s]) & guards != guards or first_of[s] > first:
                continue
            taken = b_taken[i] + s_loss[s]
            if taken + slacks[bits | s_groups[s]] > limit:
                continue
            together, cost = code + s_code[s], b_cost[i] + s_cost[s]
            at = place_of(together, codes, table)
            state = table[at]
            if state == NONE:
                state = sizes[0]
                sizes[0] += 1
                table[at] = state
                codes[state] = together
            elif costs[state] <= cost:
                continue
            costs[state], takings[state], records[state] = cost, taken, sizes[1]
            before[sizes[1]], put_on[sizes[1]] = b_record[i], s_number[s]
            sizes[1] += 1
    return b_code.size, pairs


@compiled
def combine(
    before: Numbers,
    digits: Numbers,
    shape: tuple[int, int, int],
    loads: tuple[Numbers, Numbers, Numbers],
    after: Numbers,
    chosen: Numbers,
) -> None:
    """Give one batch one of its loads beside what others serve.

    Parameters
    ----------
    before
        By what is served: the least cost so far; `NEVER` where there is none.
    digits
        By what is served: the units of each group, in fields with guards.
    shape
        Bits that stand alone; all counts at their most with the guards set; the guards.
    loads
        Digits, how far each moves what is served, and costs.
    after, chosen
        Filled in: the least cost with one load more, and which.
    """
    l_digits, l_step, l_cost = loads
    single, full, guards = shape
    for i in range(before.size):
        if before[i] >= NEVER:
            continue
        for k in range(l_digits.size):
            if digits[i] & l_digits[k] & single or (full - digits[i] - l_digits[k]) & guards != guards:
                continue
            cost = before[i] + l_cost[k]
            if cost < after[i + l_step[k]]:
                after[i + l_step[k]] = cost
                chosen[i + l_step[k]] = k
