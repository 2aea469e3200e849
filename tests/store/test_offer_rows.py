"""What the estimator reads of a store, on both databases."""

from __future__ import annotations

from datetime import date

import pytest
from small_yard import CUT_OFFER, G30, G40, JOB, OFFCUT, PART, ROLL, ROLL_OFFER, take_in

from stockplan.domain.ledger import Hold, held
from stockplan.errors import StoreError
from stockplan.store.ledger_rows import record
from stockplan.store.offer_rows import (
    Lying,
    jobs_begun,
    read_catalogue,
    read_firm,
    read_lay_dates,
    read_lying,
    read_offers,
)
from stockplan.store.plan_rows import read_plan_texts_with
from stockplan.store.session import Store


def test_catalogue_offers_and_days_are_read(store: Store) -> None:
    take_in(store)
    with store.reading() as session:
        assert read_catalogue(session) == [G30, G40]
        assert read_offers(session, ["G30"]) == [ROLL_OFFER, CUT_OFFER]
        assert read_offers(session, ["G40"]) == []
        assert read_lay_dates(session, ["J1", "J9"]) == {"J1": (JOB.lay_on, True)}
        assert jobs_begun(session, ["J1"]) == set()
        assert read_plan_texts_with(session, "0f" * 32) == []


def test_things_are_read_by_grass_and_least_size_with_their_holds(store: Store) -> None:
    take_in(store)
    until = date(2099, 12, 31)
    with store.unit_of_work() as work:
        record(work, [held(PART.tag, "Q-7", until, "")], "tester")
        work.commit()
    with store.reading() as session:
        hold = Hold("Q-7", until)
        assert read_lying(session, ["G30"]) == [Lying(PART, None, hold, ""), Lying(ROLL, None, None, "")]
        assert [one.item for one in read_lying(session, ["G30", "G40"], 3971)] == [PART, ROLL]  # PART is held
        assert [one.item for one in read_lying(session, ["G30", "G40"], 0, 9001)] == [PART, ROLL]
        assert {one.item for one in read_lying(session, ["G30", "G40"])} == {PART, ROLL, OFFCUT}


def test_the_firms_settings_are_read_and_broken_ones_told(store: Store) -> None:
    take_in(store)
    with store.reading() as session:
        assert read_firm(session).quote.wastage_percent == 10
    with store.unit_of_work() as work:
        work.rows.run("INSERT INTO setting (name, value) VALUES ('wastage_percent', 'much')")
        work.commit()
    with store.reading() as session, pytest.raises(StoreError, match="wastage_percent"):
        read_firm(session)
