"""A store that may only be read is looked at as it is, leaves nothing beside it, and says why it cannot be written."""

from __future__ import annotations

import importlib
import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from small_yard import CONTENTS, ROLL, take_in
from sqlalchemy import text

from stockplan.actions.backing_up import back_up, put_back
from stockplan.actions.planning import make_plan
from stockplan.domain.jobs import Window
from stockplan.domain.plan import Plan
from stockplan.domain.request import SearchLimits
from stockplan.errors import StoreBusy, StoreError
from stockplan.store.ledger_rows import read_stock
from stockplan.store.place import is_store, sealed
from stockplan.store.quick import OpenYard, open_yard
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store

with suppress(ModuleNotFoundError):  # not a POSIX system
    import pwd


def open_and_write(place: str) -> None:
    with open_store(place, create=True) as store:
        write(store)


def write(store: OpenYard) -> None:
    with store.unit_of_work() as work:
        work.rows.run("DELETE FROM setting")
        work.commit()


@contextmanager
def bound_by_permissions() -> Iterator[None]:
    """Root is bound by no permission, so become someone who is."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(pwd.getpwnam("nobody").pw_uid)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.parametrize("there", [True, False])
def test_read_only_folder_is_named(there: bool) -> None:
    pytest.importorskip("pwd", reason="permissions of POSIX systems")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "yard.db"
        if there:
            open_store(str(path), create=True).close()
            path.chmod(0o444)
        Path(folder).chmod(0o555)
        with bound_by_permissions(), pytest.raises(StoreError, match=r"cannot be (opened|written)") as caught:
            open_and_write(str(path))
        assert str(path) in str(caught.value)
        Path(folder).chmod(0o755)


@contextmanager
def only_to_look_at(name: str = "yard.db") -> Iterator[Path]:
    """A store with a few things that may be read but not written, nor anything beside it."""
    pytest.importorskip("pwd", reason="permissions of POSIX systems")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        with open_store(str(path), create=True) as store:
            take_in(store)
        path.chmod(0o444)
        Path(folder).chmod(0o555)
        try:
            yield path
        finally:
            Path(folder).chmod(0o755)


@pytest.mark.parametrize("name", ["yard.db", "yard?x=1#2 50%.db"])
@pytest.mark.parametrize("opening", [open_store, open_yard])
def test_store_that_may_not_be_written_is_looked_at_and_not_written(
    opening: Callable[[str], OpenYard], name: str
) -> None:
    with only_to_look_at(name) as path:
        with bound_by_permissions(), opening(str(path)) as store:
            with store.reading() as source:
                assert len(read_stock(source)) == 3
            with pytest.raises(StoreError, match=r"cannot be written: it or its folder is read-only"):
                write(store)
        assert [found.name for found in path.parent.iterdir()] == [name]


@pytest.mark.parametrize("name", ["yard.db", "yard?x=1#2 50%.db"])
def test_store_that_may_not_be_written_is_copied_and_put_back_elsewhere(name: str) -> None:
    importlib.import_module("stockplan.store.restoring")
    with only_to_look_at(name) as path, tempfile.TemporaryDirectory() as other:
        Path(other).chmod(0o777)
        with bound_by_permissions():
            made = back_up(str(path), Path(other))
            put_back(f"{other}/yard.db", path)
            with pytest.raises(StoreError, match=r"copies: Permission denied; name a folder that may be written"):
                back_up(str(path))
        assert [found.name for found in path.parent.iterdir()] == [name]
        for found in (made.path, Path(other) / "yard.db"):
            with open_store(str(found)) as store, store.reading() as session:
                assert len(read_stock(session)) == 3
                assert verify_store(session) == []


def test_no_plan_is_looked_for_that_could_not_be_stored() -> None:
    def planner(*_: object) -> Plan:
        raise AssertionError("it was looked for")

    for module in ("cutting.planner", "cutting.strips", "domain.check", "report.plan_reader", "actions.asking"):
        importlib.import_module(f"stockplan.{module}")  # while the program may be read
    day = Window(date(2026, 11, 30), date(2026, 11, 30))
    with only_to_look_at() as path, bound_by_permissions(), pytest.raises(StoreError, match=r"cannot be written"):
        make_plan(str(path), day, date(2026, 11, 23), SearchLimits(60), planner=planner)


def test_copy_into_a_folder_that_may_not_be_written_says_what_to_do() -> None:
    with only_to_look_at() as path, tempfile.TemporaryDirectory() as other:
        Path(other).chmod(0o555)
        with bound_by_permissions(), pytest.raises(StoreError, match=r": Permission denied; name a folder that may"):
            back_up(str(path), Path(other))
        assert list(Path(other).iterdir()) == []


@pytest.mark.parametrize("opening", [open_store, open_yard])
def test_somebody_who_writes_while_it_is_only_looked_at_is_noticed(opening: Callable[[str], OpenYard]) -> None:
    def written_meanwhile(path: Path, store: OpenYard) -> None:
        with store.reading() as source:
            read_stock(source)
            with as_before():
                path.parent.chmod(0o755)
                path.chmod(0o644)
                open_and_write(str(path))

    told = pytest.raises(StoreBusy, match="was written while it was read; try again")
    with only_to_look_at() as path, bound_by_permissions(), opening(str(path)) as store, told:
        written_meanwhile(path, store)


def test_older_store_that_may_not_be_written_says_what_to_do() -> None:
    with only_to_look_at() as path:
        path.parent.chmod(0o755)
        path.chmod(0o644)
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("UPDATE alembic_version SET version_num = '0003'")
        path.chmod(0o444)
        path.parent.chmod(0o555)
        importlib.import_module("stockplan.store.migrate")
        with (
            bound_by_permissions(),
            pytest.raises(StoreError, match="older stockplan and must be brought up to date") as told,
        ):
            open_yard(str(path)).close()
        assert f"the store {path} was" in str(told.value)
        assert [found.name for found in path.parent.iterdir()] == ["yard.db"]


def take_the_place_of(path: Path, other: Path) -> None:
    """Put a store and its log, as they are now, in the place of one that may only be looked at."""
    other.parent.chmod(0o755)
    other.unlink()
    for end in ("", "-wal"):
        Path(f"{other}{end}").write_bytes(Path(f"{path}{end}").read_bytes())
    other.chmod(0o444)
    other.parent.chmod(0o555)


def test_store_whose_last_writes_lie_beside_it_is_not_looked_at_without_them(tmp_path: Path) -> None:
    path = tmp_path / "yard.db"
    with open_store(str(path), create=True) as store:
        take_in(store)
        write(store)  # as after a fall of the machine: written, but not yet into the file
        assert sealed(path) is None
        with only_to_look_at() as other, closing(sqlite3.connect(path)) as holding:
            holding.execute("SELECT 1 FROM setting").fetchall()
            take_the_place_of(path, other)
            with bound_by_permissions(), pytest.raises(StoreError, match=r"cannot be opened|read-only"):
                open_yard(str(other)).close()


@pytest.mark.parametrize("opening", [open_store, open_yard])
def test_who_may_only_read_leaves_nothing_beside_a_store_in_a_folder_that_may_be_written(
    opening: Callable[[str], OpenYard],
) -> None:
    """What SQLite makes beside a store is its maker's own; whoever may write the store could not use it."""
    with only_to_look_at() as path:
        path.parent.chmod(0o777)
        with bound_by_permissions(), opening(str(path)) as store, store.reading() as source:
            assert len(read_stock(source)) == 3
            assert is_store(path)
            assert [found.name for found in path.parent.iterdir()] == ["yard.db"]
        assert [found.name for found in path.parent.iterdir()] == ["yard.db"]


def test_store_whose_last_writes_lie_beside_it_is_not_looked_at_without_them_through_a_link(tmp_path: Path) -> None:
    path = tmp_path / "yard.db"
    with open_store(str(path), create=True) as store, only_to_look_at() as other, bound_by_permissions():
        with as_before():
            write(store)
            take_the_place_of(path, other)
        with tempfile.TemporaryDirectory() as folder:
            link = Path(folder) / "link.db"
            link.symlink_to(other)
            with pytest.raises(StoreError, match=r"cannot be opened|read-only"):
                open_yard(str(link)).close()


KILLED_HALFWAY = """
import os, sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA journal_mode = DELETE")
connection.execute("PRAGMA cache_size = 1")  # so that what is not committed is in the file all the same
connection.execute("CREATE TABLE large (text)")
connection.execute("BEGIN")
connection.executemany("INSERT INTO large VALUES (?)", [("x" * 500,)] * 3000)
os._exit(0)
"""


@pytest.mark.parametrize("mode", [0o555, 0o777])
def test_store_that_somebody_was_killed_while_writing_is_not_looked_at_as_it_is(mode: int) -> None:
    with only_to_look_at() as path:
        path.parent.chmod(0o755)
        path.chmod(0o644)
        subprocess.run([sys.executable, "-c", KILLED_HALFWAY, str(path)], check=True)
        assert Path(f"{path}-journal").stat().st_size
        path.chmod(0o444)
        path.parent.chmod(mode)
        with bound_by_permissions(), pytest.raises(StoreError, match="cannot be written"):
            open_yard(str(path)).close()


@contextmanager
def as_before() -> Iterator[None]:
    """Be who one was before `bound_by_permissions`."""
    now = os.geteuid()
    os.seteuid(os.getuid())
    try:
        yield
    finally:
        os.seteuid(now)


def test_store_that_becomes_unwritable_is_named(file_place: str) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
        with store.reading() as session:
            assert len(read_stock(session)) == 3
        with store.unit_of_work() as work:
            work.session.execute(text("PRAGMA query_only = ON"))
            work.commit()
        with pytest.raises(StoreError, match="read-only"):
            take_in(store, replace(CONTENTS, stock=(replace(ROLL, bay="F9"),)))
