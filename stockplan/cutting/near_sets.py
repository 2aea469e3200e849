"""Every set of pieces that one source is worth enough with, at prices of a relaxation over sets of pieces.

Tables of all sets there are (`set_tables.py`) are out of reach on most weeks of 30 jobs. But those that a better plan
may use are few: their reduced cost is small. They are listed by going through recursions that let no type lead two
drops (`drops_led.py`, `source_kernels.py`): first the drops, by what they promise with the rest of the source, then
what drops can be put together. On weeks of 30 jobs what they promise at such prices is 10 to 90 pounds too much, where
recursions that repeat pieces without end (`valuing.py`) promise 100 to 700 pounds too much. Where jobs may be laid in
several ways sets with pieces of two layouts of a job are mostly passed over (`leading.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stockplan.cutting.drops_led import Floats, Numbers
from stockplan.cutting.grounds import Ground
from stockplan.cutting.instance import PieceType
from stockplan.cutting.known_sets import Few, Known
from stockplan.cutting.leading import Leading, Stages
from stockplan.cutting.led_kernels import led_sets
from stockplan.cutting.led_listing import COUNTS, MOST_PIECES, MOST_STEPS, OPTIONS, Listing, room_for
from stockplan.cutting.recursions import NEVER
from stockplan.cutting.source_kernels import (
    Options,
    led_tables,
    most_with_drops,
    source_sets,
    stretch_losses,
)

SPARE = 1e-6  # pence, for rounding
PHASES = (0.2, 0.3, 0.4, 0.5, 0.6, 1.0)  # of the length: what short drops are really worth tells what long ones must be


@dataclass(frozen=True)
class Effort:
    """How far to go: sets of drops and of sources, and steps of listing either; the latter take less time."""

    drops: int
    sets: int
    drop_steps: int
    set_steps: int

    def part(self, share: float) -> Effort:
        """So great a share of it."""
        return Effort(*(int(share * most) for most in (self.drops, self.sets, self.drop_steps, self.set_steps)))


@dataclass(frozen=True)
class Near:
    """Sets of pieces.

    Parameters
    ----------
    pieces
        A row a set: places of their types among those of the class, in order; what follows is nothing.
    sizes
        How many pieces each has.
    values
        What a source is worth at most with each, pence.
    """

    pieces: Few
    sizes: Numbers
    values: Floats


class NearSets:
    """One class of stock at given prices; `most` is more than any set is worth, pence.

    Parameters
    ----------
    ground
        The class.
    prices
        Pence by piece type; what has none is worth nothing.
    """

    def __init__(self, ground: Ground, prices: Mapping[PieceType, float]) -> None:
        self.ground = ground
        # What is worth nothing is cut too: a unit that is worth serving may need it.
        price = np.array([max(0.0, prices.get(t, 0.0)) for t in ground.types])
        gains = ground.pricer.lanes.trim + (price - ground.cuts[1])
        gains[gains < NEVER / 2] = NEVER
        density = [p / (t.width_mm * t.length_mm) for p, t in zip(price, ground.types, strict=True)]
        self._leading = Leading(ground, gains, density)
        whole = dict.fromkeys(self._leading.leaders, (0, len(ground.reach)))
        leaders = self._leading.leaders
        self._place = np.full(len(ground.types) + 1, len(leaders), dtype=np.int64)
        self._place[leaders] = np.arange(len(leaders))
        self._drops = np.full((len(leaders), len(ground.reach)), NEVER)
        for leader, drop in self._leading.backwards(whole):
            self._drops[self._place[leader]] = drop.best
        self._values_of_all = self._values(self._drops)
        self.most = float(self._values_of_all[-1])

    def most_of(self, points: int) -> float:
        """More than any set is worth of a source of the same width that is no longer, pence.

        Parameters
        ----------
        points
            Its length.
        """
        return float(self._values_of_all[self.ground.steps[points]])

    def _values(self, drops: Floats) -> Floats:
        """By length: what a source is worth at most whose drops led by each type are worth at most so much."""
        return most_with_drops(self.ground.tails, drops, self.ground.least_losses, self._leading.counts)

    def worth(self, least: float, effort: Effort) -> Near | None:
        """Every set worth so much or more; None where it would take more than the effort.

        Parameters
        ----------
        least
            Pence.
        effort
            How far to go.
        """
        if self.most < least:
            return Near(np.zeros((0, MOST_PIECES), dtype=np.int16), np.zeros(0, dtype=np.int64), np.zeros(0))
        listing = self._list_drops(least - SPARE, effort)
        if listing is None:
            return None
        drops = listing.pieces, listing.sizes, listing.table
        options = self._options(listing, drops, least - SPARE)
        found, values = _room_for(effort.sets), np.empty(effort.sets)
        source = self.ground.tail, self.ground.steps, self.ground.most, self.ground.apart
        count = source_sets(tuple(options), drops, source, least - SPARE, found, values, effort.set_steps)
        return None if count < 0 else Near(found[0][:count], found[1][:count], values[:count])

    def _list_drops(self, least: float, effort: Effort) -> Listing | None:
        """Sets of drops, and the lengths at which one may be best; None where there are too many."""
        ground = self.ground
        room = np.empty((2 * effort.drops, 2), dtype=np.int64), np.empty(2 * effort.drops)
        listing = Listing(*_room_for(effort.drops), *room, np.zeros(COUNTS, dtype=np.int64))
        listing.counts[MOST_STEPS] = effort.drop_steps
        work = tuple(room_for(effort.drops, len(ground.types), int(ground.reach[0]) + 1))
        stages = Stages(np.empty((len(ground.empties), len(self._leading.beside), len(ground.reach))), {})
        values, begin = self._values_of_all, 0
        drops = self._drops.copy()
        for share in PHASES:
            end, before = int(share * (len(ground.reach) - 1)) + 1, int(listing.counts[OPTIONS])
            enough = np.full(ground.points + 1, np.inf)
            enough[1:] = least - values[ground.steps[ground.points - 1 :: -1]]
            least_enough = np.minimum.reduceat(enough, ground.first)
            drops[drops < least_enough] = NEVER  # no source worth so much has such a drop
            wanted = self._lengths_in_use(drops, begin, end)
            for leader, drop in self._leading.backwards(wanted, stages):
                limits, led = (enough, least_enough, ground.losses), (leader, self._leading.first_beside(leader))
                if not led_sets(tuple(drop), led, wanted[leader], limits, work, tuple(listing)):
                    return None
            # What was not listed is in none either.
            fresh = slice(before, int(listing.counts[OPTIONS]))
            places = self._place_of_leader((listing.pieces, listing.sizes), listing.options[fresh, 0])
            drops[:, begin:end] = NEVER
            np.maximum.at(drops, (places, ground.steps[listing.options[fresh, 1]]), listing.worths[fresh])
            begin, values = end, self._values(drops)
        return listing

    def _options(self, listing: Listing, drops: Known, least: float) -> Options:
        """What was listed, sorted, without what the rest of the source does not make enough."""
        ground, count = self.ground, int(listing.counts[OPTIONS])
        which, lengths = (np.ascontiguousarray(column) for column in listing.options[:count].T)
        places, worths = self._place_of_leader(drops, which), listing.worths[:count]
        tables = self._sorted(places, which, lengths, worths).tables
        kept = worths + tables[0][ground.steps[ground.points - lengths]] >= least
        return self._sorted(places[kept], which[kept], lengths[kept], worths[kept])

    def _sorted(self, places: Numbers, which: Numbers, lengths: Numbers, worths: Floats) -> Options:
        """Options, the places of their leaders given, by leader, stretch and worth, with recursions F and G."""
        leaders, ground = len(self._leading.leaders), self.ground
        copies = ground.most[np.array(self._leading.leaders, dtype=np.int64)]
        order = np.lexsort((-worths, lengths, places))
        places, lengths, worths = places[order], lengths[order], worths[order]
        fresh = np.ones(len(order), dtype=np.bool_)
        fresh[1:] = (np.diff(places) != 0) | (np.diff(lengths) != 0)
        begins = np.flatnonzero(fresh)
        ends, best, stretches = np.append(begins[1:], len(order)), worths[begins], ground.steps[lengths[begins]]
        starts = np.searchsorted(places[begins], np.arange(leaders + 1))
        tables, led = np.empty((leaders + 1, len(ground.reach))), np.full((leaders, len(ground.reach)), NEVER)
        losses = np.empty(len(begins))
        tables[-1] = ground.tails
        led_tables(tables, led, starts, stretches, best, self._leading.counts)
        stretch_losses(tables, starts, stretches, best, copies, losses)
        again = np.lexsort((losses, places[begins]))
        begins, ends, losses = begins[again], ends[again], losses[again]
        return Options(
            tables, led, starts, copies, np.append(begins, 0), ends, lengths[begins], losses, which[order], worths
        )

    def _place_of_leader(self, drops: tuple[Few, Numbers] | Known, sets: Numbers) -> Numbers:
        """By set number: the place of its leader among the leaders."""
        pieces, sizes = drops[0][sets], drops[1][sets]
        held = np.where(np.arange(MOST_PIECES) < sizes[:, None], pieces, len(self._place) - 1)
        return np.asarray(self._place[held].min(axis=1), dtype=np.int64)

    def _lengths_in_use(self, drops: Floats, begin: int, end: int) -> dict[int, tuple[int, int]]:
        """By leader the first length from one up to another that a drop may have, and the one behind the last."""
        used = drops[:, begin:end] > NEVER / 2
        places = np.flatnonzero(np.logical_or.reduce(used, axis=1)).tolist()
        if not places:
            return {}
        firsts, lasts = begin + used.argmax(axis=1), end - used[:, ::-1].argmax(axis=1)
        return {self._leading.leaders[place]: (int(firsts[place]), int(lasts[place])) for place in places}


def _room_for(sets: int) -> Known:
    """Room for so many sets of pieces."""
    table = np.full(1 << (2 * sets).bit_length(), -1, dtype=np.int64)
    return np.zeros((sets, MOST_PIECES), dtype=np.int16), np.zeros(sets, dtype=np.int64), table
