"""What every set of pieces costs on one source, compiled: drops put together along its length.

    A(N)    = ways to cut narrow pieces N in drops: the length they take together, and their cost
    f(S, N) = cost of solos S + min over (u, c) of A(N) of c + opening(u + length of S), or with one drop stretched so
              that what would be left of the source is in it

A collection of narrow pieces has a number that counts them through; so have collections of solos, by their length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.drop_kernels import MOST_FRONT, NEVER, TOO_MANY, Drops, Numbers
from stockplan.cutting.drop_set_kernels import cost_at
from stockplan.cutting.load_kernels import NONE, lowest_field
from stockplan.domain.worth import LEAST_LENGTH_MM

UNKNOWN = -(2**31)  # of what is remembered in 32 bits
Ways = tuple[Drops, Numbers, Numbers]  # drops, ways, the first way of each set
O_SET, O_LENGTH, O_COST = range(3)  # of an option
E_USED, E_COST, E_OPTION, E_BEFORE = range(4)  # of an entry: length, cost, the option put on last, the entry before


@inlined
def keep_best(found: Numbers, span: tuple[int, int], limits: tuple[int, int, int, Numbers], entries: Numbers) -> int:
    """Take over what was found, by length, but for what something shorter beats; returns how many, or `TOO_MANY`.

    A longer way may end just where the source does, which saves a crosscut. Where it is longer by so much that the tail
    is worth keeping without, it has to save what the tail loses as well.
    """
    _, step, crosscut, losses = limits
    count, least = 0, NEVER
    for steps in range(span[0], span[1] + 1):
        cost = found[steps, E_COST]
        if cost == NEVER:
            continue
        found[steps, E_COST] = NEVER
        beaten = count > 0 and cost >= least + crosscut
        for j in range(count):
            longer = steps - entries[j, E_USED] // step
            if beaten or longer * step < LEAST_LENGTH_MM:
                break
            beaten = entries[j, E_COST] <= cost + losses[longer]
        least = min(least, cost)
        if beaten:
            continue
        if count == entries.shape[0]:
            return TOO_MANY
        entries[count, E_USED], entries[count, E_COST] = steps * step, cost
        entries[count, E_OPTION], entries[count, E_BEFORE] = found[steps, E_OPTION], found[steps, E_BEFORE]
        count += 1
    return count


@inlined
def drop_beaten(options: Numbers, first: int, end: int, entries: Numbers, longest: int) -> None:
    """Put options of one set out of reach that are not among the ways to cut its pieces: they are in no best way."""
    for o in range(first, end):
        found = False
        for e in range(entries.shape[0]):
            found |= entries[e, E_OPTION] == o and entries[e, E_BEFORE] == 0
        if not found:
            options[o, O_LENGTH] = longest + 1


@compiled
def fits_in(whole: int, part: int, shape: tuple[Numbers, int, int]) -> bool:
    """Whether a collection holds all pieces of another, by their codes."""
    _, single, guards = shape
    return part & single & ~whole == 0 and (whole + guards - part) & guards == guards


@compiled
def arrange(
    options: Numbers,
    sets: tuple[Numbers, Numbers, Numbers, Numbers, Numbers],
    codes: Numbers,
    limits: tuple[int, int, int, Numbers],
    shape: tuple[Numbers, int, int],
    arranged: tuple[Numbers, Numbers],
    span: tuple[int, int],
) -> int:
    """Ways to cut every collection of narrow pieces in drops at lengths of the rule; returns how many, or `TOO_MANY`.

    Parameters
    ----------
    options
        Set, length and cost of each, by set and ascending length.
    sets
        By set its first option, and their number; the code of each; how far it moves the number of a collection; by
        type the first set of those that hold it and no type before it, and their number; by collection which set it
        is, or `NONE`. Options that others beat get a length beyond all sources.
    codes
        Of every collection, by number.
    limits
        Length of the longest source; the step, mm; what a crosscut costs; by steps, what a tail loses at least.
    shape
        Masks of the fields; bits that stand alone; the guards.
    arranged
        Filled in: by collection its first entry, and their number; the entries.
    span
        The first collection to look at, all before it being done, and the one behind the last.
    """
    first_option, set_codes, places, led, alone = sets
    longest, step, _, _ = limits
    starts, entries = arranged
    found = np.full((longest // step + 1, 4), NEVER, np.int64)
    total = starts[span[0]]
    for n in range(span[0], span[1]):
        leader, low, high = lowest_field(codes[n], shape[0]), longest // step, 0
        for s in range(led[leader], led[leader + 1]):
            if not fits_in(codes[n], set_codes[s], shape):
                continue
            before = n - places[s]
            for o in range(first_option[s], first_option[s + 1]):
                if options[o, O_LENGTH] > longest:
                    continue
                for e in range(starts[before], starts[before + 1]):
                    used = entries[e, E_USED] + options[o, O_LENGTH]
                    if used > longest:
                        break
                    steps, cost = used // step, entries[e, E_COST] + options[o, O_COST]
                    if cost < found[steps, E_COST]:
                        found[steps, E_COST], found[steps, E_OPTION], found[steps, E_BEFORE] = cost, o, e
                        low, high = min(low, steps), max(high, steps)
        count = keep_best(found, (low, high), limits, entries[total:])
        if count == TOO_MANY:
            return TOO_MANY
        if alone[n] != NONE:
            drop_beaten(
                options, first_option[alone[n]], first_option[alone[n] + 1], entries[total : total + count], longest
            )
        total += count
        starts[n + 1] = total
    return int(total)


@compiled
def at_rule(
    solos: tuple[Numbers, Numbers],
    arranged: tuple[Numbers, Numbers],
    stairs: tuple[Numbers, Numbers],
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
    stairs
        By collection of solos the first of its costs, and behind the last their number; collections of narrow pieces,
        the shortest first: so many of them as a row has costs fit beside its solos.
    opening
        By steps used: what the cheapest source costs less what its tail is worth; `NEVER` where none holds so much.
    step
        Millimetres.
    costs
        Filled in, row by row.
    """
    lengths, base = solos
    starts, entries = arranged
    first, order = stairs
    for s in range(lengths.size):
        for at in range(first[s], first[s + 1]):
            n, best = order[at - first[s]], NEVER
            for e in range(starts[n], starts[n + 1]):
                steps = (lengths[s] + entries[e, E_USED]) // step
                if steps >= opening.size:
                    break
                if opening[steps] < NEVER:
                    best = min(best, entries[e, E_COST] + opening[steps])
            costs[at] = best + base[s] if best < NEVER else NEVER


@inlined
def remembered(drops: Ways, memory: NDArray[np.int32], s: int, past: int, length: int) -> int:
    """Least cost of a drop of a set at one length, so many steps past its shortest, worked out once."""
    if memory[s, past] == UNKNOWN:
        of_drops, ways, starts = drops
        space = np.empty((2, MOST_FRONT, 2), np.int64)
        cost = cost_at(of_drops, ways, starts[s], starts[s + 1], length, space)
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
    stairs: tuple[Numbers, Numbers],
    rooms: tuple[Numbers, Numbers, int, int, int],
    costs: Numbers,
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
    stairs
        By collection of solos the first of its costs; by one of narrow pieces, which of a row's it is.
    rooms
        Lengths that drops must fill, ascending, and what a source with a tail behind them costs less that tail; the
        step, mm; the first set to look at, and the one behind the last.
    costs
        As in `at_rule`; updated.
    """
    places, pieces, shortest, furthest, least = sets
    most, moves, starts, entries, lengths, base = collections
    room, price, step, begin, end = rooms
    first_cost, rank = stairs
    taken = np.zeros(most.size, np.int64)
    for s in range(begin, end):
        before, place = 0, 0
        taken[:] = 0
        while place < most.size:
            for e in range(starts[before], starts[before + 1]):
                if entries[e, E_USED] + shortest[s] >= room[-1]:
                    break
                n, used = before + places[s], entries[e, E_USED]
                for b in range(np.searchsorted(lengths, room[0] - used - furthest[s]), lengths.size):
                    at = first_cost[b] + rank[n]
                    if room[-1] - used - lengths[b] <= shortest[s]:
                        break
                    for r in range(np.searchsorted(room, used + lengths[b] + shortest[s] + 1), room.size):
                        length = room[r] - used - lengths[b]
                        if length > furthest[s]:
                            break
                        rest = base[b] + price[r] + entries[e, E_COST]
                        if rest + least[s] >= costs[at]:
                            continue
                        cost = remembered(drops, memory, s, (length - shortest[s]) // step, length)
                        if cost == TOO_MANY:
                            return False
                        costs[at] = min(costs[at], rest + cost)
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
