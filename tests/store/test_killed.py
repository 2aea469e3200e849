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

from stockplan.store.importing import read_contents
from stockplan.store.ledger_rows import read_movements
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store

ITEMS = 2000
# The child waits for a line before it begins, and says when the import is stored.
IMPORT = """
import sys
sys.path.insert(0, sys.argv[2])
from test_killed import many
from small_yard import take_in
import stockplan.store.migrate
from stockplan.store.session import open_store
contents = many()
print("ready", flush=True)
sys.stdin.readline()
with open_store(sys.argv[1], create=True) as store:
    take_in(store, contents)
print("stored", flush=True)
"""


def many() -> SheetContents:
    """An import that takes a moment."""
    return SheetContents(
        products=(G30,), stock=tuple(replace(OFFCUT, tag=f"C-{n}", product="G30") for n in range(ITEMS))
    )


class Child:
    """A process that will import when told to."""

    def __init__(self, path: Path) -> None:
        self.path = path
        command = [sys.executable, "-c", IMPORT, str(path), str(Path(__file__).parent)]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def begin(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "ready\n"
        self.process.stdin.write("go\n")
        self.process.stdin.flush()

    def seconds(self) -> float:
        """Let it import, and time that."""
        self.begin()
        began = time.monotonic()
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "stored\n"
        took = time.monotonic() - began
        self.process.communicate()
        return took

    def kill_after(self, seconds: float) -> bool:
        """Kill it in the middle, and say whether it had said that the import was stored."""
        self.begin()
        time.sleep(seconds)
        self.process.kill()
        output, _ = self.process.communicate()
        return output == "stored\n"


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
    following = Child(tmp_path / "killed-0.db")
    for number in range(times):
        child, following = following, Child(tmp_path / f"killed-{number + 1}.db")  # it starts up meanwhile
        stored += look(child.path, child.kill_after(moments.uniform(0, whole)))
        with open_store(str(child.path), create=True) as store:  # and the same import again goes through
            take_in(store, many())
            with store.reading() as session:
                assert len(read_contents(session).stock) == ITEMS
        for file in tmp_path.glob(f"{child.path.name}*"):
            file.unlink()
    following.process.kill()
    following.process.communicate()
    assert stored < times  # otherwise no kill fell inside an import


def test_killed_ten_times(tmp_path: Path) -> None:
    kill_many_times(tmp_path, times=10, seed=1)


@pytest.mark.slow
def test_killed_fifty_times(tmp_path: Path) -> None:
    kill_many_times(tmp_path, times=50, seed=2)
