"""PostgreSQL servers that are set up in other ways than a fresh one: rights, styles, encodings, tables of others."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest
from alembic import command
from small_yard import ROLL, ROLL_OFFER, take_in
from sqlalchemy import make_url, text

from stockplan.actions.meant import near_tags
from stockplan.domain.ledger import moved, reserved
from stockplan.domain.request import Pin
from stockplan.domain.stock import Product
from stockplan.errors import StoreError
from stockplan.store.connecting import connect_unchecked
from stockplan.store.ledger_rows import read_movements, read_stock, record
from stockplan.store.migrate import migration_config
from stockplan.store.offer_rows import read_catalogue, read_lying, read_offers, read_reserved_lying
from stockplan.store.pin_rows import read_pins, write_pins
from stockplan.store.plan_rows import read_reserved
from stockplan.store.rows import rows_of
from stockplan.store.session import Store, open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.yard_rows import read_yard_where

pytestmark = pytest.mark.postgres


def run(place: str, *statements: str) -> None:
    with connect_unchecked(place) as connection:
        for statement in statements:
            connection.execute(text(statement))
        connection.commit()


def setting(place: str, words: str) -> None:
    """Change what holds for everybody who connects to the database from now on."""
    run(place, f"ALTER DATABASE {make_url(place).database} SET {words}")


def stock(store: Store) -> int:
    with store.reading() as session:
        return len(read_stock(session))


@contextmanager
def another_database(place: str, made_with: str) -> Iterator[str]:
    """Make another database beside the one given, and give its URL."""
    name = f"stockplan_test_{uuid.uuid4().hex}"
    with connect_unchecked(place) as connection:
        outside = connection.execution_options(isolation_level="AUTOCOMMIT")
        outside.execute(text(f"CREATE DATABASE {name} TEMPLATE template0 {made_with}"))
        try:
            yield make_url(place).set(database=name).render_as_string(hide_password=False)
        finally:
            outside.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))


@contextmanager
def another_user(place: str) -> Iterator[tuple[str, str]]:
    """Make a user without any right to the tables; gives the name, quoted, and the store's URL with it."""
    name = f"Büro's \"{uuid.uuid4().hex[:8]}"
    quoted = '"' + name.replace('"', '""') + '"'
    run(place, f"CREATE ROLE {quoted} LOGIN PASSWORD 'p@ss w/rd'")
    url = make_url(place).set(username=name, password="p@ss w/rd")
    try:
        yield quoted, url.render_as_string(hide_password=False)
    finally:
        run(place, f"DROP OWNED BY {quoted}", f"DROP ROLE {quoted}")


def test_who_may_only_read_looks_and_is_told_why_nothing_is_written(postgres_place: str) -> None:
    with open_store(postgres_place, create=True) as store:
        take_in(store)
    with another_user(postgres_place) as (user, theirs):
        with pytest.raises(StoreError, match=r"does not let this user do that \(permission denied for table"):
            open_store(theirs)
        run(postgres_place, f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {user}")
        with open_store(theirs) as store:
            assert stock(store) == 3
            with pytest.raises(StoreError, match=r"does not let this user do that .*nothing was stored"):
                store.check_writable()
            with (
                pytest.raises(StoreError, match=r"\(permission denied for table movement\); ask whoever looks after"),
                store.unit_of_work() as work,
            ):
                record(work, [moved("R-1", "F9", "")], "tester")


def test_who_may_not_bring_an_older_store_up_to_date_is_told_who_can(postgres_place: str) -> None:
    open_store(postgres_place, create=True).close()
    with connect_unchecked(postgres_place) as connection:
        command.downgrade(migration_config(connection), "0004")
        connection.commit()
    with another_user(postgres_place) as (user, theirs):
        run(postgres_place, f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {user}")
        with pytest.raises(StoreError, match=r"older stockplan .* which this user may not do .*have somebody open it"):
            open_store(theirs)


def test_a_database_that_can_only_be_read_is_told_so(postgres_place: str) -> None:
    with open_store(postgres_place, create=True) as store:
        take_in(store)
    setting(postgres_place, "default_transaction_read_only = on")
    with open_store(postgres_place) as store:
        assert stock(store) == 3
        with pytest.raises(StoreError, match=r"can only be looked at \(cannot execute .* in a read-only transaction"):
            store.check_writable()


def test_moments_are_read_in_whatever_style_the_server_tells_them(postgres_place: str) -> None:
    setting(postgres_place, "datestyle = 'German, DMY'")
    with open_store(postgres_place, create=True) as store:
        take_in(store)
        with store.reading() as session:
            assert len(list(read_movements(session))) == 3


def test_a_writer_who_waited_sees_what_the_other_wrote_however_careful_the_server(postgres_place: str) -> None:
    setting(postgres_place, "default_transaction_isolation = 'repeatable read'")
    with open_store(postgres_place, create=True) as store, open_store(postgres_place) as other:
        take_in(store)

        def second() -> None:
            with other.unit_of_work() as work:
                begun.append(len(list(read_movements(work.session))))
                record(work, [moved("R-1", "F8", "second")], "tester")
                work.commit()

        begun: list[int] = []
        with store.unit_of_work() as work:
            waiting = threading.Thread(target=second)
            waiting.start()
            waiting.join(timeout=0.3)
            record(work, [moved("R-1", "F7", "first")], "tester")
            work.commit()
        waiting.join()
        assert begun == [4]
        with store.reading() as session:
            assert {item.tag: item.bay for item in read_stock(session)}["R-1"] == "F8"


def test_a_connection_that_was_dropped_while_nothing_was_asked_is_renewed(postgres_place: str) -> None:
    with open_store(postgres_place, create=True) as store:
        take_in(store)
        name = make_url(postgres_place).database
        run(
            postgres_place,
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            f"WHERE datname = '{name}' AND pid <> pg_backend_pid()",
        )
        with store.unit_of_work() as work:
            record(work, [moved("R-1", "F9", "")], "tester")
            work.commit()
        assert stock(store) == 3


def test_tables_of_another_program_that_are_called_as_ours_are_left_alone(postgres_place: str) -> None:
    run(postgres_place, "CREATE TABLE job (number integer)")
    with pytest.raises(StoreError, match=r"tables of another program .*\"job\" already exists.*name an empty database"):
        open_store(postgres_place, create=True)
    with connect_unchecked(postgres_place) as connection:
        tables = connection.scalars(
            text("SELECT table_name FROM information_schema.tables WHERE table_schema='public'")
        )
        assert list(tables) == ["job"]


def test_a_character_that_the_database_cannot_keep_is_told(postgres_place: str) -> None:
    with (
        another_database(postgres_place, "ENCODING LATIN1 LOCALE 'C'") as place,
        open_store(place, create=True) as store,
    ):
        take_in(store)
        with (
            pytest.raises(StoreError, match=r"cannot keep a character that was given .*LATIN1.*encoding UTF8"),
            store.unit_of_work() as work,
        ):
            record(work, [moved("R-1", "Ł9", "")], "tester")


def test_things_come_in_the_same_order_whatever_the_language_of_the_server(postgres_place: str) -> None:
    names = ["B", "_c", "a", "z-1", "z2", "Ö"]  # in the order of their characters; dictionaries have another
    products = tuple(Product(name, "", 2000) for name in names)
    stock = tuple(replace(ROLL, tag=tag, product="B") for tag in reversed(names))
    supply = tuple(replace(ROLL_OFFER, product="B", lead_days=days) for days in (9, 1, 5))
    with (
        another_database(postgres_place, "LOCALE_PROVIDER icu ICU_LOCALE 'en-GB' LOCALE 'C'") as place,
        open_store(place, create=True) as store,
    ):
        take_in(store, SheetContents(products, supply, stock))
        with store.unit_of_work() as work:
            record(work, [reserved(tag, 7, "") for tag in names], "tester")
            write_pins(work, [Pin("J1", tag) for tag in names], "tester")
            work.commit()
        with store.reading() as session:
            rows = rows_of(session)
            assert [thing.code for thing in read_catalogue(rows)] == names
            assert [offer.lead_days for offer in read_offers(rows, ["B"])] == [1, 5, 9]
            assert [lying.item.tag for lying in read_lying(rows, ["B"])] == names
            assert [lying.item.tag for lying in read_reserved_lying(rows)] == names
            assert list(read_reserved(rows)) == names
            assert list(read_yard_where(rows, "1 = 1", {}).items) == names
            assert [pin.source for pin in read_pins(rows)] == names
            assert near_tags(rows, "Z 1") == ["z-1"]


def test_an_option_in_the_url_that_the_server_does_not_know_is_told(postgres_place: str) -> None:
    with pytest.raises(StoreError, match=r"the store's URL cannot be used \(invalid connection option \"nonsense\""):
        open_store(f"{postgres_place}?nonsense=1")
