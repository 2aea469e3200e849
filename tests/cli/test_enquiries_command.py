"""A month's small enquiries held against the offcuts, as typed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from builders import small_request
from schemas import published, validator
from typed_commands import fill, run

from stockplan.domain.stock import StockForm, StockItem

TODAY = ("--today", "2026-11-23")
LARGE = StockItem("K-1", "G30", "B7", StockForm.OFFCUT, 3200, 2000, "C3", 1000)
NARROW = replace(LARGE, tag="K-2", width_mm=1000, bay="C4")


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return tmp_path / "enquiries.csv"


@pytest.fixture
def yard(store: Path) -> None:
    """Two rolls and two offcuts of one grass."""
    request = small_request()
    fill(store, replace(request, stock=(*request.stock, LARGE, NARROW)))


def enquiries(sheet: Path, rows: str, *options: str) -> Any:
    sheet.write_text(f"enquiry,product,width_m,length_m,count,worth\n{rows}", encoding="utf-8")
    result = run("enquiries", str(sheet), *TODAY, *options)
    assert result.exit_code == 0, result.output
    return result.stdout


def answered(sheet: Path, rows: str, *options: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(enquiries(sheet, rows, *options, "--json"))
    validator(published("enquiries")).validate(document)
    return document


def covered(document: dict[str, Any]) -> list[tuple[list[str], str]]:
    return [
        ([one["enquiry"] for one in pairing["enquiries"]], pairing["take"]["source"]) for pairing in document["covered"]
    ]


@pytest.mark.usefixtures("yard")
def test_what_covers_an_enquiry_and_why_nothing_covers_another_are_told(sheet: Path) -> None:
    told = enquiries(sheet, "dog run,G30,3,1.9,,90\nporch,G30,3.5,1.5,,90\n")
    assert "1 enquiry of 2 covered from 1 of 2 offcuts" in told
    assert "K-1" in told
    assert "porch (3.50 × 1.50 in G30): nothing free fits; nearest: K-1 in bay C3" in told
    assert "30 cm short across" in told


@pytest.mark.usefixtures("yard")
def test_where_no_worth_is_given_it_is_what_buying_the_grass_would_cost(sheet: Path) -> None:
    document = answered(sheet, "porch,G30,3.5,1.5,,\n")
    # 75.08 for 1.5 m at 50.05, 3.00 for a rip, less 2.01 that the 0.5 × 1.5 m beside it is worth
    assert [left["worth"] for left in document["left"]] == [76.07]


@pytest.mark.usefixtures("yard")
def test_what_takes_more_than_one_purchase_is_worth_all_of_them(sheet: Path) -> None:
    document = answered(sheet, "field,G30,4,20,2,\n")
    bought = next(one for one in json.loads(run("cover", "2@4x20", *TODAY, "--json").stdout)["answers"])
    assert (bought["ready"], len(bought["takes"])) == ("buy", 2)
    assert [left["worth"] for left in document["left"]] == [bought["cost"]]


@pytest.mark.usefixtures("yard")
def test_one_offcut_covers_as_many_enquiries_as_it_may(sheet: Path) -> None:
    rows = "a,G30,1.5,1.9,,50\nb,G30,1.6,1.9,,50\n"
    assert [sorted(names) for names, _ in covered(answered(sheet, rows))] == [["a", "b"]]
    assert len(covered(answered(sheet, rows, "--together", "1"))) == 1


@pytest.mark.usefixtures("yard")
def test_part_rolls_are_cut_only_where_that_is_asked_for(sheet: Path) -> None:
    rows = "porch,G30,3.5,1.5,,500\n"
    assert covered(answered(sheet, rows)) == []
    assert covered(answered(sheet, rows, "--part-rolls")) == [(["porch"], "R-2")]


@pytest.mark.usefixtures("yard")
def test_what_is_held_or_wet_covers_nothing(sheet: Path) -> None:
    rows = "dog run,G30,3,1.9,,90\n"
    assert covered(answered(sheet, rows)) == [(["dog run"], "K-1")]
    assert run("hold", "K-1", "Q-7", "--until", "2099-12-12").exit_code == 0
    assert covered(answered(sheet, rows)) == []
    assert run("free", "K-1").exit_code == 0
    assert covered(answered(sheet, rows)) == [(["dog run"], "K-1")]
    assert run("condition", "K-1", "wet").exit_code == 0
    assert covered(answered(sheet, rows)) == []


@pytest.mark.usefixtures("yard")
def test_every_enquiry_that_is_not_small_is_told(sheet: Path) -> None:
    sheet.write_text(
        "enquiry,product,width_m,length_m,count\nyard,G30,1,1,13\nporch,G30,1,1,1\nfield,G30,1,1,20\n", encoding="utf-8"
    )
    result = run("enquiries", str(sheet), *TODAY)
    assert result.exit_code == 1
    assert "yard: 13 pieces are more than can be tried" in result.stderr
    assert "field: 20 pieces are more than can be tried" in result.stderr
    assert "porch" not in result.stderr


@pytest.mark.usefixtures("yard")
def test_a_sheet_without_rows_is_refused(sheet: Path) -> None:
    sheet.write_text("enquiry,product,width_m,length_m\n", encoding="utf-8")
    result = run("enquiries", str(sheet), *TODAY)
    assert result.exit_code == 1
    assert "holds no enquiries; one row each" in result.stderr
