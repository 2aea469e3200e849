"""A store of the first tables keeps its ledger and its stock when the yard's tables come, and when they go again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from alembic import command
from small_yard import CONTENTS, OFFCUT, PART, ROLL, take_in
from sqlalchemy import text

from stockplan.domain.ledger import corrected, moved, written_off
from stockplan.store.connecting import connect_unchecked
from stockplan.store.ledger_rows import read_account, read_movements, read_yard, record
from stockplan.store.migrate import migration_config
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store


def older(place: str) -> None:
    with connect_unchecked(place) as connection:
        command.downgrade(migration_config(connection), "0001")
        connection.commit()


def test_ledger_and_stock_are_kept_and_everything_derived_is_worked_out(place: str) -> None:
    with open_store(place, create=True) as store:
        take_in(store)
        with store.unit_of_work() as work:
            short = replace(ROLL, length_mm=24_850)
            record(work, [corrected(ROLL, short, "tape"), written_off(OFFCUT.tag, "flood")], "tester")
            work.commit()
        with store.reading() as session:
            before = list(read_movements(session)), read_yard(session, [ROLL.tag, PART.tag, OFFCUT.tag])
    older(place)
    with connect_unchecked(place) as connection:
        assert sorted(connection.scalars(text("SELECT tag FROM stock_item"))) == sorted([ROLL.tag, PART.tag])
        assert connection.scalar(text("SELECT length_mm FROM stock_item WHERE tag = 'R-1'")) == 24_850
    with open_store(place) as store, store.reading() as session:
        after = list(read_movements(session)), read_yard(session, [ROLL.tag, PART.tag, OFFCUT.tag])
        assert after == before
        # 4 × 24.85 + 3.97 × 9 at 10.60, 1.2 × 2.5 at nothing and written off
        assert read_account(session).area_in_mm2 == 99_400_000 + 35_730_000 + 3_000_000
        assert read_account(session).value_in == (99_400_000 + 35_730_000) * 1060
        assert verify_store(session) == []
        assert len(CONTENTS.stock) == 3


def test_movements_that_older_tables_cannot_hold_stop_the_way_back(place: str) -> None:
    with open_store(place, create=True) as store:
        take_in(store)
        with store.unit_of_work() as work:
            record(work, [moved(ROLL.tag, "F9", "")], "tester")
            work.commit()
    with pytest.raises(ValueError, match="1 movements are of kinds that the older tables cannot hold"):
        older(place)
    with open_store(place) as store, store.reading() as session:
        assert read_yard(session).items[ROLL.tag].bay == "F9"
        assert verify_store(session) == []
