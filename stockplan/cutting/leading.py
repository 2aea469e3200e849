"""In what order piece types lead drops, and what may lie beside each.

The drops are those of `drops_led.py`. No load is cut into a set with pieces of two layouts of a job. So types of a job
that may be laid in several ways lead one behind the other, as a block, and the tables of what leads from there on are
the most that one of its layouts makes of those behind it:

    A_block = max over layouts h of A with the types of h        and so with B, and with F of `source_kernels.py`

On eight jobs, two of them lawns of eight layouts, a pass of `whole_loads.py` takes 6 s so, and 22 s without blocks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from stockplan.cutting.drops_led import Drop, Floats, Numbers, add_block, add_type, lead
from stockplan.cutting.grounds import Ground
from stockplan.cutting.recursions import NEVER

Tables = tuple[Floats, Floats]  # A and B


class Block(NamedTuple):
    """Types that lead one behind the other, and by layout how many of each a source may hold of it."""

    types: tuple[int, ...]
    ways: tuple[Mapping[int, int], ...]


class Stages(NamedTuple):
    """Those of `drops_led.Drop`, and by types of a block of several up to which length they are filled in."""

    rows: Floats
    done: dict[tuple[int, ...], int]


class Leading:
    """One class of stock, its types in the order in which they lead.

    Parameters
    ----------
    ground
        The class.
    gains
        By lane and type: what a piece brings, less its cuts, `NEVER` where it does not fit.
    density
        By type: what it is worth for its size. The densest lead first: what repeats beside a leading piece is then
        worth less than the piece itself; before them those that take a drop of their own, as a piece end to end with
        one is worth no more than in the next drop.

    Attributes
    ----------
    blocks, leaders, alone, beside
        All types by block, and in one row; those as wide as the source; and the others in their order.
    """

    def __init__(self, ground: Ground, gains: Floats, density: Sequence[float]) -> None:
        self.ground, self._gains = ground, gains
        self.alone = {n for n, t in enumerate(ground.types) if t.width_mm == ground.source.width_mm}
        order = sorted(range(len(ground.types)), key=lambda t: (t not in self.alone, -density[t], t))
        self.blocks = self._in_blocks(order)
        self.leaders = [t for block in self.blocks for t in block.types]
        self.beside = np.array([t for t in self.leaders if t not in self.alone], dtype=np.int64)
        self._place_beside = {t: place for place, t in enumerate(self.beside.tolist())}

    def _in_blocks(self, order: Sequence[int]) -> list[Block]:
        """Blocks of types in an order, each where the first of its types is."""
        several = {}
        for ways in self.ground.ways_to_lay:
            counts = tuple({t: n for t, n in way.items() if n} for way in ways)
            block = Block(tuple(t for t in order if t in ways[0]), counts)
            several.update(dict.fromkeys(block.types, block))
        alone = (Block((t,), ({t: int(self.ground.most[t])},)) for t in order)
        return list({block.types: block for block in (several.get(b.types[0], b) for b in alone)}.values())

    def first_beside(self, leader: int) -> int:
        """The place among those that lie beside others of the first type that may lie beside a leader."""
        if leader in self.alone:
            return len(self.beside)
        return self._place_beside[leader] + int(self.ground.most[leader] == 1)

    def backwards(
        self, wanted: Mapping[int, tuple[int, int]], stages: Stages | None = None
    ) -> Iterator[tuple[int, Drop]]:
        """Leaders from the last to the first, each with its drops; they last until the next.

        Parameters
        ----------
        wanted
            By leader: the first length of drop, and the one behind the last.
        stages
            Filled in as far as they are needed; default they are not.
        """
        ground = self.ground
        behind = ground.empties.copy(), np.full_like(ground.empties, NEVER)
        spare = np.empty_like(behind[0]), np.empty_like(behind[1])
        allowed = np.zeros(len(ground.types), dtype=np.int64)
        drop, nothing = self._room(allowed), self._room(np.zeros_like(allowed))
        nothing.lane[:], nothing.filled[:], nothing.widths[1:] = ground.empties, NEVER, NEVER
        if stages is not None:
            drop, nothing = drop._replace(stages=stages.rows), nothing._replace(stages=stages.rows)
        steps, left = max((end for _, end in wanted.values()), default=0), len(wanted)
        for block in reversed(self.blocks):
            if not left:
                return
            if len(block.types) > 1:
                self._add(block, behind, spare, steps, stages)
            for leader in reversed(block.types):
                allowed[leader] = 0 if leader in self.alone else int(ground.most[leader])
                if leader in wanted:
                    left -= 1
                    mine = nothing if leader in self.alone else self._laid_behind(leader, block, behind, drop, steps)
                    lead(tuple(mine), leader, wanted[leader], leader not in self.alone)
                    yield leader, mine
            if len(block.types) > 1:
                behind, spare = spare, behind
            elif block.types[0] not in self.alone:
                (leader,) = block.types
                self._add_one(leader, int(ground.most[leader]), behind, steps, drop.stages)

    def _laid_behind(self, leader: int, block: Block, behind: Tables, drop: Drop, steps: int) -> Drop:
        """Drops with what may lie beside a leading type: of its block, of the layouts that have it what leads later."""
        most = int(self.ground.most[leader])
        if len(block.types) == 1 and most == 1:
            return drop._replace(lane=behind[0], filled=behind[1])
        into, stages = (drop.lane, drop.filled), np.empty((0, 0, 0))
        if len(block.types) == 1:
            for mine, theirs in zip(into, behind, strict=True):
                mine[:, :steps] = theirs[:, :steps]
            stages = drop.stages
        else:
            later = block.types[block.types.index(leader) + 1 :]
            ways = tuple({t: n for t, n in way.items() if t in later} for way in block.ways if leader in way)
            self._add(Block(later, ways), behind, into, steps)
        if most > 1:
            self._add_one(leader, most - 1, into, steps, stages)
        return drop

    def _add_one(self, leader: int, copies: int, tables: Tables, steps: int, stages: Floats) -> None:
        """Tables with a type more, so many times at most, and its stage."""
        pieces = self._gains, self.ground.lengths_in_steps
        add_type(tables, (leader, copies, self._place_beside[leader]), pieces, steps, stages)

    def _add(self, block: Block, behind: Tables, into: Tables, steps: int, stages: Stages | None = None) -> None:
        """Tables with one more block, and the stages of its types."""
        types = [t for t in block.types if t not in self.alone]
        ways = np.array([[way.get(t, 0) for t in types] for way in block.ways], dtype=np.int64)
        parts = np.array(types, dtype=np.int64), ways.reshape(len(block.ways), len(types))
        places = np.array([self._place_beside[t] for t in types], dtype=np.int64)
        rows, fresh = np.empty((0, 0, 0)), 0
        if stages is not None:
            # They are the same whenever they are filled in.
            rows, fresh = stages.rows, stages.done.get(block.types, 0)
            stages.done[block.types] = max(fresh, steps)
        pieces = self._gains, self.ground.lengths_in_steps
        add_block(behind, into, (*parts, places), pieces, (min(fresh, steps), steps), rows)

    @property
    def counts(self) -> tuple[Numbers, Numbers, Numbers]:
        """As `source_kernels.led_tables` takes them."""
        first = np.cumsum([0, *(len(block.types) for block in self.blocks)])
        block_of = np.repeat(np.arange(len(self.blocks)), [len(block.ways) for block in self.blocks])
        copies = np.zeros((len(block_of), max((len(block.types) for block in self.blocks), default=0)), dtype=np.int64)
        ways = ((block, way) for block in self.blocks for way in block.ways)
        for row, (block, way) in zip(copies, ways, strict=True):
            row[: len(block.types)] = [way.get(t, 0) for t in block.types]
        return first, block_of, copies

    def _room(self, allowed: Numbers) -> Drop:
        ground, lanes = self.ground, self.ground.pricer.lanes
        rows, steps = len(lanes.sums), len(ground.reach)
        return Drop(
            lane=np.empty_like(ground.empties),
            filled=np.empty_like(ground.empties),
            widths=np.zeros((rows, steps)),
            own=np.empty_like(ground.empties),
            among=np.empty((rows, steps)),
            best=np.empty(steps),
            empty=ground.empty,
            nearly_empty=ground.nearly_empty,
            chain=lanes.chain,
            chain_widths=lanes.chain_points,
            row_of=lanes.row_of,
            sums=np.array(lanes.sums, dtype=np.int64),
            ends=ground.ends.ends,
            worth=ground.ends.worth,
            exact_worth=ground.ends.exact,
            gains=self._gains,
            calls_for=lanes.calls_for,
            lengths=ground.lengths_in_steps,
            exact_lengths=ground.lengths,
            steps=ground.steps,
            reach=ground.reach,
            order=self.beside,
            stages=np.empty((0, 0, 0)),
            allowed=allowed,
            apart=ground.apart,
            cuts=ground.cuts,
        )
