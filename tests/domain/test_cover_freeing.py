"""What freeing costs, against every way to serve the question and the jobs that lose something, in tiny yards."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from itertools import combinations, product
from random import Random

import pytest
from estimator_yards import PENCE, WIDEST, exact_cost, kept_cost, loaded, lying

from stockplan.domain.cover import Question
from stockplan.domain.cover_freeing import FreeingSearch
from stockplan.domain.cover_promise import Item, Load, PromisedJob
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source, purchase
from stockplan.domain.pieces import Size, in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import StockForm, SupplyForm, SupplyOption

TODAY = date(2026, 11, 26)
ROLLS = SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 5000, 20_000, 4)
LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 2000, 5500, 2)
BOUGHT = 3  # things bought at most, in the search through every way
TOLERANCE = 8 * PENCE


@dataclass(frozen=True)
class Yard:
    """A tiny yard with a plan for it."""

    free: tuple[Source, ...]
    loads: tuple[Load, ...]
    jobs: Mapping[str, PromisedJob]
    supply: tuple[SupplyOption, ...]
    costs: CostSettings

    def pieces(self) -> list[Item]:
        """Everything that is to be cut for jobs."""
        return [item for load in self.loads for item in load.items()]

    def search(self, size: Size) -> FreeingSearch:
        question = Question((size,), ("G30",), TODAY)
        return FreeingSearch(Desk(WIDEST, self.costs), self.loads, self.jobs, self.free, self.supply, question)


def random_source(random: Random, tag: str) -> Source:
    form = random.choice(["offcut", "part_roll", "part_roll", "roll"])
    width = 500 * random.randint(2, 6) if form == "offcut" else random.choice([2000, 4000])
    pence = random.choice([900, 1000, 1000, 1200])
    return lying(tag, width, 500 * random.randint(2, 8), random.choice(["B1", "B1", "B2"]), form, pence)


def random_yard(random: Random) -> Yard:
    """Three jobs at most, each from one batch unless it wants any, planned on things of one piece a drop."""
    loads: list[Load] = []
    jobs: dict[str, PromisedJob] = {}
    sources = [random_source(random, f"L{number}") for number in range(random.randint(1, 3))]
    for number in range(random.randint(1, 3)):
        job = PromisedJob(TODAY + timedelta(random.randint(1, 6)), random.random() < 0.8, random.random() < 0.15)
        jobs[f"J{number}"] = job
    for source in sources:
        left = source.length_mm
        items: list[Item] = []
        for code, job in jobs.items():
            elsewhere = {load.source.batch for load in loads if code in {item[0] for item in load.items()}}
            if job.one_batch and elsewhere - {source.batch}:
                continue
            for _ in range(random.randint(0, 2)):
                size = (500 * random.randint(1, source.width_mm // 500), 500 * random.randint(1, 4))
                if size[1] <= left and sum(len(load.items()) for load in loads) + len(items) < 5:
                    items.append((code, size))
                    left -= size[1]
        if items:
            loads.append(loaded(source, *items, here=random.random() < 0.9))
    free = tuple(random_source(random, f"F{number}") for number in range(random.randint(0, 3)))
    supply = random.choice([(), (ROLLS,), (LENGTHS,), (ROLLS, LENGTHS)])
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]))
    return Yard(free, tuple(loads), jobs, supply, costs)


Place = Load | Source | int  # what a piece is cut from: an int is a purchase


def _batch_of(place: Place) -> str:
    if isinstance(place, int):
        return "new"
    return place.source.batch if isinstance(place, Load) else place.batch


def _rest(load: Load, size: Size, core: bool, pence: int) -> Source:
    form = StockForm.PART_ROLL if core else StockForm.OFFCUT
    return replace(load.source, form=form, width_mm=size[0], length_mm=size[1], touch_pence=pence)


class EveryWay:
    """The least cost of freeing one thing, by going through every way to place every piece."""

    def __init__(self, yard: Yard, freed: Load, size: Size) -> None:
        self.yard, self.freed, self.size, self.costs = yard, freed, size, yard.costs

    def least(self) -> float:
        """Go through which jobs lose something, and whether what they have elsewhere is touched."""
        codes = sorted({code for code, _ in self.freed.items()})
        return min(self._moved(dict(zip(codes, how, strict=True))) for how in product(range(3), repeat=len(codes)))

    def _moved(self, how: Mapping[str, int]) -> float:
        """0: stays as planned; 1: loses pieces of the freed thing alone; 2: all its pieces are placed anew."""
        pieces: list[tuple[str, Item]] = []  # where it was, and what
        for load in self.yard.loads:
            for item in load.items():
                mode = how.get(item[0], 0)
                if (mode and load is self.freed) or mode == 2:
                    pieces.append((load.source.key, item))
        return min(self._placed(how, pieces, places) for places in self._places(how, pieces))

    def _places(self, how: Mapping[str, int], pieces: Sequence[tuple[str, Item]]) -> Iterator[tuple[Place, ...]]:
        options = [self._options(how[item[0]], item) for _, item in pieces]
        yield from product(*options)

    def _options(self, mode: int, item: Item) -> list[Place]:
        """Things a piece may come from; a load, a source, the rest of a load, or the number of a purchase."""
        job = self.yard.jobs[item[0]]
        home = self.freed.source.batch
        found: list[Place] = [self.freed]
        for thing in self._things():
            source = thing.source if isinstance(thing, Load) else thing
            fixed = job.begun or (mode == 1 and job.one_batch)
            if source.there_before(job.lay_on) and (not job.one_batch or not fixed or source.batch == home):
                found.append(thing)
        if not job.one_batch or (mode == 2 and not job.begun):
            found += range(BOUGHT) if self.yard.supply else ()
        return found

    @cache  # noqa: B019 - as long as the yard is looked at
    def _things(self) -> list[Load | Source]:
        codes = {code for code, _ in self.freed.items()}
        found: list[Load | Source] = list(self.yard.free)
        for load in self.yard.loads:
            if load is self.freed:
                continue
            if codes & {code for code, _ in load.items()}:
                found.append(load)
            rests = kept_cost(load, (), self.costs)[1]
            found += [_rest(load, *one) for one in rests if one[2]]
        return found

    def _placed(self, how: Mapping[str, int], pieces: Sequence[tuple[str, Item]], places: tuple[Place, ...]) -> float:
        if not self._allowed(how, pieces, places):
            return math.inf
        loads = {load.source.key: load for load in self.yard.loads}
        lifted: dict[str, list[Item]] = {}
        given: dict[int, list[Item]] = {}
        for (where, item), place in zip(pieces, places, strict=True):
            lifted.setdefault(where, []).append(item)
            given.setdefault(id(place), []).append(item)
        touched = {*lifted, self.freed.source.key}
        total = 0.0
        for place in {id(one): one for one in places}.values():
            sizes = in_order(tuple(size for _, size in given[id(place)]))
            if isinstance(place, Load):
                if place.source.key not in touched:
                    return math.inf  # nothing is lifted from it, and so it stays as planned
            elif isinstance(place, int):
                total += self._bought(given[id(place)])
            elif place.key in touched:
                return math.inf  # the rest of a thing that is cut otherwise
            else:
                total += self._exact(place, sizes)
        return total + sum(
            self._recut(loads[key], lifted.get(key, []), given.get(id(loads[key]), [])) for key in touched
        )

    def _recut(self, load: Load, lifted: Sequence[Item], gained: Sequence[Item]) -> float:
        """What a thing costs more than planned; what is given back to the freed thing may never have been taken."""
        planned, asked = kept_cost(load, (), self.costs)[0], (self.size,) if load is self.freed else ()
        back = list((Counter(lifted) & Counter(gained)).elements()) if load is self.freed else []
        costs = []
        for count in range(len(back) + 1):
            for never in {*combinations(sorted(back), count)}:
                lost, new = Counter(lifted) - Counter(never), Counter(gained) - Counter(never)
                more = (*asked, *(size for _, size in new.elements()))
                costs.append(self._cost(load, tuple(lost.elements()), more))
        return min(costs) - planned

    def _allowed(self, how: Mapping[str, int], pieces: Sequence[tuple[str, Item]], places: tuple[Place, ...]) -> bool:
        """Whether each job that wants one batch has one."""
        for code, mode in how.items():
            mine = [(where, thing) for (where, item), thing in zip(pieces, places, strict=True) if item[0] == code]
            batches = {_batch_of(place) for _, place in mine}
            if mode == 1:
                batches.add(self.freed.source.batch)
            if mode and self.yard.jobs[code].one_batch and len(batches) > 1:
                return False
        return True

    def _cost(self, load: Load, lifted: tuple[Item, ...], more: tuple[Size, ...]) -> float:
        """Cut anew for all, or as planned without what it loses."""
        left = list(load.items())
        for item in lifted:
            left.remove(item)
        wanted = in_order((*(size for _, size in left), *more))
        if not wanted:
            return 0
        best = self._exact(load.source, wanted)
        kept, rests = kept_cost(load, lifted, self.costs)
        if not left:
            return best
        for size, core, pence in rests if more else ():
            best = min(best, kept + self._exact(_rest(load, size, core, pence), in_order(more)))
        return best if more else min(best, kept)

    def _exact(self, source: Source, pieces: tuple[Size, ...]) -> float:
        return exact_cost(source, pieces, self.costs)

    def _bought(self, items: Sequence[Item]) -> float:
        day = min(self.yard.jobs[code].lay_on for code, _ in items)
        sizes = in_order(tuple(size for _, size in items))
        best = math.inf
        for option in self.yard.supply:
            for length in option.lengths():
                source = purchase(option, length, TODAY)
                if source.there_before(day) and length % 500 == 0:
                    best = min(best, self._exact(source, sizes))
        return best


def case(seed: int) -> tuple[Yard, Size, Random]:
    """A yard, what is asked for, and what more is to be drawn from."""
    random = Random(seed)
    yard = random_yard(random)
    return yard, (500 * random.randint(1, 6), 500 * random.randint(2, 5)), random


@cache
def least_of(seed: int, place: int) -> float:
    """What freeing one of the things promised costs at least; gone through once, though two tests ask."""
    yard, size, _ = case(seed)
    return EveryWay(yard, yard.loads[place], size).least()


def judge(seed: int) -> str:
    yard, size, _ = case(seed)
    search = yard.search(size)
    said = "nothing"
    for place, load in enumerate(yard.loads):
        take = search.desk.take(load.source, (size,)) if load.here else None
        if take is None:
            continue
        least = least_of(seed, place)
        freeing = search.freeing((take,))
        assert freeing is not None
        # Of five unlike pieces and another, not every way to cut them from one thing is looked through.
        assert freeing.proven or len(yard.pieces()) >= 5, seed
        if freeing.cost_pence is None:
            assert least == math.inf, seed
            said = "none"
            continue
        cost = freeing.cost_pence + take.cost_pence
        assert cost >= least - TOLERANCE, (seed, load.source.key, cost, least)
        assert cost <= least + TOLERANCE or not freeing.proven, (seed, load.source.key, cost, least)
        said = "moved" if freeing.moves else "stays"
    return said


@pytest.mark.parametrize("block", range(4))
def test_freeing_costs_the_least_there_is(block: int) -> None:
    found = {judge(seed) for seed in range(20 * block, 20 * block + 20)}
    assert {"moved", "stays"} <= found


@pytest.mark.slow
def test_freeing_costs_the_least_there_is_many_times() -> None:
    for seed in range(10_000, 10_180):
        judge(seed)


def test_with_little_work_allowed_no_cost_is_too_cheap_and_none_is_called_proven_wrongly() -> None:
    proven = []
    for seed in range(60):
        yard, size, random = case(seed)
        for place, load in enumerate(yard.loads):
            search = yard.search(size)
            take = search.desk.take(load.source, (size,)) if load.here else None
            freeing = search.freeing((take,), most_work=random.choice([10, 30, 90])) if take else None
            if take is None or freeing is None or freeing.cost_pence is None:
                continue
            least = least_of(seed, place)
            cost = freeing.cost_pence + take.cost_pence
            assert cost >= least - TOLERANCE, seed
            assert not freeing.proven or cost <= least + TOLERANCE, seed
            proven.append(freeing.proven)
    assert {True, False} == set(proven)
