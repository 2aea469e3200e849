"""A store put out of order by hand is found out."""

from __future__ import annotations

import re

import pytest
from small_yard import take_in
from sqlalchemy import text

from stockplan.domain.ledger import CutPiece, cut
from stockplan.store.ledger_rows import record
from stockplan.store.session import Store, open_store
from stockplan.store.verify import verify_store

LINE = "number, at, who, kind, tag, why, values_json"


def spelled_out(statement: str) -> str:
    """Fill in what is the same in every line put in by hand."""
    moment = "'2026-11-26 07:00:00'"
    return re.sub(r"^LEDGER \((\d), ", rf"INSERT INTO movement ({LINE}) VALUES (\1, {moment}, 'x', ", statement)


def faults_after(store: Store, *statements: str) -> str:
    with store.unit_of_work() as work:
        for statement in statements:
            work.session.execute(text(spelled_out(statement)))
        work.commit()
    with store.reading() as session:
        return "\n".join(verify_store(session))


@pytest.fixture
def filled(store: Store) -> Store:
    take_in(store)
    return store


def test_sound_store_has_no_faults(filled: Store) -> None:
    assert faults_after(filled) == ""


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        ("UPDATE stock_item SET length_mm = 24000 WHERE tag = 'R-1'", "R-1 in stock is roll 4.00 × 24.00 m of"),
        ("UPDATE stock_item SET length_mm = 24000 WHERE tag = 'R-1'", "area does not balance"),
        ("UPDATE stock_item SET bay = 'Z' WHERE tag = 'R-1'", "R-1 in stock is"),
        ("DELETE FROM stock_item WHERE tag = 'R-1'", "R-1 is missing from stock"),
        ("UPDATE stock_item SET tag = 'R-2' WHERE tag = 'R-1'", "R-2 is in stock but not by the ledger"),
        ("UPDATE stock_item SET plan = 9 WHERE tag = 'R-1'", "R-1 is reserved for plan 9; by the ledger nothing"),
        (
            "UPDATE stock_item SET quote = 'Q', held_until = '2026-12-01' WHERE tag = 'R-1'",
            "R-1 is held for Q until 2026-12-01; by the ledger nothing",
        ),
        ("UPDATE stock_item SET condition = 'wet' WHERE tag = 'R-1'", "R-1 is in condition wet; by the ledger nothing"),
        ("UPDATE stock_item SET last_seen = '2020-01-01' WHERE tag = 'R-1'", "R-1 is last seen 2020-01-01; by the"),
        ("UPDATE stock_item SET parent = '0147' WHERE tag = 'R-1'", "R-1 is cut from 0147; by the ledger nothing"),
        ("UPDATE stock_item SET latest = 99 WHERE tag = 'R-1'", "R-1 moved last by movement 99; by the ledger by 1"),
        ("UPDATE yard_account SET value_in = value_in + 1", "money does not balance: by the account"),
        ("UPDATE yard_account SET area_used_mm2 = 1", "area does not balance: by the account"),
        (
            "LEDGER (4, 'written_off', 'R-1', '', '{}')",
            "R-1 is in stock",
        ),
        ("LEDGER (4, 'written_off', 'R-7', '', '{}')", "movement 4"),
        (
            "LEDGER (5, 'written_off', 'R-7', '', '{}')",
            "from movement 3 to",
        ),
        (
            "LEDGER (4, 'eaten', 'R-1', '', '{}')",
            "cannot be read beyond",
        ),
        (
            "LEDGER (4, 'written_off', 'R-1', '', '{')",
            "cannot be read beyond",
        ),
        (
            "LEDGER (4, 'written_off', 'R-1', '', '[]')",
            "not an object",
        ),
    ],
)
def test_each_disorder_is_named(filled: Store, statement: str, fault: str) -> None:
    assert fault in faults_after(filled, statement)


def test_row_without_its_parent_is_named(file_place: str) -> None:
    with open_store(file_place, create=True) as store:
        take_in(store)
        with store.engine.connect() as connection:
            raw = connection.connection.dbapi_connection
            assert raw is not None

            raw.execute("PRAGMA foreign_keys = OFF")  # type: ignore[attr-defined]
            raw.execute("DELETE FROM product WHERE code = 'G40'")  # type: ignore[attr-defined]
            raw.execute("PRAGMA foreign_keys = ON")  # type: ignore[attr-defined]
        with store.reading() as session:
            assert "of stock_item refers to a product that is not there" in "\n".join(verify_store(session))


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        (
            "DELETE FROM lawn_corner WHERE lawn = 'front' AND corner = 2",
            "lawn front: an outline has three corners or more",
        ),
        ("UPDATE lawn SET pile = 'hither' WHERE label = 'front'", "pile wish that cannot be read: pile 'hither'"),
        ("UPDATE job SET pile = 'along 400' WHERE code = 'J2'", "pile wish that cannot be read: pile 'along 400'"),
        (
            "UPDATE lawn_corner SET edge_name = ''",
            "job J2: lawns front: pile 'from house', but no edge is called 'house'",
        ),
    ],
)
def test_lawns_that_cannot_be_are_found(filled: Store, statement: str, fault: str) -> None:
    assert fault in faults_after(filled, statement)


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        ("DELETE FROM piece_cut", "R-1 is gone Gone("),
        ("UPDATE piece_cut SET spoiled = NOT spoiled", "R-1 is gone Gone("),
        ("UPDATE gone_item SET returned_mm2 = 5", "R-1 is gone Gone("),
        ("DELETE FROM gone_item", "R-1 is gone nothing"),
    ],
)
def test_what_is_gone_is_held_against_the_ledger(filled: Store, statement: str, fault: str) -> None:
    with filled.unit_of_work() as work:
        record(work, [cut("R-1", [CutPiece("J1", "A", 1, 4000, 9000)], "", plan=3)], "tester")
        work.commit()
    assert faults_after(filled) == ""
    assert fault in faults_after(filled, statement)
