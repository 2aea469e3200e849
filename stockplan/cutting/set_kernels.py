"""What every set of pieces costs on one source, compiled: drops put together along its length.

    A(N)    = ways to cut narrow pieces N in drops: the length they take together, and their cost
    f(S, N) = cost of solos S + min over (u, c) of A(N) of c + opening(u + length of S), or with one drop stretched so
              that what would be left of the source is in it

A collection of narrow pieces has a number that counts them through; so have collections of solos, by their length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled
from stockplan.cutting.drop_kernels import MOST_FRONT, NEVER, TOO_MANY, Numbers
from stockplan.cutting.drop_set_kernels import cost_at
from stockplan.cutting.load_kernels import lowest_field

UNKNOWN = -(2**31)  # of what is remembered in 32 bits
Ways = tuple[Numbers, Numbers, Numbers, Numbers, Numbers]  # ground, types, lanes, ways, the first way of each set
KEY = 1 << 40  # more than any cost
O_SET, O_LENGTH, O_COST = range(3)  # of an option
E_USED, E_COST, E_OPTION, E_BEFORE = range(4)  # of an entry: length, cost, the option put on last, the entry before


@compiled
def kept(found: Numbers, size: int, crosscut: int) -> int:
    """Sort ways by length and keep those that none as short beats by a crosscut; returns how many.

    A longer way may end just where the source does, which saves a crosscut.
    """
    rows, sorted_rows = found[0], found[1]
    keys = rows[:size, E_USED] * KEY + rows[:size, E_COST]
    order = np.argsort(keys, kind="mergesort")
    count, least, last = 0, NEVER, -1
    for k in order:
        if rows[k, E_USED] > last and rows[k, E_COST] < least + (crosscut if count else 0):
            for i in range(4):
                sorted_rows[count, i] = rows[k, i]
            least, last = min(least, rows[k, E_COST]), rows[k, E_USED]
            count += 1
    for k in range(count):
        for i in range(4):
            rows[k, i] = sorted_rows[k, i]
    return count


@compiled
def fits_in(whole: int, part: int, shape: tuple[Numbers, int, int]) -> bool:
    """Whether a collection holds all pieces of another, by their codes."""
    _, single, guards = shape
    return part & single & ~whole == 0 and (whole + guards - part) & guards == guards


@compiled
def arrange(
    options: Numbers,
    sets: tuple[Numbers, Numbers, Numbers, Numbers],
    codes: Numbers,
    limits: tuple[int, int],
    shape: tuple[Numbers, int, int],
    found: Numbers,
    arranged: tuple[Numbers, Numbers],
) -> int:
    """Ways to cut every collection of narrow pieces in drops at lengths of the rule; returns how many, or `TOO_MANY`.

    Parameters
    ----------
    options
        Set, length and cost of each, by set and ascending length.
    sets
        By set its first option, and their number; the code of each; how far it moves the number of a collection; by
        type the first set of those that hold it and no type before it, and their number.
    codes
        Of every collection, by number.
    limits
        Length of the longest source; what a crosscut costs.
    shape
        Masks of the fields; bits that stand alone; the guards.
    found
        Room to work in.
    arranged
        Filled in: by collection its first entry, and their number; the entries.
    """
    first_option, set_codes, places, led = sets
    longest, crosscut = limits
    starts, entries = arranged
    entries[0, E_USED], entries[0, E_COST], entries[0, E_OPTION], entries[0, E_BEFORE] = 0, 0, -1, -1
    starts[0], starts[1], total = 0, 1, 1
    for n in range(1, codes.size):
        leader, size = lowest_field(codes[n], shape[0]), 0
        for s in range(led[leader], led[leader + 1]):
            if not fits_in(codes[n], set_codes[s], shape):
                continue
            before = n - places[s]
            for o in range(first_option[s], first_option[s + 1]):
                for e in range(starts[before], starts[before + 1]):
                    used = entries[e, E_USED] + options[o, O_LENGTH]
                    if used > longest:
                        break
                    if size == found.shape[1]:
                        size = kept(found, size, crosscut)
                        if 2 * size > found.shape[1]:
                            return TOO_MANY
                    found[0, size, E_USED], found[0, size, E_COST] = used, entries[e, E_COST] + options[o, O_COST]
                    found[0, size, E_OPTION], found[0, size, E_BEFORE] = o, e
                    size += 1
        size = kept(found, size, crosscut)
        if total + size > entries.shape[0]:
            return TOO_MANY
        for k in range(size):
            for i in range(4):
                entries[total + k, i] = found[0, k, i]
        total += size
        starts[n + 1] = total
    return total


@compiled
def at_rule(
    solos: tuple[Numbers, Numbers],
    arranged: tuple[Numbers, Numbers],
    opening: Numbers,
    step: int,
    costs: Numbers,
) -> None:
    """Least cost of every set of pieces with drops at lengths of the rule.

    Parameters
    ----------
    solos
        By collection of solos: length, ascending, and cost.
    arranged
        As `arrange` fills it in.
    opening
        By steps used: what the cheapest source costs less what its tail is worth; `NEVER` where none holds so much.
    step
        Millimetres.
    costs
        Filled in: a row for each collection of solos, a column for each of narrow pieces.
    """
    lengths, base = solos
    starts, entries = arranged
    for n in range(starts.size - 1):
        for s in range(lengths.size):
            best = NEVER
            for e in range(starts[n], starts[n + 1]):
                steps = (lengths[s] + entries[e, E_USED]) // step
                if steps >= opening.size:
                    break
                if opening[steps] < NEVER:
                    best = min(best, entries[e, E_COST] + opening[steps])
            costs[s, n] = best + base[s] if best < NEVER else NEVER


@compiled
def remembered(drops: Ways, memory: NDArray[np.int32], s: int, past: int, length: int) -> int:
    """Least cost of a drop of a set at one length, so many steps past its shortest, worked out once."""
    if memory[s, past] == UNKNOWN:
        ground, types, lanes, ways, starts = drops
        space = np.empty((2, MOST_FRONT, 2), np.int64)
        cost = cost_at((ground, types, lanes), ways, starts[s], starts[s + 1], length, space)
        if not UNKNOWN < cost < -UNKNOWN:
            return TOO_MANY
        memory[s, past] = cost
    return int(memory[s, past])


@compiled
def stretch(
    drops: Ways,
    memory: NDArray[np.int32],
    sets: tuple[Numbers, Numbers, Numbers, Numbers, Numbers],
    collections: tuple[Numbers, Numbers, Numbers, Numbers, Numbers, Numbers],
    rooms: tuple[Numbers, Numbers, int],
    costs: Numbers,
    span: tuple[int, int],
) -> bool:
    """Lower the costs of sets of pieces that are cheaper with one drop stretched; False where that is too much.

    Parameters
    ----------
    drops
        See `Ways`.
    memory
        By set and steps past its shortest drop: what `remembered` found.
    sets
        Of each: how far it moves the number of a collection; its pieces by type; its shortest drop and the longest to
        look at; what a drop costs at least.
    collections
        By type how many narrow pieces there may be, and how far one moves the number of a collection; entries as
        `arrange` fills them in; lengths and costs of collections of solos.
    rooms
        Lengths that drops must fill, ascending, and what a source with a tail behind them costs less that tail; the
        step, mm.
    costs
        As in `at_rule`; updated.
    span
        The first set to look at, and the one behind the last.
    """
    places, pieces, shortest, furthest, least = sets
    most, moves, starts, entries, lengths, base = collections
    room, price, step = rooms
    taken = np.zeros(most.size, np.int64)
    for s in range(span[0], span[1]):
        before, place = 0, 0
        taken[:] = 0
        while place < most.size:
            for e in range(starts[before], starts[before + 1]):
                if entries[e, E_USED] + shortest[s] >= room[-1]:
                    break
                n, used = before + places[s], entries[e, E_USED]
                first = np.searchsorted(lengths, room[0] - used - furthest[s])
                for b in range(first, lengths.size):
                    if room[-1] - used - lengths[b] <= shortest[s]:
                        break
                    for r in range(np.searchsorted(room, used + lengths[b] + shortest[s] + 1), room.size):
                        length = room[r] - used - lengths[b]
                        if length > furthest[s]:
                            break
                        rest = base[b] + price[r] + entries[e, E_COST]
                        if rest + least[s] >= costs[b, n]:
                            continue
                        cost = remembered(drops, memory, s, (length - shortest[s]) // step, length)
                        if cost == TOO_MANY:
                            return False
                        costs[b, n] = min(costs[b, n], rest + cost)
            place = 0
            while place < most.size:
                if taken[place] < most[place] - pieces[s, place]:
                    taken[place] += 1
                    before += moves[place]
                    break
                before -= taken[place] * moves[place]
                taken[place] = 0
                place += 1
    return True


@compiled
def trace_stretched(
    drops: Ways,
    sets: tuple[Numbers, Numbers, Numbers, Numbers],
    arranged: tuple[Numbers, Numbers],
    rooms: tuple[Numbers, Numbers],
    shape: tuple[Numbers, int, int],
    wanted: tuple[int, int, int, int],
) -> tuple[int, int, int, int]:
    """Set, length of its drop, entry before it and room of a way with one drop stretched that costs so much.

    Parameters
    ----------
    drops, arranged, rooms, shape
        As in `stretch` and `arrange`.
    sets
        Of each: its code; how far it moves the number of a collection; its shortest drop and the longest to look at.
    wanted
        Number and code of the narrow pieces; length of the solos; the cost without theirs.
    """
    ground, types, lanes, ways, first_way = drops
    codes, places, shortest, furthest = sets
    starts, entries = arranged
    n, code, solo_length, wanted_cost = wanted
    space = np.empty((2, MOST_FRONT, 2), np.int64)
    for s in range(places.size):
        if not fits_in(code, codes[s], shape):
            continue
        before = n - places[s]
        for e in range(starts[before], starts[before + 1]):
            for r in range(rooms[0].size):
                length = rooms[0][r] - solo_length - entries[e, E_USED]
                if not shortest[s] < length <= furthest[s]:
                    continue
                cost = cost_at((ground, types, lanes), ways, first_way[s], first_way[s + 1], length, space)
                if rooms[1][r] + entries[e, E_COST] + cost == wanted_cost:
                    return s, length, e, r
    return -1, -1, -1, -1
