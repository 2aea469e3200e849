"""What promised things cost as planned and with pieces taken away, against the plan's own account and its refit."""

from __future__ import annotations

import random
from dataclasses import replace

from builders import widest
from random_cases import random_case

from stockplan.domain.cover_promise import Load, drops_of
from stockplan.domain.cover_reserved import Reserved
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import source_of
from stockplan.domain.refit import Refit, refit
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockItem
from stockplan.domain.worth import stock_worth


def account(request: PlanRequest, item: StockItem, found: Refit) -> int:
    """Worth of the thing and its cuts, less what is kept."""
    cuts, costs = found.cuts, request.costs
    cutting = cuts.crosscuts * costs.crosscut_pence + cuts.rips * costs.rip_pence
    kept = sum(one.value_pence for one in found.leftovers if one.keep)
    return stock_worth(item, widest(request, item.product)) + cutting - kept


def judge(pick: random.Random) -> int:
    """Look at every planned thing of a random plan, and say how many there were."""
    case = random_case(pick.randint)
    request, costs = case.request, replace(case.request.costs, leftovers_have_worth=True)
    lying = {item.tag: item for item in request.stock}
    planned = [cuts for cuts in case.plan.cuts() if cuts.source in lying]
    for cuts in planned:
        item = lying[cuts.source]
        full = widest(request, item.product)
        jobs = {piece.job for piece in cuts.pieces()}
        load = Load(source_of(item, full), 1, drops_of(cuts, jobs))
        reserved = Reserved(Desk(full, costs), lambda _: False)
        whole = refit(cuts, item, full)
        assert reserved.planned_pence(load) == account(request, item, whole)
        rests = sorted((one.width_mm, one.length_mm, one.value_pence) for one in whole.leftovers if one.value_pence)
        assert sorted((one.width_mm, one.length_mm, one.touch_pence) for one in reserved.rests(load)) == rests

        kinds = sorted(set(load.items()))
        lost = set(pick.sample(kinds, pick.randint(0, len(kinds) - 1)))
        gone = frozenset(one for one in cuts.pieces() if (one.job, (one.width_mm, one.length_mm)) in lost)
        lifted = tuple(one for one in load.items() if one in lost)
        less = account(request, item, refit(cuts, item, full, without=gone))
        assert reserved.recut(load, lifted).cost_pence == less

        left_out = pick.choice(sorted(jobs))
        if len(jobs) > 1:
            others = Load(load.source, 1, drops_of(cuts, jobs - {left_out}))
            gone = frozenset(one for one in cuts.pieces() if one.job == left_out)
            less = account(request, item, refit(cuts, item, full, without=gone))
            assert Reserved(reserved.desk, lambda _: False).planned_pence(others) == less
    return len(planned)


def test_a_plan_costs_what_it_says_and_without_some_pieces_what_its_refit_does() -> None:
    assert sum(judge(random.Random(seed)) for seed in range(60)) > 60
