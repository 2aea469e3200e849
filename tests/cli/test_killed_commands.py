"""Killed at any moment, a command that writes leaves a sound store that holds all of it or nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stockplan.bench.kills import Case, fingerprint, kill_all, unsound


def faults(known: list[Case]) -> list[str]:
    return [fault for one in known for fault in one.faults]


def test_killed_commands_leave_all_or_nothing_and_half_would_be_noticed(tmp_path: Path) -> None:
    known = kill_all(2, seed=1, folder=tmp_path, commands=2)
    assert faults(known) == []
    assert [(one.name, one.killed) for one in known] == [("import", 1), ("receive", 1)]
    store = tmp_path / "now" / "yard.db"
    with closing(sqlite3.connect(store)) as connection, connection:
        connection.execute("DELETE FROM stock_item WHERE tag = (SELECT min(tag) FROM stock_item)")
    assert fingerprint(store) not in (known[1].before, known[1].after)
    assert any("missing from stock" in fault for fault in unsound(store))


@pytest.mark.slow
def test_every_command_that_writes_killed(tmp_path: Path) -> None:
    known = kill_all(21, seed=2, folder=tmp_path)
    assert faults(known) == []
    assert all(one.killed for one in known)
