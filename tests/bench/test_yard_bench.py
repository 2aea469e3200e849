"""The invented past of the yard that commands are timed on is one that can have happened."""

from __future__ import annotations

from pathlib import Path

from stockplan.bench.yard import make_store
from stockplan.store.ledger_rows import ledger_end, read_yard
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store


def test_invented_past_is_sound_and_as_long_as_asked(tmp_path: Path) -> None:
    where = str(tmp_path / "yard.db")
    make_store(where, items=60, movements=900)
    with open_store(where) as store, store.reading() as session:
        assert verify_store(session) == []
        assert ledger_end(session) == 900
        yard = read_yard(session)
    assert len(yard.items) == 60
    assert (len(yard.reservations), len(yard.holds)) == (3, 3)
