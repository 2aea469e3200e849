"""Drop sets: every set of narrow pieces that one drop can hold, with the few drop lengths that can be best for it.

Worth of a leftover bends upward between the sizes at which its rule changes, across and along alike. So a drop's best
length, and the best widths of its lanes, lie where some leftover is just at such a size, all but one of them; the one
that is not takes what remains. That leaves a handful of lengths and widths to try, exact to the millimetre without any
grid. `bends_upward` says whether the rule has that shape for a product; where it has not, these sets are not used.

The one that takes what remains is mostly the source's tail. Where the tail itself is at a size of the rule, none left
above all, one drop is longer than any such length. Here are lanes and the widths of those of one drop; the sets are
gone through in `drop_tables.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_LENGTH_MM, LEAST_WIDTH_MM

LENGTHS_OF_THE_RULE = (LEAST_LENGTH_MM, 3000, 6000)  # along, where the rule of worth changes; see domain.worth
WIDEST_UPWARD_MM = 5000  # up to this width the narrow share stays below the full-width one


def bends_upward(instance: Instance) -> bool:
    """Whether worth bends upward between the sizes of its rule for every source of the product.

    Beyond 5 m the rule caps what is narrow at what is full width, which bends it downward.
    """
    return max((s.width_mm for s in instance.sources), default=0) <= WIDEST_UPWARD_MM


@dataclass(frozen=True, slots=True)
class Lanes:
    """One way to lay pieces in lanes: each lane's narrowest width, the length used, and its pieces."""

    widths: tuple[int, ...]
    used: tuple[int, ...]
    pieces: tuple[tuple[PieceType, ...], ...]


class Shelf:
    """What drops of one width and unit cost cost, whatever source they are cut from.

    Parameters
    ----------
    instance
        The problem.
    source
        Any source of that width, batch and unit cost.
    """

    def __init__(self, instance: Instance, source: Source) -> None:
        self.instance, self.source = instance, source
        self.width = source.width_mm
        self.crosscut, self.rip = instance.costs.crosscut_pence, instance.costs.rip_pence
        self.full_from = -(-instance.widest_mm * FULL_WIDTH_PERCENT // 100)
        self._worth: dict[tuple[int, int], int] = {}

    def worth(self, width_mm: int, length_mm: int) -> int:
        """Worth of a loose leftover, remembered."""
        if width_mm < LEAST_WIDTH_MM or length_mm < LEAST_LENGTH_MM:
            return 0
        key = (width_mm, length_mm)
        if key not in self._worth:
            self._worth[key] = self.instance.worth(self.source, width_mm, length_mm, tail=False)
        return self._worth[key]

    def tail(self, length_mm: int) -> int:
        """Worth of a tail; of none, the crosscut that it saves."""
        if length_mm == 0:
            return self.crosscut
        return self.instance.worth(self.source, self.width, length_mm, tail=True)

    def best(self, lanes: Lanes, length: int) -> tuple[int, tuple[int, ...]]:
        """Least cost of a drop of this length with these lanes, and how wide each lane is then.

        Lanes may be wider than their pieces. All but one of them, and what stays beside, are then at a size of the rule
        of worth; the one left takes what remains of the width.
        """
        slack = self.width - sum(lanes.widths)
        narrowest = self._cost(lanes, length, lanes.widths)
        if slack == 0 or not self.instance.costs.leftovers_have_worth:
            return narrowest, lanes.widths
        steps = [self._steps(lanes, i, length, slack) for i in range(len(lanes.widths))]
        open_lanes = [
            i
            for i, used in enumerate(lanes.used)
            if length - used >= LEAST_LENGTH_MM
            or any(
                p.length_mm >= LEAST_LENGTH_MM and lanes.widths[i] + slack - p.width_mm >= LEAST_WIDTH_MM
                for p in lanes.pieces[i]
            )
        ]
        best = narrowest, lanes.widths
        for taker in (*open_lanes, None):
            for wider in _frontier(steps, taker, slack):
                for kept in (0, LEAST_WIDTH_MM, self.full_from) if taker is not None else (0,):
                    rest = slack - kept - sum(wider)
                    if rest < 0 or (taker is None and not any(wider)):
                        continue
                    widths = list(map(int.__add__, lanes.widths, wider))
                    if taker is not None:
                        widths[taker] += rest
                    best = min(best, (self._cost(lanes, length, tuple(widths)), tuple(widths)))
        return best

    def _steps(self, lanes: Lanes, i: int, length: int, slack: int) -> list[tuple[int, int]]:
        """How much wider a lane may be made for something in it to be just worth keeping, and what that brings."""
        width, rest = lanes.widths[i], length - lanes.used[i]
        kept = (LEAST_WIDTH_MM, self.full_from)
        steps = {p.width_mm + k - width for p in lanes.pieces[i] if p.length_mm >= LEAST_LENGTH_MM for k in kept}
        if rest >= LEAST_LENGTH_MM:
            steps.update(k - width for k in kept)
        before = self._in_lane(lanes, i, length, width)
        gains = [(x, before - self._in_lane(lanes, i, length, width + x)) for x in sorted(steps) if 0 < x <= slack]
        return [(x, gain) for x, gain in gains if gain > 0]

    def _in_lane(self, lanes: Lanes, i: int, length: int, width: int) -> int:
        """Cost of what happens inside a lane: its pieces' cuts less worth of what it leaves."""
        cost, used = self.crosscut * len(lanes.pieces[i]), lanes.used[i]
        cost -= self.crosscut if used == length else self.worth(width, length - used)
        for piece in lanes.pieces[i]:
            if piece.width_mm < width:
                cost += self.rip - self.worth(width - piece.width_mm, piece.length_mm)
        return cost

    def _cost(self, lanes: Lanes, length: int, widths: tuple[int, ...]) -> int:
        beside = self.width - sum(widths)
        inside = sum(self._in_lane(lanes, i, length, width) for i, width in enumerate(widths))
        outside = self.rip if beside == 0 else self.worth(beside, length)
        return self.crosscut + self.rip * len(widths) + inside - outside


def _frontier(steps: list[list[tuple[int, int]]], taker: int | None, slack: int) -> list[tuple[int, ...]]:
    """How much wider each lane is made, the taker left as it is: more width only where it brings more."""
    ways: list[tuple[int, int, tuple[int, ...]]] = [(0, 0, ())]
    for i, lane in enumerate(steps):
        choices = [(0, 0), *lane] if i != taker else [(0, 0)]
        longer = sorted((u + x, -(g + gain), (*w, x)) for u, g, w in ways for x, gain in choices if u + x <= slack)
        ways = []
        for used, loss, wider in longer:
            if not ways or -loss > ways[-1][1]:
                ways.append((used, -loss, wider))
    return [wider for _, _, wider in ways]


class TooManyWays(Exception):
    """There are more ways than may be gone through, or the time is over."""


@dataclass(frozen=True, slots=True)
class Lane:
    """A set of pieces that fits in one lane: how many of each type, the narrowest it can be, the length used."""

    counts: tuple[int, ...]
    width: int
    used: int
    pieces: tuple[PieceType, ...]


def every_lane(
    types: Sequence[PieceType], most: Sequence[int], longest_mm: int, widest_mm: int, limit: int
) -> list[Lane]:
    """Every set of pieces that one lane can hold, the widest first."""
    lanes: list[Lane] = []
    stack: list[tuple[int, Lane]] = [(0, Lane((0,) * len(types), 0, 0, ()))]
    while stack:
        start, lane = stack.pop()
        for k in range(start, len(types)):
            piece = types[k]
            if lane.counts[k] == most[k] or lane.used + piece.length_mm > longest_mm or piece.width_mm > widest_mm:
                continue
            counts = (*lane.counts[:k], lane.counts[k] + 1, *lane.counts[k + 1 :])
            longer = Lane(counts, max(lane.width, piece.width_mm), lane.used + piece.length_mm, (*lane.pieces, piece))
            lanes.append(longer)
            if len(lanes) > limit:
                raise TooManyWays
            stack.append((k, longer))
    return sorted(lanes, key=lambda lane: (-lane.width, -lane.used, lane.counts))
