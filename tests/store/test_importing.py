"""What sheets say goes in whole or not at all, and only once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from small_yard import (
    CONTENTS,
    CUT_OFFER,
    G30,
    G40,
    JOB,
    LAWN,
    LAWN_JOB,
    OFFCUT,
    PART,
    ROLL,
    ROLL_OFFER,
    VERGE,
    take_in,
)
from sqlalchemy import text

from stockplan.domain.jobs import Strip, Window
from stockplan.domain.ledger import MovementKind, fold, written_off
from stockplan.domain.pile import PileKind, PileWish
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import StockForm
from stockplan.errors import SheetFaults, StoreError
from stockplan.store.importing import Tally, import_contents, read_contents
from stockplan.store.lawn_rows import replace_lawns
from stockplan.store.ledger_rows import read_movements, read_stock, record
from stockplan.store.repository import jobs_without_strips, load_request
from stockplan.store.session import Store
from stockplan.store.setting_rows import write_settings
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store

TABLES = (
    "product", "supply_option", "movement", "stock_item", "job", "strip", "lawn", "lawn_corner", "setting",
    "stored_plan",
)  # fmt: skip
WEEK = Window(date(2026, 11, 30), date(2026, 12, 4))


def everything(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table."""
    with store.reading() as session:
        return {
            table: sorted(map(tuple, session.execute(text(f"SELECT * FROM {table}"))), key=repr) for table in TABLES
        }


def test_what_goes_in_comes_out(store: Store) -> None:
    take_in(store)
    with store.reading() as session:
        found = read_contents(session)
        assert set(found.products) == set(CONTENTS.products)
        assert set(found.supply) == set(CONTENTS.supply)
        assert set(found.stock) == set(CONTENTS.stock)
        assert found.jobs == CONTENTS.jobs
        assert found.jobs[1].lawns == (LAWN, VERGE)
        assert verify_store(session) == []


def test_ledger_says_who_received_what(store: Store) -> None:
    take_in(store)
    with store.reading() as session:
        movements = list(read_movements(session))
    assert [(m.number, m.kind, m.tag, m.who) for m in movements] == [
        (1, MovementKind.RECEIVED, "R-1", "tester"),
        (2, MovementKind.RECEIVED, "0147", "tester"),
        (3, MovementKind.RECEIVED, "C-114 (wet)", "tester"),
    ]
    assert movements[0].at.utcoffset() is not None
    assert set(fold(movements).values()) == {ROLL, PART, OFFCUT}


def test_same_sheets_twice_change_nothing(store: Store) -> None:
    assert take_in(store).changed_anything
    before = everything(store)
    summary = take_in(store)
    assert not summary.changed_anything
    assert (summary.stock, summary.jobs) == (Tally(same=3), Tally(same=2))
    assert everything(store) == before


def test_order_of_rows_does_not_matter(store: Store) -> None:
    take_in(store)
    turned = SheetContents(*(getattr(CONTENTS, name)[::-1] for name in ("products", "supply", "stock", "jobs")))
    assert not take_in(store, turned).changed_anything


def test_sheets_change_what_they_mention_and_leave_the_rest(store: Store) -> None:
    take_in(store)
    other_job = replace(JOB, lay_on=date(2026, 12, 2), strips=(Strip("A", 1500, 6300),))
    dearer = replace(ROLL_OFFER, price_pence=112_000)
    moved = replace(ROLL, length_mm=24_880, bay="F9")
    later = SheetContents((replace(G30, weight_g_m2=2400),), (dearer,), (moved,), (other_job,))
    summary = take_in(store, later)
    assert (summary.products, summary.supply, summary.stock, summary.jobs) == (Tally(changed=1),) * 4
    with store.reading() as session:
        found = read_contents(session)
        assert set(found.products) == {replace(G30, weight_g_m2=2400), G40}
        assert set(found.supply) == {dearer, CUT_OFFER}
        assert set(found.stock) == {moved, PART, OFFCUT}
        assert found.jobs == (LAWN_JOB, other_job)  # by lay date
        last = list(read_movements(session))[-1]
        assert (last.kind, dict(last.values)) == (MovementKind.CORRECTED, {"length_mm": 24_880, "bay": "F9"})
        assert verify_store(session) == []


def test_offer_a_supplier_no_longer_makes_is_taken_out(store: Store) -> None:
    take_in(store)
    narrow = replace(ROLL_OFFER, width_mm=2000, price_pence=56_500)
    summary = take_in(store, SheetContents(supply=(narrow,)))
    assert summary.supply == Tally(new=1, removed=1)
    with store.reading() as session:
        assert set(read_contents(session).supply) == {narrow, CUT_OFFER}


def test_what_a_supplier_sells_no_more_is_taken_out_once(store: Store) -> None:
    take_in(store)
    ended = SheetContents(ended=(("G30", "Ostrel Depot"), ("G40", "Ostrel Depot")))
    assert take_in(store, ended).supply == Tally(removed=1)
    assert not take_in(store, ended).changed_anything
    with store.reading() as session:
        assert read_contents(session).supply == (ROLL_OFFER,)


def test_lawn_measured_anew_replaces_the_old_outline(store: Store) -> None:
    take_in(store)
    smaller = replace(LAWN, holes=())
    assert take_in(store, SheetContents(jobs=(replace(LAWN_JOB, lawns=(smaller,)),))).jobs == Tally(changed=1)
    with store.reading() as session:
        assert read_contents(session).jobs[1].lawns == (smaller,)
    assert take_in(store, SheetContents(lawns={"J2": (LAWN, VERGE)})).jobs == Tally(changed=1)
    with store.reading() as session:
        assert read_contents(session).jobs[1] == LAWN_JOB


def test_lawns_and_wishes_that_no_sheet_mentions_stay(store: Store) -> None:
    take_in(store)
    moved = replace(LAWN_JOB, lay_on=date(2026, 12, 2))
    assert take_in(store, SheetContents(jobs=(replace(moved, lawns=(), pile=None),))).jobs == Tally(changed=1)
    with store.reading() as session:
        assert read_contents(session).jobs[1] == moved


def test_a_pile_wish_that_cannot_be_followed_is_refused(store: Store) -> None:
    wrong = replace(LAWN_JOB, lawns=(VERGE, replace(LAWN, pile=None)), pile=PileWish(PileKind.TOWARDS, "hose"))
    with pytest.raises(SheetFaults) as caught:
        take_in(store, SheetContents((G30, G40), jobs=(wrong,)))
    assert len(caught.value.faults) == 2
    assert "jobs: pile_wish: J2: lawns front: pile 'towards hose', but no edge is called 'hose'" in str(caught.value)


def test_only_lawns_are_written_anew(store: Store) -> None:
    take_in(store)
    measured = replace(JOB, lawns=(LAWN,), pile=PileWish(PileKind.OPEN))
    with store.unit_of_work() as work:
        replace_lawns(work, measured)
        work.commit()
    with store.reading() as session:
        assert read_contents(session).jobs == (measured, LAWN_JOB)


def test_all_faults_at_once_and_nothing_stored(store: Store) -> None:
    take_in(store)
    with store.unit_of_work() as work:
        record(work, [written_off("0147", "flood")], "tester")
        work.commit()
    before = everything(store)
    wrong = SheetContents(
        products=(replace(G30, description="new words"), replace(G40, code="G50")),
        stock=(
            replace(ROLL, product="G50", batch="B8", form=StockForm.PART_ROLL),
            PART,
            replace(OFFCUT, tag="C-9", product="G99"),
            replace(OFFCUT, tag="C-10"),
            replace(OFFCUT, tag="C-10"),
        ),
    )
    with store.unit_of_work() as work, pytest.raises(SheetFaults) as caught:
        import_contents(work, wrong, "tester")
    text_of = "\n".join(caught.value.faults)
    assert len(caught.value.faults) == 6
    for part in ("given twice, found C-10", "found G99", "found 0147", "found G50", "found B8", "found part_roll"):
        assert part in text_of
    assert everything(store) == before


def test_request_holds_the_window_and_the_firms_settings(store: Store) -> None:
    take_in(store)
    with store.unit_of_work() as work:
        write_settings(work, {"rip_pence": "450", "currency": "EUR"})
        work.commit()
    with store.reading() as session:
        request = load_request(session, WEEK, date(2026, 11, 26))
        assert request.jobs == (JOB,)
        assert request.costs == CostSettings(rip_pence=450)
        assert (request.currency, request.today, request.window) == ("EUR", date(2026, 11, 26), WEEK)
        assert [item.tag for item in request.stock] == ["0147", "C-114 (wet)", "R-1"]
        assert jobs_without_strips(session, WEEK) == [LAWN_JOB]
        assert load_request(session, Window(date(2026, 12, 7), date(2026, 12, 8)), date(2026, 11, 26)).jobs == ()


def test_unreadable_setting_is_named(store: Store) -> None:
    with store.unit_of_work() as work:
        write_settings(work, {"rip_pence": "three"})
        work.commit()
    with store.reading() as session, pytest.raises(StoreError, match="found 'three'"):
        load_request(session, WEEK, date(2026, 11, 26))


def test_many_items_are_read_and_corrected_by_the_thousand(store: Store) -> None:
    many = tuple(replace(OFFCUT, tag=f"C-{number}") for number in range(1500))
    take_in(store, replace(CONTENTS, stock=many))
    wider = tuple(replace(item, width_mm=1210) for item in many)
    assert take_in(store, SheetContents(stock=wider)).stock == Tally(changed=1500)
    with store.reading() as session:
        assert set(read_stock(session)) == set(wider)
        assert {item.tag for item in read_stock(session, (item.tag for item in many[:700]))} == {
            item.tag for item in many[:700]
        }
        assert verify_store(session) == []
