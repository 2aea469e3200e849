"""A store for every command to work on."""

from __future__ import annotations

from pathlib import Path

import pytest
from simple_planner import simple_plan
from stores_with_plans import THREE, Plan, PlannedWeeks
from typed_commands import Planner, small_case, use


@pytest.fixture(autouse=True)
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A place for a store, named by the environment."""
    monkeypatch.setenv("STOCKPLAN_STORE", str(tmp_path / "yard.db"))
    monkeypatch.setenv("COLUMNS", "120")
    return tmp_path / "yard.db"


@pytest.fixture
def planner(store: Path, monkeypatch: pytest.MonkeyPatch) -> Planner:
    """The small yard in the store, and its plan for an answer."""
    return use(small_case(), store, monkeypatch)


@pytest.fixture(scope="session")
def planned_weeks(tmp_path_factory: pytest.TempPathFactory) -> PlannedWeeks:
    """Stores with a week and a plan of it."""
    return PlannedWeeks(tmp_path_factory.mktemp("planned_weeks"))


@pytest.fixture
def planned(store: Path, planned_weeks: PlannedWeeks, monkeypatch: pytest.MonkeyPatch) -> Plan:
    """Fill the store with a week, and plan it with the simple planner: R-1 for J1 and J2, R-2 for J3."""
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    return lambda request=THREE: planned_weeks.put(request, store)
