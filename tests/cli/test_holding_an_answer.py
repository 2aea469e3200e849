"""Holding an answer for a quote: of two at the same thing one is told who was first, and what a quote holds is told."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run

from stockplan.actions.covering import Grass, ask_cover, hold_answer
from stockplan.domain.stock import StockForm, StockItem
from stockplan.errors import StockplanError

FITS = StockItem("K-1", "G30", "B1", StockForm.OFFCUT, 2000, 3000, "C3", 1000)
UNTIL = ("--until", "2099-12-12")


@pytest.fixture(autouse=True)
def two_offcuts(store: Path) -> None:
    stock = (FITS, replace(FITS, tag="K-2", batch="B2", length_mm=3100))
    fill(store, replace(small_request(), jobs=(), stock=stock))


def test_who_asked_at_the_same_time_and_was_second_is_told_to_ask_again() -> None:
    answered = ask_cover(None, ((2000, 3000),), Grass(), date(2026, 11, 23)).coverage
    assert hold_answer(None, answered, "Q-7", date(2099, 12, 12)) == ("K-1",)
    second = r"^answer 1 cannot be held: K-1 is held for Q-7 until 2099-12-12; ask again, or name another answer"
    with pytest.raises(StockplanError, match=second):
        hold_answer(None, answered, "Q-8", date(2099, 12, 12))
    assert hold_answer(None, answered, "Q-8", date(2099, 12, 12), 2) == ("K-2",)


def test_what_frees_itself_before_the_day_of_asking_cannot_be_held_before() -> None:
    assert run("hold", "K-1", "Q-7", "--until", "2099-12-11").exit_code == 0
    refused = run("cover", "2x3", "--product", "G30", "--today", "2099-12-12", "--hold", "Q-8", *UNTIL)
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert "K-1 is held for Q-7 until 2099-12-11; ask again, or name another answer with --take" in refused.stderr


def test_what_a_quote_holds_already_is_told_when_more_is_held_for_it() -> None:
    asked = ("cover", "2x3", "--product", "G30", "--hold")
    assert "before, and still" not in run(*asked, "Q-7", *UNTIL).stderr
    again = run(*asked, "Q-7", *UNTIL).stderr
    assert "Held K-2 (1 thing) for Q-7" in again
    assert "Held for Q-7 before, and still: K-1; what it wants no longer: stockplan free K-1\n" in again
    assert run("free", "K-2").exit_code == 0
    assert "before, and still" not in run(*asked, "Q-8", *UNTIL).stderr
