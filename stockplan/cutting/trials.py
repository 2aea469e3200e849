"""Trials of ruin and recreate: jobs or sources taken apart and put together again a little differently, and annealing.

Compiled with `rows.py`.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

import math

from stockplan.cutting.chance import draw, draw_sample, pick, shuffle
from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.flat import (
    BATCHES,
    BOUGHT,
    G_COUNT,
    G_LIST,
    G_MANY,
    G_NUMBER,
    G_UNITS,
    G_UNITS_END,
    J_GROUPS,
    J_GROUPS_END,
    J_NUMBER,
    J_PENALTY,
    MOST_CHOICES,
    U_BATCH,
    U_SEAM,
    UNIT_SIZE,
    Numbers,
    whole,
)
from stockplan.cutting.loads import note_bought, note_load
from stockplan.cutting.memory import (
    B_NOW,
    BEST_COST,
    BEST_STANDS,
    CHANGED,
    CHANGED_AT,
    COSTS,
    FOCUS,
    GIVEN,
    NOW,
    ORDER_AT,
    P_COST,
    P_LIST,
    P_ROWS,
    PICKED,
    PICKED_AT,
    SAMPLE_AT,
    SERVED,
    SHORT,
    TRIALS,
)
from stockplan.cutting.outcomes import give_up, keep_best, take_up
from stockplan.cutting.picking import is_short, largest_first, pick_jobs, pick_nearby
from stockplan.cutting.piles import (
    ANY,
    SKIP,
    batch_at,
    needed,
    note_unit,
    offer,
    place,
    touched,
)
from stockplan.cutting.rows import DROPS, HEAD, NO_ROOM
from stockplan.cutting.taking_out import drop_row, take_unit

NOISE = 0.02  # most by which a choice is thought dearer than it is
ROLLS_ONLY = 0.25  # chance that no cut length is bought
REPACK, OTHER_ORDER, ANY_ORDER = 0.35, 0.5, 0.3  # chances


@compiled
def remove_job(facts: Numbers, state: Numbers, job: int) -> None:
    """Leave a job to be served anew."""
    if is_short(facts, state, job):
        state[state[SHORT + NOW] + facts[job + J_NUMBER]] = 0
        state[COSTS] -= facts[job + J_PENALTY]
        return
    for n in range(facts[job + J_GROUPS], facts[job + J_GROUPS_END]):
        group = facts[n]
        first = state[GIVEN + NOW] + facts[group + G_LIST]
        served = state[SERVED + NOW] + facts[group + G_NUMBER]
        for m in range(first, first + state[served]):
            state[COSTS] += take_unit(facts, state, state[m]) - facts[state[m] + U_SEAM]
        state[served] = 0


@inlined
def insert_job(facts: Numbers, state: Numbers, job: int) -> None:
    """Serve a job as cheaply as greedy placing can; leave it short when nothing holds it."""
    for n in range(facts[job + J_GROUPS], facts[job + J_GROUPS_END]):
        for _ in range(facts[facts[n] + G_COUNT]):
            if not serve_unit(facts, state, facts[n]):
                remove_job(facts, state, job)
                state[state[SHORT + NOW] + facts[job + J_NUMBER]] = 1
                state[COSTS] += facts[job + J_PENALTY]
                return


@inlined
def serve_unit(facts: Numbers, state: Numbers, group: int) -> bool:
    """Serve a unit of a group from where that seems cheapest; False when nothing holds it."""
    unit = cheapest_unit(facts, state, group)
    if unit < 0:
        return False
    added = serve(facts, state, touched(state, facts[unit + U_BATCH]), unit)
    if added == NO_ROOM:
        return False
    state[COSTS] += added + facts[unit + U_SEAM]
    served = state[SERVED + NOW] + facts[group + G_NUMBER]
    state[state[GIVEN + NOW] + facts[group + G_LIST] + state[served]] = unit
    state[served] += 1
    return True


@inlined
def cheapest_unit(facts: Numbers, state: Numbers, group: int) -> int:
    """The choice for a unit of a group that seems cheapest, give or take; -1 when nothing holds it."""
    first = facts[group + G_UNITS]
    choices = (facts[group + G_UNITS_END] - first) // UNIT_SIZE
    tried = choices
    if facts[group + G_MANY] != 0:
        tried = draw_sample(state, choices, whole(MOST_CHOICES))
    best, unit = math.inf, whole(-1)
    for n in range(tried):
        one = first + UNIT_SIZE * (n if tried == choices else state[state[SAMPLE_AT] + n])
        added = offer(facts, state, one)
        if added < NO_ROOM:
            score = (added + facts[one + U_SEAM]) * (1.0 + NOISE * draw(state))
            if score < best:
                best, unit = score, one
    return unit


@compiled
def serve(facts: Numbers, state: Numbers, pile: int, unit: int) -> int:
    """Serve a unit from a pile, its pieces at cheap places; what that adds, NO_ROOM when there is no room.

    What chance lays may find no room where laying the largest first does.
    """
    order, count, tries, added = state[ORDER_AT], needed(facts, state, unit), 0, NO_ROOM
    if count > 1 and draw(state) < ANY_ORDER:
        shuffle(state, order, count)
    skip, way = SKIP, whole(draw(state) < ROLLS_ONLY)
    while added == NO_ROOM and tries < 2:
        added = place(facts, state, pile, order, count, skip, way)
        skip, way, tries = 0.0, whole(ANY), tries + 1
        if added == NO_ROOM:
            needed(facts, state, unit)
    if added < NO_ROOM:
        note_unit(facts, state, pile, unit)
    return added


@inlined
def try_jobs(facts: Numbers, state: Numbers) -> None:
    """Take some jobs out and serve them anew."""
    picked = state[PICKED_AT]
    state[PICKED] = pick_nearby(facts, state) if state[FOCUS] > 0 else pick_jobs(facts, state)
    for n in range(state[PICKED]):
        remove_job(facts, state, state[picked + n])
    if draw(state) < OTHER_ORDER:
        shuffle(state, picked, state[PICKED])
    else:
        largest_first(facts, state, picked, state[PICKED])
    for n in range(state[PICKED]):
        insert_job(facts, state, state[picked + n])


@compiled
def any_row(facts: Numbers, state: Numbers) -> int:
    """The batch of any source being cut, each as likely as the others; -1 when there is none."""
    rows = whole(0)
    for batch in range(facts[BATCHES]):
        rows += state[state[batch_at(state, batch) + B_NOW] + P_ROWS]
    if rows == 0:
        return -1
    which, batch = pick(state, rows), whole(0)
    while which >= state[state[batch_at(state, batch) + B_NOW] + P_ROWS]:
        which -= state[state[batch_at(state, batch) + B_NOW] + P_ROWS]
        batch += 1
    return batch


@inlined
def try_repacking(facts: Numbers, state: Numbers) -> bool:
    """Empty one to three sources of one batch and place their pieces again there; False when they have no room."""
    batch = any_row(facts, state)
    if batch < 0:
        return False
    pile, order, pieces = touched(state, batch), state[ORDER_AT], whole(0)
    before = state[pile + P_COST]
    for _ in range(min(state[pile + P_ROWS], (1, 2, 2, 3)[int(4 * draw(state))])):
        at = pick(state, state[pile + P_ROWS])
        pieces = note_pieces(state, state[state[pile + P_LIST] + at], order, pieces)
        drop_row(facts, state, pile, at)
    largest_first(facts, state, order, pieces)
    if draw(state) < OTHER_ORDER + ANY_ORDER * (1.0 - OTHER_ORDER):
        shuffle(state, order, pieces)
    if place(facts, state, pile, order, pieces, SKIP, whole(draw(state) < ROLLS_ONLY)) == NO_ROOM:
        return False
    state[COSTS] += state[pile + P_COST] - before
    return True


@compiled
def note_pieces(state: Numbers, row: int, first: int, count: int) -> int:
    """Note the pieces on a row behind others; how many they are then."""
    at = row + HEAD
    for _ in range(state[row + DROPS]):
        lanes = state[at + 1]
        at += 2
        for _ in range(lanes):
            end = at + 3 + state[at + 2]
            for p in range(at + 3, end):
                state[first + count] = state[p]
                count += 1
            at = end
    return count


@compiled
def serve_job(facts: Numbers, state: Numbers, job: int) -> bool:
    """Serve a job left short where greedy placing can; False, and nothing changed, where it cannot."""
    before = state[COSTS]
    state[TRIALS] += 1
    state[state[PICKED_AT]], state[PICKED] = job, 1
    remove_job(facts, state, job)
    insert_job(facts, state, job)
    if is_short(facts, state, job):
        give_up(facts, state, before)
        return False
    take_up(facts, state)
    state[BEST_COST], state[BEST_STANDS] = state[COSTS], 1
    return True


@compiled
def steps(
    facts: Numbers, state: Numbers, loads: Numbers, purchases: Numbers, count: int, hot: float, cooling: float
) -> None:
    """So many trials, each taken up if it is cheaper or chance has it; the temperature falls by a factor each time."""
    for step in range(count):
        before = state[COSTS]
        state[TRIALS] += 1
        state[PICKED] = 0
        made = True
        if draw(state) < REPACK:
            made = try_repacking(facts, state)
        else:
            try_jobs(facts, state)
        for n in range(state[CHANGED] if made else 0):
            note_load(facts, state, loads, state[state[CHANGED_AT] + n])
        threshold = before - hot * cooling**step * math.log(1.0 - draw(state))
        if not made or (state[COSTS] > before and state[COSTS] >= threshold):
            give_up(facts, state, before)
            continue
        if state[BEST_STANDS] != 0 and state[COSTS] > before:
            keep_best(facts, state)
        for n in range(state[CHANGED]):
            if state[state[CHANGED_AT] + n] == facts[BOUGHT]:
                note_bought(state, purchases, facts[BOUGHT])
        take_up(facts, state)
        if state[COSTS] < state[BEST_COST]:
            state[BEST_COST], state[BEST_STANDS] = state[COSTS], 1
