"""Ctrl-C once takes the best plan so far, twice ends, and what is told of the store is true; a kill leaves it sound."""

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
from sqlalchemy import event
from sqlalchemy.orm import Session
from typed_commands import WEEK, fill, run, small_case

from stockplan import resources
from stockplan.cli.progress import progress_words, shown_progress
from stockplan.domain.request import Progress
from stockplan.errors import StoreError
from stockplan.store.repository import read_plan, read_plans
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store

HERE = [str(folder) for folder in Path(__file__).parents[:2]]
PATIENCE = 300  # seconds until a test that hangs is ended; none of them waits for a clock
# The program with a planner that looks until it is told to stop, and says when it has begun. It may be deaf, so that it
# looks on, or slow, so that it never comes to show the plan that it has stored.
PROGRAM = """
import sys, time
paths, sort, *typed = sys.argv[1:]
sys.path[:0] = paths.split(":")
sys.argv = ["stockplan", *typed]
import stockplan.actions.held
import stockplan.cutting
from typed_commands import small_case
from stockplan.domain.request import Progress

def look_until_told(request, limits, progress, should_stop):
    print("looking", file=sys.stderr, flush=True)
    began = time.monotonic()
    while not should_stop() or sort == "deaf":
        progress(Progress("G30", "looking [on]", 120000, 118800, time.monotonic() - began))
        time.sleep(0.01)
        assert time.monotonic() - began < 300
    return small_case().plan

def wait_for_ever(*_):
    print("stored", file=sys.stderr, flush=True)
    while True:
        time.sleep(0.01)

stockplan.cutting.plan_cuts = look_until_told
if sort == "slow":
    stockplan.actions.held.held_notes = wait_for_ever
from stockplan.cli import main
main()
"""


@pytest.fixture
def store(store: Path) -> Path:
    fill(store, small_case().request)
    return store


def start(store: Path, sort: str = "hears") -> subprocess.Popen[str]:
    """Start planning and wait until the planner looks."""
    paths = ":".join([*HERE, *filter(None, os.environ.get("PYTHONPATH", "").split(":"))])
    command = [sys.executable, "-c", PROGRAM, paths, sort, "--store", str(store), "plan", *WEEK, "--json", "-"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    wait_for(child, "looking")
    return child


def wait_for(child: subprocess.Popen[str], told: str) -> None:
    for line in child.stderr or ():
        if told in line:
            return
    raise AssertionError(f"ended with {child.wait()}")


def plans(store: Path) -> int:
    with open_store(str(store)) as opened, opened.reading() as session:
        assert verify_store(session) == []
        return len(list(read_plans(session)))


def test_once_takes_the_best_plan_so_far(store: Path) -> None:
    child = start(store)
    child.send_signal(signal.SIGINT)
    output, messages = child.communicate(timeout=PATIENCE)
    assert child.returncode == 0, messages
    assert "Taking the best plan so far" in messages
    assert json.loads(output)["format"] == "stockplan-plan"
    assert plans(store) == 1


def test_twice_ends_with_nothing_stored(store: Path) -> None:
    child = start(store, "deaf")
    child.send_signal(signal.SIGINT)
    wait_for(child, "Taking the best plan so far")
    child.send_signal(signal.SIGINT)
    output, messages = child.communicate(timeout=PATIENCE)
    assert child.returncode == 130
    assert messages.endswith("Stopped; nothing was stored.\n")
    assert output == ""
    assert plans(store) == 0


def test_again_once_the_plan_is_stored_says_so(store: Path) -> None:
    child = start(store, "slow")
    child.send_signal(signal.SIGINT)
    wait_for(child, "stored")
    child.send_signal(signal.SIGINT)
    output, messages = child.communicate(timeout=PATIENCE)
    assert child.returncode == 130
    assert messages == "\nStopped; plan 1 is stored; show it with: stockplan show 1\n"
    assert output == ""
    assert plans(store) == 1


@pytest.mark.parametrize("command", [["plan", *WEEK, "--seconds", "60"], ["demo"]], ids=lambda command: command[0])
def test_while_the_planner_is_made_ready_the_foremans_plan_is_taken_at_once(
    store: Path, tmp_path: Path, command: list[str]
) -> None:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path / "kept"), "TMPDIR": str(tmp_path)}
    if command == ["demo"]:
        del environment["STOCKPLAN_STORE"]
    child = subprocess.Popen(
        [sys.executable, "-m", "stockplan", *command], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=environment,
    )  # fmt: skip
    wait_for(child, "The planner is made ready for this machine")
    child.send_signal(signal.SIGINT)
    began = time.monotonic()
    output, messages = child.communicate(timeout=PATIENCE)
    assert time.monotonic() - began < 30  # planning is to take a minute, and compiling as long
    assert child.returncode == 0, messages
    assert "Taking the best plan so far" in messages
    assert "the same as the foreman's plan" in " ".join(output.split())
    assert not [path for path in (tmp_path / "kept").rglob("ready") if path.is_file()]


@pytest.fixture
def pressed_while_storing(store: Path) -> Iterator[Path]:
    """A store, and Ctrl-C whenever something is about to be stored for good."""

    def press(_: object) -> None:
        signal.raise_signal(signal.SIGINT)

    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # a test run in the background ignores it
    event.listen(Session, "before_commit", press)
    yield store
    event.remove(Session, "before_commit", press)
    signal.signal(signal.SIGINT, before)


def test_while_a_plan_is_being_stored_it_is_stored_and_told(pressed_while_storing: Path) -> None:
    done = run("plan", *WEEK, "--work", "1")
    assert done.exit_code == 130
    assert done.stderr.endswith("\nStopped; plan 1 is stored; show it with: stockplan show 1\n")
    assert plans(pressed_while_storing) == 1


@pytest.mark.usefixtures("pressed_while_storing")
def test_while_sheets_are_being_stored_they_are_stored_and_told(tmp_path: Path) -> None:
    store = str(tmp_path / "demo.db")
    done = run("--store", store, "import", str(resources.demo_folder()))
    assert (done.exit_code, done.stderr) == (130, "\nStopped; what was done up to then is stored.\n")
    assert run("--store", store, "verify").exit_code == 0
    assert json.loads(run("--store", store, "jobs", "--json").stdout)["jobs"]


def test_before_a_command_stores_anything_nothing_is_told_of_one_before(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def press(*_: object) -> None:
        raise KeyboardInterrupt

    assert run("plan", *WEEK, "--work", "1").exit_code == 0
    monkeypatch.setattr("stockplan.cutting.plan_cuts", press)
    stopped = run("plan", *WEEK)
    assert stopped.stderr.endswith("\nStopped; nothing was stored.\n")
    assert plans(store) == 1


def test_killed_while_it_stores_the_plan(store: Path) -> None:
    """Moments from the end of the search on; what was printed was stored before."""
    moments = random.Random(4)
    for _ in range(6):
        before = plans(store)
        child = start(store)
        child.send_signal(signal.SIGINT)
        time.sleep(moments.uniform(0, 0.15))
        child.kill()
        output, _ = child.communicate(timeout=PATIENCE)
        after = plans(store)
        assert after in (before, before + 1)
        assert after == before + 1 or not output


def test_no_plan_is_read_where_none_was_kept(store: Path) -> None:
    child = start(store)
    child.kill()
    child.communicate(timeout=PATIENCE)
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
    assert child.wait(timeout=PATIENCE) == 0
    assert b"looking [on], best 1,200.00, at least 1,188.00" in seen
