"""Copies of a store: made while others write, refused when anything in them has changed, put back whole."""

from __future__ import annotations

import errno
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing, suppress
from pathlib import Path
from typing import IO

import pytest
from small_yard import CONTENTS, take_in

from stockplan.actions.backing_up import back_up, put_back
from stockplan.actions.looking import verify
from stockplan.actions.yard import move
from stockplan.errors import StoreBusy, StoreError, StoreTooNew
from stockplan.store import copies
from stockplan.store.copies import check_database, keep_copy
from stockplan.store.ledger_rows import read_stock
from stockplan.store.place import HEAD
from stockplan.store.restoring import restore
from stockplan.store.session import open_store

TAG = min(item.tag for item in CONTENTS.stock) if CONTENTS.stock else ""


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small yard in a file, made once."""
    place = tmp_path_factory.mktemp("pattern") / "yard.db"
    with open_store(str(place), create=True) as store:
        take_in(store)
    return place


@pytest.fixture
def yard(pattern: Path, tmp_path: Path) -> str:
    """The small yard, to do with as one likes."""
    place = tmp_path / "store" / "yard.db"
    place.parent.mkdir()
    shutil.copyfile(pattern, place)
    return str(place)


def movements(place: str | Path) -> int:
    with closing(sqlite3.connect(place)) as connection:
        found: int = connection.execute("SELECT count(*) FROM movement").fetchone()[0]
        return found


def bay_of(where: str, tag: str) -> str:
    with open_store(where) as store, store.reading() as source:
        (item,) = read_stock(source, [tag])
    return item.bay


def test_a_copy_is_one_checked_file_named_by_moment_tables_and_check_digits(yard: str, tmp_path: Path) -> None:
    made = back_up(yard, tmp_path / "far" / "away")
    assert made.path.parent == tmp_path / "far" / "away"
    assert f"-tables-{HEAD}-check-" in made.path.name
    assert [path.name for path in made.path.parent.iterdir()] == [made.path.name]
    assert check_database(made.path) == HEAD
    assert made.ending.number == movements(yard) == movements(made.path)
    assert back_up(yard).path.parent == Path(yard).parent / "copies"


def test_nothing_is_ever_overwritten(yard: str, tmp_path: Path) -> None:
    names = {keep_copy(Path(yard), tmp_path / "out") for _ in range(4)}  # several in one second
    assert len(names) == 4
    assert len(list((tmp_path / "out").iterdir())) == 4


def test_copy_while_a_writer_writes(yard: str, tmp_path: Path) -> None:
    stop = threading.Event()
    failed: list[BaseException] = []

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            try:
                move(yard, TAG, f"bay {number}")
            except BaseException as error:  # noqa: BLE001 - shown by the assertion below
                failed.append(error)
                return

    writer = threading.Thread(target=write)
    before = movements(yard)
    writer.start()
    try:
        made = [back_up(yard, tmp_path / "out") for _ in range(4)]
    finally:
        stop.set()
        writer.join()
    assert failed == []
    endings = [copy.ending.number for copy in made]
    assert endings == sorted(endings)
    assert before <= endings[0] <= endings[-1] <= movements(yard)
    assert endings[-1] > endings[0]
    for copy in made:
        assert verify(str(copy.path))[1] == []


def test_a_copy_put_back_is_the_store_it_was(yard: str) -> None:
    made = back_up(yard)
    move(yard, TAG, "elsewhere")
    done = put_back(yard, made.path)
    assert done.sure
    assert done.ending == made.ending
    assert verify(yard)[1] == []
    assert movements(yard) == made.ending.number
    assert done.kept is not None
    assert done.kept.parent == Path(yard).parent
    assert movements(done.kept) == made.ending.number + 1
    assert verify(str(done.kept))[1] == []
    move(yard, TAG, "on we go")
    assert movements(made.path) == made.ending.number
    with closing(sqlite3.connect(yard)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_copy_put_back_through_a_link_is_put_in_the_place_of_the_store_itself(yard: str, tmp_path: Path) -> None:
    copy = back_up(yard).path
    move(yard, "0147", "F9")
    link = tmp_path / "elsewhere" / "link.db"
    link.parent.mkdir()
    link.symlink_to(yard)
    kept = put_back(str(link), copy).kept
    assert kept is not None
    assert link.is_symlink()
    assert [found.name for found in link.parent.iterdir()] == ["link.db"]
    assert kept.parent == Path(yard).parent
    assert bay_of(yard, "0147") == bay_of(str(copy), "0147") != bay_of(str(kept), "0147") == "F9"


def test_a_copy_put_back_may_be_read_and_written_by_whom_the_store_could_be(yard: str) -> None:
    copy = back_up(yard).path
    Path(yard).chmod(0o660)
    with suppress(PermissionError):  # only root may give a file away
        os.chown(yard, 65_534, 65_534)
    before = Path(yard).stat()
    put_back(yard, copy)
    after = Path(yard).stat()
    assert (after.st_mode, after.st_uid, after.st_gid) == (before.st_mode, before.st_uid, before.st_gid)
    assert [found.name for found in Path(yard).parent.glob("yard.db?*")] == []


def test_a_store_that_is_gone_is_put_back(yard: str) -> None:
    made = back_up(yard)
    for path in Path(yard).parent.glob(Path(yard).name + "*"):
        path.unlink()
    Path(yard + "-wal").write_bytes(b"left over from another life")
    done = put_back(yard, made.path)
    assert done.kept is None
    assert verify(yard)[1] == []


def spoil(path: Path, place: Path, how: str, seed: int) -> None:
    """Write a store's bytes elsewhere, cut off or with one bit turned."""
    dice, data = random.Random(seed), bytearray(path.read_bytes())
    if how == "truncated":
        del data[dice.randrange(1, len(data)) :]
    else:
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    place.write_bytes(data)


@pytest.mark.parametrize("how", ["truncated", "one bit turned"])
@pytest.mark.parametrize("seed", range(5))
def test_a_damaged_copy_is_refused_and_the_store_untouched(yard: str, tmp_path: Path, how: str, seed: int) -> None:
    made = keep_copy(Path(yard), tmp_path / "out")
    before = Path(yard).read_bytes()
    spoil(made, made, how, seed)
    with pytest.raises(StoreError, match="is damaged: it is not what it was when it was written"):
        put_back(yard, made)
    assert Path(yard).read_bytes() == before
    assert not list(Path(yard).parent.glob("*replaced*"))
    assert not list(Path(yard).parent.glob(".restoring*"))


@pytest.mark.parametrize("seed", range(5))
def test_a_truncated_copy_is_refused_under_any_name(yard: str, tmp_path: Path, seed: int) -> None:
    made = keep_copy(Path(yard), tmp_path / "out")
    spoil(made, tmp_path / "renamed.db", "truncated", seed)
    with pytest.raises(StoreError, match=r"damaged|not a stockplan store"):
        put_back(yard, tmp_path / "renamed.db")


def test_a_renamed_copy_is_put_back_with_a_word_of_doubt(yard: str, tmp_path: Path) -> None:
    copy = keep_copy(Path(yard), tmp_path / "out").rename(tmp_path / "renamed.db")
    assert not put_back(yard, copy).sure


def test_a_copy_that_is_not_in_order_is_refused(yard: str, tmp_path: Path) -> None:
    copy = keep_copy(Path(yard), tmp_path / "out").rename(tmp_path / "renamed.db")
    with closing(sqlite3.connect(copy)) as connection, connection:
        connection.execute("UPDATE stock_item SET width_mm = width_mm + 1")
    with pytest.raises(StoreError, match="is not in order"):
        put_back(yard, copy)


def test_a_store_that_is_not_in_order_is_not_copied(yard: str) -> None:
    with closing(sqlite3.connect(yard)) as connection, connection:
        connection.execute("UPDATE stock_item SET width_mm = width_mm + 1")
    with pytest.raises(StoreError, match="not in order, so no copy"):
        back_up(yard)
    assert list((Path(yard).parent / "copies").iterdir()) == []


@pytest.mark.parametrize("how", ["truncated", "one bit turned", "not a store"])
@pytest.mark.parametrize("seed", range(3))
def test_a_damaged_store_is_replaced_and_kept(yard: str, how: str, seed: int) -> None:
    made = back_up(yard)
    with closing(sqlite3.connect(yard)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    if how == "not a store":
        Path(yard).write_bytes(b"not a store at all" * 400)
    else:
        spoil(Path(yard), Path(yard), how, seed)
    damaged = Path(yard).read_bytes()
    done = put_back(yard, made.path)
    assert verify(yard)[1] == []
    assert done.kept is not None
    if how == "not a store":
        assert done.kept.read_bytes() == damaged


def test_a_store_open_elsewhere_is_not_replaced(yard: str) -> None:
    made = back_up(yard)
    with closing(sqlite3.connect(yard, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreBusy, match="open in another program"):
            restore(Path(yard), made.path, lambda path: None, patience_seconds=0.3)
        other.execute("ROLLBACK")
        other.execute("SELECT count(*) FROM movement")
        with pytest.raises(StoreBusy, match="open in another program"):
            restore(Path(yard), made.path, lambda path: None, patience_seconds=0.3)
    assert verify(yard)[1] == []
    assert not list(Path(yard).parent.glob("*replaced*"))


def test_a_newer_copy_is_refused_by_its_own_name(yard: str, tmp_path: Path) -> None:
    copy = keep_copy(Path(yard), tmp_path / "out").rename(tmp_path / "newer.db")
    with closing(sqlite3.connect(copy)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(StoreTooNew, match=r"newer\.db was written by a newer stockplan"):
        put_back(yard, copy)


def test_what_is_no_copy_is_refused(yard: str, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there is no copy at"):
        put_back(yard, tmp_path / "nothing.db")
    with pytest.raises(StoreError, match="is the store itself"):
        put_back(yard, Path(yard))
    (tmp_path / "words.txt").write_text("words " * 1000, encoding="utf-8")
    with pytest.raises(StoreError, match="is damaged: file is not a database"):
        put_back(yard, tmp_path / "words.txt")


def test_a_folder_that_cannot_be_written_is_told(yard: str, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(StoreError, match=r"no copy of .* could be kept in .*file"):
        back_up(yard, tmp_path / "file")


FULL = """
import resource, signal, sys
from pathlib import Path
from stockplan.actions.backing_up import back_up
from stockplan.errors import StoreError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))
try:
    back_up(sys.argv[1], Path(sys.argv[2]))
except StoreError as error:
    print(error)
"""


def test_a_disk_that_fills_up_leaves_no_half_a_copy(yard: str, tmp_path: Path) -> None:
    """No file may grow beyond 40 kB here, as on a disk with so much room."""
    # With -B, or Python itself would keep half a compiled module, for every later test to load.
    found = subprocess.run(
        [sys.executable, "-B", "-c", FULL, yard, str(tmp_path / "out")], capture_output=True, text=True, check=True
    )
    assert "no copy of" in found.stdout
    assert found.stdout.endswith("; name a folder that may be written and has room\n")
    assert list((tmp_path / "out").iterdir()) == []


def test_half_a_copy_is_left_neither_where_a_file_has_one_name_only(
    yard: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def one_name_only(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    def full(_source: object, target: IO[bytes]) -> None:
        target.write(b"half")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(copies.os, "link", one_name_only)
    whole = back_up(yard, tmp_path / "out").path
    assert verify(str(whole))[1] == []
    monkeypatch.setattr(copies.shutil, "copyfileobj", full)
    with pytest.raises(StoreError, match="No space left on device"):
        back_up(yard, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == [whole]


def test_what_a_killed_program_left_is_cleared_up_after_a_day(yard: str) -> None:
    made = back_up(yard)
    old, young = (Path(yard).parent / f".restoring-{name}" for name in ("old", "young"))
    for folder in (old, young):
        folder.mkdir()
    os.utime(old, (1, 1))
    put_back(yard, made.path)
    assert not old.exists()
    assert young.exists()


def test_a_store_on_a_server_has_its_servers_own_tools() -> None:
    with pytest.raises(StoreError, match="pg_dump"):
        back_up("postgresql://nobody@nowhere/yard")
    with pytest.raises(StoreError, match="pg_restore"):
        put_back("postgresql://nobody@nowhere/yard", Path("yard.dump"))


STEPS = {"os.rename", "os.link", "os.remove", "os.mkdir", "sqlite3.connect", "open"}


def killed_at(step: int, place: str, copy: Path) -> bool:
    """Put a copy back in a process that is killed when it is about to touch files for so manieth a time."""
    child = os.fork()
    if child == 0:
        left = step

        def count(event: str, _: object) -> None:
            nonlocal left
            if event not in STEPS:
                return
            left -= 1
            if left < 0:
                os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(count)
        try:
            put_back(place, copy)
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


@pytest.mark.slow
def test_killed_at_every_step_of_putting_back(yard: str) -> None:
    """Whatever the moment, the store is the old one or the copy, in order, and so is whatever was kept."""
    made = back_up(yard)
    seen, step = [], 0
    while True:
        move(yard, TAG, f"bay {step}")  # so that the store is never the copy already
        old = movements(yard)
        if not killed_at(step, yard, made.path):
            break
        found = movements(yard)
        seen.append(found == made.ending.number)
        assert found in (old, made.ending.number)
        assert verify(yard)[1] == []
        for kept in Path(yard).parent.glob("*replaced*"):
            assert verify(str(kept))[1] == []
            kept.unlink()
        step += 1
    assert step > 15
    assert seen == sorted(seen)  # the old one up to a step, the copy from then on
    assert set(seen) == {False, True}
    assert movements(yard) == made.ending.number
