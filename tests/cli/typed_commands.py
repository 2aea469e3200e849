"""Typing commands, and a small yard with a stand-in for the planner."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from builders import JOB, Case, build, read_cuts, small_request
from click.testing import Result
from empty_stores import empty_store
from typer.testing import CliRunner

from stockplan import cli
from stockplan.domain.jobs import Strip
from stockplan.domain.plan import Plan, Shortfall
from stockplan.domain.request import PlanRequest, Progress, SearchLimits
from stockplan.store.importing import import_contents
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents

WEEK = ("--from", "2026-11-30", "--to", "2026-12-04", "--today", "2026-11-23")  # of the small yard


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli.app, list(arguments))


def fill(store: Path, request: PlanRequest) -> None:
    contents = SheetContents(request.products, request.supply, request.stock, request.jobs)
    with open_store(str(store)) if store.exists() else empty_store(store) as opened, opened.unit_of_work() as work:
        import_contents(work, contents, "tester")
        work.commit()


class Planner:
    """Stands in for the planner: gives the case's plan and remembers what was asked."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.limits = SearchLimits()
        self.request = case.request

    def __call__(self, request: PlanRequest, limits: SearchLimits, progress: object, should_stop: object) -> Plan:
        assert callable(progress)
        assert callable(should_stop)
        progress(Progress("G30", "looking", 1000, 900, 0.5))
        assert should_stop() is False
        self.request, self.limits = request, limits
        return replace(self.case.plan, today=request.today)


def small_case() -> Case:
    request = small_request()
    return build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")})


def short_case() -> Case:
    request = small_request(JOB, replace(JOB, code="J2", strips=(Strip("A", 5000, 3000),)))
    cuts = {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}
    return build(request, cuts, short=[Shortfall("J2", "A", 1, "no roll is so wide")])


def use(case: Case, store: Path, monkeypatch: pytest.MonkeyPatch) -> Planner:
    stand_in = Planner(case)
    fill(store, case.request)
    monkeypatch.setattr("stockplan.cutting.plan_cuts", stand_in, raising=False)
    return stand_in
