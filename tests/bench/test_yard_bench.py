"""The yard that commands are timed on is one that can have happened, and each command timed there does its work."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner

from stockplan import cli
from stockplan.bench.yard import LAST, STANDING, Proposed, add_plans, commands, last_movement, make_store
from stockplan.store.ledger_rows import ledger_end, read_yard
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store
from stockplan.store.verify_plans import verify_plans

WITHOUT_A_TARGET = {"import", "plan", "show", "why", "demo", "verify", "backup", "restore"}
OF_THE_OFFICE = {"cover", "enquiries", "quote", "settings", "take-off", "measure-lawn", "lawns", "unpin"}


def test_invented_past_is_sound_and_as_long_as_asked(tmp_path: Path) -> None:
    where = str(tmp_path / "yard.db")
    make_store(where, items=60, movements=900)
    with open_store(where) as store, store.reading() as session:
        assert verify_store(session) == []
        assert ledger_end(session) == 900
        yard = read_yard(session)
    assert len(yard.items) == 60
    assert (len(yard.reservations), len(yard.holds)) == (3, 3)


@pytest.mark.slow
def test_each_command_timed_does_its_work_on_a_sound_store(tmp_path: Path) -> None:
    where = str(tmp_path / "yard.db")
    make_store(where, items=5200, movements=62_400)
    (plan,) = add_plans(where, STANDING + 1)
    for name, command in commands(0, plan).items():
        typed = [last_movement(where) if word == LAST else word for word in command]
        done = CliRunner().invoke(cli.app, ["--store", where, *typed])
        assert done.exit_code == 0, f"{name}: {done.output}"
    with open_store(where) as store, store.reading() as session:
        assert verify_store(session) == []
        faults = verify_plans(session)
    assert all("reserved for plan 9000, which is not there" in fault for fault in faults)  # of the invented past


def test_every_yard_command_is_timed() -> None:
    timed = {
        command[0] for command in commands(0, Proposed(1, "C-1", "P1-1", "4x25", "J1", date(2026, 11, 30))).values()
    }
    registered = cli.app.registered_commands
    known = {one.name or str(getattr(one.callback, "__name__", "")).replace("_", "-") for one in registered}
    assert known - timed == WITHOUT_A_TARGET | OF_THE_OFFICE
