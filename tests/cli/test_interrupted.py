"""Ctrl-C once takes the best plan so far, twice ends with nothing stored; a kill leaves the store sound."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from typed_commands import WEEK, fill, small_case

from stockplan.cli.progress import progress_words, shown_progress
from stockplan.domain.request import Progress
from stockplan.errors import StoreError
from stockplan.store.repository import read_plan, read_plans
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store

HERE = [str(folder) for folder in Path(__file__).parents[:2]]
# The program with a planner that looks until it is told to stop, and says when it has begun and what it was told.
PROGRAM = """
import sys, time
sys.path[:0] = sys.argv[1].split(":")
import stockplan.cutting
from typed_commands import small_case
from stockplan.domain.request import Progress

def look_until_told(request, limits, progress, should_stop):
    print("looking", file=sys.stderr, flush=True)
    began = time.monotonic()
    while not should_stop() or sys.argv[2] == "deaf":
        progress(Progress("G30", "looking [on]", 120000, 118800, time.monotonic() - began))
        time.sleep(0.01)
        assert time.monotonic() - began < 60
    return small_case().plan

stockplan.cutting.plan_cuts = look_until_told
from stockplan.cli import main
sys.argv = ["stockplan", *sys.argv[3:]]
main()
"""


@pytest.fixture
def store(tmp_path: Path) -> Path:
    fill(tmp_path / "yard.db", small_case().request)
    return tmp_path / "yard.db"


def start(store: Path, hears: str = "hears") -> subprocess.Popen[str]:
    """Start planning and wait until the planner looks."""
    paths = ":".join([*HERE, *filter(None, os.environ.get("PYTHONPATH", "").split(":"))])
    command = [sys.executable, "-c", PROGRAM, paths, hears, "--store", str(store), "plan", *WEEK, "--json", "-"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    for line in child.stderr or ():
        if line == "looking\n":
            return child
    raise AssertionError(f"ended with {child.wait()}")


def plans(store: Path) -> int:
    with open_store(str(store)) as opened, opened.reading() as session:
        assert verify_store(session) == []
        return len(list(read_plans(session)))


def test_once_takes_the_best_plan_so_far(store: Path) -> None:
    child = start(store)
    child.send_signal(signal.SIGINT)
    output, messages = child.communicate(timeout=30)
    assert child.returncode == 0, messages
    assert "Taking the best plan so far" in messages
    assert json.loads(output)["format"] == "stockplan-plan"
    assert plans(store) == 1


def test_twice_ends_with_nothing_stored(store: Path) -> None:
    child = start(store, "deaf")
    child.send_signal(signal.SIGINT)
    for line in child.stderr or ():
        if "Taking the best plan so far" in line:
            break
    child.send_signal(signal.SIGINT)
    output, messages = child.communicate(timeout=30)
    assert child.returncode == 130
    assert messages.endswith("Stopped; nothing was stored.\n")
    assert output == ""
    assert plans(store) == 0


def test_killed_while_it_stores_the_plan(store: Path) -> None:
    """Moments from the end of the search on; what was printed was stored before."""
    moments = random.Random(4)
    for _ in range(6):
        before = plans(store)
        child = start(store)
        child.send_signal(signal.SIGINT)
        time.sleep(moments.uniform(0, 0.15))
        child.kill()
        output, _ = child.communicate(timeout=30)
        after = plans(store)
        assert after in (before, before + 1)
        assert after == before + 1 or not output


def test_no_plan_is_read_where_none_was_kept(store: Path) -> None:
    child = start(store)
    child.kill()
    child.communicate(timeout=30)
    with open_store(str(store)) as opened, opened.reading() as session, pytest.raises(StoreError, match="no plan"):
        read_plan(session)


@pytest.mark.parametrize(
    ("progress", "words"),
    [
        (Progress("G30", "starting", None, None, 0.2), "G30: starting (0 s)"),
        (Progress("G30", "improving", 123456, None, 9.6), "G30: improving, best 1,234.56 (10 s)"),
        (
            Progress("G30", "improving", 100000, 99000, 3),
            "G30: improving, best 1,000.00, at least 990.00, gap 1.00% (3 s)",
        ),
        (Progress("G30", "improving", 0, 0, 3), "G30: improving, best 0.00, at least 0.00 (3 s)"),
    ],
)
def test_progress_in_words(progress: Progress, words: str) -> None:
    assert progress_words(progress) == words


def test_without_a_terminal_progress_is_a_line_now_and_then(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock: Iterator[float] = iter([0.0, 1.0, 9.9, 10.1, 12.0, 20.2])
    monkeypatch.setattr("stockplan.cli.progress.time.monotonic", lambda: next(clock))
    with shown_progress() as report:
        for second in range(1, 6):
            report(Progress("G30", "looking", None, None, second))
    assert capsys.readouterr().err == "G30: looking (3 s)\nG30: looking (5 s)\n"


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals of POSIX systems")
def test_on_a_terminal_progress_is_one_changing_line(store: Path) -> None:
    import pty  # noqa: PLC0415

    ours, theirs = pty.openpty()
    command = [sys.executable, "-c", PROGRAM, ":".join(HERE), "hears", "--store", str(store), "plan", *WEEK]
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs, env=environment)
    os.close(theirs)
    seen = b""
    try:
        while b"gap 1.00%" not in seen:
            seen += os.read(ours, 4096)
        child.send_signal(signal.SIGINT)
        with suppress(OSError):  # the end of a pseudo-terminal, on Linux
            while more := os.read(ours, 4096):
                seen += more
    finally:
        os.close(ours)
    assert child.wait(timeout=30) == 0
    assert b"looking [on], best 1,200.00, at least 1,188.00" in seen
