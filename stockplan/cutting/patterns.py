"""Cutting patterns: how one source is cut, what it yields, what it costs.

A pattern is a small tree, the same for every copy of a source class. Its one-line text form is what tests read:
`5200[4000:5200] 6000[2100:3000+3000|1900:5500] tail 13800` is a drop of 5.2 m used whole, then a drop of 6 m ripped
into a lane of 2.1 m with two pieces and a lane of 1.9 m with one, and 13.8 m left on the roll (widths before the
colon).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from stockplan.cutting.instance import Instance, PieceType, Source


@dataclass(frozen=True, slots=True)
class LanePattern:
    """A lane: its width, and its pieces in cutting order."""

    width_mm: int
    pieces: tuple[PieceType, ...]

    @property
    def used_mm(self) -> int:
        """Length taken by pieces."""
        return sum(piece.length_mm for piece in self.pieces)


@dataclass(frozen=True, slots=True)
class DropPattern:
    """A drop: its length, and its lanes from the left edge."""

    length_mm: int
    lanes: tuple[LanePattern, ...]

    @property
    def used_mm(self) -> int:
        """Width taken by lanes."""
        return sum(lane.width_mm for lane in self.lanes)


@dataclass(frozen=True, slots=True)
class Rest:
    """A rectangle of a source that is no piece: place, size, and whether it is the source's tail."""

    across_mm: int
    along_mm: int
    width_mm: int
    length_mm: int
    tail: bool


@dataclass(frozen=True, slots=True)
class Pattern:
    """How a source class is cut.

    Parameters
    ----------
    source
        The source class.
    drops
        From the cut end; at least one, each with at least one piece in each lane.
    """

    source: Source
    drops: tuple[DropPattern, ...]

    @property
    def used_mm(self) -> int:
        """Length taken by drops."""
        return sum(drop.length_mm for drop in self.drops)

    def made(self) -> Counter[PieceType]:
        """How many pieces of each type one copy yields."""
        return Counter(p for drop in self.drops for lane in drop.lanes for p in lane.pieces)

    def crosscuts(self) -> int:
        """Cuts across the pile; a cut at the very end of a source or lane is no cut."""
        cuts = len(self.drops) - (self.used_mm == self.source.length_mm)
        for drop in self.drops:
            cuts += sum(len(lane.pieces) - (lane.used_mm == drop.length_mm) for lane in drop.lanes)
        return cuts

    def rips(self) -> int:
        """Cuts along the pile, trims included; a cut at the very edge is no cut."""
        cuts = 0
        for drop in self.drops:
            cuts += len(drop.lanes) - (drop.used_mm == self.source.width_mm)
            cuts += sum(piece.width_mm < lane.width_mm for lane in drop.lanes for piece in lane.pieces)
        return cuts

    def rests(self) -> Iterator[Rest]:
        """Every rectangle that is no piece, in cutting order."""
        width, along = self.source.width_mm, 0
        for drop in self.drops:
            across = 0
            for lane in drop.lanes:
                at = along
                for piece in lane.pieces:
                    if piece.width_mm < lane.width_mm:
                        trim = lane.width_mm - piece.width_mm
                        yield Rest(across + piece.width_mm, at, trim, piece.length_mm, tail=False)
                    at += piece.length_mm
                if lane.used_mm < drop.length_mm:
                    yield Rest(across, at, lane.width_mm, drop.length_mm - lane.used_mm, tail=False)
                across += lane.width_mm
            if across < width:
                yield Rest(across, along, width - across, drop.length_mm, tail=False)
            along += drop.length_mm
        if along < self.source.length_mm:
            yield Rest(0, along, width, self.source.length_mm - along, tail=True)

    def cost(self, instance: Instance) -> int:
        """Net cost of one copy in pence: the source touched, less what is left of it, plus the cuts."""
        left = sum(instance.worth(self.source, r.width_mm, r.length_mm, tail=r.tail) for r in self.rests())
        cuts = self.crosscuts() * instance.costs.crosscut_pence + self.rips() * instance.costs.rip_pence
        return self.source.value_pence - left + cuts

    def text(self) -> str:
        """One line, as in the module's header."""
        parts = []
        for drop in self.drops:
            lanes = "|".join(f"{n.width_mm}:{'+'.join(str(p.length_mm) for p in n.pieces)}" for n in drop.lanes)
            parts.append(f"{drop.length_mm}[{lanes}]")
        tail = self.source.length_mm - self.used_mm
        return " ".join(parts) + (f" tail {tail}" if tail else "")


def without_surplus(pattern: Pattern, surplus: Counter[PieceType]) -> Pattern | None:
    """The pattern with surplus pieces left uncut; None when nothing remains to cut.

    Parameters
    ----------
    pattern
        The pattern.
    surplus
        How many pieces of each type are not needed; counted down as they are removed.
    """
    drops = []
    for drop in pattern.drops:
        lanes = []
        for lane in drop.lanes:
            kept = []
            for piece in lane.pieces:
                if surplus[piece] > 0:
                    surplus[piece] -= 1
                else:
                    kept.append(piece)
            if len(kept) == len(lane.pieces):
                lanes.append(lane)
            elif kept:
                lanes.append(LanePattern(max(p.width_mm for p in kept), tuple(kept)))
        if tuple(lanes) == drop.lanes:
            drops.append(drop)
        elif lanes:
            drops.append(DropPattern(max(lane.used_mm for lane in lanes), tuple(lanes)))
    return Pattern(pattern.source, tuple(drops)) if drops else None
