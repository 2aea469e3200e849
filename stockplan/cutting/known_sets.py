"""Sets of pieces met so far, each with a number of its own, compiled."""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled

Numbers = NDArray[np.int64]
Few = NDArray[np.int16]
Known = tuple[Few, Numbers, Numbers]  # pieces of each set in order, how many, and a table of places by hash

TOO_MANY = -1


@compiled
def is_apart(held: Numbers, count: int, piece: int, apart: NDArray[np.bool_]) -> bool:
    """Whether a piece may not be beside one of those held, by type and type; where no two are so, `apart` is empty."""
    if apart.size:
        for n in range(count):
            if apart[held[n], piece]:
                return True
    return False


@compiled
def place_of(key: Numbers, count: int, known: Known) -> int:
    """Where a set stands in the table of places, or where it would."""
    pieces, sizes, table = known
    code = 0
    for i in range(count):
        code = (code + key[i] + 1) * 0x1E3779B97F4A7C15
        code ^= (code >> 29) & 0x7FFFFFFFF
    at = (code >> 20) & (table.size - 1)
    while table[at] >= 0:
        number = table[at]
        same = sizes[number] == count
        for i in range(count):
            same = same and pieces[number, i] == key[i]
        if same:
            return at
        at = (at + 1) & (table.size - 1)
    return at


@compiled
def number_of(held: Numbers, count: int, key: Numbers, known: Known, sets: int) -> int:
    """The number of a set of pieces, the next one where it is new; `TOO_MANY` where there is no room for more.

    Parameters
    ----------
    held, count
        Its pieces, in any order.
    key
        Room to put them in order.
    known, sets
        The sets known, and how many there are.
    """
    pieces, sizes, table = known
    for n in range(count):
        i = n
        while i > 0 and key[i - 1] > held[n]:
            key[i] = key[i - 1]
            i -= 1
        key[i] = held[n]
    at = place_of(key, count, known)
    if table[at] < 0:
        if sets == sizes.size:
            return TOO_MANY
        table[at], sizes[sets] = sets, count
        for i in range(count):
            pieces[sets, i] = key[i]
    return table[at]
