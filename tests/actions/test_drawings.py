"""Drawings of a plan as files: cuts by product, lawns by job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import sample_lawns
from builders import small_request

from stockplan.actions.drawings import write_drawings
from stockplan.actions.files import lawn_drawing_names
from stockplan.actions.planning import ShownPlan
from stockplan.domain.plan import ChosenLayout, Plan, PlanStatus, ProductPlan


@pytest.fixture
def shown() -> ShownPlan:
    """A plan that has cut nothing yet, but picked a layout for a job with a lawn."""
    request = small_request()
    job, layout = sample_lawns.sample(sample_lawns.PLAIN)
    code = request.products[0].code
    chosen = (ChosenLayout(job.code, layout, 0),)
    nothing = ((),) * 5
    product = ProductPlan(code, PlanStatus.OPTIMAL, 0, 0, None, *nothing, 0, 0, 0, "proof", 0.0, layouts=chosen)
    plan = Plan(request.window, request.today, request.currency, (product,))
    return ShownPlan(1, replace(request, jobs=(*request.jobs, replace(job, product=code))), plan, "")


def test_lawns_are_drawn_beside_the_cuts(shown: ShownPlan, tmp_path: Path) -> None:
    written = write_drawings(shown, tmp_path / "week.svg")
    assert [path.name for path in written] == ["week.svg", "week-lawns-J301.svg"]
    assert "J301, lawn back" in written[1].read_text(encoding="utf-8")
    assert 'class="strip"' in written[1].read_text(encoding="utf-8")


def test_sheets_say_of_which_plan_they_are(shown: ShownPlan, tmp_path: Path) -> None:
    """Two plans of the same days hang on one wall."""
    cuts, lawns = write_drawings(replace(shown, number=7), tmp_path / "week.svg")
    first, last = shown.request.window.first, shown.request.window.last
    assert f">Plan 7: cuts for jobs laid from {first} to {last}<" in cuts.read_text(encoding="utf-8")
    assert ">Plan 7: J301, laid " in lawns.read_text(encoding="utf-8")


def test_a_plan_without_lawns_has_no_drawing_of_them(shown: ShownPlan, tmp_path: Path) -> None:
    unmeasured = replace(shown.request, jobs=tuple(replace(job, lawns=()) for job in shown.request.jobs))
    assert [path.name for path in write_drawings(replace(shown, request=unmeasured), tmp_path / "a.svg")] == ["a.svg"]


def test_job_codes_become_file_names_of_their_own() -> None:
    names = lawn_drawing_names(Path("plan"), ["J1/2", "j1_2", "J3"])
    assert [path.name for path in names.values()] == [
        "plan-lawns-J1_2.svg",
        "plan-lawns-j1_2-2.svg",
        "plan-lawns-J3.svg",
    ]
