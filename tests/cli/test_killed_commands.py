"""Killed at any moment of `import` or of `plan` with the real planner, the store is sound and holds all or nothing."""

from __future__ import annotations

import json
import random
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from stockplan.actions.looking import verify
from stockplan.bench.weeks import TODAY, week, write_folder
from stockplan.store.importing import read_contents
from stockplan.store.repository import read_plans
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents, read_folder

SEED = 3
# The program, which also says when it begins to store: the plan is found, or the sheets are read.
PROGRAM = """
import sys

def telling(work):
    def done(*given):
        result = work(*given)
        print("found", file=sys.stderr, flush=True)
        return result
    return done

if "plan" in sys.argv:
    import stockplan.cutting
    stockplan.cutting.plan_cuts = telling(stockplan.cutting.plan_cuts)
else:
    import stockplan.store.sheets
    stockplan.store.sheets.read_folder = telling(stockplan.store.sheets.read_folder)
from stockplan.__main__ import main
main()
"""


@dataclass(frozen=True)
class Moment:
    """When to kill: so long after the start, or so long after the program began to store."""

    seconds: float
    after_found: bool


class Run:
    """One command in a process of its own."""

    def __init__(self, *arguments: str) -> None:
        self.began = time.monotonic()
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.output = ""
        self.reader = threading.Thread(target=self._read)  # a full pipe would hold the program up
        self.reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        self.output = self.process.stdout.read()

    def until_found(self) -> None:
        assert self.process.stderr is not None
        while (line := self.process.stderr.readline()) != "found\n":
            assert line, "ended before it stored anything"

    def end(self) -> str:
        """Wait for the end and give the rest of the messages."""
        assert self.process.stderr is not None
        messages = self.process.stderr.read()
        self.process.wait(timeout=60)
        self.reader.join()
        self.process.stderr.close()
        return messages

    def timed(self) -> tuple[float, float]:
        """Let it run; return seconds from start to end, and from the first thing stored to the end."""
        self.until_found()
        found = time.monotonic()
        messages = self.end()
        assert self.process.returncode in {0, 3}, messages
        return time.monotonic() - self.began, time.monotonic() - found

    def killed(self, moment: Moment) -> bool:
        """Kill it, and say whether it had told by then that it was done."""
        if moment.after_found:
            self.until_found()
            time.sleep(moment.seconds)
        else:
            time.sleep(max(0.0, self.began + moment.seconds - time.monotonic()))
        self.process.kill()
        messages = self.end()
        return bool(self.output) or "This is plan" in messages


def moments(times: int, timings: list[tuple[float, float]], seed: int) -> list[Moment]:
    """Half of them spread over the whole run, half over the storing, each to a little beyond the end."""
    random_numbers = random.Random(seed)
    whole, storing = (min(timing) for timing in zip(*timings, strict=True))
    early = times // 2
    spread = [Moment((number + random_numbers.random()) / early * whole * 1.05, False) for number in range(early)]
    late = times - early
    return spread + [Moment((number + random_numbers.random()) / late * storing * 1.05, True) for number in range(late)]


def plan_command(store: Path) -> tuple[str, ...]:
    window = week("S", SEED).window
    days = ("--from", f"{window.first}", "--to", f"{window.last}", "--today", f"{TODAY}")
    return ("--store", str(store), "plan", *days, "--work", "1")


def sound(store: Path) -> None:
    _, faults = verify(str(store))
    assert faults == []


def plans(store: Path) -> list[Any]:
    """Every plan in the store, the seconds it took aside."""
    with open_store(str(store)) as opened, opened.reading() as session:
        documents = [json.loads(stored.plan_json) for stored in read_plans(session)]
    for document in documents:
        for product in document["products"]:
            del product["seconds"]
    return documents


def held(store: Path) -> SheetContents:
    with open_store(str(store)) as opened, opened.reading() as session:
        return read_contents(session)


def plan_killed(store: Path, times: int, seed: int) -> int:
    """Kill plans in a store that holds a week; return how many were stored, each whole and none twice."""
    timings = [Run(*plan_command(store)).timed() for _ in range(2)]
    whole = plans(store)
    assert whole[0] == whole[1]  # the same work gives the same plan, so what a killed run leaves can be compared
    count = len(whole)
    for moment in moments(times, timings, seed):
        told = Run(*plan_command(store)).killed(moment)
        sound(store)
        kept = plans(store)
        assert len(kept) in (count, count + 1)
        assert all(plan == whole[0] for plan in kept[count:])
        assert len(kept) == count + 1 or not told
        count = len(kept)
    Run(*plan_command(store)).timed()  # nothing a kill left behind is in the way
    assert len(plans(store)) == count + 1
    return count - len(whole)


def import_killed(folder: Path, sheets: Path, times: int, seed: int) -> int:
    """Kill imports into stores that are not there yet; return how many were stored, each whole."""
    timings = [Run("--store", str(folder / f"timed-{number}.db"), "import", str(sheets)).timed() for number in range(2)]
    everything = held(folder / "timed-0.db")
    stored = 0
    for number, moment in enumerate(moments(times, timings, seed)):
        store = folder / f"killed-{number}.db"
        told = Run("--store", str(store), "import", str(sheets)).killed(moment)
        kept = SheetContents()
        if store.exists():
            kept = held(store)
            sound(store)
        assert kept in (SheetContents(), everything)
        assert kept == everything or not told
        stored += kept == everything
    return stored


@pytest.fixture
def sheets(tmp_path: Path) -> Path:
    (tmp_path / "sheets").mkdir()
    write_folder(week("S", SEED), tmp_path / "sheets")
    return tmp_path / "sheets"


@pytest.fixture
def yard(store: Path, sheets: Path) -> Path:
    Run("--store", str(store), "import", str(sheets)).timed()
    assert held(store).jobs == tuple(sorted(read_folder(sheets).jobs, key=lambda job: (job.lay_on, job.code)))
    return store


def test_plan_killed_eight_times(yard: Path) -> None:
    assert plan_killed(yard, 8, seed=1) < 8


@pytest.mark.slow
def test_import_and_plan_killed_two_hundred_times(yard: Path, sheets: Path, tmp_path: Path) -> None:
    planned = plan_killed(yard, 100, seed=2)
    imported = import_killed(tmp_path, sheets, 100, seed=3)
    print(f"of 100 killed each: {planned} plans and {imported} imports were stored")
    assert 0 < planned < 100  # kills fell on both sides of the storing
    assert 0 < imported < 100
