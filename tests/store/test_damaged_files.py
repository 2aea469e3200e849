"""A full disk, a read-only place, a file cut short or with bits turned: a clear message, and never half a movement."""

from __future__ import annotations

import os
import random
import resource
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from empty_stores import empty_store
from small_yard import G30, ROLL, take_in
from typer.testing import CliRunner

from stockplan import cli
from stockplan.store.ledger_rows import read_movements
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store

ITEMS = 150
RECEIVE = ("receive", "R-NEW", "4x25", "--product", "G30", "--bay", "F1", "--cost", "10.60")
WRITES = (
    RECEIVE,
    ("measure", "R-7", "3.98x24.80"),
    ("move", "R-7", "F9"),
    ("hold", "R-7", "Q-1", "--until", "2099-01-01"),
    ("write-off", "R-7", "--why", "flood"),
    ("count", "F1", "R-1", "--yes"),
)
READS = (("stock",), ("history", "R-7"), ("count", "F1"), ("count", "--due", "0"), ("verify",))


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    path = tmp_path / "yard.db"
    fill(path)
    return path


def fill(path: Path) -> None:
    with empty_store(path) as store:
        items = tuple(replace(ROLL, tag=f"R-{number}", bay=f"F{number % 3}") for number in range(ITEMS))
        take_in(store, SheetContents(products=(G30,), stock=items))


def is_whole(path: Path, movements: int = ITEMS) -> None:
    with open_store(str(path)) as store, store.reading() as session:
        assert verify_store(session) == []
        assert len(list(read_movements(session))) == movements


def run(path: Path, *arguments: str, limit: Callable[[], None] | None = None) -> str:
    """Run a command that must end with 1 and a message, and give the message."""
    # With -B, or Python would keep half a compiled module where writes are refused, for every later test to load.
    ended = subprocess.run(
        [sys.executable, "-B", "-c", "from stockplan.__main__ import main; main()", "--store", str(path), *arguments],
        check=False, capture_output=True, text=True, preexec_fn=limit, stdin=subprocess.DEVNULL, cwd="/",
    )  # fmt: skip
    assert ended.returncode == 1, ended.stdout + ended.stderr
    assert "Traceback" not in ended.stderr
    assert ended.stdout == ""
    return ended.stderr


def no_file_larger_than(size: int) -> Callable[[], None]:
    """Let the system refuse every write beyond a size, as a quota does."""
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


@pytest.mark.parametrize("room", [0, 12_000])
def test_write_beyond_a_quota_is_told_and_leaves_nothing(yard: Path, room: int) -> None:
    told = run(yard, *RECEIVE, limit=no_file_larger_than(room))
    assert "cannot be" in told
    assert "nothing was stored" in told
    is_whole(yard)


def small_disk(tmp_path: Path, kilobytes: int) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(place)], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("a disk of a few kilobytes needs the right to mount one")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    yield from small_disk(tmp_path, 600)


def test_full_disk_is_told_and_leaves_nothing(disk: Path) -> None:
    yard = disk / "yard.db"
    fill(yard)
    free = shutil.disk_usage(disk).free
    (disk / "other").write_bytes(b"x" * max(0, free - 8192))
    told = run(yard, *RECEIVE)
    assert "disk is full" in told
    assert "nothing was stored" in told
    (disk / "other").unlink()
    is_whole(yard)


def test_read_only_disk_is_looked_at_and_told_when_something_is_to_be_written(disk: Path) -> None:
    yard = disk / "yard.db"
    fill(yard)
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    told = run(yard, *RECEIVE)
    looked = [typed(yard, *arguments) for arguments in READS]
    subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
    assert "cannot be written: it or its folder is read-only" in told
    assert [status for status, _ in looked] == [0] * len(READS)
    is_whole(yard)


@pytest.mark.skipif(os.getuid() == 0, reason="root may write what is read-only")
def test_read_only_file_is_looked_at_and_told_when_something_is_to_be_written(yard: Path) -> None:
    yard.chmod(0o444)
    yard.parent.chmod(0o555)
    told = run(yard, *RECEIVE)
    looked = [typed(yard, *arguments) for arguments in READS]
    yard.parent.chmod(0o755)
    yard.chmod(0o644)
    assert "cannot be written: it or its folder is read-only" in told
    assert [status for status, _ in looked] == [0] * len(READS)
    is_whole(yard)


def typed(path: Path, *arguments: str) -> tuple[int, str]:
    """Run a command in this process; anything but a message and an exit status fails."""
    result = CliRunner().invoke(cli.app, ["--store", str(path), *arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stderr


@pytest.mark.parametrize("kept", [0.01, 0.5, 0.95])
def test_file_cut_short_is_told(yard: Path, kept: float) -> None:
    whole = yard.read_bytes()
    yard.write_bytes(whole[: int(len(whole) * kept)])
    told = [typed(yard, *arguments) for arguments in (*READS, *WRITES[:3])]
    assert all(code in (0, 1) for code, _ in told)
    code, message = told[READS.index(("verify",))]
    assert code == 1
    assert "damaged" in message or "not a stockplan store" in message or "not in order" in message


def turn_bits(path: Path, whole: bytes, moments: random.Random, bits: int) -> None:
    spoilt = bytearray(whole)
    for _ in range(bits):
        spoilt[moments.randrange(len(spoilt))] ^= 1 << moments.randrange(8)
    path.write_bytes(spoilt)


def spoil_many_times(yard: Path, times: int, seed: int) -> tuple[int, int]:
    """Turn bits again and again; say how often a command refused, and how often `verify` did."""
    moments, whole = random.Random(seed), yard.read_bytes()
    refused = found = 0
    for _ in range(times):
        turn_bits(yard, whole, moments, moments.choice([1, 1, 8, 200]))
        for suffix in ("-wal", "-shm"):
            Path(f"{yard}{suffix}").unlink(missing_ok=True)
        for arguments in (moments.choice(READS[:-1]), moments.choice(WRITES)):
            code, message = typed(yard, *arguments)
            assert code in (0, 1)
            assert bool(code) == bool(message.strip() and code)
            refused += code
        found += typed(yard, "verify")[0]
    return refused, found


def test_turned_bits_are_told(yard: Path) -> None:
    refused, found = spoil_many_times(yard, 5, seed=1)
    assert refused + found > 0


@pytest.mark.slow
def test_turned_bits_are_told_many_times(yard: Path) -> None:
    refused, found = spoil_many_times(yard, 60, seed=3)
    assert refused > 10
    assert found > 20


def spoil(path: Path, statement: str) -> None:
    """Change a store by hand, past all that its tables refuse."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("DROP TRIGGER movement_no_update")
        connection.execute(statement)


@pytest.mark.parametrize(
    ("statement", "command", "found"),
    [
        ("UPDATE product SET weight_g_m2 = 'heavy'", ("count", "F1"), "holds no whole number as weight_g_m2: 'heavy'"),
        ("UPDATE product SET description = x'ff'", ("stock",), r"holds no text as description: b'\xff'"),
        ("INSERT INTO order_receipt VALUES ('R-1', 'P9-1')", ("orders", "--all"), "refers to a order_line"),
        (
            "INSERT INTO job VALUES ('J1', '', 'G30', '2026-12-01', '', 'some', '')",
            ("jobs",),
            "CHECK constraint failed in job",
        ),
    ],
)
def test_rows_that_cannot_be_are_told(yard: Path, statement: str, command: tuple[str, ...], found: str) -> None:
    spoil(yard, statement)
    code, message = typed(yard, "verify")
    assert (code, found in message) == (1, True), message
    code, message = typed(yard, *command)
    assert code == 0 or (message.startswith("stockplan: the store is damaged: ") and found in message), message


def test_a_line_that_stands_as_undoing_another_without_saying_so_is_found(yard: Path) -> None:
    spoil(yard, "UPDATE movement SET reverses = 3 WHERE number = 9")
    assert "movement 9 stands as undoing 3; it states None" in typed(yard, "verify")[1]


def test_what_fails_on_a_sound_store_is_a_defect_and_shown_as_one(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise KeyError("a defect")

    monkeypatch.setattr("stockplan.actions.looking.list_schedule", broken)
    monkeypatch.setattr("stockplan.store.verify.verify_yard", broken)
    for command in ("jobs", "verify"):
        with pytest.raises(KeyError, match="a defect"):
            typed(yard, command)
