"""One chain of migrations makes the tables, and an older store is brought up to date with a copy kept first."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from small_yard import CONTENTS, LAWN, take_in
from sqlalchemy import inspect, text

from stockplan import resources
from stockplan.domain.lawn import Lawn
from stockplan.errors import StoreError, StoreTooNew
from stockplan.store import session
from stockplan.store.connecting import connect_unchecked
from stockplan.store.importing import read_contents
from stockplan.store.migrate import migration_config
from stockplan.store.place import HEAD, SQLITE_APPLICATION_ID
from stockplan.store.session import Store, open_store
from stockplan.store.tables import METADATA
from stockplan.store.verify import verify_store

LATER = """
import sqlalchemy as sa
from alembic import op

revision, down_revision, branch_labels, depends_on = "later", "{head}", None, None

def upgrade():
    op.add_column("product", sa.Column("maker", sa.Text, nullable=False, server_default="unknown"))
    {then}

def downgrade():
    op.drop_column("product", "maker")
"""
NextVersion = Callable[..., None]


@pytest.fixture
def next_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> NextVersion:
    """Turn the program into its own next version, which has one more migration."""

    def become(then: str = "pass") -> None:
        folder = tmp_path / "next" / "migrations"
        shutil.copytree(resources.migrations_folder(), folder, ignore=shutil.ignore_patterns("__pycache__"))
        (folder / "versions" / "later.py").write_text(LATER.format(head=HEAD, then=then), encoding="utf-8")
        monkeypatch.setattr(resources, "migrations_folder", lambda: folder)
        monkeypatch.setattr(session, "HEAD", "later")

    return become


def copies(tmp_path: Path) -> list[Path]:
    return sorted(tmp_path.glob("yard-copy-*"))


def test_migrations_are_one_chain_and_the_program_knows_its_end() -> None:
    assert ScriptDirectory.from_config(migration_config()).get_heads() == [HEAD]


def test_tables_are_those_of_the_program(store: Store) -> None:
    with store.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []


def test_checks_and_names_are_those_of_the_program(store: Store) -> None:
    found = inspect(store.engine)
    for table in METADATA.sorted_tables:
        named = {str(constraint.name) for constraint in table.constraints}
        primary = found.get_pk_constraint(table.name)["name"]
        foreign = {key["name"] for key in found.get_foreign_keys(table.name)}
        checks = {check["name"] for check in found.get_check_constraints(table.name)}
        assert {primary, *foreign, *checks} == named


def test_down_and_up_again(place: str) -> None:
    open_store(place, create=True).close()
    with connect_unchecked(place) as connection:
        command.downgrade(migration_config(connection), "base")
        connection.commit()
        assert set(inspect(connection).get_table_names()) <= {"alembic_version"}
        command.upgrade(migration_config(connection), "head")
        connection.commit()
    with open_store(place) as store:
        take_in(store)
        with store.reading() as reader:
            assert verify_store(reader) == []


OUTLINES = [  # job, position, lawn, corner, x, y, part: a lawn with two holes, one that is none, a stray hole
    ("J2", 0, "front", 2, 5000, 0, "edge"), ("J2", 1, "front", 1, 0, 0, "edge"), ("J2", 2, "front", 3, 0, 4000, "edge"),
    ("J2", 3, "front", 1, 500, 500, "hole"), ("J2", 4, "front", 2, 900, 500, "hole"),
    ("J2", 5, "front", 3, 500, 900, "hole"),
    ("J2", 6, "front", 1, 1500, 500, "hole"), ("J2", 7, "front", 2, 1900, 500, "hole"),
    ("J2", 8, "front", 3, 1500, 900, "hole"), ("J2", 9, "back", 1, 0, 0, "edge"), ("J2", 10, "back", 2, 4, 0, "edge"),
    ("J2", 11, "back", 1, 1, 0, "hole"),
]  # fmt: skip


def test_outlines_kept_before_there_were_lawns_become_lawns(place: str) -> None:
    with open_store(place, create=True) as store:
        take_in(store)
    with connect_unchecked(place) as connection:
        command.downgrade(migration_config(connection), "0002")
        connection.commit()
        assert connection.scalar(text("SELECT count(*) FROM lawn_corner")) == 12
        connection.execute(text("DELETE FROM lawn_corner"))
        for row in OUTLINES:
            values = dict(zip("abcdefg", row, strict=True))
            connection.execute(text("INSERT INTO lawn_corner VALUES (:a, :b, :c, :d, :e, :f, :g)"), values)
        connection.commit()
    with connect_unchecked(place) as connection:
        command.upgrade(migration_config(connection), "head")
        connection.commit()
    with open_store(place) as store, store.reading() as reader:
        (job,) = [job for job in read_contents(reader).jobs if job.code == "J2"]
    (lawn,) = job.lawns
    assert lawn == Lawn("front", LAWN.edge, LAWN.holes)
    assert job.pile is None


def test_new_store_is_marked_as_ours(file_place: str) -> None:
    open_store(file_place, create=True).close()
    with closing(sqlite3.connect(file_place)) as connection:
        assert connection.execute("PRAGMA application_id").fetchone() == (SQLITE_APPLICATION_ID,)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_older_store_is_upgraded_and_keeps_what_it_holds(place: str, next_version: NextVersion) -> None:
    with open_store(place, create=True) as store:
        take_in(store)
    next_version()
    with open_store(place) as store, store.reading() as reader:
        assert set(read_contents(reader).stock) == set(CONTENTS.stock)
        assert reader.scalars(text("SELECT DISTINCT maker FROM product")).all() == ["unknown"]
        assert verify_store(reader) == []


REBUILD = 'with op.batch_alter_table("job") as job: job.alter_column("site", nullable=True)'


def test_rebuilding_a_table_keeps_the_rows_that_refer_to_it(place: str, next_version: NextVersion) -> None:
    """SQLite rebuilds a table to change a column, and strips go when their job goes."""
    with open_store(place, create=True) as store:
        take_in(store)
    next_version(then=REBUILD)
    with open_store(place) as store, store.reading() as reader:
        assert read_contents(reader).jobs == CONTENTS.jobs
        if store.engine.dialect.name == "sqlite":
            assert reader.scalar(text("PRAGMA foreign_keys")) == 1


def test_upgrade_that_leaves_a_row_without_its_parent_is_refused(file_place: str, next_version: NextVersion) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
    next_version(then="op.execute('DELETE FROM job')")
    with pytest.raises(StoreError, match="was not upgraded: some of its rows refer to others"):
        open_store(file_place)
    with closing(sqlite3.connect(file_place)) as connection:
        assert connection.execute("SELECT count(*) FROM job").fetchone() == (2,)


def test_copy_is_kept_before_the_upgrade(file_place: str, tmp_path: Path, next_version: NextVersion) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
    next_version()
    open_store(file_place).close()
    (copy,) = copies(tmp_path)
    assert f"tables-{HEAD}" in copy.name
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == (HEAD,)
        assert connection.execute("SELECT count(*) FROM stock_item").fetchone() == (len(CONTENTS.stock),)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    open_store(file_place).close()
    assert copies(tmp_path) == [copy]  # up to date: no copy


def test_failed_upgrade_leaves_the_store_as_it_was(file_place: str, tmp_path: Path, next_version: NextVersion) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
    next_version(then="raise RuntimeError('half way')")
    with pytest.raises(RuntimeError, match="half way"):
        open_store(file_place)
    with closing(sqlite3.connect(file_place)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == (HEAD,)
        assert "maker" not in {row[1] for row in connection.execute("PRAGMA table_info(product)")}
    assert len(copies(tmp_path)) == 1


def test_no_copy_no_upgrade(file_place: str, next_version: NextVersion, monkeypatch: pytest.MonkeyPatch) -> None:
    open_store(file_place, create=True).close()
    next_version()
    real = sqlite3.connect

    def full_disk(path: object) -> sqlite3.Connection:
        if str(path).endswith(".unfinished"):
            raise sqlite3.OperationalError("database or disk is full")
        return real(str(path))

    monkeypatch.setattr(sqlite3, "connect", full_disk)
    with pytest.raises(StoreError, match=r"was not upgraded: no copy could be kept first .*disk is full"):
        open_store(file_place)
    with closing(real(file_place)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == (HEAD,)


def test_newer_store_is_refused_and_untouched(place: str) -> None:
    open_store(place, create=True).close()
    with connect_unchecked(place) as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
        connection.commit()
    with pytest.raises(StoreTooNew, match="newer stockplan .*9999.* knows up to " + HEAD):
        open_store(place)
    with connect_unchecked(place) as connection:
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == "9999"
