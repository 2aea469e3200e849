"""What becomes of a trial of ruin and recreate: it stands, or what stood before does; and the best answer is kept.

Compiled with `trials.py`.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import (
    BATCHES,
    G_LIST,
    G_NUMBER,
    J_GROUPS,
    J_GROUPS_END,
    J_NUMBER,
    Numbers,
    whole,
)
from stockplan.cutting.memory import (
    B_NOW,
    B_STANDS,
    BATCH_SIZE,
    BATCHES_AT,
    BEST,
    BEST_AT,
    BEST_ROWS,
    BEST_STANDS,
    CHANGED,
    CHANGED_AT,
    COSTS,
    GIVEN,
    NOW,
    P_LIST,
    P_ROWS,
    PICKED,
    PICKED_AT,
    ROW_ROOM,
    SERVED,
    SHORT,
    STANDS,
    TRIALS,
)
from stockplan.cutting.piles import (
    batch_at,
    give_back,
)
from stockplan.cutting.rows import SIZE, TRIAL


@compiled
def take_up(facts: Numbers, state: Numbers) -> None:
    """Let what the trial made stand."""
    for n in range(state[CHANGED]):
        batch = batch_at(state, state[state[CHANGED_AT] + n])
        pile, stood = state[batch + B_NOW], state[batch + B_STANDS]
        # Rows that both have stay; the mark tells them from those that only what stood before has.
        for m in range(state[pile + P_LIST], state[pile + P_LIST] + state[pile + P_ROWS]):
            state[state[m] + TRIAL] = state[TRIALS]
        for m in range(state[stood + P_LIST], state[stood + P_LIST] + state[stood + P_ROWS]):
            if state[state[m] + TRIAL] != state[TRIALS]:
                give_back(state, state[m])
        state[batch + B_STANDS] = pile
    state[CHANGED] = 0
    copy_served(facts, state, whole(NOW), whole(STANDS))


@compiled
def give_up(facts: Numbers, state: Numbers, cost: int) -> None:
    """Go back to what stands, and its cost."""
    for n in range(state[CHANGED]):
        batch = batch_at(state, state[state[CHANGED_AT] + n])
        pile = state[batch + B_NOW]
        for m in range(state[pile + P_LIST], state[pile + P_LIST] + state[pile + P_ROWS]):
            if state[state[m] + TRIAL] == state[TRIALS]:
                give_back(state, state[m])
        state[batch + B_NOW] = state[batch + B_STANDS]
    state[CHANGED], state[COSTS] = 0, cost
    copy_served(facts, state, whole(STANDS), whole(NOW))


@compiled
def copy_served(facts: Numbers, state: Numbers, source: int, target: int) -> None:
    """Copy what serves the jobs of the trial from one place to another."""
    for n in range(state[PICKED]):
        job = state[state[PICKED_AT] + n]
        short = facts[job + J_NUMBER]
        state[state[SHORT + target] + short] = state[state[SHORT + source] + short]
        for g in range(facts[job + J_GROUPS], facts[job + J_GROUPS_END]):
            number, first = facts[facts[g] + G_NUMBER], facts[facts[g] + G_LIST]
            served = state[state[SERVED + source] + number]
            state[state[SERVED + target] + number] = served
            for m in range(first, first + served):
                state[state[GIVEN + target] + m] = state[state[GIVEN + source] + m]


@compiled
def keep_best(facts: Numbers, state: Numbers) -> None:
    """Note what stands as the best answer."""
    state[BEST_ROWS], state[BEST_STANDS] = 0, 0
    for batch in range(state[BATCHES_AT], state[BATCHES_AT] + facts[BATCHES] * BATCH_SIZE, BATCH_SIZE):
        pile = state[batch + B_STANDS]
        for n in range(state[pile + P_LIST], state[pile + P_LIST] + state[pile + P_ROWS]):
            copy = state[BEST_AT] + state[BEST_ROWS] * state[ROW_ROOM]
            for m in range(state[state[n] + SIZE]):
                state[copy + m] = state[state[n] + m]
            state[BEST_ROWS] += 1
    for head in (GIVEN, SERVED, SHORT):
        for n in range(state[head + STANDS] - state[head + NOW]):
            state[state[head + BEST] + n] = state[state[head + STANDS] + n]
