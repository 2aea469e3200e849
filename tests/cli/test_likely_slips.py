"""What is stored as typed though a slip is likely, and told: a bay of its own, a word like one of the trade."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run
from yard_hand import NEW, ok

from stockplan.domain.ledger_movements import CONDITIONS, near_condition

ALONE = "Nothing else is on record in bay"


@pytest.fixture(autouse=True)
def yard(store: Path) -> None:
    """Rolls R-1 and R-2 in bay north, C-1 in F2."""
    fill(store, small_request())
    ok("receive", "C-1", "1.2x2.5", "--product", "G30", "--bay", "F2", "--cost", "12", "--form", "offcut")


def told(*typed: str) -> str:
    result = run(*typed)
    assert result.exit_code == 0, result.output
    return result.stderr


@pytest.mark.parametrize("bay", ["F 2", "F22", "f-2"])
def test_a_bay_of_its_own_that_is_like_another_is_told(bay: str) -> None:
    for typed in (("move", "R-1", bay), (*NEW[:-3], bay, *NEW[-2:])):
        right = f"If that is a slip, put it right: stockplan move {typed[1]} BAY\n"
        assert f"{ALONE} {bay}; perhaps F2 is meant. {right}" in told(*typed)
        ok("move", typed[1], "north")


def test_offcuts_too_and_a_bay_like_no_other() -> None:
    logged = ("offcut", "R-1", "--length", "2", "--width", "1", "--rest", "8", "--bay")
    assert f"{ALONE} shed. If that is a slip, put it right: stockplan move C-" in told(*logged, "shed")


def test_where_something_lies_or_did_when_it_left_nothing_is_told() -> None:
    assert ALONE not in told("move", "R-1", "F2")
    ok("write-off", "C-1", "--why", "torn")
    ok("move", "R-1", "north")
    assert ALONE not in told("move", "R-1", "F2")  # C-1 lay there
    assert ALONE not in told("move", "R-1", "F2")


def test_the_first_things_of_a_yard_may_lie_anywhere() -> None:
    for tag in ("R-1", "R-2", "C-1"):
        ok("write-off", tag, "--why", "sold")
    assert ALONE not in told(*NEW)


@pytest.mark.parametrize("tag", ["R 1", "R1", "r--1", "00R-1"])
def test_a_tag_that_is_another_only_to_the_program_is_told(tag: str) -> None:
    careful = "CAREFUL: R-1 lies in the yard, too. If it is the same thing, reverse this; its number: stockplan history"
    assert careful in told("receive", tag, *NEW[2:])
    assert "lies in the yard, too" not in told(*NEW)


def test_a_word_like_one_of_the_trade_is_told_and_stored_as_it_is() -> None:
    careful = "CAREFUL: wett is taken for a word of its own; perhaps wet is meant: stockplan condition R-1 wet\n"
    assert told("condition", "R-1", "wett") == careful
    assert "wett" in ok("stock")
    assert "CAREFUL" not in told("condition", "R-1", "Wet")
    logged = ("offcut", "--product", "G30", "--length", "2", "--width", "1", "--bay", "F2", "--condition", "damage")
    assert "perhaps damaged is meant: stockplan condition C-" in told(*logged)


def test_and_in_a_stocktake(tmp_path: Path) -> None:
    sheet = tmp_path / "north.csv"
    sheet.write_text("tag,found,condition\nR-1,x,dammaged\nR-2,x,sun-bleached\n")
    said = told("count", "north", "--found", str(sheet), "--yes")
    assert "perhaps damaged is meant: stockplan condition R-1 damaged\n" in said
    assert "bleached" not in said


def test_words_of_the_trade_are_like_themselves_alone() -> None:
    assert [near_condition(word) for word in (*CONDITIONS, "WET", "muddy", "creased", "faded", "")] == [""] * 10
    assert [near_condition(word) for word in ("soudn", "wett", "Dirtyy", "damged", "usd")] == [
        "sound", "wet", "dirty", "damaged", "used",
    ]  # fmt: skip
