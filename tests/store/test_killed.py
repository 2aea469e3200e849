"""Killed without warning while it imports, the store afterwards holds all of the import or nothing."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from small_yard import G30, OFFCUT, take_in

from stockplan.domain.ledger import fold
from stockplan.store.importing import read_contents
from stockplan.store.ledger_rows import read_movements
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store

ITEMS = 3000
# The child says when it begins to open the store and when the import is stored, so that kills fall in between.
IMPORT = """
import sys
sys.path.insert(0, sys.argv[2])
from test_killed import many
from small_yard import take_in
import stockplan.store.migrate
from stockplan.store.session import open_store
print("begin", flush=True)
with open_store(sys.argv[1], create=True) as store:
    take_in(store, many())
print("stored", flush=True)
"""


def many() -> SheetContents:
    """An import that takes a moment."""
    return SheetContents(
        products=(G30,), stock=tuple(replace(OFFCUT, tag=f"C-{n}", product="G30") for n in range(ITEMS))
    )


def import_in_child(path: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", IMPORT, str(path), str(Path(__file__).parent)]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "begin\n"
    return child


def import_seconds(path: Path) -> float:
    child = import_in_child(path)
    began = time.monotonic()
    assert child.wait() == 0
    return time.monotonic() - began


def kill_and_look(path: Path, after_seconds: float) -> bool:
    """Kill an import, and say whether it had been stored; anything between all and nothing fails."""
    with import_in_child(path) as child:
        time.sleep(after_seconds)
        child.kill()
        assert child.stdout is not None
        said_stored = child.stdout.read() == "stored\n"
    if not path.exists():
        assert not said_stored
        return False
    with open_store(str(path)) as store, store.reading() as session:
        assert verify_store(session) == []
        held = read_contents(session)
        assert len(held.stock) in (0, ITEMS)
        assert len(held.products) == (1 if held.stock else 0)
        assert len(fold(read_movements(session))) == len(held.stock)
        assert held.stock or not said_stored
    return bool(held.stock)


def kill_many_times(tmp_path: Path, times: int, seed: int) -> None:
    whole = import_seconds(tmp_path / "timed.db")
    moments = random.Random(seed)
    stored = 0
    for number in range(times):
        path = tmp_path / f"killed-{number}.db"
        stored += kill_and_look(path, moments.uniform(0, whole * 1.1))
        with open_store(str(path), create=True) as store:  # and the same import again goes through
            take_in(store, many())
            assert not take_in(store, many()).changed_anything
            with store.reading() as session:
                assert len(read_contents(session).stock) == ITEMS
        for file in tmp_path.glob(f"{path.name}*"):
            file.unlink()
    assert stored < times  # otherwise no kill fell inside an import


def test_killed_ten_times(tmp_path: Path) -> None:
    kill_many_times(tmp_path, times=10, seed=1)


@pytest.mark.slow
def test_killed_two_hundred_times(tmp_path: Path) -> None:
    kill_many_times(tmp_path, times=200, seed=2)
