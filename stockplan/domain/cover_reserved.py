"""What a promised thing costs as planned, and when it is cut for fewer pieces of its jobs or for others as well."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from stockplan.domain.cover import Take
from stockplan.domain.cover_promise import Item, Load, sizes_of
from stockplan.domain.cover_purchase import is_small
from stockplan.domain.cover_search import Desk, work_of
from stockplan.domain.cover_source import Source, left_of
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.pieces_cut import SmallCut


@dataclass(frozen=True, slots=True)
class Recut:
    """A promised thing cut otherwise than planned.

    Parameters
    ----------
    cost_pence
        Worth before, less what is left, plus the cuts; 0 when nothing is cut from it; None when no way was found.
    take
        How it is cut, where something is to be cut that was not planned. For kept cuts, what is cut from what they
        leave.
    exact
        Whether every way to cut it was looked through, as `small_cuts` does.
    final
        Whether more work would not change it.
    """

    cost_pence: int | None
    take: Take | None = None
    exact: bool = True
    final: bool = True


class Reserved:
    """Promised things and what they cost, each way worked out once.

    A thing is cut in the cheapest of all ways for everything that is then to be cut from it, or as planned without
    what it loses, what is new being cut from what is left over. Where its pieces are too many to try every way, or
    working them out is not affordable, the second alone is looked at.

    Parameters
    ----------
    desk
        Of their product.
    affordable
        Says whether so much work may still be done.
    """

    def __init__(self, desk: Desk, affordable: Callable[[int], bool]) -> None:
        self.desk = desk
        self.affordable = affordable
        self._planned: dict[tuple[str, tuple[Item, ...]], SmallCut] = {}
        self._recuts: dict[tuple[str, tuple[Item, ...], Pieces], Recut] = {}

    def planned_pence(self, load: Load) -> int:
        """What a thing costs as planned."""
        return load.source.touch_pence + self._kept(load, ()).net_pence

    def rests(self, load: Load) -> Iterator[Source]:
        """What the plan leaves over of a thing and keeps."""
        for left in self._kept(load, ()).remainders:
            if left.keep:
                yield left_of(load.source, left)

    def recut(self, load: Load, lifted: tuple[Item, ...], more: Pieces = ()) -> Recut:
        """Cut a thing without some of the planned pieces, and for some others.

        Parameters
        ----------
        load
            The thing.
        lifted
            Planned pieces that are not to be cut from it, in order.
        more
            Sizes to be cut from it beside what stays; default none.
        """
        key = (load.source.key, lifted, more)
        found = self._recuts.get(key)
        if found is None:
            found = self._worked_out(load, lifted, more)
            if found.final:
                self._recuts[key] = found
        return found

    def _worked_out(self, load: Load, lifted: tuple[Item, ...], more: Pieces) -> Recut:
        left = list(load.items())
        for item in lifted:
            left.remove(item)
        wanted = in_order((*sizes_of(left), *more))
        if not wanted:
            return Recut(0)
        small = is_small(wanted)
        exact = small and self.affordable(work_of(wanted))
        kept = not more or self.affordable(work_of(more))
        ways = list(self._ways_kept(load, lifted, more)) if left and kept else []
        if exact and (take := self.desk.take(load.source, wanted)):
            ways.append((take.cost_pence, take))
        cost, found = min(ways, key=lambda way: way[0], default=(None, None))
        return Recut(cost, found if more else None, exact, kept and exact >= small)

    def _ways_kept(self, load: Load, lifted: tuple[Item, ...], more: Pieces) -> Iterator[tuple[int, Take | None]]:
        cut = self._kept(load, lifted)
        cost = load.source.touch_pence + cut.net_pence
        if not more:
            yield cost, None
            return
        for left in cut.remainders:
            if take := self.desk.take(left_of(load.source, left), more):
                yield cost + take.cost_pence, take

    def _kept(self, load: Load, lifted: tuple[Item, ...]) -> SmallCut:
        key = (load.source.key, lifted)
        if key not in self._planned:
            source = load.source
            cutter = self.desk.cutter(source)
            self._planned[key] = cutter.told(load.without(lifted), source.length_mm, source.on_core)
        return self._planned[key]
