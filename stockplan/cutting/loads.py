"""What batches were seen to serve as a whole, and how: kept by compiled code, the oldest forgotten.

Entries lie one after another in a ring of numbers, each with the units served and the rows of `rows.py` without their
heads. Of each load only the cheapest way is wanted: a table by the load as one number says what it cost and which entry
holds it. Two loads that fall on one place of the table push each other out, which loses one of them and does no harm.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import BOUGHT, Numbers
from stockplan.cutting.memory import B_NOW, P_COST, P_LIST, P_LOAD, P_ROWS, P_UNITS, P_UNITS_AT, TRIALS
from stockplan.cutting.piles import batch_at
from stockplan.cutting.rows import COST, DROPS, HEAD, SIZE, SOURCE, TRIAL

# at the head of a log: how many entries and numbers there ever were, how many there is room for (powers of two), where
# entries, the table of loads and the ring are
EVER, NUMBERS, MOST_ENTRIES, MOST_NUMBERS, ENTRIES_AT, TABLE_AT, RING_AT, LOG_HEAD = range(8)
# of entries: PLACE counts on and on, so that an entry that was written over can be told
PLACE, PRICE, BATCH, KEY, UNITS, ROWS, TAKEN, ENTRY_SIZE = range(8)
# of the table: the load, its cost, and the number of its entry counted from 1
T_KEY, T_COST, T_ENTRY, TABLE_SIZE = range(4)

Worths = NDArray[np.float64]


def new_log(entries: int, numbers: int) -> Numbers:
    """Room for so many entries, and for so many numbers of them; powers of two."""
    places = (LOG_HEAD, LOG_HEAD + entries * ENTRY_SIZE, LOG_HEAD + entries * (ENTRY_SIZE + 2 * TABLE_SIZE))
    log = np.zeros(places[2] + numbers, dtype=np.int64)
    log[MOST_ENTRIES:LOG_HEAD] = entries, numbers, *places
    return log


@compiled
def slot_of(log: Numbers, key: int) -> int:
    """Where the table of loads has a load."""
    return log[TABLE_AT] + ((key ^ (key >> 29)) & (2 * log[MOST_ENTRIES] - 1)) * TABLE_SIZE


@compiled
def new_entry(log: Numbers, key: int, cost: int, size: int) -> int:
    """Where a load that was not seen as cheap before may be noted; -1 when it was, or is too large."""
    slot, ring = slot_of(log, key), log[MOST_NUMBERS]
    seen = log[slot + T_KEY] == key and log[slot + T_ENTRY] > 0
    if (seen and log[slot + T_COST] <= cost) or size > ring // 4:
        return -1
    start = log[NUMBERS]
    if (start & (ring - 1)) + size > ring:
        start = (start | (ring - 1)) + 1
    entry = log[ENTRIES_AT] + (log[EVER] & (log[MOST_ENTRIES] - 1)) * ENTRY_SIZE
    log[EVER] += 1
    log[NUMBERS] = start + size
    log[slot + T_KEY], log[slot + T_COST], log[slot + T_ENTRY] = key, cost, log[EVER]
    log[entry + PLACE], log[entry + PRICE], log[entry + KEY], log[entry + TAKEN] = start, cost, key, 0
    return entry


@compiled
def ring_at(log: Numbers, entry: int) -> int:
    """Where an entry lies in the ring."""
    return log[RING_AT] + (log[entry + PLACE] & (log[MOST_NUMBERS] - 1))


@compiled
def note_row(state: Numbers, row: int, log: Numbers, at: int) -> int:
    """Write a row without its head into the ring; where the next may be."""
    size = state[row + SIZE] - HEAD
    log[at], log[at + 1], log[at + 2] = size, state[row + SOURCE], state[row + DROPS]
    for n in range(size):
        log[at + 3 + n] = state[row + HEAD + n]
    return at + 3 + size


@compiled
def note_load(facts: Numbers, state: Numbers, log: Numbers, batch: int) -> None:
    """Note what a batch serves in a trial; what is bought hardly ever serves the same twice."""
    pile = state[batch_at(state, batch) + B_NOW]
    rows, units, first = state[pile + P_ROWS], state[pile + P_UNITS], state[pile + P_LIST]
    if batch == facts[BOUGHT] or rows == 0:
        return
    size = units
    for n in range(first, first + rows):
        size += 3 + state[state[n] + SIZE] - HEAD
    entry = new_entry(log, state[pile + P_LOAD], state[pile + P_COST], size)
    if entry < 0:
        return
    log[entry + BATCH], log[entry + UNITS], log[entry + ROWS] = batch, units, rows
    at = ring_at(log, entry)
    for n in range(units):
        log[at + n] = state[state[pile + P_UNITS_AT] + n]
    at += units
    for n in range(first, first + rows):
        at = note_row(state, state[n], log, at)


@compiled
def note_bought(state: Numbers, log: Numbers, batch: int) -> None:
    """Note the purchases that a trial cuts anew."""
    pile = state[batch_at(state, batch) + B_NOW]
    for n in range(state[pile + P_LIST], state[pile + P_LIST] + state[pile + P_ROWS]):
        row = state[n]
        if state[row + TRIAL] != state[TRIALS]:
            continue
        key = state[row + SOURCE]
        for m in range(row + HEAD, row + state[row + SIZE]):
            key = (key ^ state[m]) * 0x100000001B3
        entry = new_entry(log, key, state[row + COST], 3 + state[row + SIZE] - HEAD)
        if entry >= 0:
            log[entry + BATCH], log[entry + UNITS], log[entry + ROWS] = batch, 0, 1
            note_row(state, row, log, ring_at(log, entry))


@compiled
def is_gone(log: Numbers, number: int) -> bool:
    """Whether the entry of a number was written over, or beaten by a cheaper one of its load."""
    entry = log[ENTRIES_AT] + number * ENTRY_SIZE
    counted = number + 1 + (log[EVER] - 1 - number) // log[MOST_ENTRIES] * log[MOST_ENTRIES]
    return (
        log[entry + PLACE] < log[NUMBERS] - log[MOST_NUMBERS]
        or log[slot_of(log, log[entry + KEY]) + T_ENTRY] != counted
    )


@compiled
def newer(log: Numbers, since: int) -> Numbers:
    """What was noted since there were so many entries: how much each takes, its facts, and what is in the ring."""
    first = max(since, log[EVER] - log[MOST_ENTRIES])
    told = np.empty(0, dtype=np.int64)
    for write in (False, True):
        end = 0
        for ever in range(first, log[EVER]):
            number = ever & (log[MOST_ENTRIES] - 1)
            if is_gone(log, number):
                continue
            entry, at = log[ENTRIES_AT] + number * ENTRY_SIZE, ring_at(log, log[ENTRIES_AT] + number * ENTRY_SIZE)
            size = log[entry + UNITS]
            for _ in range(log[entry + ROWS]):
                size += 3 + log[at + size]
            if write:
                told[end] = size
                for n in range(PRICE, TAKEN):
                    told[end + n] = log[entry + n]
                for n in range(size):
                    told[end + TAKEN + n] = log[at + n]
            end += TAKEN + size
        if not write:
            told = np.empty(end, dtype=np.int64)
    return told


@compiled
def take_in(log: Numbers, told: Numbers) -> None:
    """Note what another log of the same problem told, where it was not seen as cheap before."""
    end = 0
    while end < len(told):
        size = told[end]
        entry = new_entry(log, told[end + KEY], told[end + PRICE], size)
        if entry >= 0:
            for n in (BATCH, UNITS, ROWS):
                log[entry + n] = told[end + n]
            for n in range(size):
                log[ring_at(log, entry) + n] = told[end + TAKEN + n]
        end += TAKEN + size


@compiled
def losses(log: Numbers, worth: Worths, batch_worth: Worths) -> Worths:
    """By entry: what it costs above what it serves is worth, in pence; infinite where it is gone or was taken.

    `worth` is by place in `facts`, of units and of pieces; an entry that was beaten is as good as gone.
    """
    lost = np.full(log[MOST_ENTRIES], math.inf)
    for number in range(min(log[MOST_ENTRIES], log[EVER])):
        entry = log[ENTRIES_AT] + number * ENTRY_SIZE
        if log[entry + TAKEN] != 0 or is_gone(log, number):
            continue
        served = batch_worth[log[entry + BATCH]]
        at = ring_at(log, entry)
        for n in range(at, at + log[entry + UNITS]):
            served += worth[log[n]]
        at += log[entry + UNITS]
        for _ in range(log[entry + ROWS]):
            served += worth_of_row(log, at, worth)
            at += 3 + log[at]
        lost[number] = log[entry + PRICE] - served
    return lost


@compiled
def worth_of_row(log: Numbers, at: int, worth: Worths) -> float:
    """What the pieces of a row in the ring are worth."""
    total, lane = 0.0, at + 3
    for _ in range(log[at + 2]):
        lanes = log[lane + 1]
        lane += 2
        for _ in range(lanes):
            for n in range(lane + 3, lane + 3 + log[lane + 2]):
                total += worth[log[n]]
            lane += 3 + log[lane + 2]
    return total
