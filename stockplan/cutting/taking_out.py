"""Pieces, units and whole sources taken out of a batch of an answer under way. Compiled with `piles.py`."""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.chance import draw
from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import (
    CLASS,
    U_BATCH,
    U_HASH,
    U_PIECES,
    U_PIECES_END,
    Numbers,
    whole,
)
from stockplan.cutting.memory import (
    P_COST,
    P_LIST,
    P_LOAD,
    P_ROWS,
    P_UNITS,
    P_UNITS_AT,
    P_WHOLE,
    TRIALS,
)
from stockplan.cutting.piles import copied, give_back, renewed, touched
from stockplan.cutting.places import holds, take_out
from stockplan.cutting.rows import COST, DROPS, SOURCE, TRIAL


@compiled
def drop_row(facts: Numbers, state: Numbers, pile: int, at: int) -> None:
    """Take a row off a pile; stock is whole again."""
    first = state[pile + P_LIST]
    row = state[first + at]
    kind = facts[state[row + SOURCE] + CLASS]
    if kind >= 0:
        state[state[pile + P_WHOLE] + kind] += 1
    state[pile + P_ROWS] -= 1
    for n in range(first + at, first + state[pile + P_ROWS]):
        state[n] = state[n + 1]
    state[pile + P_COST] -= state[row + COST]
    if state[row + TRIAL] == state[TRIALS]:
        give_back(state, row)


@compiled
def take_piece(facts: Numbers, state: Numbers, pile: int, piece: int) -> None:
    """Take a piece off any row of a pile that holds it."""
    at, found, first = whole(-1), 0, state[pile + P_LIST]
    for n in range(state[pile + P_ROWS]):
        if holds(state, state[first + n], piece):
            found += 1
            if found == 1 or draw(state) * found < 1.0:
                at = n
    row = state[first + at]
    if state[row + TRIAL] != state[TRIALS]:
        row = copied(state, row)
        state[first + at] = row
    state[pile + P_COST] -= state[row + COST]
    take_out(facts, state, row, piece)
    renewed(state, row)
    state[pile + P_COST] += state[row + COST]
    if state[row + DROPS] == 0:
        drop_row(facts, state, pile, at)


@compiled
def take_unit(facts: Numbers, state: Numbers, unit: int) -> int:
    """Take a unit out of its batch; what that adds to net cost."""
    pile = touched(state, facts[unit + U_BATCH])
    before = state[pile + P_COST]
    for n in range(facts[unit + U_PIECES], facts[unit + U_PIECES_END]):
        take_piece(facts, state, pile, facts[n])
    state[pile + P_UNITS] -= 1
    last = state[pile + P_UNITS_AT] + state[pile + P_UNITS]
    for n in range(state[pile + P_UNITS_AT], last):
        if state[n] == unit:
            state[n] = state[last]
            break
    state[pile + P_LOAD] -= facts[unit + U_HASH]
    return state[pile + P_COST] - before
