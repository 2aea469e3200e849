"""Some way to serve jobs that lose something, found without the time to look for the cheapest."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from random import Random

import pytest
from estimator_yards import PENCE, WIDEST, exact_cost, loaded, lying

from stockplan.domain.cover import Freeing, Question
from stockplan.domain.cover_choices import Unit
from stockplan.domain.cover_freeing import FreeingSearch
from stockplan.domain.cover_makeshift import Makeshift
from stockplan.domain.cover_pool import Pool
from stockplan.domain.cover_promise import Item, PromisedJob
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Size, in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import SupplyForm, SupplyOption

TODAY = date(2026, 11, 26)
COSTS = CostSettings(200, 300)
LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 8000, 5500, 2)
MANY: tuple[Size, ...] = ((4000, 3000), (3000, 4500), (3000, 4000), (2000, 3500), (1500, 2500), (1000, 2000))


def freed(free: tuple[Source, ...], supply: tuple[SupplyOption, ...] = (), lay_in: int = 6) -> Freeing:
    """Ask for nearly all of a roll that a job of many unlike pieces is cut from, with no work allowed."""
    load = loaded(lying("R-1", 4000, 25_000, "B1", "roll"), *(("J1", size) for size in MANY))
    jobs = {"J1": PromisedJob(TODAY + timedelta(lay_in))}
    question = Question(((4000, 24_000),), ("G30",), TODAY)
    search = FreeingSearch(Desk(WIDEST, COSTS), [load], jobs, free, supply, question)
    take = search.desk.take(load.source, question.pieces)
    assert take is not None
    freeing = search.freeing((take,), most_work=0)
    assert freeing is not None
    assert not freeing.proven
    planned = search.reserved.planned_pence(load)
    if freeing.cost_pence is not None:
        assert freeing.cost_pence == sum(move.take.cost_pence for move in freeing.moves) - planned
    return freeing


def test_a_job_of_many_pieces_gets_the_roll_beside_it() -> None:
    freeing = freed((lying("R-2", 4000, 25_000, "B2", "roll"), lying("K-1", 3000, 5000, "B3")))
    (move,) = freeing.moves
    assert (move.take.source.key, move.jobs) == ("R-2", ("J1",))
    assert sorted(move.take.pieces) == sorted(MANY)


def test_a_job_of_many_pieces_is_bought_for_where_that_comes_in_time() -> None:
    freeing = freed((), (LENGTHS,))
    assert {move.take.source.key for move in freeing.moves} == {"Ashcombe"}
    assert Counter(size for move in freeing.moves for size in move.take.pieces) == Counter(MANY)
    assert freed((), (LENGTHS,), lay_in=2).cost_pence is None


def test_no_two_batches_serve_one_job() -> None:
    halves = (lying("P-1", 4000, 9000, "B2", "part_roll"), lying("P-2", 4000, 9000, "B3", "part_roll"))
    assert freed(halves).cost_pence is None
    whole = (halves[0], lying("P-2", 4000, 9000, "B2", "part_roll"))
    assert {move.take.source.key for move in freed(whole).moves} == {"P-1", "P-2"}


def random_unit(random: Random, code: str) -> Unit:
    items: tuple[Item, ...] = tuple(
        (code, (500 * random.randint(1, 6), 500 * random.randint(1, 5))) for _ in range(random.randint(1, 3))
    )
    return Unit(items, random.choice([None, None, "B1"]))


@pytest.mark.parametrize("block", range(4))
def test_every_piece_is_given_once_and_at_what_its_cut_costs(block: int) -> None:
    placed = 0
    for seed in range(25 * block, 25 * block + 25):
        random = Random(seed)
        things = [
            lying(f"K-{number}", 500 * random.randint(2, 8), 500 * random.randint(2, 8), random.choice(["B1", "B2"]))
            for number in range(random.randint(1, 4))
        ]
        days = {code: TODAY + timedelta(random.choice([1, 5])) for code in ("J1", "J2")}
        supply = random.choice([(), (LENGTHS,)])
        makeshift = Makeshift(Desk(WIDEST, COSTS), Pool(things[1:]), things[:1], (), supply, TODAY, days)
        units = [unit for code in days if makeshift.place(unit := random_unit(random, code))]
        share = makeshift.share()
        takes = [block.move.take for block in share.blocks]
        wanted = Counter(size for unit in units for _, size in unit.items)
        assert Counter(size for take in takes for size in take.pieces) == wanted, seed
        assert share.cost_pence == sum(take.cost_pence for take in takes), seed
        lying_keys = [take.source.key for take in takes if take.source in things]
        assert len(lying_keys) == len(set(lying_keys)), seed
        for one in share.blocks:
            source, drops = one.move.take.source, one.move.take.cut.drops
            assert all(source.there_before(days[code]) for code in one.move.jobs), seed
            assert sum(drop.length_mm for drop in drops) <= source.length_mm, seed
            for drop in drops:
                assert sum(lane.width_mm for lane in drop.lanes) <= source.width_mm, seed
                assert all(sum(n for _, n in lane.pieces) <= drop.length_mm for lane in drop.lanes), seed
                assert all(w <= lane.width_mm for lane in drop.lanes for w, _ in lane.pieces), seed
            assert one.cost_pence >= exact_cost(source, in_order(one.move.take.pieces), COSTS) - PENCE, seed
        for unit in units:
            code = unit.items[0][0]
            batches = {one.move.take.source.batch for one in share.blocks if code in one.move.jobs}
            assert len(batches) == 1, seed
            assert unit.batch in {None, *batches}, seed
        placed += len(units)
    assert placed > 10
