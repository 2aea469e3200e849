"""What one process has open, another neither takes for gone nor loses anything of.

The rules are SQLite's: "How To Corrupt An SQLite Database File", 2.2 and 2.3 (sqlite.org/howtocorrupt.html), and
"Write-Ahead Logging", 11 (sqlite.org/wal.html).
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from small_yard import take_in

from stockplan.domain.ledger import moved
from stockplan.store.ledger_rows import read_stock, record
from stockplan.store.quick import OpenYard, open_yard
from stockplan.store.session import open_store

Opening = Callable[[str], OpenYard]
MOVE = """
import sys
from stockplan.domain.ledger import moved
from stockplan.store.ledger_rows import record
from stockplan.store.quick import open_yard
with open_yard(sys.argv[1]) as store, store.unit_of_work() as work:
    record(work, [moved("0147", "F9", "elsewhere")], "another")
    work.commit()
"""
SEEN = "opened by the program itself"
WATCHED = f"""
import os, runpy, sys
from pathlib import Path
watched = Path(sys.argv[1]).resolve()
def watch(event, arguments):
    if event == "open" and not isinstance(arguments[0], int):
        if Path(os.fsdecode(arguments[0])).resolve() == watched:
            os.write(2, b"{SEEN}")
sys.addaudithook(watch)
sys.argv = ["stockplan", "--store", *sys.argv[2:]]
runpy.run_module("stockplan", run_name="__main__")
"""


def bays(where: str) -> set[tuple[str, str]]:
    """What a process sees that opens the store now."""
    script = (
        "import sys; from stockplan.store.quick import open_yard; from stockplan.store.ledger_rows import read_stock\n"
        "with open_yard(sys.argv[1]) as store, store.reading() as source:\n"
        "    print(*(f'{item.tag}|{item.bay}' for item in read_stock(source)), sep='\\n')"
    )
    told = subprocess.run([sys.executable, "-c", script, where], check=True, capture_output=True, text=True).stdout
    return {(tag, bay) for tag, _, bay in (line.partition("|") for line in told.splitlines())}


@pytest.mark.parametrize("opening", [open_store, open_yard])
@pytest.mark.parametrize("again", [open_store, open_yard])
def test_writes_stay_when_another_process_is_the_last_to_close(
    file_place: str, opening: Opening, again: Opening
) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
    with opening(file_place) as first:
        with first.reading() as source:
            read_stock(source)
        again(file_place).close()  # this process has the file open once more, and closes it
        subprocess.run([sys.executable, "-c", MOVE, file_place], check=True)
        with first.unit_of_work() as work:
            record(work, [moved("R-1", "F7", "here")], "one")
            work.commit()
        assert {("0147", "F9"), ("R-1", "F7")} <= bays(file_place)
    assert {("0147", "F9"), ("R-1", "F7")} <= bays(file_place)


@pytest.mark.parametrize("opening", [open_store, open_yard])
def test_the_log_is_carried_over_by_the_last_to_close_alone(file_place: str, opening: Opening) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
    size, log = Path(file_place).stat().st_size, Path(f"{file_place}-wal")
    with opening(file_place) as holding:
        with holding.reading() as source:
            read_stock(source)
        with opening(file_place) as store, store.unit_of_work() as work:
            for start in range(0, 24_000, 100):  # beyond the thousand pages at which SQLite would do it by itself
                record(work, [moved("R-1", f"F{start + n}", "x" * 200) for n in range(100)], "one")
            work.commit()
        assert log.stat().st_size > 1000 * 4096
        assert Path(file_place).stat().st_size == size
    assert not log.exists()
    assert Path(file_place).stat().st_size > 1000 * 4096


@pytest.mark.parametrize(
    "arguments",
    [
        ["stock"], ["plans"], ["move", "0147", "F9"], ["verify"], ["lawns"], ["backup", "{folder}"],
        ["plan", "--from", "2026-11-30", "--to", "2026-12-04", "--today", "2026-11-26", "--seconds", "1"],
    ],
    ids=lambda arguments: arguments[0],
)  # fmt: skip
def test_no_command_opens_the_file_of_the_store_beside_sqlite(
    file_place: str, tmp_path: Path, arguments: list[str]
) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
    told = [part.format(folder=tmp_path / "copies") for part in arguments]
    done = watched(file_place, file_place, *told)
    assert done.returncode in (0, 3), done.stderr
    assert SEEN not in done.stderr


def test_a_command_that_did_would_be_seen(file_place: str, tmp_path: Path) -> None:
    (tmp_path / "stock.csv").write_text("tag\n")
    assert SEEN in watched(str(tmp_path / "stock.csv"), file_place, "import", str(tmp_path)).stderr


def watched(path: str, store: str, *told: str) -> subprocess.CompletedProcess[str]:
    """Run a command; its errors say when it opened the file at a path itself."""
    command = [sys.executable, "-c", WATCHED, path, store, *told]
    return subprocess.run(command, capture_output=True, text=True, check=False)
