"""Keeping copies of the store and putting one back, as typed."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run

from stockplan.domain.ledger import moved
from stockplan.store.ledger_rows import record
from stockplan.store.quick import open_yard


@pytest.fixture(autouse=True)
def yard(store: Path) -> Path:
    """The small yard: two movements, one for each thing."""
    fill(store, small_request())
    return store


def backed_up(*arguments: str) -> Path:
    result = run("backup", *arguments)
    assert result.exit_code == 0, result.output
    assert ", checked; it ends with movement 2 of " in result.stdout
    assert "A copy on the same disk is lost with that disk" in result.stderr
    return Path(result.stdout.removeprefix("Wrote ").partition(", checked")[0])


def test_a_copy_lies_beside_the_store_unless_a_folder_is_named(yard: Path, tmp_path: Path) -> None:
    assert backed_up().parent == yard.parent / "copies"
    assert backed_up(str(tmp_path / "elsewhere")).parent == tmp_path / "elsewhere"


def test_what_was_done_since_is_gone_after_a_copy_is_put_back_and_kept_beside(yard: Path) -> None:
    copy = backed_up()
    assert run("move", "R-1", "south").exit_code == 0
    result = run("restore", str(copy))
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    first, second = result.stdout.splitlines()
    assert first.startswith(f"The store {yard} is that of {copy} now, checked; it ends with movement 2 of ")
    kept, _, was = second.removeprefix("What was there before is kept as ").partition("; ")
    assert was.startswith("it ended with movement 3 of ")
    assert "south" not in run("history", "R-1").stdout
    assert "south" in run("history", "R-1", "--store", kept).stdout


def test_a_store_that_cannot_be_read_is_said_to_be_kept_as_it_was(yard: Path) -> None:
    copy = backed_up()
    yard.write_bytes(b"spoilt" * 1000)
    result = run("restore", str(copy))
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[1].endswith("; it cannot be read.")


def test_a_store_that_is_not_there_is_put_back_and_nothing_is_said_to_be_kept(yard: Path) -> None:
    copy = backed_up()
    for file in yard.parent.glob(f"{yard.name}*"):
        file.unlink()
    result = run("restore", str(copy))
    assert result.exit_code == 0, result.output
    assert len(result.stdout.splitlines()) == 1
    assert run("verify").exit_code == 0


def test_a_copy_under_another_name_is_put_back_with_a_word_of_doubt(tmp_path: Path) -> None:
    renamed = backed_up().rename(tmp_path / "old.db")
    result = run("restore", str(renamed))
    assert result.exit_code == 0, result.output
    assert "old.db has lost the check digits of its name" in result.stderr


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of a process cannot be set here")
def test_what_was_written_on_the_last_day_there_is_can_be_told_east_of_it(
    yard: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_yard(str(yard)) as store, store.unit_of_work() as work:
        work.at = datetime(9999, 12, 31, 23, 30, tzinfo=UTC)
        record(work, [moved("R-1", "south", "")], "tester")
        work.commit()
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    time.tzset()
    try:
        assert "it ends with movement 3 of 9999-12-31 23:30." in run("backup").stdout
        assert "9999-12-31 23:30" in run("history", "R-1").stdout
    finally:
        monkeypatch.undo()
        time.tzset()


def test_what_is_no_copy_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("Dear all", encoding="utf-8")
    result = run("restore", str(tmp_path / "letter.txt"))
    assert result.exit_code == 1
    assert "letter.txt" in result.stderr
    assert run("verify").exit_code == 0


def test_an_empty_ledger_is_called_one(tmp_path: Path) -> None:
    place = tmp_path / "empty.db"
    fill(place, small_request(stock=()))
    assert "it ends with an empty ledger." in run("backup", "--store", str(place)).stdout
