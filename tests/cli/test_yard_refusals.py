"""What stands against what is typed about things in the yard is told, all of it at once, and nothing is stored."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run
from yard_hand import NEW, items, ok, refused

from stockplan.store.quick import open_yard


@pytest.fixture
def yard(store: Path) -> Path:
    """Rolls R-1 and R-2 in bay north."""
    fill(store, small_request())
    return store


def test_a_thing_received_with_across_and_along_exchanged_is_refused(yard: Path) -> None:
    turned = ("receive", "C-9", "5.80x3.90", *NEW[3:], "--form", "offcut")
    assert refused(*turned) == (
        "stockplan: no roll of it is wider than 4.00 m: are across and along exchanged? give it the other way round, "
        "or add --as-typed\n"
    )
    assert "received, 3.90 × 5.80 m" in ok("receive", "C-9", "3.90x5.80", *NEW[3:], "--form", "offcut")
    assert "received, 5.80 × 3.90 m" in ok("receive", "C-10", *turned[2:], "--as-typed")
    assert "received, 5.00 × 25.00 m" in ok("receive", "C-11", "5x25", *NEW[3:])


def test_a_tag_that_looks_an_option_is_told_as_it_can_be_typed(yard: Path) -> None:
    ok("receive", *NEW[3:], "--", "-7", "4x5")
    said = refused("receive", "--product", "G30", "--bay", "F1", "--cost", "5", "--", "-7", "4x5")
    assert said.endswith(" stockplan history -- -7\n")
    assert "received: roll" in ok("history", "--", "-7")


def test_a_batch_on_record_for_another_product_is_told_as_it_is_received(yard: Path) -> None:
    small = small_request()
    fill(yard, replace(small, products=(*small.products, replace(small.products[0], code="G99"))))
    careful = (
        "CAREFUL: batch B7 is on record for G30, and never was for G99. If that is a slip, reverse what was received"
    )
    told = run("receive", "R 9", "4x25", "--product", "G99", "--batch", "B7", *NEW[7:])
    assert told.exit_code == 0
    assert f"{careful} and take it in again; its number: stockplan history 'R 9'\n" in told.stderr
    assert "CAREFUL" not in run("receive", "R-10", "4x25", "--product", "G99", "--batch", "B7", *NEW[7:]).stderr
    for batch in ("B9", "", "B8"):
        new = run("receive", f"N-1{batch}", "4x25", "--product", "G30", "--batch", batch, *NEW[7:])
        assert (new.exit_code, "CAREFUL" in new.stderr) == (0, False)


def test_a_cost_far_from_what_its_grass_costs_elsewhere_is_told_and_stored(yard: Path) -> None:
    cost = NEW.index("--cost") + 1
    dear = run(*NEW[:cost], "1060")
    assert dear.exit_code == 0
    assert dear.stderr.endswith(
        "CAREFUL: 1,060.00 per m² is about 85 times what the dearest G30 on offer or in the yard costs, 12.51. "
        "If that is a slip, put it right: stockplan measure --cost AMOUNT R-9\n"
    )
    assert items()["R-9"]["cost_per_m2"] == 1060
    cheap = run("measure", "--cost", "0.11", "R-9")
    assert (
        "CAREFUL: 0.11 per m² is less than a third of what the cheapest G30 on offer or in the yard costs, 10.00. "
        in cheap.stderr
    )
    assert items()["R-9"]["cost_per_m2"] == 0.11
    for sound in ("10.60", "30", "3.60", "0"):
        assert "CAREFUL" not in run("measure", "--cost", sound, "R-9").stderr


@pytest.mark.parametrize(
    "typed",
    [
        ("receive", "R\udcff", "4x5", "--product", "G30", "--bay", "F1", "--cost", "5"),
        ("receive", "R-8", "4x5", "--product", "G30", "--bay", "F1", "--cost", "5", "--why", "caf\udce9"),
        ("move", "R\udcff", "F1"),
        ("history", "R\udcff"),
        ("count", "n\udcff"),
    ],
)
def test_bytes_that_are_no_text_are_told(yard: Path, typed: tuple[str, ...]) -> None:
    told = run(*typed)
    assert told.exit_code == 1
    assert "is not UTF-8 text, found '" in told.stderr
    assert "nothing was stored" in told.stderr
    assert set(items()) == {"R-1", "R-2"}


def test_numbers_of_thousands_of_digits_are_told(yard: Path) -> None:
    for typed in (("measure", "R-1", f"{'9' * 5000}x4"), ("measure", "R-1", "--cost", "9" * 5000)):
        told = run(*typed)
        assert told.exit_code == 2
        assert "is 5000 characters long; write" in told.stderr


@pytest.mark.parametrize("tag", ["new-1", "P1-1"])
def test_no_thing_is_received_under_the_name_of_an_order(yard: Path, tag: str) -> None:
    assert "tag: a name that orders have" in refused("receive", tag, *NEW[2:])


def test_receiving_tells_every_fault_at_once_and_stores_nothing(yard: Path) -> None:
    told = refused("receive", "R 9\t", "7x250", "--product", "G30", "--bay", "", "--cost", "1", "--batch", "unknown")
    for word in ("tag:", "batch:", "bay:", "across: found 7.00 m", "along: found 250.00 m"):
        assert word in told
    told = refused("receive", "R-9", "7x25", "--product", "G99", "--bay", "F1", "--cost", "1")
    assert "across: found 7.00 m" in told
    assert "the store knows no product G99; it knows: G30" in told
    assert refused(*NEW[:4], "G99", *NEW[5:]) == "stockplan: the store knows no product G99; it knows: G30\n"
    used = "R-1 was received before; give the new thing a tag of its own; see: stockplan history R-1"
    for measured in ("4x25", "7x25"):
        told = refused("receive", "R-1", measured, "--product", "G99", "--bay", "F1", "--cost", "1000000.01")
        assert ("across: found 7.00 m" in told) == (measured == "7x25")
        assert "cost: found 1,000,000.01 per m², would be right: at most 1,000,000.00" in told
        assert "the store knows no product G99" in told
        assert used in told
    assert items().keys() == {"R-1", "R-2"}


def test_what_comes_in_is_not_spelt_otherwise_than_what_lies_there(yard: Path) -> None:
    ok(*NEW)
    there = ("--product", "G30", "--bay", "F1", "--cost", "10.60")
    told = refused("receive", "r-9", "4x25", *there, "--batch", "b9")
    assert "tag: differs only in letter case from one in the yard, found 'r-9', would be right: 'R-9'" in told
    assert "batch: differs only in letter case from one in the yard, found 'b9', would be right: 'B9'" in told
    assert "differs only in letter case, spaces or dashes" in refused(
        "receive", "R-10", "4x25", *there, "--batch", "B9 "
    )
    loose = ("offcut", *there[:4], "--length", "3", "--width", "2", "--batch", "b9", "--tag", "r-9")
    told = refused(*loose)
    assert "would be right: 'R-9'" in told
    assert "would be right: 'B9'" in told
    assert items().keys() == {"R-1", "R-2", "R-9"}
    ok("receive", "R-10", "4x25", *there, "--batch", "B9")
    ok("receive", "R-11", "4x25", *there, "--batch", "B10")


@pytest.mark.parametrize(
    "typed",
    [
        ("move", "R-1", "f1"),
        ("receive", "R-10", "4x25", "--product", "G30", "--bay", "f1", "--cost", "10.60"),
        ("offcut", "--product", "G30", "--length", "3", "--width", "2", "--bay", "f1"),
        ("count", "f1", "R-9", "--yes"),
    ],
)
def test_nothing_comes_to_lie_in_a_bay_spelt_otherwise_than_one_in_the_yard(yard: Path, typed: tuple[str, ...]) -> None:
    ok(*NEW)
    told = refused(*typed)
    assert "bay: differs only in letter case from one in the yard, found 'f1', would be right: 'F1'" in told
    assert {tag: item["bay"] for tag, item in items().items()} == {"R-1": "north", "R-2": "north", "R-9": "F1"}
    ok(*("F1" if word == "f1" else word for word in typed))


def test_what_needs_a_reason_is_refused_without_one(yard: Path) -> None:
    before = items()
    for command in (("write-off", "R-1"), ("reverse", "1")):
        assert "'--why': it is empty; say why in a few words" in refused(*command, "--why", " ", status=2)
    assert items() == before


def test_a_tag_is_used_once(yard: Path) -> None:
    ok(*NEW)
    told = refused(*NEW)
    assert told.startswith(
        "stockplan: R-9 was received before; give the new thing a tag of its own (last: received by "
    )
    assert told.endswith("nothing was stored; see how things stand with: stockplan history R-9\n")


@pytest.mark.parametrize(
    "command",
    [
        ("measure", "r1", "4x10"), ("move", "r1", "F1"), ("condition", "r1", "wet"), ("free", "r1"),
        ("hold", "r1", "Q-1", "--until", "2099-01-01"), ("write-off", "r1", "--why", "lost"), ("history", "r1"),
    ],
    ids=lambda command: command[0],
)  # fmt: skip
def test_unknown_tag_is_told_with_the_one_that_may_be_meant(yard: Path, command: tuple[str, ...]) -> None:
    assert refused(*command) == "stockplan: r1 was never in the yard; perhaps R-1 is meant\n"


def test_all_that_stands_against_what_was_typed_is_told_at_once(yard: Path) -> None:
    told = refused("hold", "r1", "", "--until", "2020-01-02")
    assert "quote: " in told
    assert "until: that day has passed, found 2020-01-02, would be right: " in told
    assert "r1 was never in the yard; perhaps R-1 is meant" in told
    for command in ("move", "condition"):
        told = refused(command, "r1", "")
        assert "perhaps R-1 is meant" in told
        assert "would be right: " in told
    ok("hold", "R-1", "Q-1", "--until", "2099-01-01")
    told = refused("hold", "R-1", "Q-2", "--until", "2020-01-02")
    assert "that day has passed" in told
    assert "held for Q-1 until 2099-01-01 already; free it first" in told


def test_measuring_tells_every_fault_at_once_and_stores_nothing(yard: Path) -> None:
    before = items()
    told = refused("measure", "r1", "7x250", "--cost", "1000000.01")
    for words in ("across: found 7.00 m", "along: found 250.00 m", "cost: found 1,000,000.01", "perhaps R-1 is meant"):
        assert words in told
    told = refused("measure", "R-1", "10x4", "--cost", "1000000.01")
    for words in ("across: found 10.00 m", "cost: found 1,000,000.01", "are across and along exchanged?"):
        assert words in told
    assert items() == before


def test_what_was_mistyped_is_told_where_nothing_is_found(yard: Path) -> None:
    done = run("stock", "--bay", "North")
    assert done.stdout.startswith("0 items")
    assert "Nothing lies in bay 'North'; perhaps north is meant." in done.stderr
    assert run("stock", "--bay", "north", "--form", "offcut").stderr == ""
    assert "Nothing lies in bay 'ZZ'; something lies in north." in run("stock", "--bay", "ZZ").stderr
    meant = "Nothing in the yard is of batch 'b7'; perhaps B7 is meant.\n"
    assert run("stock", "--batch", "b7").stderr == meant
    for batch, product in (("ZZ9", "G30"), ("", "G30"), ("B7", "G99")):
        assert "of batch" not in run("stock", "--batch", batch, "--product", product).stderr
    ok("write-off", "R-1", "--why", "flood")
    assert refused("history", "r 1") == "stockplan: r 1 was never in the yard; perhaps R-1 is meant\n"
    ok("receive", "ö-9", "4x25", "--product", "G30", "--bay", "north", "--cost", "5")
    assert refused("history", "Ö 9") == "stockplan: Ö 9 was never in the yard; perhaps ö-9 is meant\n"


def test_a_store_of_a_newer_program_is_refused_and_a_missing_one_not_made(yard: Path) -> None:
    with open_yard(str(yard)) as opened, opened.unit_of_work() as work:
        work.rows.run("UPDATE alembic_version SET version_num = '9999'")
        work.commit()
    assert "was written by a newer stockplan" in refused("move", "R-1", "F1")
    missing = yard.parent / "none.db"
    assert "there is no store at" in refused("--store", str(missing), "stock")
    assert not missing.exists()


@pytest.mark.parametrize(
    ("arguments", "bounds"),
    [
        (("accept", "0"), "'0' will not do; write a whole number from 1 to 1,000,000,000"),
        (("withdraw", "9" * 30), "write a whole number from 1 to 1,000,000,000"),
        (("reverse", "x", "--why", "slip"), "'x' will not do; write a whole number from 1 to"),
        (("reverse", "²", "--why", "slip"), "'²' will not do; write a whole number from 1 to"),
        (("count", "--due", "9" * 12), "write a whole number from 0 to 36,500"),
        (("labels", "R-1", "--a4", "--rows", "0", "--file", "x.pdf"), "write a whole number from 1 to 99"),
        (("offcut", "R-1", "--pieces", "1.5"), "'1.5' will not do; write a whole number from 1 to 9"),
        (("lift", "R-1", "--turn", "nan"), "'nan' will not do; write a number such as 2.5, 0 or more"),
        (("cut", "R-1", "--bin", "0"), "'0' will not do; write a whole number from 1 to 999"),
        (("cover", "1x1", "--answers", "51"), "'51' will not do; write a whole number from 1 to 50"),
        (("cover", "1x1", "--take", "0"), "'0' will not do; write a whole number from 1 to"),
        (("quote", "1x1", "--seconds", "0"), "'0' will not do; write a number such as 2.5, 0.1 or more"),
        (("enquiries", "sheet.csv", "--together", "5"), "'5' will not do; write a whole number from 1 to 4"),
        (("why", "J1", "--plan", "x"), "'x' will not do; write a whole number from 1 to"),
        (("why", "J1", "--seconds", "nan"), "'nan' will not do; write a number such as 2.5, 0.1 or more"),
        (("cut", "R-1", "--done", "--spoiled", "J1/"), "is not a piece; write job/strip/number"),
    ],
)
def test_numbers_out_of_range_are_told_in_plain_words(yard: Path, arguments: tuple[str, ...], bounds: str) -> None:
    assert bounds in refused(*arguments, status=2)


def test_amounts_no_store_can_hold_are_refused(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = ok("stock", "--json")
    assert "would be right: at most 1,000,000.00" in refused("measure", "R-1", "--cost", "9" * 25)
    monkeypatch.setattr("stockplan.actions.typed.MOST_PRICE_PENCE", 10**30)  # should a check ever be wanting
    assert "larger than a store can hold" in refused("measure", "R-1", "--cost", "9" * 25)
    assert "larger than a store can hold" in refused("measure", "R-1", "--cost", "9" * 15)
    assert ok("stock", "--json") == before
