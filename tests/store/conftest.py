"""A fresh, empty place for a store: a SQLite file, and a PostgreSQL database where there is a server."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from empty_stores import empty_store

from stockplan.store.session import Store, open_store

POSTGRES_VARIABLE = "STOCKPLAN_TEST_POSTGRES"


@pytest.fixture
def file_place(tmp_path: Path) -> str:
    """Path of a SQLite store not made yet."""
    return str(tmp_path / "yard.db")


@pytest.fixture
def postgres_place() -> Iterator[str]:
    """URL of an empty PostgreSQL database, removed afterwards."""
    server = os.environ.get(POSTGRES_VARIABLE)
    if not server:
        pytest.skip(
            f"needs a PostgreSQL server; start one with .ci/postgres start and put its URL in {POSTGRES_VARIABLE}"
        )
    import psycopg  # noqa: PLC0415
    from sqlalchemy import make_url  # noqa: PLC0415

    name = f"stockplan_test_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        yield make_url(server).set(database=name).render_as_string(hide_password=False)
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def place(request: pytest.FixtureRequest) -> str:
    """Either of the two."""
    name = "file_place" if request.param == "sqlite" else "postgres_place"
    where: str = request.getfixturevalue(name)
    return where


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    """A new store."""
    with open_store(place, create=True) if "://" in place else empty_store(Path(place)) as made:
        yield made
