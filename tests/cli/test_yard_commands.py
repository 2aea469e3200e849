"""Things in the yard, typed: they come, are measured, moved, held and traced; slips are undone; faults are told."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run

from stockplan.domain.ledger_entries import held
from stockplan.store.ledger_rows import read_yard, record
from stockplan.store.quick import open_yard

NEW = ("receive", "R-9", "3.98x24.85", "--product", "G30", "--batch", "B9", "--bay", "F1", "--cost", "10.60")


@pytest.fixture
def yard(store: Path) -> Path:
    """Rolls R-1 and R-2 in bay north."""
    fill(store, small_request())
    return store


def ok(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def refused(*arguments: str, status: int = 1) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    return result.stderr


def items() -> dict[str, dict[str, object]]:
    return {item["tag"]: item for item in json.loads(ok("stock", "--json"))["items"]}


def test_life_of_a_roll(yard: Path) -> None:
    heavy = "; too heavy for hands: use plant.\n"
    received = ok(*NEW, "--delivery", "D-17")
    assert received == f"R-9: received, 3.98 × 24.85 m, bay F1 (movement 3).\nIt weighs about 260 kg{heavy}"
    assert ok("measure", "R-9", "3.97x24.80") == "R-9: was 3.98 × 24.85 m, is 3.97 × 24.80 m now (movement 4).\n"
    assert ok("measure", "R-9", "3.97x24.80") == "R-9: is as recorded; seen today (movement 5).\n"
    assert ok("measure", "R-9", "--cost", "11") == "R-9: has its new cost (movement 6).\n"
    weighs = f"It weighs about 259 kg{heavy}"
    assert ok("move", "R-9", "F2") == f"R-9: moved from F1 to F2 (movement 7).\n{weighs}"
    assert ok("move", "R-9", "F2") == f"R-9: lies in F2; seen today (movement 8).\n{weighs}"
    assert ok("condition", "R-9", "wet") == "R-9: is wet (movement 9).\n"
    assert "kg when dry, more as it is wet; too heavy" in ok("move", "R-9", "F2")
    assert ok("hold", "R-9", "Q-1", "--until", "2099-01-01").startswith("R-9: held for Q-1 until 2099-01-01")
    found = items()["R-9"]
    assert (found["width_mm"], found["length_mm"], found["bay"], found["cost_per_m2"]) == (3970, 24_800, "F2", 11.0)
    assert (found["condition"], found["held_for"], found["held_until"]) == ("wet", "Q-1", "2099-01-01")
    assert "held for Q-1 until 2099-01-01, wet" in ok("stock", "--bay", "F2")
    assert "R-9" not in ok("stock", "--free")
    ok("free", "R-9")
    assert "R-9" in ok("stock", "--free")
    assert "written off" in ok("write-off", "R-9", "--why", "flood")
    assert "R-9" not in items()
    told = ok("history", "R-9")
    assert "with delivery D-17 as roll 3.98 × 24.85 of G30, batch B9" in told
    assert "It has left the yard: written off." in told
    assert "The store" in ok("verify")


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


def test_what_is_written_off_though_it_is_held_says_for_whom(yard: Path) -> None:
    ok("hold", "R-1", "Q-1", "--until", "2099-01-01")
    assert ok("write-off", "R-1", "--why", "mould") == (
        "R-1: 4.00 × 10.00 m written off; it was held for Q-1 until 2099-01-01 (movement 4).\n"
    )
    ok("hold", "R-2", "Q-2", "--until", "2099-01-01")
    ok("free", "R-2")
    assert "held" not in ok("write-off", "R-2", "--why", "mould")


@pytest.mark.parametrize("tag", ["new-1", "P1-1"])
def test_no_thing_is_received_under_the_name_of_an_order(yard: Path, tag: str) -> None:
    assert "tag: a name that orders have" in refused("receive", tag, *NEW[2:])


def test_words_of_the_trade_are_known_in_whatever_letters(yard: Path) -> None:
    assert "R-1: is wet " in run("condition", "R-1", "Wet").stdout
    assert "It is wet by the record" in run("lift", "R-1").stdout
    assert run("count", "north", "R-1", "R-2").exit_code == 0
    assert "R-1: is sound " in run("condition", "R-1", "Sound").stdout
    listed = json.loads(run("stock", "--json").stdout)["items"]
    assert {item["condition"] for item in listed} == {"sound"}
    assert "It is wet" not in run("lift", "R-1").stdout


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


@pytest.fixture(params=["EAST-23:59:59", "WEST+23:59:59"])
def _far_away(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Be where it is always tomorrow, or always yesterday."""
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("_far_away")
def test_a_hold_lasts_as_long_in_every_list_as_in_the_ledger(yard: Path) -> None:
    today = datetime.now(UTC).date()
    with open_yard(str(yard)) as opened, opened.unit_of_work() as work:
        work.at -= timedelta(days=3)
        record(work, [held("R-1", "Q-1", today - timedelta(days=1), ""), held("R-2", "Q-2", today, "")], "tester")
        work.commit()
    for listed in (ok("stock", "--json"), ok("count", "north", "--json")):
        assert {item["tag"]: item["held_for"] for item in json.loads(listed)["items"]} == {"R-1": None, "R-2": "Q-2"}
    assert "held for Q-2" in ok("history", "R-2").split("It lies in the yard")[1]
    assert "held for Q-2" in refused("hold", "R-2", "Q-3", "--until", f"{today}")
    ok("hold", "R-1", "Q-3", "--until", f"{today}")


def test_second_hold_is_refused_with_what_to_do(yard: Path) -> None:
    ok("hold", "R-1", "Q-1", "--until", "2099-01-01")
    assert "held for Q-1 until 2099-01-01 already; free it first" in refused(
        "hold", "R-1", "Q-2", "--until", "2099-01-01"
    )
    yesterday = str(date.today() - timedelta(days=1))
    assert "that day has passed" in refused("hold", "R-2", "Q-2", "--until", yesterday)


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


def test_a_slip_is_reversed_while_nothing_later_happened(yard: Path) -> None:
    ok("move", "R-1", "south")
    assert ok("reverse", "3", "--why", "wrong tag") == "R-1: movement 3 (moved) reversed (movement 4).\n"
    assert items()["R-1"]["bay"] == "north"
    assert "cannot be reversed" in refused("reverse", "3", "--why", "again")
    assert "there is no movement 99; the last one is 4" in refused("reverse", "99", "--why", "typo")
    told = ok("history", "R-1")
    assert "moved to bay south (reversed since)" in told
    assert "movement 3 reversed" in told
    assert "It lies in the yard" in told


def test_what_was_done_and_undone_does_not_stand_in_the_way(yard: Path) -> None:
    ok("move", "R-1", "south")
    ok("condition", "R-1", "wet")
    told = refused("reverse", "3", "--why", "slip")
    assert "the last movement of R-1 that stands is 4, condition; reverse that first" in told
    ok("reverse", "4", "--why", "slip")
    ok("reverse", "3", "--why", "slip")
    assert (items()["R-1"]["bay"], items()["R-1"]["condition"]) == ("north", "sound")
    ok("reverse", "1", "--why", "it never came")
    assert "R-1" not in items()
    ok("verify")


def test_history_as_json(yard: Path) -> None:
    ok("move", "R-1", "south", "--why", "tidied")
    document = json.loads(ok("history", "R-1", "--json"))
    assert (document["format"], document["tag"], document["cut_from"]) == ("stockplan-history", "R-1", [])
    assert [(line["kind"], line["why"]) for line in document["movements"]] == [
        ("received", "imported"),
        ("moved", "tidied"),
    ]


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


def test_stock_by_form_and_age(yard: Path) -> None:
    ok("receive", "C-1", "1.2x2.5", "--product", "G30", "--bay", "F1", "--cost", "5", "--form", "offcut")
    assert [*items()] == ["C-1", "R-1", "R-2"]
    assert "1 item" in ok("stock", "--form", "offcut")
    with open_yard(str(yard)) as opened, opened.unit_of_work() as work:
        work.rows.run("UPDATE stock_item SET since = '2020-01-01' WHERE tag = 'R-2'")
        work.commit()
    oldest = json.loads(ok("stock", "--oldest", "--json"))["items"]
    assert [item["tag"] for item in oldest] == ["R-2", "C-1", "R-1"]


def test_older_store_is_brought_up_to_date_by_a_yard_command(yard: Path) -> None:
    with open_yard(str(yard)) as opened, opened.unit_of_work() as work:
        work.rows.run("UPDATE alembic_version SET version_num = '9999'")
        work.commit()
    assert "was written by a newer stockplan" in refused("move", "R-1", "F1")
    missing = yard.parent / "none.db"
    assert "there is no store at" in refused("--store", str(missing), "stock")
    assert not missing.exists()


def test_movements_say_who(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("getpass.getuser", lambda: "anna")
    ok("move", "R-1", "south")
    assert "anna" in ok("history", "R-1")
    with open_yard(str(yard)) as opened, opened.reading() as source:
        assert read_yard(source).items["R-1"].bay == "south"


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


def test_a_terminal_is_shown_the_first_and_told_how_to_see_all(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = ok("stock")
    monkeypatch.setattr("stockplan.cli.stock._someone_looks", lambda: True)
    assert ok("stock") == whole  # so few are all shown
    monkeypatch.setattr("stockplan.cli.stock.FIRST_SHOWN", 1)
    shown = ok("stock")
    assert ("R-1 " in shown, "R-2 " in shown) == (True, False)
    assert "1 more are not shown; name a product, a batch, a bay or a size, or list all of them with --all" in shown
    assert whole.split("\n\n")[1] in shown  # how many and how much is told of all
    assert ok("stock", "--all") == whole
    assert len(json.loads(ok("stock", "--json"))["items"]) == 2


def test_lists_hold_whatever_was_typed_in_columns_of_one_width(yard: Path) -> None:
    ok("receive", "R-9 ü", "3.98x24.85", "--product", "G30", "--bay", "架 1", "--cost", "1234.5")
    header, *lines = ok("stock").split("\n\n")[0].splitlines()
    assert len(lines) == 3
    assert [line.split()[0] for line in lines] == ["R-1", "R-2", "R-9"]
    at = header.index("product")
    assert {line[at : at + 3] for line in lines} == {"G30"}
    assert "1,234.50" in lines[2]
    (found,) = (one for one in json.loads(ok("stock", "--json"))["items"] if one["tag"] == "R-9 ü")
    assert (found["bay"], found["cost_per_m2"], found["width_mm"]) == ("架 1", 1234.5, 3980)
