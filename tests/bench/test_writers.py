"""Processes that write to one yard at once lose nothing, promise nothing twice, and are told why when they lose."""

from __future__ import annotations

import os
import uuid
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from stockplan.bench.rivals import Decided, faults_of_plans
from stockplan.bench.writers import LEAST, faults_after, prepare, write_at_once

POSTGRES_VARIABLE = "STOCKPLAN_TEST_POSTGRES"
SECONDS = 3.0


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    if request.param == "sqlite":
        yield str(tmp_path / "yard.db")
        return
    server = os.environ.get(POSTGRES_VARIABLE)
    if not server:
        pytest.skip(f"needs a PostgreSQL server; start one with .ci/postgres start, its URL in {POSTGRES_VARIABLE}")
    import psycopg  # noqa: PLC0415
    from sqlalchemy import make_url  # noqa: PLC0415

    name = f"stockplan_test_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        yield make_url(server).set(database=name).render_as_string(hide_password=False)
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.mark.slow
@pytest.mark.parametrize("processes", [2, 8])
def test_writers_at_once(where: str, processes: int) -> None:
    prepare(where)
    remembered = write_at_once(where, processes, SECONDS)
    assert faults_after(where, remembered) == []
    assert all(one.taken for one in remembered)  # each got its turn
    assert sum(len(one.decided.accepted) for one in remembered) > 0
    refused = sum((one.refused for one in remembered), Counter[str]())
    assert refused.total() > 0  # and they were in each other's way


def test_what_a_writer_remembers_is_held_against_the_store(tmp_path: Path) -> None:
    where = str(tmp_path / "yard.db")
    prepare(where)
    (remembered,) = write_at_once(where, 1, 0.0)
    assert faults_after(where, [remembered]) == []
    tried = len(remembered.taken) + remembered.refused.total() + remembered.busy
    assert tried >= LEAST  # though there was no time at all
    assert remembered.taken
    lost = remembered.taken.pop()
    assert any(lost in fault for fault in faults_after(where, [remembered]))


def test_what_processes_were_told_of_plans_is_held_against_the_store() -> None:
    first, second = Decided({1: ("K-1",), 2: ("K-2",)}, withdrawn={2}), Decided({3: ("K-3",)}, given_back={1})
    assert faults_of_plans([first, second], {"K-3": 3, "R-1": 9}) == []
    assert faults_of_plans([first, second], {}) == ["K-3 was told to be reserved for plan 3, and is not"]
    assert faults_of_plans([first, second], {"K-3": 3, "K-2": 2}) == ["K-2 is reserved for plan 2, and nobody was told"]
