"""Every kind of wrong cell is named with what was found and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest
from sound_sheets import SOUND, STOCK, STRIPS, faults, write

from stockplan.domain.jobs import Strip
from stockplan.store.sheets import read_folder

STOCK_CELLS = {
    "tag": "R-1",
    "product": "G30",
    "batch": "B7",
    "form": "roll",
    "width_m": "4",
    "length_m": "25",
    "bay": "A1",
    "cost_per_m2": "11",
}


def stock_with(column: str, cell: str) -> str:
    cells = STOCK_CELLS | {column: f'"{cell}"'}
    return (
        ",".join(STOCK_CELLS)
        + "\n"
        + ",".join(STOCK_CELLS.values()).replace("R-1", "R-0")
        + "\n"
        + ",".join(cells.values())
    )


@pytest.mark.parametrize(
    ("column", "cell", "what", "right"),
    [
        ("width_m", "-4", "negative", "a width in metres such as 3.6"),
        ("width_m", "0", "zero", "a width in metres such as 3.6"),
        ("width_m", "0.000", "zero", "a width in metres such as 3.6"),
        ("width_m", "6.001", "too much", "metres, at most 6"),
        ("width_m", "3600", "too much", "3600 mm is 3.6"),
        ("length_m", "30000", "too much", "metres, at most 200"),
        ("length_m", "3,5", "a decimal comma", "3.5"),
        ("length_m", "3.6255", "more than 3 decimals", "3.626"),
        ("length_m", "nan", "not a number", "a length in metres such as 3.6"),
        ("length_m", "inf", "not a number", "a length in metres such as 3.6"),
        ("length_m", "-inf", "not a number", "a length in metres such as 3.6"),
        ("length_m", "1e3", "a power of ten", "a plain number, 1000"),
        ("length_m", "3600mm", "a unit beside the number", "3.6"),
        ("length_m", "3m60", "a unit beside the number", "3.6"),
        ("length_m", "+3.6", "a plus sign", "3.6"),
        ("length_m", "", "empty", "a length in metres such as 3.6"),
        ("length_m", "12 ft", "not a number", "a length in metres such as 3.6"),
        ("length_m", "9" * 40, "a number of 40 characters", "a length in metres such as 3.6"),
        ("length_m", "٤", "not a number", "a length in metres such as 3.6"),
        ("length_m", "=2*12.5", "a formula", "the value the formula stands for"),
        ("length_m", "#REF!", "an error value left by a formula", "the value itself"),
        ("length_m", "#####", "what a column too narrow for its value shows", "the value itself; widen the column"),
        ("batch", "###", "what a column too narrow for its value shows", "the value itself; widen the column"),
        ("batch", "#SPILL!", "an error value left by a formula", "the value itself"),
        ("bay", "Err:502", "an error value left by a formula", "the value itself"),
        ("batch", "1.23457E+11", "a long number that a spreadsheet has shortened", "all its digits; format the column"),
        ("tag", "4E+15", "a long number that a spreadsheet has shortened", "all its digits; format the column"),
        ("tag", "", "empty", "a code"),
        ("tag", "x" * 41, "longer than 40 characters (41)", "at most 40 characters"),
        ("tag", "R\x071", "a control character or line break (U+0007)", "one line of ordinary text"),
        ("tag", "R\n1", "a control character or line break (U+000A)", "one line of ordinary text"),
        ("tag", "R\u200b1", "a character that cannot be seen (U+200B)", "only letters, digits, signs and spaces"),
        ("tag", "R-0", "given twice", "a name that no other row has"),
        ("tag", "r-0", "differs only in letter case from an earlier one", "a name that no other row has"),
        ("product", "G31", "an unknown product", "a row for it in products.csv"),
        ("product", "g40", "an unknown product", "'G40', or a row for it in products.csv"),
        ("product", "ZZZ", "an unknown product", "a row for it in products.csv"),
        ("form", "Part roll", "not one of the words allowed here", "part_roll (roll, part_roll or offcut)"),
        ("form", "", "not one of the words allowed here", "roll, part_roll or offcut"),
        ("cost_per_m2", "11.005", "more than 2 decimals", "11"),
        ("cost_per_m2", "£11.50", "a currency sign", "11.50"),
        ("cost_per_m2", "1,100.50", "a thousands comma", "1100.50"),
        ("cost_per_m2", "1.100,50", "thousands set apart", "1100.50"),
        ("cost_per_m2", "1\u00a0100", "thousands set apart", "1100"),
        ("cost_per_m2", "1.100", "more than 2 decimals", "1.1, or 1100 where the point sets thousands apart"),
        ("cost_per_m2", "-1", "negative", "an amount per m² such as 11.50"),
    ],
)
def test_a_wrong_cell_is_named_with_what_would_be_right(
    tmp_path: Path, column: str, cell: str, what: str, right: str
) -> None:
    found = faults(write(tmp_path, stock=stock_with(column, cell)))
    assert len(found) == 1
    assert found[0].startswith(f"stock.csv:3: {column}: {what}, found ")
    assert right in found[0].partition("would be right: ")[2]


@pytest.mark.parametrize(
    ("sheet", "old", "new", "fault"),
    [
        ("jobs", "2026-11-30", "30/11/2026", "form, found '30/11/2026', would be right: 2026-11-30"),
        ("jobs", "2026-11-30", "30.11.2026", "would be right: 2026-11-30"),
        ("jobs", "2026-11-30", "11/30/2026", "would be right: 2026-11-30"),
        ("jobs", "2026-11-30", "2026/11/30", "would be right: 2026-11-30"),
        ("jobs", "2026-11-30", "05/06/2026", "would be right: 2026-05-06 or 2026-06-05"),
        ("jobs", "2026-11-30", "2026-11-30 00:00:00", "would be right: 2026-11-30"),
        ("jobs", "2026-11-30", "46356", "would be right: 2026-11-30 if it is a spreadsheet's day number"),
        ("jobs", "2026-11-30", "30/11/26", "would be right: a date such as 2026-11-30"),
        ("jobs", "2026-11-30", "2026-02-29", "jobs.csv:2: lay_on: no such day, found '2026-02-29'"),
        ("jobs", "2026-11-30", "0206-11-30", "would be right: a year from 2000 to 2100"),
        ("jobs", "2026-11-30", "1999-12-31", "would be right: a year from 2000 to 2100"),
        ("jobs", "2026-11-30", "2101-01-01", "would be right: a year from 2000 to 2100"),
        ("jobs", "2026-11-30", "20261130", "would be right: a date such as 2026-11-30"),
        ("jobs", "2026-11-30", "", "jobs.csv:2: lay_on: empty"),
        ("jobs", ",any", ",both", "jobs.csv:3: batch_rule: not one of the words allowed here, found 'both'"),
        ("stock", "P-2,G30,B7", "P-2,G30,unknown (C-3)", "stock.csv:3: batch: the name of an unknown batch, found"),
        ("stock", "P-2,G30,B7", "P-2,G30,New", "stock.csv:3: batch: the name that a plan gives to what is bought, new"),
        ("stock", "P-2,G30,B7", "P-2,G30,new", "found 'new', would be right: the batch on the label, or an empty"),
        ("stock", "P-2,G30,B7", "P-2,G30,Unknown", "found 'Unknown', would be right: an empty cell where the batch is"),
        ("strips", "J1,B,1.25", "J1,B,0.099", "strips.csv:3: width_m: too little, found '0.099', would"),
        ("strips", "1.25,5.2", "1.25,0.0052", "strips.csv:3: length_m: more than 3 decimals"),
        ("strips", "1.25,5.2", "1.25,0.052", "length_m: too little, found '0.052', would be right: metres, at least"),
        ("strips", "1.25,5.2", "1.25,0", "strips.csv:3: length_m: zero"),
        ("strips", "1.25,5.2", "1.25,-0.01", "strips.csv:3: length_m: negative"),
        ("strips", "J2,A", "J9,A", "strips.csv:4: job: an unknown job, found 'J9', would be right: a row for"),
        ("strips", "J1,B", "J1,A", "strips.csv:3: strip: given twice, found 'A', and 'A' in row 2"),
        ("strips", "5.2,2", "5.2,0", "strips.csv:2: count: zero"),
        ("strips", "5.2,2", "5.2,1.5", "strips.csv:2: count: not a whole number"),
        ("strips", "5.2,2", "5.2,2.0", "would be right: 2"),
        ("strips", "5.2,2", "5.2,-1", "strips.csv:2: count: negative"),
        ("strips", "5.2,2", "5.2,5200", "strips.csv:2: count: too much"),
        ("strips", "J1,A,4,", "J1,A,4.5,", "in stock, found '4.50', would be right: at most 4.00, the widest there is"),
        ("supply", "25,1100,5", "25,0,5", "supply.csv:2: price: zero"),
        ("supply", "25,1100,5", '25,"1,100",5', "supply.csv:2: price: a thousands comma, found '1,100'"),
        ("supply", "25,1100,5", "25,1100,-1", "supply.csv:2: lead_days: negative"),
        ("supply", "25,1100,5", "25,1100,1.5", "supply.csv:2: lead_days: not a whole number"),
        ("supply", "25,1100,5", "25,1100,400", "supply.csv:2: lead_days: too much"),
        ("supply", "Fernholt Mills", "", "supply.csv:2: supplier: empty"),
        ("supply", "4,20,", "4,0.9,", "supply.csv:3: length_m: too short for a cut length, found '0.9'"),
        ("products", "2.45", "0", "products.csv:2: weight_kg_m2: zero"),
        ("products", "2.45", "2450", "products.csv:2: weight_kg_m2: too much"),
        ("lawns", "front,2,4,0.125", "front,1,4,0.125", "lawns.csv:3: corner: a corner's number given twice, found 1"),
        ("lawns", "J2,front,3,4,5,edge\n", "", "lawns.csv:2: corner: an outline with too few corners, found 2"),
        ("lawns", "J2,front,3,3,2,hole\n", "", "lawns.csv:5: corner: an outline with too few corners, found 2"),
        ("lawns", "edge", "rim", "lawns.csv:2: part: not one of the words allowed here, found 'rim'"),
        ("lawns", "-1.5", "-1001", "lawns.csv:2: x_m: too little"),
        ("lawns", "front,1", "front,one", "lawns.csv:2: corner: not a number"),
    ],
)  # fmt: skip
def test_a_wrong_cell_of_any_sheet(tmp_path: Path, sheet: str, old: str, new: str, fault: str) -> None:
    assert old in SOUND[sheet]
    found = faults(write(tmp_path, **{sheet: SOUND[sheet].replace(old, new, 1)}))
    assert fault in found[0]
    assert len(found) == 1


@pytest.mark.parametrize("tag", ["new-1", "P12-3", "p1-1", "NEW-4"])
def test_no_thing_is_called_like_an_order(tmp_path: Path, tag: str) -> None:
    found = faults(write(tmp_path, stock=STOCK.replace("P-2,G30,B7", f"{tag},G30,B7")))
    assert len(found) == 1
    assert f"tag: a name that orders have, found '{tag}', would be right: a tag of its own" in found[0]
    fine = STOCK.replace("P-2,G30,B7", "P-12-3,G30,B7")
    assert read_folder(write(tmp_path, stock=fine)).stock[1].tag == "P-12-3"


def test_the_least_strip_and_batches_that_only_begin_like_the_programs_words_are_taken(tmp_path: Path) -> None:
    strips = STRIPS.replace("J1,B,1.25,5.2", "J1,B,0.1,0.100")
    read = read_folder(write(tmp_path, stock=STOCK.replace("P-2,G30,B7", "P-2,G30,new-7"), strips=strips))
    assert read.jobs[0].strips[1] == Strip("B", 100, 100, 1)
    assert read.stock[1].batch == "new-7"


@pytest.mark.parametrize("day", ["2000-01-01", "2100-12-31"])
def test_the_first_and_the_last_day_that_can_be_meant_are_taken(tmp_path: Path, day: str) -> None:
    read = read_folder(write(tmp_path, jobs=SOUND["jobs"].replace("2026-11-30", day, 1)))
    assert str(read.jobs[0].lay_on) == day


def test_the_longest_name_and_the_largest_size_are_taken(tmp_path: Path) -> None:
    tag = "R" * 40
    cells = ",".join((STOCK_CELLS | {"tag": tag, "width_m": "6", "length_m": "200.000"}).values())
    read = read_folder(write(tmp_path, stock=",".join(STOCK_CELLS) + f"\n{cells}\n"))
    (item,) = read.stock
    assert (item.tag, item.width_mm, item.length_mm) == (tag, 6000, 200_000)
