"""Lists on a terminal narrower than they are."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run

COVER = ("cover", "1.2x2.0", "--product", "G30", "--today", "2026-11-23", "--lay-on", "2026-12-04")


@pytest.fixture
def yard(store: Path) -> Path:
    """Rolls R-1 and R-2 in bay north, and a job."""
    fill(store, small_request())
    return store


def shown(*arguments: str, columns: int) -> list[str]:
    """The lines that the program prints on a terminal so wide."""
    ours, theirs = pty.openpty()
    try:
        subprocess.run(
            [sys.executable, "-m", "stockplan", *arguments],
            stdin=subprocess.DEVNULL, stdout=theirs, stderr=subprocess.DEVNULL, timeout=60, check=True,
            env={**os.environ, "COLUMNS": str(columns)},
        )  # fmt: skip
        return os.read(ours, 100_000).decode().splitlines()
    finally:
        os.close(ours)
        os.close(theirs)


@pytest.mark.parametrize("command", [("stock",), ("jobs",), ("history", "R-1"), ("count", "north"), COVER])
def test_rows_go_on_in_further_lines_and_nothing_is_lost(yard: Path, command: tuple[str, ...]) -> None:
    wide, narrow = run(*command).stdout, shown(*command, columns=60)
    assert max(map(len, narrow)) <= 60 < max(map(len, wide.splitlines()))
    assert sorted(" ".join(narrow).split()) == sorted(wide.split())
