"""A planned source laid out again on the thing that is really there: another tag, another batch, another size.

An order becomes a roll with a tag; a roll measures 24.85 m, not 25. Drops, lanes and pieces keep their order and move
up; where that is not enough, a drop or lane that is larger than its pieces gives way to those after it. Whatever no
longer fits is lost, and nothing else is. What is left over is worked out anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stockplan.domain.plan import Drop, Lane, Piece, PlannedLeftover, SourceCuts
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import Leftover, UnitCost, big_enough, keep_reason, leftover_worth


@dataclass(frozen=True, slots=True)
class Refit:
    """The cuts of one source as they can really be made.

    Parameters
    ----------
    cuts
        On the real thing; may have no drops when nothing fits.
    leftovers
        What these cuts leave, by place along and across.
    lost
        Pieces, as planned, that no longer fit.
    """

    cuts: SourceCuts
    leftovers: tuple[PlannedLeftover, ...]
    lost: tuple[Piece, ...]


def refit(planned: SourceCuts, item: StockItem, widest_mm: int, without: frozenset[Piece] = frozenset()) -> Refit:
    """Lay planned cuts out on a stock item.

    Parameters
    ----------
    planned
        The cuts as the plan has them.
    item
        What is really cut.
    widest_mm
        Width of the product's widest roll, for judging what is left.
    without
        Pieces of the plan that are not to be cut; the rest moves up, and they do not count as lost.
    """
    bench = _Bench(item)
    drops: list[Drop] = []
    after = sum(_long(drop, without) for drop in planned.drops)
    for drop in planned.drops:
        after -= _long(drop, without)
        made = bench.drop(drop, without, after)
        if made is not None:
            drops.append(made)
    cuts = SourceCuts(
        source=item.tag,
        product=planned.product,
        batch=item.batch_key,
        width_mm=item.width_mm,
        length_mm=item.length_mm,
        drops=tuple(drops),
        crosscuts=bench.crosscuts,
        rips=bench.rips,
    )
    return Refit(cuts, tuple(leftovers_of(cuts, item, widest_mm)), tuple(bench.lost))


class _Bench:
    """The item being laid out: how far it is cut, and what did not fit."""

    def __init__(self, item: StockItem) -> None:
        self.item = item
        self.along_mm = 0
        self.crosscuts = 0
        self.rips = 0
        self.lost: list[Piece] = []

    def drop(self, planned: Drop, without: frozenset[Piece], after_mm: int) -> Drop | None:
        wanted = [_wanted(lane, without) for lane in planned.lanes]
        length = least = _long(planned, without)
        if length == 0:
            return None
        if length == _long(planned):
            length = planned.length_mm
        room = self.item.length_mm - self.along_mm
        length = _leaving(length, least, room, after_mm)
        lanes = self._lanes(planned, wanted, length)
        if not lanes:
            return None
        self.crosscuts += length < room
        drop = Drop(self.along_mm, length, lanes)
        self.along_mm += length
        return drop

    def _lanes(self, planned: Drop, wanted: list[list[Piece]], length: int) -> tuple[Lane, ...]:
        lanes: list[Lane] = []
        across = 0
        after = sum(map(_wide, wanted))
        for lane, pieces in zip(planned.lanes, wanted, strict=True):
            after -= _wide(pieces)
            room = self.item.width_mm - across
            width = _leaving(lane.width_mm, _wide(pieces), room, after)
            placed = self._pieces(pieces, across, width, length)
            if not placed:
                continue
            self.rips += width < room
            lanes.append(Lane(across, width, placed))
            across += width
        return tuple(lanes)

    def _pieces(self, wanted: list[Piece], across: int, width: int, length: int) -> tuple[Piece, ...]:
        placed: list[Piece] = []
        along, end = self.along_mm, self.along_mm + length
        for piece in wanted:
            if piece.width_mm > width or along + piece.length_mm > end:
                self.lost.append(piece)
                continue
            self.crosscuts += along + piece.length_mm < end
            self.rips += piece.width_mm < width
            placed.append(
                replace(piece, source=self.item.tag, batch=self.item.batch_key, across_mm=across, along_mm=along)
            )
            along += piece.length_mm
        return tuple(placed)


def _wanted(lane: Lane, without: frozenset[Piece]) -> list[Piece]:
    return [piece for piece in lane.pieces if piece not in without]


def _long(drop: Drop, without: frozenset[Piece] = frozenset()) -> int:
    """How long a drop must be at least for those of its pieces that are wanted."""
    return max(sum(piece.length_mm for piece in _wanted(lane, without)) for lane in drop.lanes)


def _wide(wanted: list[Piece]) -> int:
    """How wide a lane must be at least for its pieces."""
    return max((piece.width_mm for piece in wanted), default=0)


def _leaving(planned_mm: int, least_mm: int, room_mm: int, after_mm: int) -> int:
    """As large as planned, but for what comes after it no larger than it must be, and never larger than the room."""
    return min(planned_mm, max(room_mm - after_mm, least_mm), max(room_mm, 0))


def leftovers_of(cuts: SourceCuts, item: StockItem, widest_mm: int) -> Iterator[PlannedLeftover]:
    """Work out what cuts leave of a stock item, with its worth and fate.

    Parameters
    ----------
    cuts
        Laid out on the item.
    item
        What is cut.
    widest_mm
        Width of the product's widest roll.
    """
    rolled = item.form is not StockForm.OFFCUT
    cost = UnitCost(item.cost_pence_per_m2, MM2_PER_M2)
    for across, along, width, length in sorted(_rests(cuts), key=lambda rest: (rest[1], rest[0])):
        tail = rolled and width == cuts.width_mm and along + length == cuts.length_mm
        shape = Leftover(width, length, tail, widest_mm)
        keep = big_enough(shape)
        yield PlannedLeftover(
            source=cuts.source,
            across_mm=across,
            along_mm=along,
            width_mm=width,
            length_mm=length,
            becomes=StockForm.PART_ROLL if tail else StockForm.OFFCUT,
            keep=keep,
            value_pence=leftover_worth(shape, cost) if keep else 0,
            reason=keep_reason(shape),
        )


def _rests(cuts: SourceCuts) -> Iterator[tuple[int, int, int, int]]:
    """Across, along, width and length of everything that is not a piece."""
    reached = 0
    for drop in cuts.drops:
        reached = drop.along_mm + drop.length_mm
        beside = 0
        for lane in drop.lanes:
            beside = lane.across_mm + lane.width_mm
            along = drop.along_mm
            for piece in lane.pieces:
                if piece.width_mm < lane.width_mm:
                    across = piece.across_mm + piece.width_mm
                    yield across, along, lane.width_mm - piece.width_mm, piece.length_mm
                along += piece.length_mm
            if along < reached:
                yield lane.across_mm, along, lane.width_mm, reached - along
        if beside < cuts.width_mm:
            yield beside, drop.along_mm, cuts.width_mm - beside, drop.length_mm
    if reached < cuts.length_mm:
        yield 0, reached, cuts.width_mm, cuts.length_mm - reached
