"""Where an answer under way lies in one array of whole numbers, and room for working on it.

As in `flat.py`, whatever has several properties is named by the place of the first: `state[pile + P_COST]`.
"""

from __future__ import annotations

import numpy as np

from stockplan.cutting.flat import BOUGHT, Flat, Numbers
from stockplan.cutting.rows import HEAD, PER_PIECE

# at the head of `state`: what is counted, then where lists are and how long they may be
CHANCE, COSTS, BEST_COST, TRIALS, PLACINGS, VERSIONS, FREE, UNDO, BEST_ROWS, BEST_STANDS, CHANGED, PICKED = range(12)
ROW_ROOM, GAINS, FREE_AT, UNDO_AT, CHANGED_AT, ORDER_AT, PICKED_AT, NEAR_AT, SAMPLE_AT, BATCHES_AT = range(12, 22)
FOCUS_AT, FOCUS, BEST_AT, GIVEN, SERVED, SHORT, STATE_HEAD = (*range(22, 26), 28, 31, 34)
NOW, STANDS, BEST = range(3)  # places of GIVEN, SERVED and SHORT: as a trial has it, as it stands, in the best answer
# of batches: the pile in use, the one that stands, and the trial that marked it
B_NOW, B_STANDS, B_MARKED, BATCH_SIZE = range(4)
# of piles: how many rows, their cost, what it serves as one number, how many units that is, what tells it from what it
# was before; where these are; the other pile of the batch
P_ROWS, P_COST, P_LOAD, P_UNITS, P_VERSION, P_CLASSES, P_LIST, P_WHOLE, P_UNITS_AT, P_OFFERS, P_OTHER = range(11)
PILE_SIZE = 11

MOST_ON_A_SOURCE = 250  # pieces; only an answer to begin from may hold more
MOST_GAINS = 512  # remembered of one row; a power of two


class Memory:
    """Room for answers to a problem.

    Parameters
    ----------
    flat
        The problem.
    pieces
        How many pieces there can be.
    on_a_source
        How many pieces there can be on one source.
    """

    def __init__(self, flat: Flat, pieces: int, on_a_source: int) -> None:
        self._end = STATE_HEAD
        self._heads: dict[int, int] = {}
        instance = flat.instance
        jobs, groups, batches = len(instance.jobs), len(instance.groups), len(instance.batches)
        choices = max([1, *(len(group.demands) for group in instance.groups)])
        room = HEAD + PER_PIECE * on_a_source
        most = max([1, *map(len, flat.types_in)])
        gains = min(MOST_GAINS, 1 << (most - 1).bit_length())
        self._note(ROW_ROOM, room)
        self._note(GAINS, gains)
        # One row may lie on a row that stands, one on a row of the trial, and one on a row that a placing replaced.
        rows = 3 * pieces + 1
        for head, count in (
            (FREE_AT, rows),
            (UNDO_AT, 2 * pieces + 2),
            (CHANGED_AT, batches),
            (ORDER_AT, pieces + 1),
            (PICKED_AT, jobs + 1),
            (NEAR_AT, jobs),
            (SAMPLE_AT, max([choices, jobs, *flat.servable])),
            (FOCUS_AT, jobs),
            (BATCHES_AT, batches * BATCH_SIZE),
            (BEST_AT, pieces * room),
        ):
            self._note(head, self._reserve(count))
        for head, count in ((GIVEN, flat.most_units), (SERVED, groups), (SHORT, jobs)):
            for place in (NOW, STANDS, BEST):
                self._note(head + place, self._reserve(count))
        piles = [(batch, *self._pile(flat, batch, pieces)) for batch in range(batches) for _ in range(2)]
        self.rows_at = self._reserve(rows * (room + 2 * gains))
        self.state: Numbers = np.zeros(self._end, dtype=np.int64)
        for head, value in self._heads.items():
            self.state[head] = value
        self.rows = self.rows_at + np.arange(rows) * (room + 2 * gains)
        for number, (batch, place, *heads) in enumerate(piles):
            self.state[place + P_CLASSES : place + P_OTHER] = heads
            self.state[place + P_OTHER] = piles[number ^ 1][1]
            self.state[self._heads[BATCHES_AT] + batch * BATCH_SIZE + B_STANDS] = place

    def _note(self, head: int, value: int) -> None:
        self._heads[head] = value

    def _reserve(self, count: int) -> int:
        place = self._end
        self._end += count
        return place

    def _pile(self, flat: Flat, batch: int, pieces: int) -> tuple[int, ...]:
        """Room for a pile: where it is, how many classes of stock it has, and where its lists are."""
        place, classes = self._reserve(PILE_SIZE), flat.classes_in[batch]
        rows = pieces if flat.facts[BOUGHT] == batch else min(pieces, flat.copies_in[batch])
        sizes = (rows + 1, classes, flat.units_in[batch] + 1, 2 * flat.servable[batch])
        return (place, classes, *(self._reserve(size) for size in sizes))


def most_on_a_source(flat: Flat, pieces: int) -> int:
    """How many pieces a source of some batch may hold, by their areas."""
    most = 1
    smallest: dict[int, int] = {}
    for piece in flat.types:
        area = piece.width_mm * piece.length_mm
        smallest[piece.batch] = min(area, smallest.get(piece.batch, area))
    for source in flat.instance.sources:
        if source.batch in smallest:
            most = max(most, source.width_mm * source.length_mm // smallest[source.batch])
    return min(most, pieces, MOST_ON_A_SOURCE) + 1
