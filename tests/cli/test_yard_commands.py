"""Things in the yard, typed: they come, are measured, moved, held, traced and listed; slips are undone."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from builders import small_request
from typed_commands import fill, run
from yard_hand import NEW, items, ok, refused

from stockplan.domain.ledger_entries import held
from stockplan.store.ledger_rows import read_yard, record
from stockplan.store.quick import open_yard


@pytest.fixture
def yard(store: Path) -> Path:
    """Rolls R-1 and R-2 in bay north."""
    fill(store, small_request())
    return store


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


def test_what_is_written_off_though_it_is_held_says_for_whom(yard: Path) -> None:
    ok("hold", "R-1", "Q-1", "--until", "2099-01-01")
    assert ok("write-off", "R-1", "--why", "mould") == (
        "R-1: 4.00 × 10.00 m written off; it was held for Q-1 until 2099-01-01 (movement 4).\n"
    )
    ok("hold", "R-2", "Q-2", "--until", "2099-01-01")
    ok("free", "R-2")
    assert "held" not in ok("write-off", "R-2", "--why", "mould")


def test_words_of_the_trade_are_known_in_whatever_letters(yard: Path) -> None:
    assert "R-1: is wet " in run("condition", "R-1", "Wet").stdout
    assert "It is wet by the record" in run("lift", "R-1").stdout
    assert run("count", "north", "R-1", "R-2").exit_code == 0
    assert "R-1: is sound " in run("condition", "R-1", "Sound").stdout
    listed = json.loads(run("stock", "--json").stdout)["items"]
    assert {item["condition"] for item in listed} == {"sound"}
    assert "It is wet" not in run("lift", "R-1").stdout


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


def test_stock_by_form_and_age(yard: Path) -> None:
    ok("receive", "C-1", "1.2x2.5", "--product", "G30", "--bay", "F1", "--cost", "5", "--form", "offcut")
    assert [*items()] == ["C-1", "R-1", "R-2"]
    assert "1 item" in ok("stock", "--form", "offcut")
    with open_yard(str(yard)) as opened, opened.unit_of_work() as work:
        work.rows.run("UPDATE stock_item SET since = '2020-01-01' WHERE tag = 'R-2'")
        work.commit()
    oldest = json.loads(ok("stock", "--oldest", "--json"))["items"]
    assert [item["tag"] for item in oldest] == ["R-2", "C-1", "R-1"]


def test_movements_say_who(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("getpass.getuser", lambda: "anna")
    ok("move", "R-1", "south")
    assert "anna" in ok("history", "R-1")
    with open_yard(str(yard)) as opened, opened.reading() as source:
        assert read_yard(source).items["R-1"].bay == "south"


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
