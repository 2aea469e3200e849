"""Stores that hold a week and a plan of it, and what can be read in them."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from builders import JOB, MONDAY, small_request
from typed_commands import WEEK, fill, run

from stockplan.actions.in_force import read_books, read_schedule
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan_state import PlanState
from stockplan.domain.purchase import OrderState
from stockplan.domain.request import PlanRequest
from stockplan.domain.standing import Schedule
from stockplan.store.ledger_rows import ledger_end, read_movements
from stockplan.store.plan_rows import read_promised, read_states
from stockplan.store.session import open_store

TUESDAY = MONDAY.replace(month=12, day=1)
SECOND = Job("J2", "Alder Close", "G30", TUESDAY, "road", BatchRule.ONE, (Strip("A", 4000, 2500),))
THIRD = Job("J3", "Birch End", "G30", TUESDAY, "road", BatchRule.ONE, (Strip("A", 4000, 2000, 2),))
THREE = small_request(JOB, SECOND, THIRD)
TODAY = ("--today", "2026-11-23")
Plan = Callable[..., None]


class PlannedWeeks:
    """Weeks and a plan of each, every one made once and then copied."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.known: list[tuple[PlanRequest, Path]] = []

    def put(self, request: PlanRequest, store: Path) -> None:
        before = next((path for asked, path in self.known if asked == request), None)
        if before is None:
            fill(store, request)
            assert run("plan", *WEEK).exit_code in (0, 3)
            before = self.folder / f"{len(self.known)}.db"
            shutil.copy(store, before)
            self.known.append((request, before))
        else:
            shutil.copy(before, store)


def ok(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result.output


def refused(*arguments: str, status: int = 1) -> str:
    result = run(*arguments)
    assert result.exit_code == status, result.output
    return result.stderr


def schedule(store: Path) -> Schedule:
    with open_store(str(store)) as opened, opened.reading() as session:
        return read_schedule(session, read_promised(session))


def reserved(store: Path) -> dict[str, int]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return dict(read_books(session).reserved)


def states(store: Path) -> dict[int, PlanState]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return read_states(session)


def line_states(store: Path) -> dict[str, OrderState]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return {key: line.state for key, line in read_books(session).lines.items()}


def end(store: Path) -> int:
    with open_store(str(store)) as opened, opened.reading() as session:
        return ledger_end(session)


def cut_number(store: Path) -> str:
    """The number of the last cut recorded."""
    with open_store(str(store)) as opened, opened.reading() as session:
        return str([one.number for one in read_movements(session) if one.kind.value == "cut"][-1])
