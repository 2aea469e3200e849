"""Files are written whole or not at all."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from stockplan.actions import files
from stockplan.actions.files import check_writable, drawing_names, write_text
from stockplan.errors import StockplanError
from stockplan.store.session import open_store


def test_text_is_written_as_utf8(tmp_path: Path) -> None:
    write_text(tmp_path / "plan.json", "m² é\n")
    assert (tmp_path / "plan.json").read_bytes() == "m² é\n".encode()
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]


def test_old_file_stays_when_the_new_one_cannot_be_finished(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "plan.json"
    write_text(path, "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(StockplanError, match=r"plan\.json cannot be written: No space left"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_store_is_never_written_over(tmp_path: Path) -> None:
    store, link = tmp_path / "yard.db", tmp_path / "labels.pdf"
    open_store(str(store), create=True).close()
    before = store.read_bytes()
    link.symlink_to(store)
    for path in (store, link):
        for write in (check_writable, lambda path: write_text(path, "new")):
            with pytest.raises(StockplanError, match="is a store and would be lost; name another file"):
                write(path)
    with closing(sqlite3.connect(store, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StockplanError, match="is a store"):
            check_writable(store)
        connection.execute("ROLLBACK")
        connection.execute("PRAGMA journal_mode = WAL")
    assert store.read_bytes()[100:] == before[100:]  # the header counts such changes
    assert {path.name for path in tmp_path.iterdir()} == {"yard.db", "labels.pdf"}


def test_link_keeps_pointing_to_its_file(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_text("old")
    (tmp_path / "link.json").symlink_to("real.json")
    write_text(tmp_path / "link.json", "new")
    assert (tmp_path / "link.json").is_symlink()
    assert (tmp_path / "real.json").read_text() == "new"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="named pipes of POSIX systems")
def test_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[str] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()))
    reader.start()
    write_text(pipe, "plan")
    reader.join(timeout=10)
    assert read == ["plan"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_killed_writer_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    old, new = "a" * 3_000_000, "b" * 3_000_000
    code = (
        "import sys; from pathlib import Path; from stockplan.actions.files import write_text\n"
        "print('go', flush=True)\n"
        "while True:\n"
        "    for letter in 'ba':\n"
        "        write_text(Path(sys.argv[1]), letter * 3_000_000)\n"
    )
    for _ in range(5):
        write_text(path, old)
        with subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None
            writer.stdout.readline()
            threading.Event().wait(0.02)
            writer.kill()
        assert path.read_text() in (old, new)


def test_place_is_checked_before_the_work(tmp_path: Path) -> None:
    check_writable(tmp_path / "plan.json")
    with pytest.raises(StockplanError, match="is a folder; name a file in it"):
        check_writable(tmp_path)
    with pytest.raises(StockplanError, match="is not there; make it first"):
        check_writable(tmp_path / "nowhere" / "plan.json")


@pytest.mark.parametrize(
    ("path", "products", "names"),
    [
        ("plan.svg", ["K30"], ["plan.svg"]),
        ("plan", ["K30"], ["plan.svg"]),
        ("plan.svg", ["K30", "K40"], ["plan-K30.svg", "plan-K40.svg"]),
        ("plan.svg", ["../../x", "a b", "a/b"], ["plan-.._.._x.svg", "plan-a_b.svg", "plan-a_b-2.svg"]),
        ("plan.svg", ["k", "K"], ["plan-k.svg", "plan-K-2.svg"]),
        ("plan.svg", [], []),
    ],
)
def test_each_product_has_a_file_of_its_own(path: str, products: list[str], names: list[str]) -> None:
    found = drawing_names(Path(path), products)
    assert list(found) == products
    assert [str(name) for name in found.values()] == names


def test_read_only_folder_is_found_before_planning(tmp_path: Path) -> None:
    folder = tmp_path / "read-only"
    folder.mkdir()
    (folder / "cuts.svg").symlink_to(tmp_path / "elsewhere.svg")
    folder.chmod(0o555)
    try:
        if os.access(folder, os.W_OK):
            pytest.skip("this user may write to any folder")
        with pytest.raises(StockplanError, match=r"plan\.json cannot be written: the folder .*read-only is read-only"):
            check_writable(folder / "plan.json")
        check_writable(folder / "cuts.svg")  # the file it stands for lies where it may be written
    finally:
        folder.chmod(0o755)
