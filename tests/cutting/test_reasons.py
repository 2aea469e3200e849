"""Reasons held against every plan there is: what would happen without an order, and with a job from another batch."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import replace

import pytest
from every_way_to_cut import Best, WholeProblem
from small_problems import GRASS, cut_lengths, item, job, problem, rolls, sound_plan
from test_brute_force import PENCE, random_request

from stockplan.bench.weeks import week
from stockplan.cutting.assemble import assemble
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.flat import JOB_SIZE
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.memory import PICKED_AT
from stockplan.cutting.picking import pick_nearby
from stockplan.cutting.reasons import Reasons, settle
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import NEW_BATCH, ProductPlan
from stockplan.domain.reasons import BatchGround, BatchReason, Instead, OrderReason
from stockplan.domain.request import CutAlready, Pin, PlanRequest, SearchLimits

LIMITS = SearchLimits(seconds=20, work=60)


def pieces_of(request: PlanRequest, codes: set[str] | tuple[str, ...]) -> int:
    return sum(one.piece_count for one in request.jobs if one.code in codes)


def pieces_short(planned: ProductPlan) -> int:
    return sum(shortfall.count for shortfall in planned.short)


def nothing_bought(request: PlanRequest) -> Best:
    """The best plan with nothing to buy; what counts as full width stays what it was."""
    problem = WholeProblem(request)
    problem.bought = [[] for _ in request.supply]
    return problem.solve()


def elsewhere(request: PlanRequest, reason: BatchReason) -> Best:
    """The best plan with a job's batch forbidden to it, or with it in one batch where it mixes several."""
    if len(reason.batches) == 1:
        return WholeProblem(request, {(reason.job, reason.batches[0])}).solve({reason.job})
    jobs = tuple(replace(j, batch_rule=BatchRule.ONE) if j.code == reason.job else j for j in request.jobs)
    return WholeProblem(replace(request, jobs=jobs)).solve({reason.job})


def judge_order(request: PlanRequest, planned: ProductPlan, reason: OrderReason) -> bool:
    """Hold what is told of the only order of a plan against the truth; True when the best answer was found."""
    best, base = nothing_bought(request), pieces_short(planned)
    assert reason.worked_out
    told_short = base + pieces_of(request, reason.short)
    assert best.pieces_short <= told_short
    if reason.short:
        assert reason.extra_pence is None
        return best.pieces_short == told_short
    assert reason.extra_pence is not None
    assert best.net_cost <= planned.net_cost_pence + reason.extra_pence + PENCE
    return planned.net_cost_pence + reason.extra_pence <= best.net_cost + PENCE


def judge_batch(request: PlanRequest, planned: ProductPlan, reason: BatchReason) -> bool:
    """Hold why a job is cut from its batch against the truth; True when the best answer was found."""
    best, base = elsewhere(request, reason), pieces_short(planned)
    if reason.ground is BatchGround.ONLY:
        assert best.pieces_short > base
        return True
    if reason.ground is BatchGround.NO_ROOM:
        return best.pieces_short > base
    assert reason.ground is BatchGround.CHEAPEST
    assert reason.extra_pence is not None
    assert best.pieces_short <= base
    assert best.net_cost <= planned.net_cost_pence + reason.extra_pence + PENCE
    return planned.net_cost_pence + reason.extra_pence <= best.net_cost + PENCE


def judge(seeds: range) -> Counter[tuple[str, bool]]:
    """How often what is told is the best there is, by what it is about."""
    found: Counter[tuple[str, bool]] = Counter()
    for seed in seeds:
        request = random_request(seed)
        (planned,) = sound_plan(request, LIMITS).products
        assert {reason.order for reason in planned.order_reasons} == {order.key for order in planned.orders}
        short = {shortfall.job for shortfall in planned.short}
        assert [r.job for r in planned.batch_reasons] == sorted(j.code for j in request.jobs if j.code not in short)
        if pieces_short(planned) > WholeProblem(request).solve().pieces_short:
            continue
        if len(planned.orders) == 1:
            found["order", judge_order(request, planned, planned.order_reasons[0])] += 1
        for reason in planned.batch_reasons:
            found[reason.ground.value, judge_batch(request, planned, reason)] += 1
    return found


def assert_mostly_best(found: Counter[tuple[str, bool]], kinds: set[str]) -> None:
    """What is told holds always, and is the best there is mostly: a short search does not find everything."""
    assert {kind for kind, _ in found} >= kinds
    assert not found["only", False]
    searched = {key: count for key, count in found.items() if key[0] != "only"}
    best = sum(count for (_, is_best), count in searched.items() if is_best)
    assert best >= 0.75 * sum(searched.values()), found


def test_what_is_told_is_true_of_every_plan_there_is() -> None:
    assert_mostly_best(judge(range(50)), {"only", "cheapest"})


@pytest.mark.slow
def test_what_is_told_is_true_of_every_plan_there_is_many_times() -> None:
    assert_mostly_best(judge(range(2000, 2200)), {"order", "only", "no room", "cheapest"})


#    R1 (B1) 4 × 10        R2 (B2) 4 × 10        J1 wants 4 × 3 m twice, J2 once; to buy: a roll of 4 × 25
#   +--------+            +--------+
#   |   J1   | 6          |        |
#   +--------+            +--------+
YARD = [item("P1", "4000x6000", "B1", "part_roll"), item("P2", "4000x9000", "B2", "part_roll")]


def reasons(request: PlanRequest) -> tuple[ProductPlan, dict[str, BatchReason]]:
    (product,) = sound_plan(request).products
    return product, {reason.job: reason for reason in product.batch_reasons}


def test_the_next_best_batch_costs_what_a_sum_by_hand_says() -> None:
    # From P1 nothing is left: 6 m at 36.00 a metre (0.9 of the cost) and no cut. From P2 a tail of 3 m stays, worth as
    # much a metre, and one crosscut of 2.00 is made: 6 m at 36.00 and 2.00 more.
    _, why = reasons(problem([job("J1", "4000x6000")], YARD))
    assert why == {"J1": BatchReason("J1", ("B1",), BatchGround.CHEAPEST, ("B2",), 200)}


def test_the_only_batch_with_one_long_piece_is_told_so() -> None:
    _, why = reasons(problem([job("J1", "4000x8000 4000x1000")], YARD))
    assert why == {"J1": BatchReason("J1", ("B2",), BatchGround.ONLY, lacking_mm=(4000, 8000))}


def test_the_only_batch_with_enough_in_all_is_told_so() -> None:
    _, why = reasons(problem([job("J1", "4000x4500*2")], YARD))
    assert why == {"J1": BatchReason("J1", ("B2",), BatchGround.ONLY)}


def test_a_batch_that_other_jobs_need_has_no_room() -> None:
    _, why = reasons(problem([job("J1", "4000x6000"), job("J2", "4000x9000")], YARD))
    assert why["J1"] == BatchReason("J1", ("B1",), BatchGround.NO_ROOM)
    assert why["J2"] == BatchReason("J2", ("B2",), BatchGround.ONLY, lacking_mm=(4000, 9000))


def test_what_people_decided_and_what_is_cut_are_reasons_enough() -> None:
    request = problem([job("J1", "4000x3000*2"), job("J2", "4000x3000*2")], YARD)
    request = replace(request, pins=(Pin("J1", "P2"),), cut_already=(CutAlready("J2", "S1", 1, "B1"),))
    _, why = reasons(request)
    assert why["J1"] == BatchReason("J1", ("B2",), BatchGround.PINNED)
    assert why["J2"] == BatchReason("J2", ("B1",), BatchGround.BEGUN)


def test_a_job_that_mixes_batches_is_told_what_one_batch_would_cost() -> None:
    # 6 m off P1 and 6 m off P2 leave 3 m; a roll of 25 m bought for both leaves 13 m.
    jobs = [job("J1", "4000x6000*2", rule=BatchRule.ANY)]
    product, why = reasons(problem(jobs, YARD, [rolls("4000x25000", 100_000)]))
    assert why["J1"].batches == ("B1", "B2")
    assert (why["J1"].ground, why["J1"].instead) == (BatchGround.CHEAPEST, (NEW_BATCH,))
    (alone,) = sound_plan(problem([job("J1", "4000x6000*2")], YARD, [rolls("4000x25000", 100_000)])).products
    assert why["J1"].extra_pence == alone.net_cost_pence - product.net_cost_pence
    _, why = reasons(problem(jobs, YARD))
    assert why["J1"] == BatchReason("J1", ("B1", "B2"), BatchGround.ONLY)


def test_without_an_order_its_jobs_go_elsewhere_or_are_short() -> None:
    # The yard's P2 is dear, so that J1 is cut from what is bought; J2 is longer than anything in the yard.
    stock = [item("P2", "4000x9000", "B2", "part_roll", pence=9000)]
    supply = [cut_lengths("4000x20000", 1000)]
    product, _ = reasons(problem([job("J1", "4000x6000")], stock, supply))
    (reason,) = product.order_reasons
    (dear,) = sound_plan(problem([job("J1", "4000x6000")], stock)).products
    extra = dear.net_cost_pence - product.net_cost_pence
    assert reason == OrderReason("new-1", ("J1",), True, (), (Instead("J1", ("P2",)),), extra)
    product, _ = reasons(problem([job("J1", "4000x6000"), job("J2", "4000x10000", day=1)], stock, supply))
    told = {reason.order: reason for reason in product.order_reasons}
    (shared,) = [reason for reason in told.values() if "J2" in reason.jobs]
    assert shared.short == ("J2",)
    assert shared.extra_pence is None


def improved(size: str, seed: int, steps: int) -> tuple[PlanRequest, Instance, Solution]:
    """A week, and an answer to it that a few steps have improved."""
    request = week(size, seed)
    instance = build_instance(request, GRASS)
    rough = trimmed(instance, foreman_plan(instance))
    return request, instance, Recreate(instance, 0).run(rough, steps, Budget(time.monotonic() + 60))


def test_reasons_are_the_same_twice_and_stop_when_told_to() -> None:
    request, instance, best = improved("S", 1, 300)
    first, second = (settle(request, instance, best, Budget(time.monotonic() + 60)) for _ in range(2))
    assert first == second
    for over in (Budget(time.monotonic() + 60, None, lambda: True), Budget(time.monotonic())):
        _, parts, told = settle(request, instance, best, over)
        assert [reason.order for reason in told.orders] == [order.key for order in parts.orders]
        assert not any(reason.worked_out for reason in told.orders)
        assert {reason.ground for reason in told.batches} <= {BatchGround.ONLY, BatchGround.NOT_WORKED_OUT}


def test_a_plan_that_a_reason_finds_the_better_of_gives_way_to_it() -> None:
    request, instance, rough = improved("S", 1, 10)
    best, parts, told = settle(request, instance, rough, Budget(time.monotonic() + 60))
    assert best.rank(instance) < rough.rank(instance)
    assert parts.net_cost_pence <= best.net_cost(instance)
    assert {reason.order for reason in told.orders} == {order.key for order in parts.orders}


def test_reasons_of_a_middling_week_take_little_time() -> None:
    request, instance, best = improved("M", 1, 600)
    before = time.process_time()
    why = Reasons(request, instance, assemble(instance, best, first_order=1))
    orders, batches = why.of_orders(Budget(time.monotonic() + 60)), why.of_batches(Budget(time.monotonic() + 60))
    assert time.process_time() - before < 4, "a second where nothing else runs"
    assert all(reason.worked_out for reason in orders)
    assert all(reason.ground is not BatchGround.NOT_WORKED_OUT for reason in batches)


def test_what_would_be_instead_is_a_plan() -> None:
    """Every answer to a question makes what its jobs need, no source is cut twice, and no job is forgotten."""
    request, instance, best = improved("S", 1, 300)
    why = Reasons(request, instance, assemble(instance, best, first_order=1))
    questions = [why.ask.without_order(order) for order in why.parts.orders]
    questions += [why.ask.without_item(used.source) for used in why.parts.stock_used]
    questions += [why.ask.otherwise(job) for job in range(len(instance.jobs)) if why.ask.others(job)]
    assert len(questions) > 8
    for question in questions:
        found = why.ask.tried(question, 20, Budget(time.monotonic() + 60))
        made: Counter[object] = Counter()
        used: Counter[object] = Counter()
        for pattern, count in found.patterns.items():
            assert pattern.source in question.instance.sources
            used[pattern.source] += count
            for piece, number in pattern.made().items():
                assert pattern.source.makes(piece)
                made[piece] += number * count
        assert made == found.demand(question.instance)
        assert all(source.copies is None or used[source] <= source.copies for source in question.instance.sources)
        served = {question.instance.groups[group].job for group, _ in found.given}
        assert served | found.short == set(range(len(instance.jobs)))


def test_orders_of_the_same_thing_are_told_the_same() -> None:
    """Which of two like rolls is left out is a matter of names."""
    yard = [item("P9", "4000x6000", "B9", "part_roll", pence=9000)]
    jobs = [job("J1", "4000x6000"), job("J2", "4000x10000", day=1)]
    product, _ = reasons(problem(jobs, yard, [rolls("4000x10000", 50_000)]))
    assert len(product.orders) == 2
    told = {reason.jobs: reason for reason in product.order_reasons}
    assert told["J1",].short == told["J2",].short == ()
    assert told["J1",].extra_pence == told["J2",].extra_pence
    assert told["J1",].instead == (Instead("J1", ("P9",)),)
    (other,) = {order.key for order in product.orders} - {told["J2",].order}
    assert told["J2",].instead == (Instead("J2", (other,)),)


def test_offers_alike_but_for_their_days_are_told_apart() -> None:
    """The slower one comes too late for J1, and is the first of the two in the list."""
    supply = [rolls("4000x10000", 50_000, 8), rolls("4000x10000", 50_000, 3)]
    product, why = reasons(problem([job("J1", "4000x6000"), job("J2", "4000x6000", day=9)], [], supply))
    assert len(product.orders) == 2
    assert [reason.short for reason in product.order_reasons] == [("J1",), ("J2",)]
    assert {reason.ground for reason in why.values()} == {BatchGround.ONLY}


def test_only_jobs_nearby_are_taken_apart() -> None:
    _, instance, best = improved("M", 1, 50)
    around = Recreate(instance, 0)
    around.near = [3, 5, 8]
    around.load(best)
    taken = [around.flat.first_job + job * JOB_SIZE for job in around.near]
    picked = set()
    for _ in range(50):
        count = pick_nearby(around.flat.facts, around.state)
        first = around.state[PICKED_AT]
        picked.update(around.state[first : first + count].tolist())
    assert picked == set(taken)
