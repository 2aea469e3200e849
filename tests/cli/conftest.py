"""A store for every command to work on."""

from __future__ import annotations

from pathlib import Path

import pytest
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
