"""The load of a batch that takes least from a purse, searched for unit by unit and type by type, compiled.

The sets of pieces that each source of the batch may be cut into stand in a trie: a step from a node says how many
pieces more of one type a set holds, types in one order for all sources. A state of the search is a node in every trie.
Each node knows the least that any set below it takes from the purse, so that the sum over sources, and over units
that are served or not, is never more than what a load takes that goes on from there. At each type the units are settled
that may need it, each to one of its ways or to none, then its pieces are shared out among the sources; a branch that
takes as much as the worst load kept is left. Of sources that are alike none takes more of a type than the one before,
as long as they took the same: what one of them may take so may the other, and a load is looked at once, not for every
order of them.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled, inlined

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]
Tries = tuple[Floats, Numbers, Numbers, Numbers, Numbers, Floats]  # see `load_tries._trie`
Units = tuple[Floats, Numbers, Floats, Numbers, Numbers, Numbers, Numbers]  # see `least_loads`
Ties = tuple[Numbers, Numbers, Numbers, Numbers, Floats, Numbers]  # likewise
Into = tuple[Numbers, Numbers, Floats]
NONE = -1
OWN: Final = 0  # places in `Tries`
FIRST: Final = 1
STEP_LEVEL: Final = 2
STEP_COUNT: Final = 3
STEP_NODE: Final = 4
STEP_LEAST: Final = 5
UNIT, LEVEL, SOURCE, LEFT, NODE, AT, NEXT, FIELDS = range(8)
UNDECIDED: Final = -2  # in place of a way
LEFT_OUT: Final = -1


@compiled
def grow(levels: Numbers, filler: int, nodes: Numbers, ends: Numbers) -> int:
    """A trie of sets, as nodes: parent, level and count of the step to each; how many there are, the root first.

    Parameters
    ----------
    levels
        By set: the levels of its pieces in order, then `filler`; sets sorted.
    filler
        Greater than any level.
    nodes
        Where they go: shape (1 + pieces in all, 3).
    ends
        By set: where its node goes.
    """
    count, depth = 1, 0
    path = np.zeros((levels.shape[1] + 1, 3), np.int64)
    for s in range(levels.shape[0]):
        at, i, same = 0, 0, True
        while i < levels.shape[1] and levels[s, i] != filler:
            level, pieces = levels[s, i], 0
            while i < levels.shape[1] and levels[s, i] == level:
                pieces, i = pieces + 1, i + 1
            same = same and at < depth and path[at, 1] == level and path[at, 2] == pieces
            if not same:
                nodes[count, 0] = path[at - 1, 0] if at else 0
                nodes[count, 1], nodes[count, 2] = level, pieces
                path[at, 0], path[at, 1], path[at, 2] = count, level, pieces
                count += 1
            at += 1
        depth = at
        ends[s] = path[at - 1, 0] if at else 0
    return count


@inlined
def least_of(tries: Tries, node: int, at: int) -> float:
    """The least that a set takes which goes on from a node by its step `at` or a later one, or by none."""
    value = tries[OWN][node]
    return min(value, tries[STEP_LEAST][at]) if at < tries[FIRST][node + 1] else value


@compiled
def enter(
    place: tuple[int, int, int], units: Units, decided: Numbers, node: Numbers, at: Numbers, frames: Numbers, depth: int
) -> bool:
    """A frame for what is to be settled next; False where nothing is, so that a load is whole.

    Parameters
    ----------
    place
        A level, the source that takes of it next, `NONE` before the first, and how many pieces of it are left.
    units
        What they need.
    decided, node, at
        The state.
    frames, depth
        Where the frame goes.
    """
    level, source, left = place
    _, _, _, unit_of, needs, of_level, starts = units
    if source == NONE:
        if level == starts.size - 1:
            return False
        left = 0
        for n in range(starts[level], starts[level + 1]):
            unit = unit_of[of_level[n]]
            if decided[unit] == UNDECIDED:
                frames[depth, UNIT], frames[depth, LEVEL], frames[depth, NEXT] = unit, level, 0
                return True
            if decided[unit] == of_level[n]:
                left += needs[n]
        source = 0
    frames[depth, UNIT], frames[depth, LEVEL], frames[depth, SOURCE], frames[depth, LEFT] = NONE, level, source, left
    frames[depth, NODE], frames[depth, AT], frames[depth, NEXT] = node[source], at[source], at[source]
    return True


@compiled
def least_loads(
    tries: Tries, roots: tuple[Numbers, Numbers], units: Units, ties: Ties, purse: float, most_steps: int, into: Into
) -> int:
    """The loads that take least, of those that take less than the purse; how many steps there were.

    Parameters
    ----------
    tries, roots
        The tries of all sources together, and by source its root, and whether it is like the one before.
    units
        By unit: what it takes when left out, and where its ways begin; by way: what it takes, and its unit; then by
        level how many pieces of it which ways need.
    ties
        What is taken besides when a unit is served some way and a source holds none of its pieces: by level of the last
        of these where they begin; source, way, bit and pence of each; by node which of its source's bits are held.
    purse
        Pence.
    most_steps
        With as many it has given up, and what it tells is nothing.
    into
        By load: the way each unit is served or `LEFT_OUT`, the node of each source, and what it takes; as many as there
        is room for, no two alike in the former. It takes an infinite amount where there is no further one.
    """
    first = roots[0]
    sources, levels = first.size, units[6].size - 1
    frames = np.zeros((units[0].size + levels * sources + 2, FIELDS), np.int64)
    bounds = np.zeros(frames.shape[0])
    decided = np.full(units[0].size, UNDECIDED)
    node, at = first.copy(), tries[FIRST][first]
    total = 0.0
    for s in range(sources):
        total += least_of(tries, node[s], at[s])
    bounds[0], depth, steps = total, int(enter((0, NONE, 0), units, decided, node, at, frames, 0)), 0
    if depth == 0:
        purse = note_load((decided, node), total, purse, into)
    while depth > 0 and steps < most_steps:
        steps += 1
        f = depth - 1
        level = frames[f, LEVEL]
        if frames[f, UNIT] != NONE:
            unit = frames[f, UNIT]
            way = units[1][unit] + frames[f, NEXT]
            frames[f, NEXT] += 1
            if way > units[1][unit + 1]:
                decided[unit], depth = UNDECIDED, f
                continue
            is_served = way < units[1][unit + 1]
            decided[unit] = way if is_served else LEFT_OUT
            taken = units[2][way] if is_served else units[0][unit]
            total, place = bounds[f] + taken, (level, NONE, 0)
        else:
            s, left = frames[f, SOURCE], frames[f, LEFT]
            node[s], at[s] = frames[f, NODE], frames[f, AT]
            pieces = next_share(tries, frames, f, node, at)
            if pieces == NONE:
                depth = f
                continue
            total = bounds[f] - least_of(tries, frames[f, NODE], frames[f, AT]) + least_of(tries, node[s], at[s])
            if pieces > most_of(roots, frames, f) or (s == sources - 1 and pieces != left):
                continue
            place = (level, s + 1, left - pieces) if s < sources - 1 else (level + 1, NONE, 0)
            if s == sources - 1:
                total += untied(ties, level, node, decided, units)
        if total >= purse:
            continue
        if enter(place, units, decided, node, at, frames, depth):
            bounds[depth] = total
            depth += 1
        else:
            purse = note_load((decided, node), total, purse, into)
    return steps


@inlined
def most_of(roots: tuple[Numbers, Numbers], frames: Numbers, f: int) -> int:
    """How many pieces of a level its source may take: no more than the one before where that is alike and has the same.

    Nothing is lost: sources in the order of what they take at the first level where they differ are such an order.
    """
    (first, alike), s, left = roots, frames[f, SOURCE], frames[f, LEFT]
    if alike[s] == 0 or frames[f, NODE] - first[s] != frames[f - 1, NODE] - first[s - 1]:
        return left
    return min(left, frames[f - 1, LEFT] - left)


@inlined
def note_load(state: tuple[Numbers, Numbers], total: float, purse: float, into: Into) -> float:
    """Note a load that takes less than the purse; what another has to take less than."""
    decided, node = state
    served, nodes, taken = into
    place = int(taken.argmax())
    for n in range(taken.size):
        same = taken[n] < np.inf
        for u in range(decided.size):
            same = same and served[n, u] == decided[u]
        if same:
            place = n
            break
    if total < taken[place]:
        taken[place] = total
        served[place], nodes[place] = decided, node
    return min(purse, taken.max())


@inlined
def untied(ties: Ties, level: int, node: Numbers, decided: Numbers, units: Units) -> float:
    """What is taken for units served of which sources hold no piece, all their pieces being shared out."""
    starts, source, way, bit, pence, held = ties
    total = 0.0
    for n in range(starts[level], starts[level + 1]):
        if decided[units[3][way[n]]] == way[n] and held[node[source[n]]] >> bit[n] & 1 == 0:
            total += pence[n]
    return total


@compiled
def next_share(tries: Tries, frames: Numbers, f: int, node: Numbers, at: Numbers) -> int:
    """Let a source take pieces of a level in the next way; how many it takes, `NONE` when all ways were tried."""
    level, s, step = frames[f, LEVEL], frames[f, SOURCE], frames[f, NEXT]
    if step == NONE:
        return NONE
    end = tries[FIRST][node[s] + 1]
    while step < end and tries[STEP_LEVEL][step] < level:
        step += 1
    if step < end and tries[STEP_LEVEL][step] == level:
        frames[f, NEXT] = step + 1
        node[s] = tries[STEP_NODE][step]
        at[s] = tries[FIRST][node[s]]
        return tries[STEP_COUNT][step]
    frames[f, NEXT], at[s] = NONE, step
    return 0


@compiled
def least_below(nodes: Numbers, below: Floats, order: Numbers, least: Floats) -> None:
    """By step: the least that a set takes which goes on by it or by a later step of its node.

    Parameters
    ----------
    nodes
        As `grow` gives them.
    below
        By node: what its own set takes; then the least that it or a set below it takes.
    order
        Nodes but the root, less 1, those of a parent together.
    least
        Where it goes.
    """
    for node in range(below.size - 1, 0, -1):
        parent = nodes[node, 0]
        below[parent] = min(below[parent], below[node])
    for step in range(order.size - 1, -1, -1):
        least[step] = below[1 + order[step]]
        if step + 1 < order.size and nodes[1 + order[step], 0] == nodes[1 + order[step + 1], 0]:
            least[step] = min(least[step], least[step + 1])
