"""Drop sets: every set of narrow pieces that one drop can hold, with the few drop lengths that can be best for it.

Worth of a leftover bends upward between the sizes at which its rule changes, across and along alike. So a drop's best
length, and the best widths of its lanes, lie where some leftover is just at such a size, all but one of them; the one
that is not takes what remains. That leaves a handful of lengths and widths to try, exact to the millimetre without any
grid. `bends_upward` says whether the rule has that shape for a product; where it has not, these sets are not used.

The one that takes what remains is mostly the source's tail. Where the tail itself is at a size of the rule, none left
above all, one drop is longer than any length listed here: `DropSet.cost_at` answers for every length.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern
from stockplan.domain.worth import FULL_WIDTH_PERCENT, LEAST_LENGTH_MM, LEAST_WIDTH_MM

NEVER = 10**15
LENGTHS_OF_THE_RULE = (LEAST_LENGTH_MM, 3000, 6000)  # along, where the rule of worth changes; see domain.worth
WAYS_A_GLANCE = 500  # at the clock
ROUNDING = 2  # pence: each of two leftovers is rounded down to the penny
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
        self._losses: dict[int, int] = {}

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

    def least_loss(self, length_mm: int) -> int:
        """At least how much a tail loses by being this much shorter, unless it is worth nothing either way, pence."""
        if length_mm not in self._losses:
            ends = [*LENGTHS_OF_THE_RULE, 10 * max(LENGTHS_OF_THE_RULE)]
            ends += [r - length_mm for r in LENGTHS_OF_THE_RULE if r - length_mm >= LEAST_LENGTH_MM]
            kept = min(self.tail(end + length_mm) - self.tail(end) for end in ends)
            lost = self.tail(max(length_mm, LEAST_LENGTH_MM)) - self.crosscut
            self._losses[length_mm] = max(0, min(kept, lost) - ROUNDING)
        return self._losses[length_mm]

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
                for kept in (0, LEAST_WIDTH_MM) if taker is not None else (0,):
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
        steps = {p.width_mm + LEAST_WIDTH_MM - width for p in lanes.pieces[i] if p.length_mm >= LEAST_LENGTH_MM}
        if rest >= LEAST_LENGTH_MM:
            steps.update((self.full_from - width, LEAST_WIDTH_MM - width))
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


@dataclass(slots=True)
class DropSet:
    """A set of pieces that fits in one drop.

    Parameters
    ----------
    shelf
        What the drop is cut on.
    counts
        How many of each narrow type, by the kind's own order of them.
    ways
        Every way to lay them in lanes.
    least_mm
        The shortest drop that holds the set.
    options
        Lengths that can be best, ascending, each with its cost; the longer the cheaper.
    useful
        Those that can be best while the tail is worth keeping: length, cost, and at most how much cheaper a drop longer
        by up to the reach can be (less than nothing, as a lane cut at its very end saves a cut); None when no source
        is longer.
    """

    shelf: Shelf
    counts: tuple[int, ...]
    ways: list[Lanes] = field(default_factory=list)
    least_mm: int = 0
    options: list[tuple[int, int]] = field(default_factory=list)
    useful: list[tuple[int, int, int | None]] = field(default_factory=list)
    _costs: dict[int, tuple[int, DropPattern] | None] = field(default_factory=dict)

    def cost_at(self, length: int) -> int | None:
        """Least cost of a drop of exactly this length; None when it is too short."""
        found = self._at(length)
        return None if found is None else found[0]

    def drop_at(self, length: int) -> DropPattern:
        """The cheapest drop of exactly this length.

        Raises
        ------
        ValueError
            When it is too short.
        """
        found = self._at(length)
        if found is None:
            raise ValueError(f"{length} mm is too short for {self.counts}")
        return found[1]

    def _at(self, length: int) -> tuple[int, DropPattern] | None:
        if length not in self._costs:
            best: tuple[int, tuple[int, ...], Lanes] | None = None
            for way in self.ways:
                if max(way.used) <= length:
                    cost, widths = self.shelf.best(way, length)
                    if best is None or cost < best[0]:
                        best = (cost, widths, way)
            self._costs[length] = None if best is None else (best[0], _pattern(length, best[1], best[2]))
        return self._costs[length]

    def settle(self, longest_mm: int, reach_mm: int) -> None:
        """Work out `options`, `stretch` and `useful` for sources up to a length."""
        found: dict[int, int] = {}
        for way in self.ways:
            least = max(way.used)
            found[least] = min(self.shelf.best(way, least)[0], found.get(least, NEVER))
        self.least_mm = min(found)
        if self.shelf.instance.costs.leftovers_have_worth:
            for way in self.ways:
                for length in self._longer(way, longest_mm):
                    if not self._hopeless(way, length, found[self.least_mm], length - self.least_mm):
                        found[length] = min(self.shelf.best(way, length)[0], found.get(length, NEVER))
        useful: list[tuple[int, int]] = []
        for length, cost in sorted(found.items()):
            if length > longest_mm or (self.options and cost >= self.options[-1][1]):
                continue
            covered = [d for d, c in useful if c <= cost + self.shelf.least_loss(length - d)]
            if not covered:
                useful.append((length, cost))
            if not any(length - d >= LEAST_LENGTH_MM for d in covered):
                self.options.append((length, cost))
        for length, cost in useful:
            longer = self.cost_at(min(length + reach_mm, longest_mm)) if length < longest_mm else None
            self.useful.append((length, cost, None if longer is None else cost - longer))

    def _longer(self, way: Lanes, longest_mm: int) -> list[int]:
        """Lengths at which something left in the drop is at a size of the rule of worth."""
        ends = (*way.used, 0) if sum(way.widths) < self.shelf.width else way.used
        return sorted({u + r for u in ends for r in LENGTHS_OF_THE_RULE if max(way.used) < u + r <= longest_mm})

    def _hopeless(self, way: Lanes, length: int, cost: int, longer: int) -> bool:
        """Whether a drop so much longer surely saves less than the tail loses: by area, at the best share there is."""
        if longer < LEAST_LENGTH_MM:
            return False
        shelf = self.shelf
        widest = shelf.width - sum(way.widths) + max(way.widths)
        left = shelf.width * length - sum(p.width_mm * p.length_mm for lane in way.pieces for p in lane)
        furthest = max(LENGTHS_OF_THE_RULE)
        worth = (shelf.worth(widest, furthest) + 1) * left / (widest * furthest)
        pieces = sum(map(len, way.pieces))
        cuts = shelf.crosscut * (pieces + 1 - len(way.pieces)) + shelf.rip * (len(way.pieces) - 1)
        return cost - (cuts - worth) <= shelf.least_loss(longer)


def _pattern(length: int, widths: tuple[int, ...], lanes: Lanes) -> DropPattern:
    return DropPattern(length, tuple(map(LanePattern, widths, lanes.pieces)))


class TooManyWays(Exception):
    """There are more ways to lay narrow pieces in lanes than may be gone through."""


@dataclass(frozen=True, slots=True)
class Room:
    """How long the longest source is, and how much longer than one of its options a drop is made at most, mm."""

    longest_mm: int
    reach_mm: int


def drop_sets(
    shelf: Shelf,
    types: Sequence[PieceType],
    most: Sequence[int],
    room: Room,
    limit: int,
    should_stop: Callable[[], bool],
) -> list[DropSet]:
    """Every set of pieces that one drop can hold.

    Parameters
    ----------
    shelf
        Where the drops are cut.
    types
        Narrow piece types.
    most
        How many of each may be needed at all.
    room
        See `Room`.
    limit
        Most ways to lay pieces in lanes that are gone through.
    should_stop
        Asked now and then.

    Raises
    ------
    TooManyWays
        When there are more ways than the limit, or it has to stop.
    """
    lanes = _lanes(types, most, room.longest_mm, shelf.width, limit)
    found: dict[tuple[int, ...], DropSet] = {}
    tried = 0
    stack: list[tuple[int, tuple[int, ...], int, tuple[int, ...]]] = [(0, (0,) * len(types), 0, ())]
    while stack:
        start, counts, width, chosen = stack.pop()
        for k in range(start, len(lanes)):
            if width + lanes[k].width > shelf.width:
                continue
            together = tuple(map(int.__add__, counts, lanes[k].counts))
            if any(map(int.__gt__, together, most)):
                continue
            tried += 1
            if tried > limit or (tried % WAYS_A_GLANCE == 0 and should_stop()):
                raise TooManyWays
            chain = (*chosen, k)
            way = [lanes[i] for i in chain]
            found.setdefault(together, DropSet(shelf, together)).ways.append(
                Lanes(tuple(n.width for n in way), tuple(n.used for n in way), tuple(n.pieces for n in way))
            )
            stack.append((k, together, width + lanes[k].width, chain))
    for one in found.values():
        if should_stop():
            raise TooManyWays
        one.settle(room.longest_mm, room.reach_mm)
    return [one for _, one in sorted(found.items())]


@dataclass(frozen=True, slots=True)
class _Lane:
    """A set of pieces that fits in one lane: how many of each type, the narrowest it can be, the length used."""

    counts: tuple[int, ...]
    width: int
    used: int
    pieces: tuple[PieceType, ...]


def _lanes(types: Sequence[PieceType], most: Sequence[int], longest_mm: int, widest_mm: int, limit: int) -> list[_Lane]:
    """Every set of pieces that one lane can hold, the widest first."""
    lanes: list[_Lane] = []
    stack: list[tuple[int, _Lane]] = [(0, _Lane((0,) * len(types), 0, 0, ()))]
    while stack:
        start, lane = stack.pop()
        for k in range(start, len(types)):
            piece = types[k]
            if lane.counts[k] == most[k] or lane.used + piece.length_mm > longest_mm or piece.width_mm > widest_mm:
                continue
            counts = (*lane.counts[:k], lane.counts[k] + 1, *lane.counts[k + 1 :])
            longer = _Lane(counts, max(lane.width, piece.width_mm), lane.used + piece.length_mm, (*lane.pieces, piece))
            lanes.append(longer)
            if len(lanes) > limit:
                raise TooManyWays
            stack.append((k, longer))
    return sorted(lanes, key=lambda lane: (-lane.width, -lane.used, lane.counts))
