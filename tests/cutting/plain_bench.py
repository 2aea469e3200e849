"""Where a piece may go on a source being cut, and what that costs: the compiled rules once more, in plain Python.

States are plain nested tuples: a source being cut is `(source, drops, used, cost)`, a drop `(length, lanes)`, a lane
`(width, used, pieces)`; sources and piece types are given by number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from stockplan.cutting.instance import Instance
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.pricers import Pricers
from stockplan.domain.stock import CUT_LENGTH_LEAST_MM, CUT_LENGTH_STEP_MM, SupplyForm

Lane = tuple[int, int, tuple[int, ...]]
Drop = tuple[int, tuple[Lane, ...]]


@dataclass(slots=True, unsafe_hash=True)
class Opened:
    """A source being cut; never changed, but for what it remembers.

    Parameters
    ----------
    source
        Its number.
    drops
        From the cut end.
    used
        Length they take, mm.
    cost
        Net cost in pence.
    gains
        By piece: what the cheapest place for it adds to net cost, None where there is none.
    loose
        Numbers of the drops that may hold more; None until they are asked for.
    """

    source: int
    drops: tuple[Drop, ...]
    used: int
    cost: int
    gains: dict[int, int | None] = field(default_factory=dict, compare=False, repr=False)
    _held: frozenset[int] | None = field(default=None, compare=False, repr=False)
    loose: tuple[int, ...] | None = field(default=None, compare=False, repr=False)

    @property
    def held(self) -> frozenset[int]:
        """The pieces on it, each once."""
        if self._held is None:
            self._held = frozenset(piece for _, lanes in self.drops for _, _, pieces in lanes for piece in pieces)
        return self._held


class Spot(NamedTuple):
    """A place for a piece: what it adds to net cost, which opened source it replaces (-1 opens one), the result."""

    delta: int
    at: int
    after: Opened


class Bench:
    """Sizes and exact costs by number, remembered.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.types = instance.piece_types()
        self.number = {t: i for i, t in enumerate(self.types)}
        self.sources = instance.sources
        self.source_number = {s: i for i, s in enumerate(self.sources)}
        self.width = [t.width_mm for t in self.types]
        self.length = [t.length_mm for t in self.types]
        self._narrowest = min(self.width, default=0)
        self._crosscut = instance.costs.crosscut_pence
        self._rip = instance.costs.rip_pence
        self._off_grid = not Pricers(instance).exact
        self._drop_costs: dict[tuple[int, Drop], int] = {}
        self._loose: dict[tuple[int, int, int], int] = {}
        self._tails: dict[tuple[int, int], int] = {}
        self._newly: dict[tuple[int, int], Opened | None] = {}
        self._cut_lengths: dict[int, dict[int, int]] = {}
        for number, source in enumerate(self.sources):
            if source.option is not None and instance.supply[source.option].form is SupplyForm.CUT_LENGTH:
                self._cut_lengths.setdefault(source.option, {})[source.length_mm] = number

    def loose(self, source: int, width_mm: int, length_mm: int) -> int:
        """Worth of a loose leftover, 0 for an empty one."""
        key = (source, width_mm, length_mm)
        worth = self._loose.get(key)
        if worth is None:
            worth = self.instance.worth(self.sources[source], width_mm, length_mm, tail=False)
            self._loose[key] = worth
        return worth

    def tail(self, source: int, length_mm: int) -> int:
        """Worth of a tail, 0 for an empty one."""
        key = (source, length_mm)
        worth = self._tails.get(key)
        if worth is None:
            one = self.sources[source]
            worth = self.instance.worth(one, one.width_mm, length_mm, tail=True)
            self._tails[key] = worth
        return worth

    def drop_cost(self, source: int, drop: Drop) -> int:
        """Cuts of a drop less worth of its leftovers, its own crosscut included."""
        key = (source, drop)
        cost = self._drop_costs.get(key)
        if cost is not None:
            return cost
        length, lanes = drop
        left = self.sources[source].width_mm
        cost = self._crosscut
        for width, used, pieces in lanes:
            left -= width
            cost += self._rip + self._crosscut * len(pieces)
            if used == length:
                cost -= self._crosscut
            else:
                cost -= self.loose(source, width, length - used)
            for piece in pieces:
                if self.width[piece] < width:
                    cost += self._rip - self.loose(source, width - self.width[piece], self.length[piece])
        cost -= self._rip if left == 0 else self.loose(source, left, length)
        if len(self._drop_costs) > 500_000:
            self._drop_costs.clear()
        self._drop_costs[key] = cost
        return cost

    def opened(self, source: int, drops: tuple[Drop, ...]) -> Opened:
        """A source cut so, with its cost."""
        used, cost = 0, self.sources[source].value_pence
        for drop in drops:
            used += drop[0]
            cost += self.drop_cost(source, drop)
        left = self.sources[source].length_mm - used
        cost -= self._crosscut if left == 0 else self.tail(source, left)
        return Opened(source, drops, used, cost)

    def resized(self, source: int, used_mm: int) -> int | None:
        """A cut length just long enough for so much use; other sources as they are; None when too short."""
        one = self.sources[source]
        lengths = None if one.option is None else self._cut_lengths.get(one.option)
        if lengths is None:
            return source if used_mm <= one.length_mm else None
        steps = -(-used_mm // CUT_LENGTH_STEP_MM) * CUT_LENGTH_STEP_MM
        return lengths.get(max(CUT_LENGTH_LEAST_MM, steps))

    def in_time(self, source: int, piece: int) -> bool:
        """Whether a source arrives in time for a piece, and pins allow it."""
        return self.sources[source].open_to(self.types[piece])

    def pattern(self, one: Opened) -> Pattern:
        """The pattern of an opened source."""
        drops = tuple(
            DropPattern(length, tuple(LanePattern(w, tuple(self.types[p] for p in pieces)) for w, _, pieces in lanes))
            for length, lanes in one.drops
        )
        return Pattern(self.sources[one.source], drops)

    def from_pattern(self, pattern: Pattern) -> Opened:
        """The opened source of a pattern."""
        drops = tuple(
            (d.length_mm, tuple((n.width_mm, n.used_mm, tuple(self.number[p] for p in n.pieces)) for n in d.lanes))
            for d in pattern.drops
        )
        return self.opened(self.source_number[pattern.source], drops)

    def spots(self, piece: int, opened: tuple[Opened, ...], closed: list[int]) -> Iterator[Spot]:
        """Every place a piece may go, as the cuts are or with one change around it.

        Parameters
        ----------
        piece
            Number of the piece type.
        opened
            Sources being cut.
        closed
            Sources that may be opened.
        """
        width, length = self.width[piece], self.length[piece]
        for at, one in enumerate(opened):
            for after in self._placed(piece, one):
                yield Spot(after.cost - one.cost, at, after)
        for number in closed:
            source = self.sources[number]
            if width <= source.width_mm and length <= source.length_mm and self.in_time(number, piece):
                for after in self._as_new_drop(piece, Opened(number, (), 0, 0)):
                    yield Spot(after.cost, -1, after)

    def gain(self, piece: int, one: Opened) -> int | None:
        """What the cheapest place for a piece on an opened source adds to net cost, remembered; None without one."""
        if piece not in one.gains:
            least = min((after.cost for after in self._placed(piece, one)), default=None)
            one.gains[piece] = None if least is None else least - one.cost
        return one.gains[piece]

    def placed(self, piece: int, one: Opened) -> Opened:
        """An opened source with a piece at its cheapest place.

        Raises
        ------
        ValueError
            When it has none.
        """
        return min(self._placed(piece, one), key=_cost)

    def _placed(self, piece: int, one: Opened) -> Iterator[Opened]:
        if self.width[piece] <= self.sources[one.source].width_mm and self.in_time(one.source, piece):
            yield from self._into(piece, one)

    def newly(self, piece: int, source: int) -> Opened | None:
        """A source opened for a piece, at its cheapest; None when it does not fit. Remembered."""
        key = (piece, source)
        if key not in self._newly:
            ways = (spot.after for spot in self.spots(piece, (), [source]))
            self._newly[key] = min(ways, key=_cost, default=None)
        return self._newly[key]

    def _into(self, piece: int, one: Opened) -> Iterator[Opened]:
        width, length = self.width[piece], self.length[piece]
        for d in self._loose_drops(one):
            drop_length, lanes = one.drops[d]
            beside = self.sources[one.source].width_mm
            for n, (lane_width, used, pieces) in enumerate(lanes):
                beside -= lane_width
                if width <= lane_width:
                    fuller = (*lanes[:n], (lane_width, used + length, (*pieces, piece)), *lanes[n + 1 :])
                    if used + length <= drop_length:
                        yield self._with_drop(one, d, (drop_length, fuller))
                    elif len(lanes) > 1 or self._off_grid:
                        yield from self._grown(one, d, (used + length, fuller))
            if width <= beside:
                yield from self._beside(piece, one, d, beside)
        yield from self._as_new_drop(piece, one)

    def _loose_drops(self, one: Opened) -> tuple[int, ...]:
        """Numbers of the drops that may hold more: all, or all but those of one lane, full, with no room beside."""
        if one.loose is None:
            widest = self.sources[one.source].width_mm - self._narrowest
            one.loose = tuple(
                d
                for d, (length, lanes) in enumerate(one.drops)
                if self._off_grid or len(lanes) > 1 or lanes[0][1] < length or lanes[0][0] <= widest
            )
        return one.loose

    def _beside(self, piece: int, one: Opened, d: int, beside: int) -> Iterator[Opened]:
        """A new lane in a drop, which grows if it must; the lane may take all the width that is left."""
        width, length = self.width[piece], self.length[piece]
        drop_length, lanes = one.drops[d]
        if length > drop_length:
            yield from self._grown(one, d, (length, (*lanes, (width, length, (piece,)))))
            return
        yield self._with_drop(one, d, (drop_length, (*lanes, (width, length, (piece,)))))
        if width < beside and length < drop_length:
            yield self._with_drop(one, d, (drop_length, (*lanes, (beside, length, (piece,)))))

    def _grown(self, one: Opened, d: int, drop: Drop) -> Iterator[Opened]:
        """The source with one drop longer than it was, where it is long enough."""
        source = self.resized(one.source, one.used + drop[0] - one.drops[d][0])
        if source is not None:
            yield self.opened(source, (*one.drops[:d], drop, *one.drops[d + 1 :]))

    def _as_new_drop(self, piece: int, one: Opened) -> Iterator[Opened]:
        """A new drop off what is left; it may take all of it where the tail would be worth nothing."""
        width, length = self.width[piece], self.length[piece]
        source = self.resized(one.source, one.used + length)
        if source is None:
            return
        lane = (width, length, (piece,))
        left = self.sources[source].length_mm - one.used
        yield self.opened(source, (*one.drops, (length, (lane,))))
        if length < left and self.tail(source, left - length) == 0:
            yield self.opened(source, (*one.drops, (left, (lane,))))

    def _with_drop(self, one: Opened, d: int, drop: Drop) -> Opened:
        """The source with one drop changed but not its length."""
        cost = one.cost + self.drop_cost(one.source, drop) - self.drop_cost(one.source, one.drops[d])
        return Opened(one.source, (*one.drops[:d], drop, *one.drops[d + 1 :]), one.used, cost)

    def without(self, one: Opened, piece: int) -> Opened | None:
        """An opened source with one copy of a piece taken out and the cuts closed up; None when nothing is left.

        Raises
        ------
        ValueError
            When the source does not hold the piece.
        """
        for d, (_, lanes) in enumerate(one.drops):
            for n, (_, used, pieces) in enumerate(lanes):
                if piece not in pieces:
                    continue
                position = pieces.index(piece)
                kept = pieces[:position] + pieces[position + 1 :]
                others = lanes[:n] + lanes[n + 1 :]
                if kept:
                    others = (*others, (max(self.width[p] for p in kept), used - self.length[piece], kept))
                drops = one.drops[:d] + one.drops[d + 1 :]
                if others:
                    drops = (*drops, (max(lane[1] for lane in others), others))
                if not drops:
                    return None
                source = self.resized(one.source, sum(drop[0] for drop in drops))
                return self.opened(one.source if source is None else source, drops)
        raise ValueError(f"piece {piece} is not on source {one.source}")


def _cost(one: Opened) -> int:
    return one.cost


def pieces_on(one: Opened) -> list[int]:
    """Every piece on an opened source."""
    return [piece for _, lanes in one.drops for _, _, pieces in lanes for piece in pieces]
