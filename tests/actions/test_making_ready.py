"""What is compiled is compiled before the clock of a first plan runs, once, and Ctrl-C ends it at once."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from stockplan.actions.making_ready import make_ready
from stockplan.cutting import ready

TOLD = "The planner is made ready for this machine, once; that takes some 30 seconds."
PATIENCE = 60  # seconds; what ends at once waits for no clock


def in_no_time() -> None:
    """Stands in for compiling."""


def in_a_long_time() -> None:
    time.sleep(PATIENCE)


def in_vain() -> None:
    raise SystemExit(1)


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """What is told, in a package of one module that nobody has used yet."""
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(ready, "HERE", tmp_path)
    (tmp_path / "one.py").write_text("")
    return []


def test_it_is_told_once(told: list[str]) -> None:
    make_ready(told.append, None, [in_no_time])
    make_ready(told.append, None, [in_no_time])
    assert told == [TOLD]


def test_a_changed_module_makes_it_ready_again(told: list[str], tmp_path: Path) -> None:
    make_ready(told.append, None, [in_no_time])
    earlier = (tmp_path / "one.py").stat().st_mtime - 10  # such as an older version, installed anew
    os.utime(tmp_path / "one.py", (earlier, earlier))
    make_ready(told.append, None, [in_no_time])
    assert told == [TOLD, TOLD]


def test_another_numba_makes_it_ready_again(told: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    make_ready(told.append, None, [in_no_time])
    monkeypatch.setattr(ready, "version", lambda name: f"{name} of tomorrow")
    make_ready(told.append, None, [in_no_time])
    assert told == [TOLD, TOLD]


def test_nothing_is_done_where_nothing_can_be_kept(told: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.actions.making_ready.place_of_mark", lambda: None)
    make_ready(told.append, None, [in_no_time])
    assert told == []


def test_a_folder_of_its_own_for_what_is_compiled_has_a_mark_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    from stockplan.cutting.chance import draw  # noqa: PLC0415

    assert ready.place_of_mark() == Path(getattr(draw, "stats").cache_path) / "ready"  # noqa: B009  numba's


def test_asked_to_stop_it_ends_at_once_and_is_done_again_the_next_time(told: list[str]) -> None:
    began = time.monotonic()
    make_ready(told.append, lambda: time.monotonic() > began + 0.2, [in_a_long_time])
    assert time.monotonic() - began < PATIENCE / 2
    make_ready(told.append, None, [in_no_time])
    assert told == [TOLD, TOLD]


def test_where_it_cannot_be_done_that_is_told_and_left(told: list[str]) -> None:
    make_ready(told.append, None, [in_no_time, in_vain])
    assert len(told) == 2
    assert "it is done while planning" in told[1]
