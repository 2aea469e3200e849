"""Some way to serve jobs that lose something, where there are too many ways to look for the cheapest.

Pieces are put one after another, the largest first, where each costs least for the moment: into a lane already there,
a lane beside, or a drop of its own, on one of a few things. All of one unit comes from one batch, the cheapest of
those tried. Every way found can be cut as it stands; it may cost more than the cheapest, and where none is found there
may still be one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from stockplan.domain.cover import Move, Take
from stockplan.domain.cover_choices import Unit
from stockplan.domain.cover_pool import INFINITE, Items, Pool
from stockplan.domain.cover_promise import Item
from stockplan.domain.cover_ranking import Block, Share
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source, purchase
from stockplan.domain.pieces import Size, in_order
from stockplan.domain.pieces_cut import Drop, Lane
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.stock import SupplyOption

MOST_BATCHES = 4  # batches tried for one unit, the one that may be cheapest first
SMALLEST, LARGEST = 4, 3  # things tried for one piece, beside those cut already


@dataclass(frozen=True, slots=True)
class _Cut:
    """What is cut from one thing so far, and for whom."""

    source: Source
    drops: tuple[Drop, ...] = ()
    jobs: frozenset[str] = frozenset()
    cost_pence: int = 0


class Makeshift:
    """Gives one unit of pieces after another a place; what is given away is gone for the next.

    Parameters
    ----------
    desk
        Of the product.
    pool
        What lies free or will be left over.
    given_back
        Things that jobs no longer take anything from.
    without
        Keys of things that are cut otherwise.
    supply, today
        What can be bought, ordered on that day.
    days
        Lay dates of jobs by code.
    """

    def __init__(
        self,
        desk: Desk,
        pool: Pool,
        given_back: Iterable[Source],
        without: Iterable[str],
        supply: Sequence[SupplyOption],
        today: date,
        days: Mapping[str, date],
    ) -> None:
        self.desk, self.pool, self.supply, self.today, self.days = desk, pool, supply, today, days
        self.given_back, self.without = tuple(given_back), frozenset(without)
        self._cuts: dict[int, _Cut] = {}

    def place(self, unit: Unit) -> bool:
        """Give the pieces of a unit places in the cheapest batch tried; nothing changes where none has room."""
        ways = [way for batch in self._batches(unit) if (way := self._in_batch(batch, unit.items)) is not None]
        if not ways:
            return False
        self._cuts = min(ways, key=_cost_of)
        return True

    def share(self) -> Share:
        """Everything that was given a place."""
        blocks = []
        for number, one in self._cuts.items():
            sizes = (size for drop in one.drops for lane in drop.lanes for size in lane.pieces)
            cut = self.desk.cutter(one.source).told(one.drops, one.source.length_mm, one.source.on_core)
            take = Take(one.source, in_order(tuple(sizes)), cut)
            blocks.append(Block(one.cost_pence, Move(take, tuple(sorted(one.jobs))), number))
        return Share(_cost_of(self._cuts), tuple(blocks))

    def _batches(self, unit: Unit) -> list[str]:
        if unit.batch is not None:
            return [unit.batch]
        ranked = [batch for _, batch in sorted(self.pool.floors(unit.items))[:MOST_BATCHES]]
        return list(dict.fromkeys([*ranked, *(one.batch for one in self.given_back), NEW_BATCH]))

    def _in_batch(self, batch: str, items: Items) -> dict[int, _Cut] | None:
        lying = [one for one in self.pool.batches.get(batch, ()) if one.key not in self.without]
        lying += [one for one in self.given_back if one.batch == batch]
        lying.sort(key=lambda one: (one.width_mm * one.length_mm, one.key))
        cuts = dict(self._cuts)
        for item in sorted(items, key=lambda item: (-item[1][0] * item[1][1], item)):
            things = [*(one.source for one in cuts.values() if one.source.batch == batch), *self._fresh(batch, item)]
            fresh = [one for one in lying if id(one) not in cuts and one.gives(item[1])]
            things += fresh if len(fresh) <= SMALLEST + LARGEST else [*fresh[:SMALLEST], *fresh[-LARGEST:]]
            best: tuple[float, _Cut | None] = (INFINITE, None)
            for source in things:
                if source.there_before(self.days[item[0]]):
                    before = cuts.get(id(source), _Cut(source))
                    for after in self._with(before, item):
                        best = min(best, (after.cost_pence - before.cost_pence, after), key=lambda way: way[0])
            if best[1] is None:
                return None
            cuts[id(best[1].source)] = best[1]
        return cuts

    def _fresh(self, batch: str, item: Item) -> Iterator[Source]:
        """Purchases that give a piece."""
        width, length = item[1]
        for option in self.supply if batch == NEW_BATCH else ():
            if width <= option.width_mm and (long := [one for one in option.lengths() if one >= length]):
                yield purchase(option, min(long), self.today)

    def _with(self, cut: _Cut, item: Item) -> Iterator[_Cut]:
        """Every way to cut one piece more."""
        code, size = item
        source = cut.source
        cutter = self.desk.cutter(source)
        for drops in _with_one_more(cut.drops, size, source.width_mm, source.length_mm):
            told = cutter.told(drops, source.length_mm, source.on_core)
            yield _Cut(source, drops, cut.jobs | {code}, source.touch_pence + told.net_pence)


def _cost_of(cuts: Mapping[int, _Cut]) -> int:
    return sum(one.cost_pence for one in cuts.values())


def _with_one_more(drops: tuple[Drop, ...], size: Size, width_mm: int, length_mm: int) -> Iterator[tuple[Drop, ...]]:
    """Put a piece in a lane of its width or wider, in a lane beside others, or in a drop of its own."""
    width, length = size
    for place, drop in enumerate(drops):
        before, after = drops[:place], drops[place + 1 :]
        for number, lane in enumerate(drop.lanes):
            if lane.width_mm >= width and sum(n for _, n in lane.pieces) + length <= drop.length_mm:
                lanes = (*drop.lanes[:number], Lane(lane.width_mm, (*lane.pieces, size)), *drop.lanes[number + 1 :])
                yield (*before, Drop(drop.length_mm, lanes), *after)
        if sum(lane.width_mm for lane in drop.lanes) + width <= width_mm and length <= drop.length_mm:
            yield (*before, Drop(drop.length_mm, (*drop.lanes, Lane(width, (size,)))), *after)
    if width <= width_mm and sum(drop.length_mm for drop in drops) + length <= length_mm:
        yield (*drops, Drop(length, (Lane(width, (size,)),)))
