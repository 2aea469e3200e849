"""Answers that take more than a second tell how far they are: the estimator's and the reasons, as plans do."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import WEEK, fill, run

QUOTE = ("quote", "4x2", "--product", "G30", "--today", "2026-11-23", "--lay-on", "2026-12-01", "--seconds", "1")
WHY = ("why", "J1", "--seconds", "1")


@pytest.fixture
def planned(store: Path) -> Path:
    """A store with a plan by the real planner."""
    fill(store, small_request())
    assert run("plan", *WEEK, "--seconds", "1").exit_code == 0
    return store


@pytest.mark.parametrize(
    ("typed", "told"),
    [(QUOTE, "G30: plan with quote, first plan, best "), (WHY, "G30: looking into J1 (0 s)")],
    ids=["quote", "why"],
)
def test_how_far_it_is_is_told(
    planned: Path, monkeypatch: pytest.MonkeyPatch, typed: tuple[str, ...], told: str
) -> None:
    quiet = run(*typed)
    assert (quiet.exit_code, quiet.stderr) == (0, ""), "not within ten seconds, where it is no terminal"
    monkeypatch.setattr("stockplan.cli.progress.SECONDS_BETWEEN_LINES", 0.0)
    assert told in run(*typed).stderr


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals of POSIX systems")
def test_on_a_terminal_it_stands_there_until_the_answer_comes(planned: Path) -> None:
    import pty  # noqa: PLC0415

    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    command = [sys.executable, "-m", "stockplan", "--store", str(planned), *WHY]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=theirs, env=environment)
    os.close(theirs)
    seen = b""
    with suppress(OSError):  # the end of a pseudo-terminal, on Linux
        while more := os.read(ours, 4096):
            seen += more
    os.close(ours)
    answer, _ = child.communicate(timeout=60)
    assert answer.startswith(b"J1, laid Mon 30 Nov")
    assert b"G30: looking into J1 (0 s)" in seen
    assert b"\x1b[2K" in seen.rpartition(b"J1 (0 s)")[2], "taken away again"
