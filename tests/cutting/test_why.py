"""Looking into one question in earnest, held against every plan there is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from every_way_to_cut import IMPOSSIBLE, Best, WholeProblem
from small_problems import item, job, problem, rolls, sound_plan
from test_brute_force import PENCE, random_request
from test_reasons import YARD, nothing_bought, pieces_of, pieces_short

from stockplan.cutting.why import NOTHING_BOUGHT, Inquiry
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import ProductPlan
from stockplan.domain.reasons import BatchGround, Otherwise, Why
from stockplan.domain.request import PlanRequest, SearchLimits

LIMITS = SearchLimits(seconds=20, work=60)


def one_plan(request: PlanRequest) -> ProductPlan:
    return sound_plan(request, LIMITS).products[0]


def in_batch(request: PlanRequest, code: str, batch: str) -> Best:
    """The best plan with a job in one batch."""
    names = {thing.batch_key for thing in request.stock} | {"new"}
    strict = tuple(replace(j, batch_rule=BatchRule.ONE) if j.code == code else j for j in request.jobs)
    return WholeProblem(replace(request, jobs=strict), {(code, other) for other in names - {batch}}).solve({code})


def assert_brackets(request: PlanRequest, plan: ProductPlan, one: Otherwise, best: Best, job: str = "") -> None:
    told_short = pieces_short(plan) + pieces_of(request, one.short)
    if one.short == (job,):  # `best` serves it whatever that leaves short
        assert not one.proven or best.pieces_short > pieces_short(plan)
        return
    assert best.pieces_short <= told_short
    if one.short:
        assert one.most_pence is None
        in_exchange = pieces_short(plan) > 0  # a job short in the plan may be served then
        assert not one.proven or in_exchange or best.pieces_short == told_short
        return
    assert one.most_pence is not None
    assert best.net_cost <= plan.net_cost_pence + one.most_pence + PENCE
    if one.least_pence is not None:
        assert plan.net_cost_pence + one.least_pence <= best.net_cost
    assert one.proven == (one.least_pence == one.most_pence)


def look_into(request: PlanRequest) -> int:
    """Ask of every job, order and thing of one plan; the number of answers held against the truth."""
    plan = one_plan(request)
    if pieces_short(plan) > WholeProblem(request).solve().pieces_short:
        return 0
    inquiry, judged = Inquiry(request, plan, 2.0), 0
    for reason in plan.batch_reasons:
        for one in inquiry.of_job(reason.job).otherwise:
            if len(reason.batches) == 1 and request_rule(request, reason.job) is BatchRule.ANY:
                continue  # it may then mix: `one` is about no single batch
            assert_brackets(request, plan, one, in_batch(request, reason.job, one.what), reason.job)
            judged += 1
    for used in plan.stock_used:
        (one,) = inquiry.of_source(used.source).otherwise
        fewer = replace(request, stock=tuple(thing for thing in request.stock if thing.tag != used.source))
        if fewer.widest_mm("G30") == request.widest_mm("G30"):
            assert_brackets(request, plan, one, WholeProblem(fewer).solve())
            judged += 1
    if len(plan.orders) == 1:
        found = inquiry.of_source(plan.orders[0].key).otherwise
        assert_brackets(request, plan, next(o for o in found if o.what == NOTHING_BOUGHT), nothing_bought(request))
        judged += 1
    return judged


def request_rule(request: PlanRequest, code: str) -> BatchRule:
    return next(one.batch_rule for one in request.jobs if one.code == code)


def test_what_is_found_brackets_the_truth() -> None:
    assert sum(look_into(random_request(seed)) for seed in range(12)) > 8


@pytest.mark.slow
def test_what_is_found_brackets_the_truth_many_times() -> None:
    assert sum(look_into(random_request(seed)) for seed in range(3000, 3040)) > 30


def test_an_answer_is_proven_where_the_search_proves_it() -> None:
    request = problem([job("J1", "4000x6000")], YARD)
    why = Inquiry(request, one_plan(request), 5.0).of_job("J1")
    assert (why.sources, why.batches, why.ground) == (("P1",), ("B1",), BatchGround.CHEAPEST)
    assert [(one.what, one.least_pence, one.most_pence, one.proven) for one in why.otherwise] == [
        ("B2", 200, 200, True)
    ]


def test_of_an_order_another_offer_is_told_where_it_helps() -> None:
    stock = [item("P1", "4000x2000", "B1", "part_roll")]
    cheap, dear = rolls("4000x25000", 100_000), replace(rolls("4000x25000", 100_500), supplier="Ostrel Depot")
    request = problem([job("J1", "4000x6000")], stock, [cheap, dear])
    plan = one_plan(request)
    why = Inquiry(request, plan, 5.0).of_source(plan.orders[0].key)
    other, nothing = why.otherwise
    assert (nothing.what, nothing.short, nothing.proven) == (NOTHING_BOUGHT, ("J1",), True)
    (dearer,) = sound_plan(replace(request, supply=(dear,))).products
    assert other.most_pence == dearer.net_cost_pence - plan.net_cost_pence


def test_of_a_job_left_short_the_remedies_are_told() -> None:
    request = problem([job("J1", "4000x9000*2")], YARD)
    plan = one_plan(request)
    why = Inquiry(request, plan, 5.0).of_job("J1")
    assert why == Why("J1", "G30", True, (), short=plan.short[0].reason, remedies="9.0 m more of B2 in one length")


def test_nothing_is_impossible_to_solve_for_the_enumerator() -> None:
    assert in_batch(problem([job("J1", "4000x9000")], YARD), "J1", "B1").net_cost == IMPOSSIBLE
