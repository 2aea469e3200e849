"""Which jobs a trial of ruin and recreate takes apart, and in what order. Compiled with `trials.py`."""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.chance import draw, draw_sample, pick
from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import (
    G_LIST,
    G_NUMBER,
    J_AREA,
    J_GROUPS,
    J_GROUPS_END,
    J_NUMBER,
    JOB_SIZE,
    JOBS,
    JOBS_END,
    LENGTH,
    U_BATCH,
    U_PIECES,
    U_PIECES_END,
    WIDTH,
    Numbers,
    whole,
)
from stockplan.cutting.memory import (
    B_MARKED,
    B_NOW,
    FOCUS,
    FOCUS_AT,
    GIVEN,
    NEAR_AT,
    NOW,
    P_LIST,
    P_ROWS,
    PICKED_AT,
    SAMPLE_AT,
    SERVED,
    SHORT,
    TRIALS,
)
from stockplan.cutting.piles import batch_at
from stockplan.cutting.places import holds

SHARING = 0.8  # chance that jobs are sought which share a source with the first, in place of a batch
NEAR_ON_SOURCE, NEAR_IN_BATCH = 0.9, 0.6  # chance that each other job is one of those


@compiled
def is_short(facts: Numbers, state: Numbers, job: int) -> bool:
    """Whether the trial leaves a job short."""
    return state[state[SHORT + NOW] + facts[job + J_NUMBER]] != 0


@compiled
def pick_jobs(facts: Numbers, state: Numbers) -> int:
    """Pick a few jobs, mostly ones that share a source or a batch with the first; how many they are.

    By sources grass that one lays free can be had by the other; what is bought is one batch that serves half of a week.
    Over ten weeks of 30 jobs 200,000 steps ended 0.17 % cheaper than by batches alone, over four of 150 jobs 0.2 %.
    """
    everyone, picked = (facts[JOBS_END] - facts[JOBS]) // JOB_SIZE, state[PICKED_AT]
    first = facts[JOBS] + JOB_SIZE * pick(state, everyone)
    wanted = min(everyone, (1, 2, 3, 3, 4, 5)[int(6 * draw(state))])
    state[picked], found = first, 1
    for job in range(facts[JOBS], facts[JOBS_END], JOB_SIZE):
        if found < wanted and job != first and is_short(facts, state, job):
            state[picked + found] = job
            found += 1
    near, chance = whole(0), NEAR_ON_SOURCE
    if draw(state) < SHARING:
        near = note_on_source(facts, state, first)
    if near == 0:
        near, chance = note_near(facts, state, first), NEAR_IN_BATCH
    while found < wanted:
        if near > 0 and draw(state) < chance:
            other, pool = state[state[NEAR_AT] + pick(state, near)], near
        else:
            other, pool = facts[JOBS] + JOB_SIZE * pick(state, everyone), everyone
        known = False
        for n in range(found):
            known |= state[picked + n] == other
        if not known:
            state[picked + found] = other
            found += 1
        elif pool <= found:
            near = whole(0)
    return found


@compiled
def mark_batches(facts: Numbers, state: Numbers, job: int, mark: int) -> bool:
    """Mark the batches that serve a job, unless the mark is 0; whether one of them is marked in this trial."""
    found = False
    for n in range(facts[job + J_GROUPS], facts[job + J_GROUPS_END]):
        group = facts[n]
        first = state[GIVEN + NOW] + facts[group + G_LIST]
        for m in range(first, first + state[state[SERVED + NOW] + facts[group + G_NUMBER]]):
            batch = batch_at(state, facts[state[m] + U_BATCH])
            if mark > 0:
                state[batch + B_MARKED] = mark
            found |= state[batch + B_MARKED] == state[TRIALS]
    return found


@compiled
def note_near(facts: Numbers, state: Numbers, first: int) -> int:
    """Note the jobs that share a batch with a job; how many they are."""
    mark_batches(facts, state, first, state[TRIALS])
    near = whole(0)
    for job in range(facts[JOBS], facts[JOBS_END], JOB_SIZE):
        if job != first and mark_batches(facts, state, job, whole(0)):
            state[state[NEAR_AT] + near] = job
            near += 1
    return near


@compiled
def note_on_source(facts: Numbers, state: Numbers, first: int) -> int:
    """Note the jobs with a piece on the source that some piece of a job is cut from; how many they are."""
    unit = any_unit(facts, state, first)
    if unit < 0 or facts[unit + U_PIECES] == facts[unit + U_PIECES_END]:
        return 0
    piece = facts[facts[unit + U_PIECES] + pick(state, facts[unit + U_PIECES_END] - facts[unit + U_PIECES])]
    pile = state[batch_at(state, facts[unit + U_BATCH]) + B_NOW]
    at, end = state[pile + P_LIST], state[pile + P_LIST] + state[pile + P_ROWS]
    while at < end and not holds(state, state[at], piece):
        at += 1
    if at == end:
        return 0
    near = whole(0)
    for job in range(facts[JOBS], facts[JOBS_END], JOB_SIZE):
        if job != first and is_on(facts, state, job, facts[unit + U_BATCH], state[at]):
            state[state[NEAR_AT] + near] = job
            near += 1
    return near


@compiled
def any_unit(facts: Numbers, state: Numbers, job: int) -> int:
    """A unit that serves a group of a job, whichever; -1 where that group has none."""
    groups = facts[job + J_GROUPS_END] - facts[job + J_GROUPS]
    if groups == 0:
        return -1
    group = facts[facts[job + J_GROUPS] + pick(state, groups)]
    served = state[state[SERVED + NOW] + facts[group + G_NUMBER]]
    return state[state[GIVEN + NOW] + facts[group + G_LIST] + pick(state, served)] if served > 0 else -1


@compiled
def is_on(facts: Numbers, state: Numbers, job: int, batch: int, row: int) -> bool:
    """Whether a source of a batch holds such a piece as the batch cuts for a job."""
    for n in range(facts[job + J_GROUPS], facts[job + J_GROUPS_END]):
        group = facts[n]
        first = state[GIVEN + NOW] + facts[group + G_LIST]
        for m in range(first, first + state[state[SERVED + NOW] + facts[group + G_NUMBER]]):
            unit = state[m]
            if facts[unit + U_BATCH] == batch:
                for p in range(facts[unit + U_PIECES], facts[unit + U_PIECES_END]):
                    if holds(state, row, facts[p]):
                        return True
    return False


@compiled
def pick_nearby(facts: Numbers, state: Numbers) -> int:
    """Pick a few of the jobs looked at, one of those left short first; how many they are."""
    first, count, near = state[FOCUS_AT], state[FOCUS], state[NEAR_AT]
    short, others = whole(0), whole(0)
    for n in range(count):
        if is_short(facts, state, state[first + n]):
            state[near + short] = state[first + n]
            short += 1
    chosen = state[near + pick(state, short)] if short > 0 else state[first + pick(state, count)]
    state[state[PICKED_AT]] = chosen
    for n in range(count):
        if state[first + n] != chosen:
            state[near + others] = state[first + n]
            others += 1
    more = draw_sample(state, others, (0, 1, 1, 2, 3)[int(5 * draw(state))])
    for n in range(more):
        state[state[PICKED_AT] + 1 + n] = state[near + state[state[SAMPLE_AT] + n]]
    return 1 + more


@compiled
def size_of(facts: Numbers, what: int) -> int:
    """Area of a job or of a piece; jobs lie behind all pieces."""
    return facts[what + J_AREA] if what >= facts[JOBS] else facts[what + WIDTH] * facts[what + LENGTH]


@compiled
def largest_first(facts: Numbers, state: Numbers, first: int, count: int) -> None:
    """Bring so many jobs or pieces from a place on into order of their areas, equal ones as they stand."""
    for n in range(1, count):
        value, at = state[first + n], first + n
        while at > first and size_of(facts, state[at - 1]) < size_of(facts, value):
            state[at] = state[at - 1]
            at -= 1
        state[at] = value
