"""What it costs to cut a question's pieces from promised things, all told.

The cost is the least of serving the question and every job that is to get something of what is freed, less what these
jobs cost as planned. Looked through, for the things that are freed (one, or two side by side):

- each of their jobs keeps all, some or none of the pieces it is to get from them, and may get pieces from them that it
  is to get elsewhere as planned;
- a job that keeps its batch has the pieces it loses cut from things of that batch, either with its pieces from
  elsewhere left alone or with all of these cut anew as well;
- or all its pieces are cut anew, from things of any one batch; of a job of any batches each piece it loses may come
  from another batch. A job of which something is cut already stays with its batch; one that is pinned loses nothing;
- cut from is whatever lies free and sound, what accepted plans leave over, what is bought in time (everything bought is
  one batch), and what the jobs no longer take from other things: such a thing is given back whole when nothing else is
  to be cut from it, and is cut anew for what stays of it and what is new to it; so are the things that are freed, for
  the question, what stays and what is new together;
- pieces of several jobs may come from one thing; each thing is cut in the cheapest way that `small_cuts` finds, or as
  planned without what it loses.

Jobs that get nothing of what is freed stay as planned, though planning these anew as well might save more.
Where there are too many ways, those that move fewest pieces are looked through; the answer then says that it is
not proven, and tells a cost that some way has. Where that finds none, pieces are put one after another where each
costs least, those first that move most.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from stockplan.domain.cover import Freeing, Move, Question, Take
from stockplan.domain.cover_choices import MOST_APART, Choice, Unit, choices, groupings
from stockplan.domain.cover_makeshift import Makeshift
from stockplan.domain.cover_pool import INFINITE, Items, Pool, Shared, Special, Specials
from stockplan.domain.cover_promise import Item, Load, Promise, PromisedJob
from stockplan.domain.cover_ranking import Share, apart
from stockplan.domain.cover_reserved import Reserved
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_shares import Shares
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces
from stockplan.domain.stock import SupplyOption

MAKESHIFTS = 4  # ways to choose what jobs lose, when some way is looked for
MAKESHIFT_WORK = 60  # for each: cutting what is asked from what is freed


@dataclass(frozen=True, slots=True)
class _Way:
    """Everything that is to be cut otherwise, and what it costs more than planned, the question included."""

    cost_pence: int
    shares: tuple[Share, ...]
    together: tuple[Take, ...]
    stays: tuple[str, ...]


class FreeingSearch:
    """Works out what freeing promised things costs, one after the other.

    Parameters
    ----------
    desk
        Of one product.
    loads, jobs
        What accepted plans are to cut of it, and for whom.
    free
        What lies free and sound.
    supply
        What can be bought.
    question
        Gives the day of asking.
    """

    def __init__(
        self,
        desk: Desk,
        loads: Sequence[Load],
        jobs: Mapping[str, PromisedJob],
        free: Iterable[Source],
        supply: Sequence[SupplyOption],
        question: Question,
    ) -> None:
        self.desk, self.jobs = desk, jobs
        self.loads = {load.source.key: load for load in loads}
        self._most = INFINITE
        self.reserved = Reserved(desk, self.affordable)
        rests = [rest for load in loads if not load.source.condition for rest in self.reserved.rests(load)]
        self.pool = Pool([*free, *rests])
        days = {code: job.lay_on for code, job in jobs.items()}
        self.shares = Shares(self.reserved, self.pool, supply, question, days, self.affordable)

    def affordable(self, work: int) -> bool:
        """Whether so much work may still be done."""
        return self.desk.spent + work <= self._most

    def allow(self, work: int) -> None:
        """Let so much more work be done than has been so far."""
        self._most = max(self._most, self.desk.spent + work)

    def promise(self, load: Load) -> Promise:
        """Say what a thing is promised to."""
        days = {code: self.jobs[code].lay_on for code, _ in load.items()}
        return Promise(load.plan, jobs=tuple(sorted(days.items(), key=lambda job: (job[1], job[0]))))

    def freeing(self, takes: Sequence[Take], below: float = INFINITE, most_work: float = INFINITE) -> Freeing | None:
        """Say what it takes to cut some pieces from things of which one at least is promised.

        Parameters
        ----------
        takes
            What is to be cut from what, as if all of it lay free.
        below
            Answers that cost as much in all are of no interest.
        most_work
            How much is done at most, as `Desk.spent` counts it.

        Returns
        -------
        Freeing | None
            None when there is none of interest.
        """
        self._most = self.desk.spent + most_work
        search = _Search(self, takes, below)
        way = search.best()
        promises = [self.promise(load) for load in search.freed.values()]
        jobs = sorted({job for one in promises for job in one.jobs}, key=lambda job: (job[1], job[0]))
        promise = Promise(promises[0].plan, jobs=tuple(jobs))
        if way is None:
            return None if search.bounded else Freeing(promise, proven=search.proven)
        moves = _merged(block.move for share in way.shares for block in share.blocks)
        cost = way.cost_pence - sum(take.cost_pence for take in takes)
        return Freeing(promise, moves, cost, way.stays, way.together, search.proven)


class _Search:
    """The search for one answer."""

    def __init__(self, whole: FreeingSearch, takes: Sequence[Take], below: float) -> None:
        self.whole, self.reserved, self.shares = whole, whole.reserved, whole.shares
        self.takes = takes
        self.asked: dict[str, Pieces] = {take.source.key: take.pieces for take in takes}
        self.freed = {key: whole.loads[key] for key in self.asked if key in whole.loads}
        self.beside_pence = sum(take.cost_pence for take in takes if take.source.key not in self.freed)
        self.below = below
        self.bounded = False  # whether something was left out only because it could not cost less
        self.proven = True
        self.found: _Way | None = None

    def best(self) -> _Way | None:
        """The cheapest way found that costs less than is of interest."""
        self.shares.gave_up = False
        chosen_ways, every = choices(self.freed, self.whole.loads, self.whole.jobs)
        self.proven &= every
        for chosen in chosen_ways:
            if self.found is not None and not self.whole.affordable(0):
                self.proven = False
                break
            self._try(chosen)
        self.proven &= not self.shares.gave_up
        if self.found is None and not self.proven and not self.bounded:
            for chosen in chosen_ways[: -MAKESHIFTS - 1 : -1]:
                self.whole.allow(MAKESHIFT_WORK)
                self._try_makeshift(chosen)
        return self.found

    def _limit(self) -> float:
        return self.below if self.found is None else min(self.below, self.found.cost_pence)

    def _try(self, chosen: Sequence[Choice]) -> None:
        lifted = self._lifted(chosen)
        if (recut := self._recut(lifted)) is None:
            return
        fixed, together, stays = recut
        units = [unit for choice in chosen for unit in choice.units]
        if not units:
            self._keep(_Way(fixed, (), tuple(together), stays))
            return
        special = self._special(lifted)
        least = fixed + sum(self.shares.floor(item, special) for unit in units for item in unit.items)
        if least >= self._limit():
            self.bounded |= least < INFINITE
            return
        for shares_pence, shares in self._shared_out(units, special, fixed):
            self._keep(_Way(fixed + shares_pence, shares, self._all_told(together, shares), stays))

    def _try_makeshift(self, chosen: Sequence[Choice]) -> None:
        lifted = self._lifted(chosen)
        if (recut := self._recut(lifted)) is None:
            return
        fixed, together, stays = recut
        whole = self.whole
        emptied = [whole.loads[key] for key, items in lifted.items() if key not in self.asked and items]
        back = [one.source for one in emptied if len(lifted[one.source.key]) == len(one.items())]
        sound = [one for one in back if not one.condition]
        without = {*lifted, *self.asked}
        days, supply, today = self.shares.days, self.shares.supply, self.shares.question.today
        makeshift = Makeshift(self.reserved.desk, whole.pool, sound, without, supply, today, days)
        units = [unit for choice in chosen for unit in choice.units]
        if all(makeshift.place(unit) for unit in units):
            share = makeshift.share()
            self._keep(_Way(fixed + share.cost_pence, (share,), tuple(together), stays))

    def _lifted(self, chosen: Sequence[Choice]) -> dict[str, list[Item]]:
        lifted: dict[str, list[Item]] = {key: [] for key in self.freed}
        for choice in chosen:
            for key, item in choice.lifted:
                lifted.setdefault(key, []).append(item)
        return lifted

    def _recut(self, lifted: Mapping[str, Sequence[Item]]) -> tuple[int, list[Take], tuple[str, ...]] | None:
        """Cut things without what they lose, for the question where it asks something of them; None if that fails.

        Given are what all of it costs more than planned, what is cut for the question together with what stays, and
        the jobs that still get something of what is freed.
        """
        fixed = self.beside_pence
        together: list[Take] = []
        for key, items in lifted.items():
            load = self.whole.loads[key]
            recut = self.reserved.recut(load, _in_order(items), self.asked.get(key, ()))
            self.proven &= recut.exact
            if recut.cost_pence is None:
                return None
            fixed += recut.cost_pence - self.reserved.planned_pence(load)
            if recut.take is not None and len(items) < len(load.items()):
                together.append(recut.take)
        stays = tuple(sorted({code for key in self.freed for code, _ in self._left(key, lifted[key])}))
        return fixed, together, stays

    def _all_told(self, together: Sequence[Take], shares: Iterable[Share]) -> tuple[Take, ...]:
        """Say how things that give the question are cut, with what comes to them from elsewhere."""
        cut = {take.source.key: take for take in together}
        moves = (block.move for share in shares for block in share.blocks)
        cut |= {move.take.source.key: move.take for move in moves if move.take.source.key in self.asked}
        return tuple(cut.values())

    def _keep(self, way: _Way) -> None:
        if way.cost_pence < self._limit():
            self.found = way
        else:
            self.bounded = True

    def _left(self, key: str, lifted: Sequence[Item]) -> list[Item]:
        left = list(self.freed[key].items())
        for item in lifted:
            left.remove(item)
        return left

    def _special(self, lifted: Mapping[str, Sequence[Item]]) -> Specials:
        """Batches of things cut otherwise: these, and what else there is of each, but no rest of these."""
        keys = {*lifted, *self.asked}
        batches: dict[str, list[Source | Shared]] = {}
        names: dict[str, list[object]] = {}
        for key in sorted(keys):
            load = self.whole.loads.get(key)
            source = load.source if load else next(take for take in self.takes if take.source.key == key).source
            mine = batches.setdefault(source.batch, [])
            items = _in_order(lifted.get(key, ()))
            names.setdefault(source.batch, []).append((key, items, self.asked.get(key)))
            if load and key not in self.asked and not source.condition:
                mine.append(Shared(load, items) if len(items) < len(load.items()) else source)
            elif key in self.asked and not source.condition:
                mine.append(Shared(load or Load(source, 0, ()), items, self.asked[key]))
        for batch, mine in batches.items():
            mine += [one for one in self.whole.pool.batches.get(batch, ()) if one.key not in keys]
        return {batch: Special(tuple(mine), tuple(names[batch])) for batch, mine in batches.items()}

    def _shared_out(
        self, units: Sequence[Unit], special: Specials, fixed: int
    ) -> Iterator[tuple[int, tuple[Share, ...]]]:
        """Put units together that may share things, in every way where they are few, and cut each group."""
        if len(units) > MOST_APART:
            self.proven = False
        floors = {id(unit): sum(self.shares.floor(item, special) for item in unit.items) for unit in units}
        least = fixed + sum(floors.values())
        for groups in groupings(units):
            ways = []
            for group in groups:
                batches = {unit.batch for unit in group if unit.batch is not None}
                if len(batches) > 1:
                    break
                items = _in_order([item for unit in group for item in unit.items])
                below = self._limit() - least + sum(floors[id(unit)] for unit in group)
                ways.append(self.shares.ranked(items, next(iter(batches), None), special, len(groups), below))
                if not ways[-1]:
                    self.bounded |= below < INFINITE
                    break
            else:
                if found := apart(ways):
                    yield found


def _in_order(items: Iterable[Item]) -> Items:
    return tuple(sorted(items, key=lambda item: (-item[1][0] * item[1][1], item)))


def _merged(moves: Iterable[Move]) -> tuple[Move, ...]:
    """Put moves in order, things in the yard first."""
    return tuple(sorted(moves, key=lambda move: (not move.take.source.bay, move.jobs, move.take.source.key)))
