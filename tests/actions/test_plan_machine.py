"""Plans made, accepted, withdrawn, ordered for, taken in and cut in random order: nothing is promised or cut twice."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from plan_hand import run
from simple_planner import simple_plan


@pytest.fixture(autouse=True)
def planner(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)


@pytest.mark.parametrize("seed", range(2))
def test_nothing_is_promised_or_cut_twice(tmp_path: Path, seed: int) -> None:
    run(str(tmp_path / "yard.db"), seed, 20)


@pytest.mark.slow
def test_nothing_is_promised_or_cut_twice_in_long_histories(tmp_path: Path) -> None:
    took: Counter[str] = Counter()
    for seed in range(100, 112):
        took += run(str(tmp_path / f"yard-{seed}.db"), seed, 60)
    for name in ("plan", "accept", "accept refused", "withdraw", "order", "take_in", "cut_one", "mend", "undo_cut"):
        assert took[name] >= 5, took
