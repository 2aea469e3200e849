"""A load of one batch ruined and recreated at given prices.

A unit or two are dropped, then units are taken on as long as one is worth more than the cheapest place for it costs;
simulated annealing decides what is kept. Compiled with `rows.py`.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.chance import draw, draw_sample, pick
from stockplan.cutting.compiled import compiled, inlined
from stockplan.cutting.flat import G_COUNT, U_BATCH, U_GROUP, Numbers, whole
from stockplan.cutting.loads import note_load
from stockplan.cutting.memory import P_COST, P_UNITS, P_UNITS_AT, PICKED, SAMPLE_AT, TRIALS
from stockplan.cutting.outcomes import give_up, take_up
from stockplan.cutting.piles import offer, touched
from stockplan.cutting.rows import NO_ROOM
from stockplan.cutting.taking_out import take_unit
from stockplan.cutting.trials import serve

TRIED = 8  # units tried for a place
MOST_TAKEN_ON = 3
NOISE = 0.05

Worths = NDArray[np.float64]


@inlined
def best_unit(facts: Numbers, state: Numbers, pile: int, servable: Numbers, worth: Worths) -> int:
    """Of some units not served, the one worth most above its cheapest place, give or take; -1 where none is."""
    best, unit = 0.0, whole(-1)
    for n in range(draw_sample(state, len(servable), whole(TRIED))):
        one = servable[state[state[SAMPLE_AT] + n]]
        left = facts[facts[one + U_GROUP] + G_COUNT]
        for m in range(state[pile + P_UNITS_AT], state[pile + P_UNITS_AT] + state[pile + P_UNITS]):
            left -= facts[state[m] + U_GROUP] == facts[one + U_GROUP]
        if left <= 0:
            continue
        added = offer(facts, state, one)
        if added < NO_ROOM:
            gained = worth[one] - added + NOISE * worth[one] * (draw(state) - 0.5)
            if gained > best:
                best, unit = gained, one
    return unit


@compiled
def served_worth(state: Numbers, pile: int, worth: Worths) -> float:
    """What the units that a pile serves are worth."""
    total = 0.0
    for n in range(state[pile + P_UNITS_AT], state[pile + P_UNITS_AT] + state[pile + P_UNITS]):
        total += worth[state[n]]
    return total


@compiled
def walk(
    facts: Numbers,
    state: Numbers,
    loads: Numbers,
    servable: Numbers,
    worth: Worths,
    moves: int,
    heat: Worths,
) -> None:
    """So many moves from what the batch of some units serves, at a temperature that falls by a factor each time."""
    batch = facts[servable[0] + U_BATCH]
    state[PICKED] = 0
    for move in range(moves):
        state[TRIALS] += 1
        pile = touched(state, batch)
        before = state[pile + P_COST] - served_worth(state, pile, worth)
        for _ in range(min(state[pile + P_UNITS], (0, 1, 1, 2)[int(4 * draw(state))])):
            take_unit(facts, state, state[state[pile + P_UNITS_AT] + pick(state, state[pile + P_UNITS])])
        for _ in range(MOST_TAKEN_ON):
            unit = best_unit(facts, state, pile, servable, worth)
            if unit < 0 or serve(facts, state, touched(state, batch), unit) == NO_ROOM:
                break
        note_load(facts, state, loads, batch)
        after = state[pile + P_COST] - served_worth(state, pile, worth)
        if after < before - heat[0] * heat[1] ** move * math.log(1.0 - draw(state)):
            take_up(facts, state)
        else:
            give_up(facts, state, whole(0))
