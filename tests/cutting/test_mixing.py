"""Jobs that may mix batches and be laid in several ways: which way is chosen, what bounds and reasons make of it."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

from small_problems import BOUGHT_ONLY, GRASS, QUICK, TODAY, item, job, problem, rolls
from test_brute_force_layouts import layout

from stockplan.cutting.bounds import whole_pence
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import ANYWHERE, for_bounds
from stockplan.cutting.links import links_of
from stockplan.cutting.mixing import chosen, laid_as
from stockplan.cutting.planner import plan_cuts
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution
from stockplan.cutting.why import Inquiry
from stockplan.domain.check import Rule, check
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import ChosenLayout, Plan
from stockplan.domain.request import PlanRequest, Progress

WAYS = (layout(1, "3000x4000", 0), layout(2, "2000x4000 1500x4000", 300))


def mixing(code: str = "J1") -> Job:
    return replace(job(code, "500x500", rule=BatchRule.ANY), strips=(), layouts=WAYS)


def two_offcuts() -> PlanRequest:
    """By the first way a roll is bought; the second comes from offcuts of two batches."""
    return problem([mixing()], [item("T1", "2000x4000"), item("T2", "1500x4000", "B2")], [rolls("3000x10000", 40_000)])


def test_the_layout_chosen_stands_first_and_the_answer_lays_it() -> None:
    request, answer = chosen(two_offcuts(), GRASS, 0, Budget(math.inf, 1_000))
    assert [one.label for one in request.jobs[0].layouts] == ["2", "1"]
    instance = build_instance(request, GRASS)
    assert not answer.short
    assert {pattern.source.tags for pattern in answer.patterns} == {("T1",), ("T2",)}
    assert answer.net_cost(instance) < 40_000


def test_a_job_that_cannot_be_laid_its_first_way_is_laid_another() -> None:
    request = replace(two_offcuts(), supply=())
    plan = plan_cuts(request, QUICK)
    assert [v for v in check(request, plan) if v.rule is not Rule.LAYOUT] == []
    (planned,) = plan.products
    assert not planned.short
    assert [one.layout.label for one in planned.layouts] == ["2"]
    assert planned.foreman_cost_pence is None, "the foreman lays it the first way, and cannot"


def test_what_was_picked_before_is_kept_where_nothing_is_cheaper() -> None:
    # Both ways come off one roll at the same cost, whichever is tried first.
    ways = (layout(1, "1500x4000 1000x4000", 0), layout(2, "1000x4000 1500x4000", 0))
    one = replace(mixing(), layouts=ways)
    request = problem([one], [item("T1", "3000x9000", form="roll")])
    plan = plan_cuts(request, QUICK)
    (planned,) = plan.products
    other = replace(planned, layouts=(replace(planned.layouts[0], layout=ways[1]),))
    last = Plan(request.window, TODAY, request.currency, (other,))
    again = plan_cuts(replace(request, last=last), QUICK)
    assert [one.layout.label for one in again.products[0].layouts] == ["2"]


def test_a_pick_that_is_none_of_the_jobs_layouts_is_left_aside() -> None:
    request = two_offcuts()
    assert (
        laid_as(request, (ChosenLayout("J1", layout(9, "1000x1000", 0), 0), ChosenLayout("J7", WAYS[1], 0))) == request
    )


def test_a_bound_is_rounded_to_what_a_plan_can_cost_by_any_layout() -> None:
    # Laid first the way that stands second, it costs 20.00 of grass and 3.00 of seams: no multiple of 10.00.
    ways = (layout(1, "1000x1000 1000x1000", 1000), layout(2, "1000x2000", 300))
    roll = item("T1", "1000x2000", form="roll")
    request = problem([replace(mixing(), layouts=ways)], [roll], (), BOUGHT_ONLY)
    (planned,) = plan_cuts(request, QUICK).products
    assert (planned.net_cost_pence, planned.lower_bound_pence) == (2300, 2300)
    assert whole_pence(build_instance(request, GRASS), 2300.0) == 2300


def test_bounds_see_every_layout_whose_pieces_can_be_had() -> None:
    short = layout(3, "2000x4000 3500x4000", 0)  # nothing is so wide
    instance = build_instance(replace(two_offcuts(), jobs=(replace(mixing(), layouts=(*WAYS, short)),)), GRASS)
    easier = for_bounds(instance)
    (group,) = easier.groups
    assert [(h.batch, h.layout) for h in group.demands] == [(ANYWHERE, 0), (ANYWHERE, 1)]
    (wide,), (left, right) = (demand for demand in group.demands.values())
    assert [t.batch for t in easier.ways_to_have(wide)] == [2]
    assert [t.batch for t in easier.ways_to_have(left)] == [0, 2]
    assert [t.batch for t in easier.ways_to_have(right)] == [0, 1, 2]
    assert all(t.batch != ANYWHERE for t in easier.piece_types())
    assert all(not rows for rows in links_of(easier).values()), "no batch has to serve such a job to make its pieces"
    assert for_bounds(build_instance(problem([job("J2", "500x1500")], [item("T1", "2000x4000")]), GRASS)).made_as == {}


def test_why_a_job_is_cut_as_it_is_goes_by_the_layout_that_was_picked() -> None:
    request = replace(two_offcuts(), jobs=(mixing(), job("J2", "1000x1000", day=1)))
    (planned,) = plan_cuts(request, QUICK).products
    why = Inquiry(request, planned, 2.0).of_job("J1")
    assert why.sources == ("T1", "T2")
    assert {one.what for one in why.otherwise} >= {"new"}


def test_the_largest_strip_of_a_job_that_mixes_batches_has_the_first_choice() -> None:
    # The small strip is cheapest beside nothing on the only offcut that holds the large one.
    one = job("J1", "1500x2500 2500x3500", rule=BatchRule.ANY)
    request = problem([one], [item("T0", "2000x3000", pence=2000), item("T1", "2500x3500", "B1", pence=500)])
    instance = build_instance(request, GRASS)
    search = Recreate(instance, 0)
    search.load(Solution(Counter(), {}, frozenset({0})))
    assert search.serve(0)


def test_the_foremans_plan_is_told_before_ways_to_lay_jobs_are_weighed() -> None:
    several = replace(two_offcuts(), jobs=(replace(mixing(), batch_rule=BatchRule.ONE),))
    for request in (two_offcuts(), several):
        told: list[Progress] = []
        (planned,) = plan_cuts(request, QUICK, told.append).products
        assert told[0].phase == "first plan"
        assert told[0].best_pence == planned.foreman_cost_pence
        assert [one.phase for one in told].index("improving") > 0


def test_no_worse_answer_is_chosen_than_one_that_is_known() -> None:
    request, known = chosen(two_offcuts(), GRASS, 0, Budget(math.inf, 1_000))
    assert chosen(request, GRASS, 0, Budget(0.0), known)[1] == known
    foreman = chosen(two_offcuts(), GRASS, 0, Budget(0.0))[1]
    assert known.rank(build_instance(request, GRASS)) < foreman.rank(build_instance(two_offcuts(), GRASS))
