"""What things in the yard are promised to: the pieces that accepted plans are to cut from them, or a quote."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable
from dataclasses import dataclass
from datetime import date

from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, Size, in_order
from stockplan.domain.pieces_cut import Drop, Lane
from stockplan.domain.plan import SourceCuts

Item = tuple[str, Size]  # a piece of a job: the job's code, and the size


@dataclass(frozen=True, slots=True)
class Promise:
    """What a thing in the yard is promised to.

    Parameters
    ----------
    plan
        Number of the accepted plan it is reserved for; None when it is held for a quote.
    quote, until
        The quote it is held for and the last day of that.
    jobs
        Codes and lay dates of the jobs cut from it, in order of lay date.
    """

    plan: int | None = None
    quote: str = ""
    until: date | None = None
    jobs: tuple[tuple[str, date], ...] = ()


@dataclass(frozen=True, slots=True)
class PromisedJob:
    """A job that an accepted plan is to cut for.

    Parameters
    ----------
    lay_on
        What is cut for it must be there before that day.
    one_batch
        Whether all its pieces must come from one batch.
    begun
        Whether something has been cut for it, so that its batch stands.
    pinned
        Whether a person has said what it is to be cut from, so that it loses nothing.
    """

    lay_on: date
    one_batch: bool = True
    begun: bool = False
    pinned: bool = False


@dataclass(frozen=True, slots=True)
class LoadLane:
    """A lane and whose pieces it gives, in cutting order."""

    width_mm: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class LoadDrop:
    """A drop and its lanes from the left."""

    length_mm: int
    lanes: tuple[LoadLane, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """One thing that an accepted plan is to cut, and how.

    Parameters
    ----------
    source
        The thing: what lies in the yard, or is still to come.
    plan
        Number of the plan.
    drops
        How the plan cuts it, from the cut end.
    here
        Whether it lies in the yard; what is still to come cannot be freed.
    """

    source: Source
    plan: int
    drops: tuple[LoadDrop, ...]
    here: bool = True

    def items(self) -> tuple[Item, ...]:
        """Every piece to be cut from it."""
        return tuple(item for drop in self.drops for lane in drop.lanes for item in lane.items)

    def without(self, lifted: Iterable[Item]) -> tuple[Drop, ...]:
        """Give the plan's cuts without some pieces: lanes and drops that give nothing fall away, the rest moves up."""
        gone = Counter(lifted)
        drops = []
        for drop in self.drops:
            lanes = []
            for lane in drop.lanes:
                stays = []
                for item in lane.items:
                    if gone[item]:
                        gone[item] -= 1
                    else:
                        stays.append(item[1])
                if stays:
                    lanes.append(Lane(lane.width_mm, tuple(stays)))
            if lanes:
                # A drop is as long as planned while the longest of its lanes stays.
                needed = max(sum(length for _, length in lane.pieces) for lane in lanes)
                planned = max(sum(length for _, (_, length) in lane.items) for lane in drop.lanes)
                drops.append(Drop(drop.length_mm if needed == planned else needed, tuple(lanes)))
        return self._with_tail(drops)

    def _with_tail(self, drops: list[Drop]) -> tuple[Drop, ...]:
        """Take what a lane of full width leaves at the very end as the tail, which stays on its core."""
        if drops and sum(drop.length_mm for drop in drops) == self.source.length_mm:
            last = drops[-1]
            if [lane.width_mm for lane in last.lanes] == [self.source.width_mm]:
                drops[-1] = Drop(sum(length for _, length in last.lanes[0].pieces), last.lanes)
        return tuple(drops)


def sizes_of(items: Iterable[Item]) -> Pieces:
    """Give the sizes of some pieces of jobs."""
    return in_order(tuple(size for _, size in items))


def drops_of(cuts: SourceCuts, jobs: Container[str]) -> tuple[LoadDrop, ...]:
    """Take planned cuts as drops; what was planned for other jobs than these is not cut.

    Parameters
    ----------
    cuts
        The cuts of one source.
    jobs
        Codes.
    """
    drops = []
    for drop in cuts.drops:
        lanes = []
        for lane in drop.lanes:
            items = tuple((one.job, (one.width_mm, one.length_mm)) for one in lane.pieces if one.job in jobs)
            if items:
                lanes.append(LoadLane(lane.width_mm, items))
        if lanes:
            needed = max(sum(length for _, (_, length) in lane.items) for lane in lanes)
            planned = max(sum(one.length_mm for one in lane.pieces) for lane in drop.lanes)
            drops.append(LoadDrop(drop.length_mm if needed == planned else needed, tuple(lanes)))
    return tuple(drops)
