"""Batches of an answer under way: the rows being cut of each, and pieces placed on them and taken off again.

Every batch has two piles: as it stands, and as a trial changes it. A trial copies the first to the second when it first
touches the batch, and a row of what stands when it first changes it; so what stands can be gone back to, and all that
was remembered of it still holds. Compiled with `rows.py`.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.chance import draw
from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import (
    CLASS,
    LOCAL,
    O_CLASS,
    O_COST,
    O_ROLL,
    O_SOURCE,
    OPEN_SIZE,
    OPENS,
    OPENS_END,
    U_BATCH,
    U_HASH,
    U_LOCAL,
    U_PIECES,
    U_PIECES_END,
    Numbers,
    whole,
)
from stockplan.cutting.memory import (
    B_NOW,
    B_STANDS,
    BATCH_SIZE,
    BATCHES_AT,
    CHANGED,
    CHANGED_AT,
    FREE,
    FREE_AT,
    GAINS,
    ORDER_AT,
    P_CLASSES,
    P_COST,
    P_LIST,
    P_LOAD,
    P_OFFERS,
    P_OTHER,
    P_ROWS,
    P_UNITS,
    P_UNITS_AT,
    P_VERSION,
    P_WHOLE,
    PLACINGS,
    ROW_ROOM,
    TRIALS,
    UNDO,
    UNDO_AT,
    VERSIONS,
)
from stockplan.cutting.places import cheapest_place, open_for, put
from stockplan.cutting.rows import COST, HEAD, MADE, NO_ROOM, SIZE, SOURCE, TRIAL, VERSION

ANY, ROLLS, ASK = range(3)  # what is placed: from anything, from no cut length; nothing, it is only asked
SKIP = 0.02  # chance that a place is passed over
LOW_BITS = 2**20


@compiled
def new_row(state: Numbers) -> int:
    """A row not in use; there are as many as there can be in use at once."""
    state[FREE] -= 1
    row = state[state[FREE_AT] + state[FREE]]
    renewed(state, row)
    state[row + MADE], state[row + TRIAL] = state[PLACINGS], state[TRIALS]
    return row


@compiled
def give_back(state: Numbers, row: int) -> None:
    """A row is no longer in use."""
    state[state[FREE_AT] + state[FREE]] = row
    state[FREE] += 1


@compiled
def renewed(state: Numbers, row: int) -> None:
    """Forget what was remembered of a row."""
    state[VERSIONS] += 1
    state[row + VERSION] = state[VERSIONS]


@compiled
def copied(state: Numbers, row: int) -> int:
    """A new row cut in the same way."""
    new = new_row(state)
    for n in range(VERSION):
        state[new + n] = state[row + n]
    for n in range(HEAD, state[row + SIZE]):
        state[new + n] = state[row + n]
    return new


@compiled
def batch_at(state: Numbers, batch: int) -> int:
    """Where a batch is."""
    return state[BATCHES_AT] + batch * BATCH_SIZE


@compiled
def touched(state: Numbers, batch: int) -> int:
    """The pile of a batch that the trial may change."""
    place = batch_at(state, batch)
    pile, stands = state[place + B_NOW], state[place + B_STANDS]
    if pile == stands:
        pile = state[stands + P_OTHER]
        for n in range(P_VERSION):
            state[pile + n] = state[stands + n]
        for n in range(state[stands + P_ROWS]):
            state[state[pile + P_LIST] + n] = state[state[stands + P_LIST] + n]
        for n in range(state[stands + P_UNITS]):
            state[state[pile + P_UNITS_AT] + n] = state[state[stands + P_UNITS_AT] + n]
        for n in range(state[stands + P_CLASSES]):
            state[state[pile + P_WHOLE] + n] = state[state[stands + P_WHOLE] + n]
        state[place + B_NOW] = pile
        state[state[CHANGED_AT] + state[CHANGED]] = batch
        state[CHANGED] += 1
    state[VERSIONS] += 1
    state[pile + P_VERSION] = state[VERSIONS]
    return pile


@compiled
def gain(facts: Numbers, state: Numbers, row: int, piece: int) -> int:
    """What the cheapest place for a piece on a row adds to net cost, remembered; NO_ROOM where there is none."""
    local = facts[piece + LOCAL]
    slot = row + state[ROW_ROOM] + 2 * (local & (state[GAINS] - 1))
    key = state[row + VERSION] * LOW_BITS + local
    if state[slot] != key:
        state[slot] = key
        state[slot + 1] = cheapest_place(facts, state, row, piece)[0]
    return state[slot + 1]


@compiled
def cheapest(facts: Numbers, state: Numbers, pile: int, piece: int, skip: float, way: int) -> tuple[int, int, int]:
    """The cheapest place for a piece in a pile: its number in the list or -1, what to open or -1, and what it adds.

    Places are passed over with a chance, unless there is no other. Cut lengths are left out where only rolls are asked.
    """
    best, at, opened = NO_ROOM, -1, -1
    passed, passed_at, passed_opened = NO_ROOM, -1, -1
    for n in range(state[pile + P_ROWS]):
        added = gain(facts, state, state[state[pile + P_LIST] + n], piece)
        if added < best:
            if skip > 0.0 and draw(state) < skip:
                passed, passed_at, passed_opened = added, n, -1
            else:
                best, at, opened = added, n, -1
    for o in range(facts[piece + OPENS], facts[piece + OPENS_END], OPEN_SIZE):
        added = facts[o + O_COST]
        if added >= best or (way == ROLLS and facts[o + O_ROLL] == 0):
            continue
        kind = facts[o + O_CLASS]
        if kind >= 0 and state[state[pile + P_WHOLE] + kind] == 0:
            continue
        if skip > 0.0 and draw(state) < skip:
            passed, passed_at, passed_opened = added, -1, o
        else:
            best, at, opened = added, -1, o
    if best == NO_ROOM:
        return passed_at, passed_opened, passed
    return at, opened, best


@compiled
def put_down(facts: Numbers, state: Numbers, pile: int, piece: int, at: int, opened: int) -> None:
    """Put a piece where `cheapest` says, and note how to undo it."""
    undo = state[UNDO_AT] + 2 * state[UNDO]
    if at < 0:
        row = new_row(state)
        open_for(facts, state, row, facts[opened + O_SOURCE], piece)
        if facts[opened + O_CLASS] >= 0:
            state[state[pile + P_WHOLE] + facts[opened + O_CLASS]] -= 1
        state[undo], state[undo + 1] = state[pile + P_ROWS], -1
        state[UNDO] += 1
        state[state[pile + P_LIST] + state[pile + P_ROWS]] = row
        state[pile + P_ROWS] += 1
        state[pile + P_COST] += state[row + COST]
        return
    row = state[state[pile + P_LIST] + at]
    if state[row + MADE] != state[PLACINGS]:
        state[undo], state[undo + 1] = at, row
        state[UNDO] += 1
        row = copied(state, row)
        state[state[pile + P_LIST] + at] = row
    place = cheapest_place(facts, state, row, piece)
    put(facts, state, row, piece, place)
    renewed(state, row)
    state[pile + P_COST] += place[0]


@compiled
def take_back(facts: Numbers, state: Numbers, pile: int) -> None:
    """Undo the placing under way."""
    while state[UNDO] > 0:
        state[UNDO] -= 1
        undo = state[UNDO_AT] + 2 * state[UNDO]
        at, old = state[pile + P_LIST] + state[undo], state[undo + 1]
        row = state[at]
        state[pile + P_COST] -= state[row + COST]
        if old < 0:
            kind = facts[state[row + SOURCE] + CLASS]
            if kind >= 0:
                state[state[pile + P_WHOLE] + kind] += 1
            state[pile + P_ROWS] -= 1
        else:
            state[pile + P_COST] += state[old + COST]
            state[at] = old
        give_back(state, row)


@compiled
def stay(state: Numbers) -> None:
    """Let the placing under way stand; rows it replaced that nothing else holds are free."""
    for n in range(state[UNDO]):
        old = state[state[UNDO_AT] + 2 * n + 1]
        if old >= 0 and state[old + TRIAL] == state[TRIALS]:
            give_back(state, old)
    state[UNDO] = 0


@compiled
def place(facts: Numbers, state: Numbers, pile: int, first: int, count: int, skip: float, way: int) -> int:
    """Place so many pieces one by one at the cheapest spots; what that adds, NO_ROOM when one has none.

    `first` is where the pieces stand, in `facts` where it is only asked, else in `state`. What is only asked, or fails,
    leaves the pile as it was.
    """
    total = 0
    state[PLACINGS] += 1
    for n in range(count):
        piece = facts[first + n] if way == ASK else state[first + n]
        at, opened, added = cheapest(facts, state, pile, piece, skip, way)
        if added == NO_ROOM:
            total = NO_ROOM
            break
        total += added
        if way != ASK or n < count - 1:
            put_down(facts, state, pile, piece, at, opened)
    if way == ASK or total == NO_ROOM:
        take_back(facts, state, pile)
    else:
        stay(state)
    return total


@compiled
def needed(facts: Numbers, state: Numbers, unit: int) -> int:
    """Note the pieces of a unit as those to be placed, and how many they are."""
    first, count = facts[unit + U_PIECES], facts[unit + U_PIECES_END] - facts[unit + U_PIECES]
    for n in range(count):
        state[state[ORDER_AT] + n] = facts[first + n]
    return count


@compiled
def offer(facts: Numbers, state: Numbers, unit: int) -> int:
    """What serving a unit adds when its pieces go to the cheapest spots, largest first; NO_ROOM where it has none."""
    pile = state[batch_at(state, facts[unit + U_BATCH]) + B_NOW]
    slot = state[pile + P_OFFERS] + 2 * facts[unit + U_LOCAL]
    if state[slot] != state[pile + P_VERSION]:
        count = facts[unit + U_PIECES_END] - facts[unit + U_PIECES]
        state[slot + 1] = place(facts, state, pile, facts[unit + U_PIECES], count, 0.0, whole(ASK))
        state[slot] = state[pile + P_VERSION]
    return state[slot + 1]


@compiled
def note_unit(facts: Numbers, state: Numbers, pile: int, unit: int) -> None:
    """A pile serves a unit more."""
    state[state[pile + P_UNITS_AT] + state[pile + P_UNITS]] = unit
    state[pile + P_UNITS] += 1
    state[pile + P_LOAD] += facts[unit + U_HASH]
