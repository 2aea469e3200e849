"""Killed without warning while it imports, the store afterwards holds all of the import or nothing."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from killed_import import ITEMS, Child, many
from small_yard import take_in

from stockplan.store.importing import read_contents
from stockplan.store.ledger_rows import read_movements
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store


def look(path: Path, said_stored: bool) -> bool:
    """Say whether the import had been stored; anything between all and nothing fails."""
    if not path.exists():
        assert not said_stored
        return False
    with open_store(str(path)) as store, store.reading() as session:
        assert verify_store(session) == []
        held = read_contents(session)
        assert len(held.stock) in (0, ITEMS)
        assert len(held.products) == (1 if held.stock else 0)
        assert len(list(read_movements(session))) == len(held.stock)
        assert held.stock or not said_stored
    return bool(held.stock)


def kill_many_times(tmp_path: Path, times: int, seed: int) -> None:
    whole = min(Child(tmp_path / f"timed-{number}.db").seconds() for number in range(3))
    moments = random.Random(seed)
    stored = 0
    for number in range(times):
        child = Child(tmp_path / f"killed-{number}.db")
        stored += look(child.path, child.kill_after(moments.uniform(0, whole)))
        with open_store(str(child.path), create=True) as store:  # and the same import again goes through
            take_in(store, many())
            with store.reading() as session:
                assert len(read_contents(session).stock) == ITEMS
        for file in tmp_path.glob(f"{child.path.name}*"):
            file.unlink()
    assert stored < times  # otherwise no kill fell inside an import


def test_killed_ten_times(tmp_path: Path) -> None:
    kill_many_times(tmp_path, times=10, seed=1)


@pytest.mark.slow
def test_killed_fifty_times(tmp_path: Path) -> None:
    kill_many_times(tmp_path, times=50, seed=2)
