"""Without a commit nothing is stored; the ledger cannot be rewritten by anyone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Self

import pytest
from small_yard import CONTENTS, ROLL, take_in
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError

from stockplan.domain.ledger import moved, received, written_off
from stockplan.errors import StoreBusy
from stockplan.store.importing import import_contents
from stockplan.store.ledger_rows import read_movements, read_stock, record
from stockplan.store.quick import OpenYard, open_yard
from stockplan.store.session import Store, open_store
from stockplan.store.tables_yard import SettingRow


def stock(store: Store) -> int:
    with store.reading() as session:
        return len(read_stock(session))


def test_no_commit_no_change(store: Store) -> None:
    with store.unit_of_work() as work:
        import_contents(work, CONTENTS, "tester")
        assert len(read_stock(work.session)) == 3
    assert stock(store) == 0


def test_error_rolls_back(store: Store) -> None:
    def fail_half_way() -> None:
        with store.unit_of_work() as work:
            import_contents(work, CONTENTS, "tester")
            raise RuntimeError("power")

    with pytest.raises(RuntimeError, match="power"):
        fail_half_way()
    assert stock(store) == 0


def test_commit_is_seen_by_others(store: Store, place: str) -> None:
    take_in(store)
    with open_store(place) as other:
        assert stock(other) == 3


@pytest.mark.parametrize("opening", [open_store, open_yard])
def test_moment_of_what_is_written_is_when_its_turn_came(place: str, opening: Callable[[str], OpenYard]) -> None:
    with open_store(place, create=True) as store:
        take_in(store)
        with opening(place) as slow:
            waiting = slow.unit_of_work()  # as while another has its turn
            with store.unit_of_work() as work:
                record(work, [moved("R-1", "F7", "first")], "tester")
                work.commit()
            with waiting:
                record(waiting, [moved("R-1", "F8", "second")], "tester")
                waiting.commit()
        with store.reading() as session:
            moments = [movement.at for movement in read_movements(session)]
    assert moments == sorted(moments)


@pytest.mark.postgres
def test_on_a_server_moments_are_those_of_its_clock(postgres_place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    class AnHourSlow(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            return super().now(tz) - timedelta(hours=1)

    monkeypatch.setattr("stockplan.store.session.datetime", AnHourSlow)
    with open_store(postgres_place, create=True) as store, store.unit_of_work() as work:
        assert abs(work.at - datetime.now(UTC)) < timedelta(minutes=1)
        assert work.at.tzinfo is UTC


def test_impossible_movement_writes_nothing(store: Store) -> None:
    take_in(store)
    with store.unit_of_work() as work:
        with pytest.raises(ValueError, match="received before"):
            record(work, [written_off("0147", ""), received(ROLL, "")], "tester")
        work.commit()
    with store.reading() as session:
        assert len(list(read_movements(session))) == 3
        assert len(read_stock(session)) == 3


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE movement SET why = 'never happened' WHERE number = 1",
        "DELETE FROM movement WHERE number = 3",
        "DELETE FROM movement",
    ],
)
def test_ledger_cannot_be_rewritten(store: Store, statement: str) -> None:
    take_in(store)
    with pytest.raises(DBAPIError, match="append-only"), store.unit_of_work() as work:
        work.session.execute(text(statement))
    with store.reading() as session:
        assert [movement.why for movement in read_movements(session)] == ["imported"] * 3


def test_ledger_cannot_be_replaced_line_by_line(file_place: str) -> None:
    columns = "number, at, who, kind, {}, why, values_json"
    replace_line = (
        f"INSERT OR REPLACE INTO movement ({columns.format('tag')}) SELECT {columns.format(repr('X'))} FROM movement"
    )
    with open_store(file_place, create=True) as store:
        take_in(store)
        with pytest.raises(DBAPIError, match="append-only"), store.unit_of_work() as work:
            work.session.execute(text(replace_line))


@pytest.mark.postgres
def test_ledger_cannot_be_emptied(postgres_place: str) -> None:
    with open_store(postgres_place, create=True) as store:
        take_in(store)
        with pytest.raises(DBAPIError, match="append-only"), store.unit_of_work() as work:
            work.session.execute(text("TRUNCATE movement"))


def test_references_are_enforced(store: Store) -> None:
    take_in(store)
    with pytest.raises(IntegrityError), store.unit_of_work() as work:
        work.session.execute(text("DELETE FROM product"))


def test_second_writer_fails_before_it_writes(store: Store, place: str) -> None:
    with store.unit_of_work() as first, open_store(place, patience_seconds=0.2) as other:
        import_contents(first, CONTENTS, "tester")
        with pytest.raises(StoreBusy, match="another program; wait a moment and try again"), other.unit_of_work():
            pytest.fail("two writers at once")
        assert stock(other) == 0  # a reader is not held up, and sees the state before
        first.commit()
        assert stock(other) == 3


def test_reading_sees_one_state(store: Store, place: str) -> None:
    with store.reading() as session, open_store(place) as other:
        assert read_stock(session) == []
        take_in(other)
        assert read_stock(session) == []
    assert stock(store) == 3


def test_writing_while_reading_cannot_be_kept(store: Store) -> None:
    with store.reading() as session:
        session.add(SettingRow(name="currency", value="EUR"))
        session.flush()
    with store.reading() as session:
        assert session.get(SettingRow, "currency") is None
