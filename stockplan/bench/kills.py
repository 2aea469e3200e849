"""Killing every command that writes, at any moment: the store is sound afterwards and holds all of it or nothing.

`python -m stockplan.bench.kills --kills 500` plays through the life of an invented week and keeps a copy of the store
before each command. Each command is timed; then, each time on a fresh copy, it runs in a process of its own and is
killed without warning, half of the times at a moment spread over the whole run, half while it writes or just after.
What is left must verify, and be either what was there before or what a whole run leaves; once it has told its result,
only the latter. In the end each command must still go through on what a kill left behind.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from stockplan.bench.killed_run import Run
from stockplan.bench.weeks import TODAY, week, write_folder

SEED = 1  # of a week in which something must be ordered
_MORE = (
    "SELECT name, value FROM setting ORDER BY name",
    "SELECT key, state FROM order_line ORDER BY key",
    "SELECT plan, state FROM plan_state ORDER BY plan, state",
    "SELECT kind, tag, plan, values_json FROM movement ORDER BY number",
)
_STOCK = ("tag", "form", "width_mm", "length_mm", "bay", "plan", "quote", "condition", "parent")
Fingerprint = tuple[object, ...]


@dataclass(slots=True)
class Case:
    """One command, and the store it is to run on.

    Parameters
    ----------
    name
        Of the command.
    arguments
        As typed, without the store.
    folder
        Holds the store, `yard.db`, as it is before, or nothing where the command makes it.
    before, after
        What the store holds before and after a whole run.
    seconds, writing_seconds
        How long a whole run took, and the writing in it.
    killed, stored
        How often it was killed, and how often it was stored all the same.
    faults
        What was wrong afterwards, as sentences.
    """

    name: str
    arguments: tuple[str, ...]
    folder: Path
    before: Fingerprint = ()
    after: Fingerprint = ()
    seconds: float = 0.0
    writing_seconds: float = 0.0
    killed: int = 0
    stored: int = 0
    faults: list[str] = field(default_factory=list)


def fingerprint(store: Path) -> Fingerprint:
    """Give what a store holds, moments aside; nothing where there is none yet, or an empty one."""
    if not store.exists():
        return ()
    with closing(sqlite3.connect(store)) as connection:
        names = [
            name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")
        ]
        counts = tuple((name, *connection.execute(f"SELECT count(*) FROM {name}").fetchone()) for name in names)
        if "stock_item" not in names or not dict(counts)["product"]:  # made, but nothing was taken into it yet
            return ()
        stock = tuple(connection.execute(f"SELECT {', '.join(_STOCK)} FROM stock_item ORDER BY tag"))
        more = tuple(tuple(connection.execute(query)) for query in _MORE)
        return counts, stock, more


def cases(folder: Path) -> Iterator[Case]:
    """Play through the life of a week, and give each command that writes with the store as it was before."""
    sheets, store = folder / "sheets", folder / "now" / "yard.db"
    sheets.mkdir()
    store.parent.mkdir()
    write_folder(week("S", SEED), sheets)
    days = week("S", SEED).window
    window = ("--from", f"{days.first}", "--to", f"{days.last}", "--today", f"{TODAY}", "--work", "1")
    today = ("--today", f"{TODAY}")

    def case(*arguments: str) -> Case:
        kept = folder / f"before-{len(list(folder.glob('before-*')))}"
        shutil.copytree(store.parent, kept)
        run = Run(store, arguments)
        status = run.end()
        ended = time.monotonic()
        if status not in {0, 3}:
            raise RuntimeError(f"{' '.join(arguments)} ended with {status}: {run.messages}")
        before, after = fingerprint(kept / "yard.db"), fingerprint(store)
        writing = run.committed_at - run.begun_at or ended - run.began  # a copy is written without a unit of work
        return Case(arguments[0], arguments, kept, before, after, ended - run.began, writing)

    yield case("import", str(sheets))
    tag, bay = _one(store, "SELECT tag, bay FROM stock_item WHERE form = 'offcut' ORDER BY tag")
    product = _one(store, "SELECT code FROM product ORDER BY code")[0]
    yield case("receive", "KILL-1", "4x24.85", "--product", product, "--bay", "K1", "--cost", "10.60")
    yield case("measure", "KILL-1", "3.98x24.80")
    yield case("move", "KILL-1", "K2")
    yield case("condition", "KILL-1", "wet")
    yield case("hold", "KILL-1", "Q-1", "--until", "2099-01-01")
    yield case("free", "KILL-1")
    yield case("reverse", _one(store, "SELECT max(number) FROM movement")[0], "--why", "slip")
    yield case("count", bay, tag, "KILL-1", "--yes", "--write-off-missing")
    yield case("write-off", "KILL-1", "--why", "flood")
    yield case("settings", "crosscut_pence", "250")
    job = ("--product", product, "--lay-on", f"{days.first}", "--site", "4 Larch Row")
    yield case("measure-lawn", "KILL-J", "6.2 x 4.8", *job)
    given = ("--length", "3.4", "--width", "1.25", "--bay", "K1", "--condition", "sound")
    yield case("offcut", "--product", product, "--batch", "B7", *given)
    yield case("cover", "1.2x3.0", "--product", product, "--hold", "Q-2", "--until", "2099-01-01")
    yield case("plan", *window)
    yield case("accept", *today)
    key, width_mm, length_mm = _one(store, "SELECT key, width_mm, length_mm FROM order_line ORDER BY key")
    yield case("order", key, *today)
    yield case("receive-order", key, f"{width_mm}mmx{length_mm}mm", "--batch", "NEW7", "--bay", "K1", *today)
    reserved = _one(store, "SELECT tag FROM stock_item WHERE plan IS NOT NULL ORDER BY tag")[0]
    yield case("cut", reserved, "--done", *today)
    yield case("withdraw", "1")
    yield case("backup", str(folder / "copies"))


def _all(store: Path, query: str) -> list[tuple[str, ...]]:
    with closing(sqlite3.connect(store)) as connection:
        return [tuple(map(str, row)) for row in connection.execute(query)]


def _one(store: Path, query: str) -> tuple[str, ...]:
    return _all(store, query)[0]


def kill(one: Case, folder: Path, seconds: float, of_writing: bool) -> None:
    """Kill a command on a fresh copy of its store and see what is left."""
    store = _fresh(one, folder)
    told = Run(store, one.arguments).kill_after(seconds, of_writing)
    when = f"killed {seconds:.3f} s after {'it began to write' if of_writing else 'its start'}"
    one.killed += 1
    one.faults += [f"{one.name}, {when}: {fault}" for fault in unsound(store)]
    left = fingerprint(store)
    if left not in (one.before, one.after):
        one.faults.append(f"{one.name}, {when}: the store holds neither all nor nothing")
    if told and left != one.after:
        one.faults.append(f"{one.name}, {when}: it had told that it was done")
    one.stored += left == one.after != one.before


def repeat(one: Case, folder: Path) -> None:
    """Run a command once more on what the last kill left, unless it was stored then."""
    store = folder / "killed" / "yard.db"
    if fingerprint(store) == one.before:
        run = Run(store, one.arguments)
        if run.end() not in {0, 3} or fingerprint(store) != one.after:
            one.faults.append(f"{one.name} does not go through after a kill: {run.messages}")


def unsound(store: Path) -> list[str]:
    """Give every fault that `verify` finds in what is left; none where there is no store yet."""
    from stockplan.actions.looking import verify  # noqa: PLC0415

    return verify(str(store))[1] if fingerprint(store) else []


def _fresh(one: Case, folder: Path) -> Path:
    killed = folder / "killed"
    shutil.rmtree(killed, ignore_errors=True)
    shutil.copytree(one.folder, killed)
    return killed / "yard.db"


def kill_all(kills: int, seed: int, folder: Path, commands: int | None = None) -> list[Case]:
    """Kill the commands in turn, so many times in all, and give what came of it.

    Parameters
    ----------
    kills
        How many; at least 1.
    seed
        Of the moments, and of the order in which the commands have their turn.
    folder
        An empty one to work in.
    commands
        Only so many, the first of the week's life; default all.
    """
    moments = random.Random(seed)
    known = list(islice(cases(folder), commands))
    turns = (
        [known[number % len(known)] for number in range(kills)] if kills >= len(known) else moments.sample(known, kills)
    )
    for one in known:
        times = turns.count(one)
        if not times:
            continue
        early = (times + moments.randrange(2)) // 2
        for number in range(times):
            of_writing = number >= early
            count, begin = (times - early, early) if of_writing else (early, 0)
            whole = 2 * one.writing_seconds if of_writing else 1.05 * one.seconds
            kill(one, folder, (number - begin + moments.random()) / count * whole, of_writing)
        repeat(one, folder)
    return known


def main(arguments: Sequence[str] | None = None) -> None:
    """Kill every command that writes at random moments, and see that the store holds all of it or nothing."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.kills", description=main.__doc__)
    parser.add_argument("--kills", type=int, default=500, help="default 500")
    parser.add_argument("--seed", type=int, default=0, help="of the moments; default 0")
    given = parser.parse_args(arguments)
    if given.kills < 1:
        parser.error("--kills must be at least 1")
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        known = kill_all(given.kills, given.seed, Path(folder))
    print(f"{'command':14} {'whole run':>10} {'writing':>9} {'killed':>7} {'stored':>7}")
    for one in known:
        print(f"{one.name:14} {one.seconds:8.3f} s {one.writing_seconds:7.3f} s {one.killed:7} {one.stored:7}")
    faults = [fault for one in known for fault in one.faults]
    print(f"{sum(one.killed for one in known)} kills in {time.monotonic() - began:.0f} s, {len(faults)} faults")
    for fault in faults[:40]:
        print(fault, file=sys.stderr)
    if faults:
        sys.exit(1)


if __name__ == "__main__":
    main()
