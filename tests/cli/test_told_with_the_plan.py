"""What stands in the way of a plan is told when it is made, not only when it is accepted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from builders import ROLL, small_request
from simple_planner import simple_plan
from stores_with_plans import THREE, TODAY, Plan, ok, refused
from typed_commands import WEEK, fill, run

from stockplan.domain.jobs import Strip
from stockplan.domain.plan import Plan as CutPlan
from stockplan.domain.request import PlanRequest, SearchLimits


def test_a_plan_of_too_few_days_says_at_once_that_it_cannot_be_accepted_and_which_days_would_do(
    planned: Plan, store: Path
) -> None:
    """R-1 serves J1 and, a day later, J2."""
    planned()
    ok("accept", *TODAY)
    longer = replace(THREE.jobs[0], strips=(Strip("A", 4000, 3100), *THREE.jobs[0].strips[1:]))
    fill(store, replace(THREE, jobs=(longer,), stock=(replace(ROLL, tag="R-9"),)))
    against = (
        "  J2 would lose R-1, which plan 1 cuts for it, and is not planned here\n"
        "Plan again with: stockplan plan --from 2026-11-30 --to 2026-12-01\n"
    )
    said = run("plan", "--from", "2026-11-30", "--to", "2026-11-30", *TODAY)
    assert (said.exit_code, said.stderr.endswith(against)) == (0, True), said.stderr
    assert "Plan 2 cannot be accepted as it is; what stands against it:\n" in said.stderr
    assert refused("accept", *TODAY).endswith(against)
    said = run("plan", "--from", "2026-11-30", "--to", "2026-12-01", *TODAY)
    assert "cannot be accepted" not in said.stderr
    ok("accept", *TODAY)


def test_what_somebody_holds_while_it_is_planned_is_told_with_it(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def held_meanwhile(request: PlanRequest, limits: SearchLimits, *others: object) -> CutPlan:
        ok("hold", "R-1", "Q-7", "--until", "2099-01-01")
        return simple_plan(request, limits, None, None)

    fill(store, small_request())
    monkeypatch.setattr("stockplan.cutting.plan_cuts", held_meanwhile, raising=False)
    said = run("plan", *WEEK).stderr
    assert (
        "Plan 1 cannot be accepted as it is; what stands against it:\n  R-1 is held for Q-7 until 2099-01-01\n" in said
    )
    assert "R-1 is held for Q-7" in refused("accept", *TODAY)
