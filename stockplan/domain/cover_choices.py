"""What each of some jobs may lose when promised things are freed, and which of them may then share things."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice, product
from math import prod

from stockplan.domain.cover_pool import Items
from stockplan.domain.cover_promise import Item, Load, PromisedJob

MOST_CHOICES = 400  # ways to choose what each job loses
MOST_HERE = 8  # pieces of one job, of which every part is tried
MOST_APART = 4  # units of which every way to put them together is tried

Placed = tuple[str, Item]  # the key of a thing, and a piece that a plan is to cut from it


@dataclass(frozen=True, slots=True)
class Unit:
    """Pieces that must come from one batch; None for any."""

    items: Items
    batch: str | None


@dataclass(frozen=True, slots=True)
class Choice:
    """What one job loses, and how that is to be made up for."""

    lifted: tuple[Placed, ...]
    units: tuple[Unit, ...]


def choices(
    freed: Mapping[str, Load], loads: Mapping[str, Load], jobs: Mapping[str, PromisedJob]
) -> tuple[list[tuple[Choice, ...]], bool]:
    """Give ways to choose what jobs lose, a choice for each that loses something, fewest pieces first.

    Parameters
    ----------
    freed, loads
        What is freed, and everything that plans are to cut, by key.
    jobs
        By code.

    Returns
    -------
    tuple[list[tuple[Choice, ...]], bool]
        The ways, and whether they are all there are: of too many, those are given that move fewest jobs.
    """
    codes = list(dict.fromkeys(code for load in freed.values() for code, _ in load.items()))
    lists = [_Places(code, freed, loads, jobs[code]) for code in codes]
    every = all(len(one.here) <= MOST_HERE for one in lists)
    each = [list(one.choices(few=not every)) for one in lists]
    if prod(1 + len(one) for one in each) > MOST_CHOICES:
        every = False
        each = [list(one.choices(few=True)) for one in lists]
    found = list(islice(_chosen(each), MOST_CHOICES))
    return sorted(found, key=lambda chosen: sum(len(one.lifted) for one in chosen)), every


class _Places:
    """Where the pieces of one job are to be cut."""

    def __init__(self, code: str, freed: Mapping[str, Load], loads: Mapping[str, Load], job: PromisedJob) -> None:
        self.job = job
        self.batch = next(iter(freed.values())).source.batch
        mine = [(key, item) for key, load in loads.items() for item in load.items() if item[0] == code]
        self.here = [one for one in mine if one[0] in freed]
        self.elsewhere = [one for one in mine if one[0] not in freed]

    def choices(self, *, few: bool) -> Iterator[Choice]:
        """What the job may lose; of few only all it has here, or all it has."""
        job, everything = self.job, (*self.here, *self.elsewhere)
        if job.pinned:
            return
        if self.elsewhere:
            yield self._choice(self.elsewhere)
        for lost in [tuple(self.here)] if few else _parts(self.here):
            part = len(lost) < len(self.here)
            if not job.one_batch or part or self.elsewhere or job.begun:
                yield self._choice(lost)
            if self.elsewhere and (not job.one_batch or part or job.begun):
                yield self._choice((*lost, *self.elsewhere))
        if job.one_batch and not job.begun:
            yield Choice(everything, (Unit(_items(everything), None),))

    def _choice(self, lost: Sequence[Placed]) -> Choice:
        """Pieces lost that come from the batch of the freed thing again; of a job of any batches each from any."""
        if self.job.one_batch:
            return Choice(tuple(lost), (Unit(_items(lost), self.batch),))
        return Choice(tuple(lost), tuple(Unit((item,), None) for _, item in lost))


def _items(placed: Iterable[Placed]) -> Items:
    return tuple(item for _, item in placed)


def _parts(placed: Sequence[Placed]) -> Iterator[tuple[Placed, ...]]:
    """Every way to take some of these, one at least, alike ones counted once."""
    seen = set()
    for count in range(1, len(placed) + 1):
        for taken in combinations(sorted(placed), count):
            if taken not in seen:
                seen.add(taken)
                yield taken


def _chosen(each: Sequence[Sequence[Choice]]) -> Iterator[tuple[Choice, ...]]:
    """Every way to choose for some of the jobs, none first, then one, then two."""
    for count in range(len(each) + 1):
        for some in combinations(each, count):
            yield from product(*some)


def groupings(units: Sequence[Unit]) -> Iterator[list[list[Unit]]]:
    """Give every way to put units together; of more than `MOST_APART` all in one, and each by itself."""
    if len(units) > MOST_APART:
        yield [list(units)]
        yield [[unit] for unit in units]
        return
    if not units:
        yield []
        return
    first, others = units[0], units[1:]
    for groups in groupings(others):
        yield [[first], *groups]
        for place, group in enumerate(groups):
            yield [*groups[:place], [first, *group], *groups[place + 1 :]]
