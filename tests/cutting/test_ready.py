"""What is compiled is compiled before the clock of a first plan runs, once."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from stockplan.cutting import ready


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """What is told, in a package of one module that nobody has used yet."""
    monkeypatch.setattr(ready, "HERE", tmp_path)
    monkeypatch.setattr(ready, "plan_a_little", lambda: None)
    (tmp_path / "one.py").write_text("")
    return []


def test_it_is_told_once(told: list[str]) -> None:
    ready.make_ready(told.append)
    ready.make_ready(told.append)
    assert told == ["The planner is made ready for this machine, once; that takes some 30 seconds."]


def test_a_changed_module_makes_it_ready_again(told: list[str], tmp_path: Path) -> None:
    ready.make_ready(told.append)
    later = (tmp_path / "__pycache__" / "ready").stat().st_mtime + 10
    os.utime(tmp_path / "one.py", (later, later))
    ready.make_ready(told.append)
    assert len(told) == 2


def test_nothing_is_done_where_nothing_can_be_kept(told: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    ready.make_ready(told.append)
    assert told == []


def test_the_small_week_is_planned_in_every_way() -> None:
    """It must go through the proof by sets and the walks within one batch, or these are compiled in a first plan."""
    ready.plan_a_little()
    from stockplan.cutting.load_kernels import extend  # noqa: PLC0415
    from stockplan.cutting.recursions import fill_source  # noqa: PLC0415
    from stockplan.cutting.trials import steps  # noqa: PLC0415
    from stockplan.cutting.walks import walk  # noqa: PLC0415

    for function in (steps, extend, walk, fill_source):
        assert getattr(function, "signatures"), function  # noqa: B009  numba's
