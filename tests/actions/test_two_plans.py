"""The plan without a job and the plan with it, looked for at once."""

from __future__ import annotations

import os
import signal

import pytest
from builders import JOB, small_request

from stockplan.actions import two_plans
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import PlanRequest, SearchLimits

HERE, PLANNED = os.getpid(), two_plans._planned


def killed_elsewhere(request: PlanRequest, limits: SearchLimits, *_: object) -> tuple[ProductPlan, list[str]]:
    """Plan in the process that asks; another is killed, as where memory is short."""
    if os.getpid() != HERE:
        os.kill(os.getpid(), signal.SIGKILL)
    return PLANNED(request, limits)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="signals of POSIX systems")
def test_a_process_that_is_killed_costs_time_and_not_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    request, limits = small_request(JOB), SearchLimits(5, 1000)
    base, plan = two_plans.both_plans(request, request, limits)
    monkeypatch.setattr(two_plans, "_planned", killed_elsewhere)
    again, _ = two_plans.both_plans(request, request, limits)
    assert base is not None
    assert again is not None
    assert again.net_cost_pence == base.net_cost_pence == plan.net_cost_pence
