"""The rule about the layouts a plan picks: each breach is noticed, and nothing else is."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from builders import small_request

from stockplan.cutting.planner import plan_cuts
from stockplan.cutting.strips import grass_of, job_layouts
from stockplan.domain.check import Rule, check
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.lawn import Lawn, Point
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.plan import ChosenLayout, Plan
from stockplan.domain.request import PlanRequest, SearchLimits

DAY = small_request().jobs[0].lay_on
LAWN = Lawn("back", (Point(0, 0), Point(5000, 0), Point(5000, 3000), Point(0, 3000)))
LARGE = Lawn("field", (Point(0, 0), Point(9000, 0), Point(9000, 30_000), Point(0, 30_000)))


@cache
def planned() -> tuple[PlanRequest, Plan]:
    """J1 has a lawn with a seam, J2 one that nothing covers, J3 strips of its own."""
    jobs = (
        Job("J1", "Larch Row", "G30", DAY, "", BatchRule.ONE, (), (LAWN,)),
        Job("J2", "Larch Row", "G30", DAY, "", BatchRule.ONE, (), (LARGE,)),
        Job("J3", "Larch Row", "G30", DAY, "", BatchRule.ONE, (Strip("A", 1500, 2000),)),
    )
    request = small_request(*jobs, supply=())
    grass = grass_of(request, "G30")
    assert grass is not None
    laid = (job if job.strips else replace(job, layouts=job_layouts(job, grass, LayoutSettings())) for job in jobs)
    request = replace(request, jobs=tuple(laid))
    return request, plan_cuts(request, SearchLimits(seconds=20, work=40))


def faults(*picked: ChosenLayout) -> list[str]:
    """What the rule says of the plan with other layouts picked."""
    request, plan = planned()
    (product,) = plan.products
    changed = replace(plan, products=(replace(product, layouts=picked),))
    return [str(found) for found in check(request, changed) if found.rule is Rule.LAYOUT]


def picked() -> tuple[ChosenLayout, ChosenLayout]:
    _, plan = planned()
    first, second = plan.products[0].layouts
    return first, second


def test_one_layout_for_each_job_with_lawns_is_right() -> None:
    request, plan = planned()
    assert check(request, plan) == ()
    first, second = picked()
    assert (first.job, second.job) == ("J1", "J2")
    assert first.seam_cost_pence > 0
    assert second.seam_cost_pence == 0  # it is left short
    assert faults(first, second) == []


@pytest.mark.parametrize("job", ["J1", "J2"])
def test_a_job_with_lawns_and_no_layout_is_noticed(job: str) -> None:
    left = [one for one in picked() if one.job != job]
    assert any("0 layouts picked; would be 1" in fault and job in fault for fault in faults(*left))


def test_a_layout_picked_twice_or_for_a_job_with_strips_is_noticed() -> None:
    first, second = picked()
    assert any("2 layouts picked; would be 1" in fault for fault in faults(first, first, second))
    assert any("1 layouts picked; would be 0" in fault for fault in faults(first, second, replace(first, job="J3")))


def test_a_layout_that_is_none_of_the_jobs_is_noticed() -> None:
    first, second = picked()
    other = replace(first, layout=replace(first.layout, label="another"))
    assert any("layout another is none of the job's" in fault for fault in faults(other, second))


def test_a_layout_picked_for_a_job_of_another_product_is_noticed() -> None:
    first, second = picked()
    assert any(
        "layout picked in the plan for G30" in fault for fault in faults(first, second, replace(first, job="J9"))
    )


def test_seams_at_another_cost_are_noticed_and_a_job_left_short_has_none() -> None:
    first, second = picked()
    dearer = replace(first, seam_cost_pence=first.seam_cost_pence + 1)
    assert any("seams are put at" in fault and "J1" in fault for fault in faults(dearer, second))
    paid = replace(second, seam_cost_pence=second.layout.seam_cost_pence)
    assert any("seams are put at" in fault and "J2" in fault for fault in faults(first, paid))
