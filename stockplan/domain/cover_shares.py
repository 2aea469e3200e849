"""Pieces of several jobs shared out among things of one batch, and among batches, in the cheapest way.

Things and batches are tried in the order of a bound on what they cost; see `stockplan.domain.cover_pool`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from math import prod
from typing import cast

from stockplan.domain.cover import Move, Question, Take
from stockplan.domain.cover_pool import INFINITE, Items, Pool, Shared, Special, Specials, floor_of, lies
from stockplan.domain.cover_promise import Item, sizes_of
from stockplan.domain.cover_purchase import cheapest_purchase, is_small
from stockplan.domain.cover_ranking import BatchRanking, Block, Share, ThingRanking
from stockplan.domain.cover_reserved import Reserved
from stockplan.domain.cover_search import work_of
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, in_order, subsets, with_first
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.stock import SupplyOption

THINGS_LOOKED_AT = 20  # for one unit of work
MOST_SPLITS = 64  # ways to take some of the pieces of one group


class Shares:
    """Ways to share pieces out, each worked out once.

    Parameters
    ----------
    reserved
        The desk, and what promised things cost.
    pool
        What lies free or will be left over.
    supply
        What can be bought.
    question
        Gives the day of asking.
    days
        Lay dates of jobs by code.
    affordable
        Says whether so much work may still be done.
    """

    def __init__(
        self,
        reserved: Reserved,
        pool: Pool,
        supply: Sequence[SupplyOption],
        question: Question,
        days: Mapping[str, date],
        affordable: Callable[[int], bool],
    ) -> None:
        self.reserved, self.desk, self.pool = reserved, reserved.desk, pool
        self.supply, self.question, self.days = supply, question, days
        self.affordable = affordable
        self.gave_up = False  # whether some ways were left out that might cost less
        self._tired = False  # the same, only because no more work was affordable
        self._doubtful: set[Items] = set()
        self._streams: dict[Items, BatchRanking] = {}
        self._specials: dict[tuple[str, tuple[object, ...], Items], tuple[float, Share | None]] = {}
        self._bought: dict[tuple[SupplyOption, Pieces], Take | None] = {}

    def day_of(self, items: Iterable[Item]) -> date:
        """The day before which what these pieces are cut from must be there."""
        return min(self.days[code] for code, _ in items)

    def floor(self, item: Item, special: Specials) -> float:
        """A bound on what a piece costs at least, wherever it is cut from."""
        _, size = item
        found = min(self.pool.least(size), self._floor_bought(item))
        for one in special.values():
            for thing in one.things:
                found = min(found, floor_of(thing, size))
        return found

    def ranked(self, items: Items, batch: str | None, special: Specials, most: int, below: float) -> list[Share]:
        """Give the cheapest way in each of the cheapest batches.

        Parameters
        ----------
        items
            The pieces.
        batch
            The only batch they may come from; None for any one.
        special
            Batches that hold other than what the pool has of them.
        most
            How many batches.
        below
            Ways that cost as much are of no interest.
        """
        before, self.gave_up, self._tired = self.gave_up, False, False
        found = self._ranked(items, batch, special, most, below)
        if self.gave_up:
            self._doubtful.add(items)
        self.gave_up = before or self._tired or items in self._doubtful
        return found

    def _ranked(self, items: Items, batch: str | None, special: Specials, most: int, below: float) -> list[Share]:
        if prod(count + 1 for count in Counter(items).values()) > MOST_SPLITS:
            self.gave_up = True
            return []
        concerned = special if batch is None else {name: one for name, one in special.items() if name == batch}
        found = [self._special(name, one, items, below) for name, one in concerned.items()]
        if batch is None:
            found += self._elsewhere(items, special, most, below)
        return sorted((one for one in found if one and one.cost_pence < below), key=lambda one: one.cost_pence)[:most]

    def _special(self, batch: str, special: Special, items: Items, below: float) -> Share | None:
        key = (batch, special.name, items)
        known = self._specials.get(key)
        if known is None or (known[1] is None and known[0] < below):
            known = (below, self._share(special.things, items, below))
            if not self._tired:
                self._specials[key] = known
        return known[1]

    def _elsewhere(self, items: Items, special: Specials, most: int, below: float) -> list[Share]:
        """Ways in batches of which the pool has everything, or bought; the cheapest first."""
        if items not in self._streams:
            self._streams[items] = BatchRanking([*self.pool.floors(items), (self._floor_all_bought(items), NEW_BATCH)])
        stream = self._streams[items]
        found: list[Share] = []
        place = 0
        while len(found) < most:
            if place == len(stream.known) and not stream.more(below, lambda batch: self._in_batch(batch, items)):
                break
            batch, share = stream.known[place]
            if batch not in special:
                found.append(share)
            place += 1
        return found

    def _in_batch(self, batch: str, items: Items) -> tuple[Share | None, bool]:
        share = self._buy(items) if batch == NEW_BATCH else self._share(self.pool.batches[batch], items)
        return share, not self._tired

    def _floor_all_bought(self, items: Items) -> float:
        return sum(self._floor_bought(item) for item in items)

    # --- within one batch -------------------------------------------------------------------------------------------

    def _share(self, things: Sequence[Source | Shared], items: Items, below: float = INFINITE) -> Share | None:
        """The cheapest way below a cost to share pieces out among things of one batch, each cut once."""
        if not self.affordable(0):
            self._tired = True
            return None
        floors = {item: min((floor_of(one, item[1]) for one in things), default=INFINITE) for item in set(items)}
        if INFINITE in floors.values():
            return None
        least_of = {some: sum(floors[item] for item in some) for some in _some_of(items)}
        blocks: dict[Items, ThingRanking] = {}
        best: tuple[float, tuple[Block, ...]] = (below, ())

        def split(left: Items, taken: tuple[Block, ...], spent: int) -> None:
            nonlocal best
            if not left:
                best = min(best, (spent, taken), key=lambda way: way[0])
                return
            used = {one.thing for one in taken}
            for block, rest in _with_first(left):
                least = spent + least_of[rest]
                if least + least_of[block] >= best[0]:
                    continue
                if block not in blocks:
                    blocks[block] = self._blocks(things, block)
                for one in blocks[block].below(lambda: best[0], least):
                    if one.thing not in used:
                        split(rest, (*taken, one), spent + one.cost_pence)

        split(items, (), 0)
        return Share(int(best[0]), best[1]) if best[1] else None

    def _blocks(self, things: Sequence[Source | Shared], items: Items) -> ThingRanking:
        """What things take for some pieces, the cheapest first, worked out as it is asked for."""
        sizes, day = sizes_of(items), self.day_of(items)
        area = sum(width * length for width, length in sizes)
        self.desk.spent += 1 + len(things) // THINGS_LOOKED_AT
        small, affordable = is_small(sizes), self.affordable(0)
        self.gave_up |= not small
        self._tired |= not affordable
        if not small or not affordable:
            return ThingRanking((), lambda _: None)
        bounded = []
        for place, thing in enumerate(things):
            source = lies(thing)
            if source.width_mm * source.length_mm < area or not source.there_before(day):
                continue
            floor = sum(floor_of(thing, size) for size in sizes)
            if floor < INFINITE:
                bounded.append((floor, place))
        return ThingRanking(sorted(bounded), lambda place: self._block(things[place], items, sizes))

    def _block(self, thing: Source | Shared, items: Items, sizes: Pieces) -> Block | None:
        jobs = tuple(sorted({code for code, _ in items}))
        if isinstance(thing, Shared):
            before = self.reserved.recut(thing.load, thing.lifted, thing.asked)
            after = self.reserved.recut(thing.load, thing.lifted, in_order((*thing.asked, *sizes)))
            self.gave_up |= not (before.exact and after.exact)
            self._tired |= not (before.final and after.final)
            if before.cost_pence is None or after.cost_pence is None or after.take is None:
                return None
            return Block(after.cost_pence - before.cost_pence, Move(after.take, jobs), id(thing.source))
        if not self.affordable(work_of(sizes)):
            self._tired = True
            return None
        take = self.desk.take(thing, sizes)
        return Block(take.cost_pence, Move(take, jobs), id(thing)) if take else None

    # --- bought -----------------------------------------------------------------------------------------------------

    def _floor_bought(self, item: Item) -> float:
        day, (width, length) = self.days[item[0]], item[1]
        return min(
            (
                option.price_of(option.length_mm) / (option.width_mm * option.length_mm) * width * length - 2
                for option in self.supply
                if self._in_time(option, day) and width <= option.width_mm and length <= option.length_mm
            ),
            default=INFINITE,
        )

    def _in_time(self, option: SupplyOption, day: date) -> bool:
        return (day - self.question.today).days > option.lead_days

    def _buy(self, items: Items) -> Share | None:
        """The cheapest way to share pieces out among as many purchases as that takes."""
        known: dict[Items, tuple[int, tuple[Block, ...]] | None] = {(): (0, ())}

        def best(left: Items) -> tuple[int, tuple[Block, ...]] | None:
            if left not in known:
                found = []
                for block, rest in _with_first(left):
                    mine = self._bought_block(block)
                    others = best(rest) if mine else None
                    if mine and others:
                        found.append((mine.cost_pence + others[0], (mine, *others[1])))
                known[left] = min(found, key=lambda way: (way[0], len(way[1])), default=None)
            return known[left]

        way = best(items)
        return Share(*way) if way else None

    def _bought_block(self, items: Items) -> Block | None:
        sizes, day = sizes_of(items), self.day_of(items)
        if not is_small(sizes):
            self.gave_up = True
            return None
        takes = [take for option in self.supply if self._in_time(option, day) and (take := self._buys(option, sizes))]
        take = min(takes, key=lambda one: one.cost_pence, default=None)
        return Block(take.cost_pence, Move(take, tuple(sorted({code for code, _ in items})))) if take else None

    def _buys(self, option: SupplyOption, sizes: Pieces) -> Take | None:
        if (option, sizes) not in self._bought:
            if not self.affordable(work_of(sizes)):
                self._tired = True
                return None
            asked = replace(self.question, pieces=in_order(sizes))
            self._bought[option, sizes] = cheapest_purchase(self.desk, option, asked)
        return self._bought[option, sizes]


def _some_of(items: Items) -> list[Items]:
    """Every way to take some pieces of jobs; `subsets` of sizes does as well for these."""
    return [cast(Items, some) for some, _ in subsets(cast(Pieces, items))]


def _with_first(items: Items) -> Sequence[tuple[Items, Items]]:
    """The same for `with_first`."""
    return cast(Sequence[tuple[Items, Items]], with_first(cast(Pieces, items)))
