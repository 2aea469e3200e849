"""Cutting a few pieces from one source: the cheapest of the ways by crosscut, rip, crosscut and trim.

A source of W × L is crosscut into drops, a drop ripped into lanes, a lane crosscut into pieces, a piece trimmed to
width; the tail stays on the source. Sought is the least of cutting less the worth of what is left.

Every way to group the pieces is tried, not every millimetre. With all else fixed, the worth of a leftover is convex in
its length between the lengths at which the rule of worth changes (1, 3 and 6 m), and steps only upward. So it is best
to give a length to and fro between two parts of a source until one of them is as short as its pieces allow, or the
other is at such a length. The same holds across, with 0.5 m and full width. Tried here: every drop either as short as
its pieces allow or with something left in it at such a length, and the rest the tail; or one drop that takes what
remains beside no tail or a tail of 1, 3 or 6 m; and so for the lanes of a drop, as the planner makes them.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TypeVar

from stockplan.domain.pieces import Pieces, drop_boxes, fits, subsets, with_first
from stockplan.domain.pieces_cut import Drop, Lane, Remainder, SmallCut
from stockplan.domain.request import CostSettings
from stockplan.domain.worth import (
    FULL_WIDTH_PERCENT,
    LEAST_LENGTH_MM,
    LEAST_WIDTH_MM,
    Leftover,
    UnitCost,
    leftover_worth,
)

LENGTHS_OF_THE_RULE = (LEAST_LENGTH_MM, 3000, 6000)
Shape = TypeVar("Shape")


@lru_cache(maxsize=4096)
def _lengths_of(pieces: Pieces) -> tuple[int, ...]:
    """Lengths at which some lane of a drop that gives these pieces has no end over."""
    return tuple(sorted({sum(n for _, n in taken) for taken, _ in subsets(pieces) if taken}))


@lru_cache(maxsize=4096)
def _stretched(pieces: Pieces) -> tuple[int, ...]:
    """Longer lengths of a drop, at which what lies beside its pieces or behind them is at a length of the rule."""
    ends = (0, *_lengths_of(pieces))
    shortest = min(length for _, length in drop_boxes(pieces))
    return tuple(sorted({end + more for end in ends for more in LENGTHS_OF_THE_RULE if end + more > shortest}))


Cost = tuple[int, tuple[Lane, ...]]


class Cutter:
    """Cuts pieces from sources of one width whose grass cost the same.

    Parameters
    ----------
    width_mm
        Across the pile.
    cost
        What the grass cost.
    widest_mm
        Of the product's widest roll.
    costs
        What cuts cost, and whether leftovers have worth.
    """

    def __init__(self, width_mm: int, cost: UnitCost, widest_mm: int, costs: CostSettings) -> None:
        self.width_mm = width_mm
        self.cost = cost
        self.widest_mm = widest_mm
        self.costs = costs
        full = -(-widest_mm * FULL_WIDTH_PERCENT // 100)
        self.widths_of_the_rule = (0, LEAST_WIDTH_MM, full)
        self._worths: dict[tuple[int, int, bool], int] = {}
        self._lanes: dict[tuple[Pieces, int], dict[int, Cost]] = {}
        self._drops: dict[tuple[Pieces, int], Cost | None] = {}
        self._chains: dict[Pieces, dict[int, tuple[int, tuple[Drop, ...]]]] = {}

    def worth(self, width_mm: int, length_mm: int, on_core: bool = False) -> int:
        """Worth in pence of a leftover.

        Parameters
        ----------
        width_mm, length_mm
            Across and along the pile.
        on_core
            Whether it stays on its roll; default a loose piece.
        """
        key = (width_mm, length_mm, on_core)
        found = self._worths.get(key)
        if found is None:
            found = 0
            if self.costs.leftovers_have_worth and width_mm >= LEAST_WIDTH_MM and length_mm >= LEAST_LENGTH_MM:
                found = leftover_worth(Leftover(width_mm, length_mm, on_core, self.widest_mm), self.cost)
            self._worths[key] = found
        return found

    def cut(self, pieces: Pieces, length_mm: int, on_core: bool) -> SmallCut | None:
        """Find the cheapest way to cut exactly these pieces; None when they do not fit.

        Parameters
        ----------
        pieces
            Largest first, see `in_order`; at least one.
        length_mm
            Of the source.
        on_core
            Whether its tail stays on a core.
        """
        if not fits(pieces, self.width_mm, length_mm):
            return None
        crosscut = self.costs.crosscut_pence
        best: tuple[int, tuple[Drop, ...]] | None = None
        for last, others in subsets(pieces):
            for used, (net, drops) in self._chain(others).items():
                if not last:
                    tail = length_mm - used
                    if tail < 0:
                        continue
                    total = net - self.worth(self.width_mm, tail, on_core) - (crosscut if tail == 0 else 0)
                    if best is None or total < best[0]:
                        best = (total, drops)
                    continue
                for tail in (0, *LENGTHS_OF_THE_RULE):
                    drop_mm = length_mm - used - tail
                    one = self._drop(last, drop_mm) if drop_mm > 0 else None
                    if one is None:
                        continue
                    total = net + one[0] - self.worth(self.width_mm, tail, on_core) + (crosscut if tail else 0)
                    if best is None or total < best[0]:
                        best = (total, (*drops, Drop(drop_mm, one[1])))
        assert best is not None
        return self.told(best[1], length_mm, on_core)

    def _chain(self, pieces: Pieces) -> dict[int, tuple[int, tuple[Drop, ...]]]:
        """Drops that leave some lane no end and give the pieces: total length to least cost, one crosscut a drop."""
        if pieces in self._chains:
            return self._chains[pieces]
        found: dict[int, tuple[int, tuple[Drop, ...]]] = {} if pieces else {0: (0, ())}
        for mine, rest in with_first(pieces) if pieces else ():
            for length, one in self._drops_worth_while(mine):
                for used, (net, drops) in self._chain(rest).items():
                    total = net + one[0] + self.costs.crosscut_pence
                    if length + used not in found or total < found[length + used][0]:
                        found[length + used] = (total, (Drop(length, one[1]), *drops))
        self._chains[pieces] = _useful(found, self.costs.crosscut_pence)
        return self._chains[pieces]

    def _drops_worth_while(self, pieces: Pieces) -> Iterator[tuple[int, Cost]]:
        """Drops that leave some lane no end; and longer ones of which more is kept than of any shorter one."""
        least: int | None = None
        plain = set(_lengths_of(pieces))
        for length in sorted(plain.union(_stretched(pieces) if self.costs.leftovers_have_worth else ())):
            one = self._drop(pieces, length)
            if one is not None and (length in plain or least is None or one[0] < least):
                yield length, one
                least = one[0] if least is None else min(least, one[0])

    def _drop(self, pieces: Pieces, length: int) -> Cost | None:
        """The cheapest lanes of a drop of this length; None when it does not give the pieces."""
        key = (pieces, length)
        if key not in self._drops:
            room = any(w <= self.width_mm and n <= length for w, n in drop_boxes(pieces))
            self._drops[key] = self._cheapest_lanes(pieces, length) if room else None
        return self._drops[key]

    def _cheapest_lanes(self, pieces: Pieces, length: int) -> Cost | None:
        rip = self.costs.rip_pence
        best: Cost | None = None
        for last, others in subsets(pieces):
            if sum(n for _, n in last) > length:
                continue
            for used, (net, lanes) in self._side_by_side(others, length).items():
                if not last:
                    rest = self.width_mm - used
                    if rest < 0:
                        continue
                    total = net - self.worth(rest, length) - (rip if rest == 0 else 0)
                    if best is None or total < best[0]:
                        best = (total, lanes)
                    continue
                for rest in self.widths_of_the_rule:
                    lane_mm = self.width_mm - used - rest
                    if lane_mm < max(w for w, _ in last):
                        continue
                    total = net + self._lane(last, length, lane_mm) - self.worth(rest, length) + (rip if rest else 0)
                    if best is None or total < best[0]:
                        best = (total, (*lanes, Lane(lane_mm, last)))
        return best

    def _side_by_side(self, pieces: Pieces, length: int) -> dict[int, Cost]:
        """Lanes as narrow as they can be that give the pieces: total width to least cost, one rip a lane."""
        key = (pieces, length)
        if key in self._lanes:
            return self._lanes[key]
        found: dict[int, Cost] = {} if pieces else {0: (0, ())}
        for mine, rest in with_first(pieces) if pieces else ():
            if sum(n for _, n in mine) > length:
                continue
            others = self._side_by_side(rest, length)
            for width, cost in self._lanes_worth_while(mine, length):
                one = cost + self.costs.rip_pence
                for used, (net, lanes) in others.items():
                    if width + used > self.width_mm:
                        continue
                    if width + used not in found or net + one < found[width + used][0]:
                        found[width + used] = (net + one, (Lane(width, mine), *lanes))
        self._lanes[key] = _useful(found, self.costs.rip_pence)
        return self._lanes[key]

    def _lanes_worth_while(self, pieces: Pieces, length: int) -> Iterator[tuple[int, int]]:
        """A lane as narrow as it can be, and wider ones of which more is kept than of any narrower one."""
        narrowest = max(width for width, _ in pieces)
        least = self._lane(pieces, length, narrowest)
        yield narrowest, least
        wider = {width + LEAST_WIDTH_MM for width, piece_length in pieces if piece_length >= LEAST_LENGTH_MM}
        if length - sum(piece_length for _, piece_length in pieces) >= LEAST_LENGTH_MM:
            wider.update(self.widths_of_the_rule)
        for width in sorted(wider) if self.costs.leftovers_have_worth else ():
            if narrowest < width <= self.width_mm and (cost := self._lane(pieces, length, width)) < least:
                yield width, cost
                least = cost

    def _lane(self, pieces: Pieces, length: int, width: int) -> int:
        """Crosscuts and trims in a lane less the worth of trimmings and of the lane's end."""
        net = 0
        for piece_width, piece_length in pieces:
            length -= piece_length
            if width > piece_width:
                net += self.costs.rip_pence - self.worth(width - piece_width, piece_length)
        crosscuts = len(pieces) - (length == 0)
        return net + crosscuts * self.costs.crosscut_pence - self.worth(width, length)

    def told(self, drops: tuple[Drop, ...], length: int, on_core: bool) -> SmallCut:
        """Count cuts and leftovers of a cut from its shape alone.

        Parameters
        ----------
        drops
            From the cut end.
        length
            Of the source, mm.
        on_core
            Whether its tail stays on a core.
        """
        crosscuts = rips = 0
        left: list[tuple[int, int, bool]] = []
        for drop in drops:
            length -= drop.length_mm
            crosscuts += length > 0
            rest = self.width_mm
            for lane in drop.lanes:
                rest -= lane.width_mm
                rips += rest > 0
                end = drop.length_mm
                for width, piece_length in lane.pieces:
                    end -= piece_length
                    crosscuts += end > 0
                    rips += lane.width_mm > width
                    left.append((lane.width_mm - width, piece_length, False))
                left.append((lane.width_mm, end, False))
            left.append((rest, drop.length_mm, False))
        left.append((self.width_mm, length, on_core))
        remainders = [Remainder(*one, self.worth(*one)) for one in left if one[0] > 0 and one[1] > 0]
        remainders.sort(key=lambda one: (-one.worth_pence, -one.width_mm * one.length_mm, one.width_mm))
        cutting = crosscuts * self.costs.crosscut_pence + rips * self.costs.rip_pence
        worth_left = sum(one.worth_pence for one in remainders)
        return SmallCut(drops, tuple(remainders), crosscuts, rips, cutting, worth_left)


def _useful(found: dict[int, tuple[int, Shape]], one_cut: int) -> dict[int, tuple[int, Shape]]:
    """Leave out whatever takes no less room and costs more by a cut: what room is saved is worth nothing less."""
    kept: dict[int, tuple[int, Shape]] = {}
    least: int | None = None
    for used in sorted(found):
        net = found[used][0]
        if least is None or net < least + one_cut:
            kept[used] = found[used]
        least = net if least is None else min(least, net)
    return kept
