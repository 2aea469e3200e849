"""A folder of CSV files becomes domain things, or every fault in it by file, row and column."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import parse_pile
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.survey import OutlineFault
from stockplan.errors import SheetFaults
from stockplan.store.sheets import SheetContents, read_folder, summarise_faults

PRODUCTS = "product,description,weight_kg_m2\nG30,30 mm pile,2.45\nG40,40 mm pile,2.9\n"
SUPPLY = (
    "product,supplier,form,width_m,length_m,price,lead_days\n"
    "G30,Fernholt Mills,roll,4,25,1100,5\n"
    "G40,Ostrel Depot,cut_length,4,20,50.50,0\n"
)
STOCK = (
    "tag,product,batch,form,width_m,length_m,bay,cost_per_m2\n"
    "R-1,G30,B7,roll,4,25,A1,11\n"
    "P-2,G30,B7,part_roll,3.97,7.805,A2,11.00\n"
    "C-3,G40,,offcut,1.2,3.625,C4,0\n"
)
JOBS = (
    "job,site,product,lay_on,pile_towards,batch_rule\n"
    "J1,3 Alder Row,G30,2026-11-30,house,\n"
    "J2,9 Gorse End,G40,2026-12-01,,any\n"
)
STRIPS = "job,strip,width_m,length_m,count\nJ1,A,4,5.2,2\nJ1,B,1.25,5.2,\nJ2,A,3.6,4,1\n"
LAWNS = (
    "job,lawn,corner,x_m,y_m,part\n"
    "J2,front,1,-1.5,0,edge\nJ2,front,2,4,0.125,edge\nJ2,front,3,4,5,edge\n"
    "J2,front,1,2,1,hole\nJ2,front,2,3,1,hole\nJ2,front,3,3,2,hole\n"
)
FRONT = Lawn(
    "front",
    (Point(-1500, 0), Point(4000, 125), Point(4000, 5000)),
    ((Point(2000, 1000), Point(3000, 1000), Point(3000, 2000)),),
)
SOUND = {"products": PRODUCTS, "supply": SUPPLY, "stock": STOCK, "jobs": JOBS, "strips": STRIPS, "lawns": LAWNS}

CONTENTS = SheetContents(
    products=(Product("G30", "30 mm pile", 2450), Product("G40", "40 mm pile", 2900)),
    supply=(
        SupplyOption("G30", "Fernholt Mills", SupplyForm.ROLL, 4000, 25_000, 110_000, 5),
        SupplyOption("G40", "Ostrel Depot", SupplyForm.CUT_LENGTH, 4000, 20_000, 5050, 0),
    ),
    stock=(
        StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 25_000, "A1", 1100),
        StockItem("P-2", "G30", "B7", StockForm.PART_ROLL, 3970, 7805, "A2", 1100),
        StockItem("C-3", "G40", "", StockForm.OFFCUT, 1200, 3625, "C4", 0),
    ),
    jobs=(
        Job(
            "J1",
            "3 Alder Row",
            "G30",
            date(2026, 11, 30),
            "house",
            BatchRule.ONE,
            (Strip("A", 4000, 5200, 2), Strip("B", 1250, 5200, 1)),
        ),
        Job("J2", "9 Gorse End", "G40", date(2026, 12, 1), "", BatchRule.ANY, (Strip("A", 3600, 4000, 1),), (FRONT,)),
    ),
)


def write(folder: Path, **sheets: str | bytes | None) -> Path:
    """Write the sound folder with some sheets replaced; None leaves one out."""
    for name, text in {**SOUND, **sheets}.items():
        if text is not None:
            (folder / f"{name}.csv").write_bytes(text.encode() if isinstance(text, str) else text)
    return folder


def only(folder: Path, **sheets: str | bytes) -> Path:
    """Write no sheets but these."""
    return write(folder, **(dict.fromkeys(SOUND) | sheets))


def faults(folder: Path, known: SheetContents | None = None) -> tuple[str, ...]:
    with pytest.raises(SheetFaults) as raised:
        read_folder(folder, known)
    return raised.value.faults


def test_a_sound_folder_becomes_domain_things(tmp_path: Path) -> None:
    assert read_folder(write(tmp_path)) == CONTENTS


def test_line_ends_byte_order_mark_blanks_blank_rows_and_column_order_change_nothing(tmp_path: Path) -> None:
    turned = "weight_kg_m2 , product,description,\r\n2.45 ,  G30,30 mm pile,\r\n,,,\r\n\r\n 2.9,G40\t, 40 mm pile,\r\n"
    write(tmp_path, products=b"\xef\xbb\xbf" + turned.encode(), stock=STOCK.replace("\n", "\r"))
    assert read_folder(tmp_path) == CONTENTS


def test_quoted_commas_quotes_and_the_row_after_a_quoted_cell_are_where_a_spreadsheet_shows_them(
    tmp_path: Path,
) -> None:
    text = 'product,description,weight_kg_m2\nG30,"dense, ""deep""",2\nG40,"two\nlines",2\nG50,x,zero\n'
    found = faults(only(tmp_path, products=text))
    assert [fault.split(": ")[:2] for fault in found] == [
        ["products.csv:3", "description"],
        ["products.csv:4", "weight_kg_m2"],
    ]


def test_names_of_files_may_be_in_capitals(tmp_path: Path) -> None:
    (write(tmp_path) / "stock.csv").rename(tmp_path / "Stock.CSV")
    assert read_folder(tmp_path) == CONTENTS


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


def test_the_least_strip_and_batches_that_only_begin_like_the_programs_words_are_taken(tmp_path: Path) -> None:
    strips = STRIPS.replace("J1,B,1.25,5.2", "J1,B,0.1,0.100")
    read = read_folder(write(tmp_path, stock=STOCK.replace("P-2,G30,B7", "P-2,G30,new-7"), strips=strips))
    assert read.jobs[0].strips[1] == Strip("B", 100, 100, 1)
    assert read.stock[1].batch == "new-7"


def test_a_job_under_a_wrong_name_leaves_its_parts_without_a_job(tmp_path: Path) -> None:
    found = faults(write(tmp_path, jobs=JOBS.replace("J2,", "j1,")))
    assert [fault.split(", ")[0] for fault in found] == [
        "jobs.csv:3: job: differs only in letter case from an earlier one",
        "jobs.csv:3: job: a job with neither strips nor lawns",
        "strips.csv:4: job: an unknown job",
        *(f"lawns.csv:{row}: job: an unknown job" for row in range(2, 8)),
    ]


def test_an_offer_given_twice(tmp_path: Path) -> None:
    found = faults(write(tmp_path, supply=SUPPLY + "G30,Fernholt Mills,roll,4.000,25.0,1200,5\n"))
    assert found == (
        "supply.csv:4: supplier: the same offer given twice, found 'Fernholt Mills', and in row 2, "
        "would be right: one row with the price that holds",
    )


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (",length_m", ",lenght_m", ["length_m: a missing column", "lenght_m: an unknown column, found 'lenght_m'"]),
        (",bay", ",Bay", ["bay: a missing column", "Bay: an unknown column, found 'Bay', would be right: bay"]),
        (",bay", ",colour", ["bay: a missing column", "colour: an unknown column, found 'colour'"]),
        (",bay", ",tag", ["bay: a missing column", "tag: a column that is there twice"]),
    ],
)
def test_wrong_headers(tmp_path: Path, old: str, new: str, expected: list[str]) -> None:
    found = faults(write(tmp_path, stock=STOCK.replace(old, new, 1)))
    assert len(found) == len(expected)
    for fault, start in zip(found, expected, strict=True):
        assert fault.startswith(f"stock.csv:1: {start}")


def test_an_unknown_column_is_refused_by_name(tmp_path: Path) -> None:
    found = faults(write(tmp_path, products=PRODUCTS.replace("\n", ",green\n").replace("_m2,green", "_m2,colour")))
    assert found == (
        "products.csv:1: colour: an unknown column, found 'colour', "
        "would be right: only the columns product, description, weight_kg_m2",
    )


def test_a_column_without_a_name_is_refused_only_when_it_holds_something(tmp_path: Path) -> None:
    assert read_folder(write(tmp_path, stock=STOCK.replace("\n", ",\n"))) == CONTENTS
    found = faults(write(tmp_path, stock=STOCK.replace("\n", ",\n").replace("A1,11,", "A1,11,x")))
    assert len(found) == 1
    assert "a column without a name" in found[0]


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", "stock.csv:1: (row): the file is empty, found nothing, would be right: a header row"),
        (b"\xef\xbb\xbf\r\n\r\n", "stock.csv:1: (row): the file is empty"),
        (b"\n" + STOCK.encode(), "stock.csv:1: (row): the first row is empty"),
        (STOCK.replace(",", ";").encode(), "stock.csv:1: (row): cells are separated by semicolons"),
        (STOCK.replace(",", "\t").encode(), "stock.csv:1: (row): cells are separated by tabs"),
        (STOCK.encode("utf-16"), "stock.csv:1: (row): not UTF-8 (byte 1), found the mark of UTF-16"),
        (b"PK\x03\x04rest", "stock.csv:1: (row): a workbook under the name of a CSV file"),
        (STOCK.replace("P-2", '"P-2').encode(), "stock.csv:3: (row): a quote without its partner"),
    ],
)
def test_a_file_that_cannot_be_read_is_one_fault(tmp_path: Path, content: bytes, fault: str) -> None:
    found = faults(write(tmp_path, stock=content))
    assert len(found) == 1
    assert found[0].startswith(fault)


def test_another_encoding_is_named_by_row_column_and_byte(tmp_path: Path) -> None:
    text = PRODUCTS.replace("30 mm pile", "café green").replace("40 mm pile", "café dark")
    found = faults(write(tmp_path, products=text.encode("latin-1")))
    assert [fault.partition(", would be")[0] for fault in found] == [
        "products.csv:2: description: not UTF-8 (byte 0xE9), found 'caf\\xe9 green'",
        "products.csv:3: description: not UTF-8 (byte 0xE9), found 'caf\\xe9 dark'",
    ]
    assert "saved as UTF-8" in found[0]
    assert read_folder(write(tmp_path, products=text)).products[0].description == "café green"


def test_rows_of_the_wrong_shape_are_named_and_cause_no_further_faults(tmp_path: Path) -> None:
    found = faults(
        write(tmp_path, jobs=JOBS.replace("9 Gorse End", "9 Gorse End, rear"), stock=STOCK.replace(",C4", ""))
    )
    assert [fault.partition(",")[0] for fault in found] == [
        "stock.csv:4: (row): too few cells",
        "jobs.csv:3: (row): too many cells",
    ]


def test_faults_come_all_at_once_in_order_of_file_row_and_column(tmp_path: Path) -> None:
    write(
        tmp_path,
        strips=STRIPS.replace("3.6,4,1", "-3.6,0,x"),
        products=PRODUCTS.replace("2.9", "heavy"),
        stock=STOCK.replace("7.805,A2,11.00", "7805,A2,€11").replace("R-1,G30,B7,roll", "R-1,G30,B7,rol"),
    )
    assert [": ".join(fault.split(": ")[:2]) for fault in faults(tmp_path)] == [
        "products.csv:3: weight_kg_m2",
        "stock.csv:2: form",
        "stock.csv:3: length_m",
        "stock.csv:3: cost_per_m2",
        "strips.csv:4: width_m",
        "strips.csv:4: length_m",
        "strips.csv:4: count",
    ]


def test_long_lists_of_faults_are_kept_whole_and_printed_short(tmp_path: Path) -> None:
    rows = "".join(f"T{number},G30,,offcut,0,2,,1\n" for number in range(1000))
    write(tmp_path, stock=STOCK.splitlines()[0] + "\n" + rows)
    with pytest.raises(SheetFaults) as raised:
        read_folder(tmp_path)
    assert len(raised.value.faults) == 1000
    lines = summarise_faults(raised.value, most=3).splitlines()
    assert lines[:3] == list(raised.value.faults[:3])
    assert lines[3:] == ["… and 997 more faults; mend these first and read it all again"]
    assert len(summarise_faults(raised.value).splitlines()) == 201
    assert summarise_faults(raised.value, most=1000).splitlines() == list(raised.value.faults)


def test_a_job_needs_strips_or_lawns(tmp_path: Path) -> None:
    lawn_only = STRIPS.replace("J2,A,3.6,4,1\n", "")
    assert read_folder(write(tmp_path, strips=lawn_only)).jobs[1].strips == ()
    found = faults(write(tmp_path, strips=lawn_only, lawns=LAWNS.splitlines()[0]))
    assert found == (
        "jobs.csv:3: job: a job with neither strips nor lawns, found 'J2', "
        "would be right: at least one row for it in strips.csv or lawns.csv",
    )


def test_a_wrong_width_in_stock_says_nothing_about_strips(tmp_path: Path) -> None:
    found = faults(
        write(tmp_path, supply=SUPPLY.replace("roll,4,", "roll,4 yards,"), strips=STRIPS.replace("A,4,", "A,5,"))
    )
    assert len(found) == 1


def test_a_strip_longer_than_anything_is_left_to_the_planner(tmp_path: Path) -> None:
    assert read_folder(write(tmp_path, strips=STRIPS.replace("4,5.2", "4,60"))).jobs[0].strips[0].length_mm == 60_000


def test_a_later_folder_may_name_what_the_store_holds(tmp_path: Path) -> None:
    only(tmp_path, jobs=JOBS, strips=STRIPS)
    assert read_folder(tmp_path, CONTENTS).jobs == tuple(replace(job, lawns=()) for job in CONTENTS.jobs)
    found = faults(only(tmp_path, strips=STRIPS.replace("3.6", "4.1")), CONTENTS)
    assert len(found) == 1
    assert "wider than anything of G40" in found[0]


def test_the_same_name_in_the_store_is_no_fault_but_another_letter_case_is(tmp_path: Path) -> None:
    assert read_folder(write(tmp_path), CONTENTS) == CONTENTS
    found = faults(write(tmp_path, stock=STOCK.replace("P-2", "p-2")), CONTENTS)
    assert found == (
        "stock.csv:3: tag: differs only in letter case from one in the store, found 'p-2', would be right: 'P-2'",
    )


@pytest.mark.parametrize(
    ("sheets", "fault"),
    [
        (("stock",), "products.csv:1: (row): the sheet is missing and stock.csv needs it"),
        (("products", "jobs"), "strips.csv:1: (row): the sheet is missing and jobs.csv needs it"),
        (("products", "strips"), "jobs.csv:1: (row): the sheet is missing and strips.csv needs it"),
        (("products", "lawns"), "jobs.csv:1: (row): the sheet is missing and lawns.csv needs it"),
    ],
)
def test_a_sheet_that_is_needed_and_missing_is_one_fault(tmp_path: Path, sheets: tuple[str, ...], fault: str) -> None:
    found = faults(only(tmp_path, **{name: SOUND[name] for name in sheets}))
    assert len(found) == 1
    assert found[0].startswith(fault)


def test_sheets_with_a_header_only_need_nothing(tmp_path: Path) -> None:
    headers = {name: text.splitlines()[0] for name, text in SOUND.items() if name != "products"}
    assert read_folder(only(tmp_path, **headers)) == SheetContents()


def test_a_completely_wrong_place_is_told_so(tmp_path: Path) -> None:
    assert "there is no such folder" in faults(tmp_path / "nowhere")[0]
    assert "no sheet of a known name, found none" in faults(tmp_path)[0]
    (tmp_path / "holiday.csv").write_text("a,b\n")
    assert "found holiday.csv; would be right: some of products.csv, supply.csv" in faults(tmp_path)[0]
    assert "a single CSV file; would be right: the folder it lies in" in faults(tmp_path / "holiday.csv")[0]
    (tmp_path / "notes.txt").write_text("x")
    assert "neither a folder nor a workbook" in faults(tmp_path / "notes.txt")[0]


def test_a_mistyped_file_name_is_not_passed_over(tmp_path: Path) -> None:
    (write(tmp_path, strips=STRIPS.replace("3.6", "1.2")) / "supply.csv").rename(tmp_path / "suply.csv")
    found = faults(tmp_path)
    assert found == ("suply.csv:1: (row): a sheet of unknown name, found 'suply', would be right: supply.csv",)
    (tmp_path / "suply.csv").rename(tmp_path / "holiday.csv")
    assert read_folder(tmp_path).supply == ()


MORE = (
    "lawn,job,part,corner,x_m,y_m,hole,edge_name,no_seam,place,north,unseen_from\n"
    "front,J2,edge,2,4,0.125,,path,Yes,,359.5,\n"
    "front,J2,hole,1,2,1,bed,,,,,\n"
    "front,J2,edge,1,-1.5,0,,house,no,front,,\n"
    "front,J2,hole,9,3,4,tree,,,,,\n"
    "front,J2,hole,7,3,1,bed,,,,,verge; back\n"
    "front,J2,hole,3,3.5,4,tree,,,,,\n"
    "front,J2,edge,3,4,5,,,,,,\n"
    "front,J2,hole,9,3,2,bed,,,,,\n"
    "front,J2,hole,5,3.5,4.1,tree,,,front,,\n"
)


def test_what_else_a_lawns_sheet_may_say(tmp_path: Path) -> None:
    jobs = (
        JOBS.replace("batch_rule", "batch_rule,pile_wish")
        .replace("house,\n", "house,,\n")
        .replace("any", "any,From house")
    )
    read = read_folder(write(tmp_path, lawns=MORE, jobs=jobs))
    tree = (Point(3500, 4000), Point(3500, 4100), Point(3000, 4000))
    assert read.jobs[0].pile is None
    assert read.jobs[1].pile == parse_pile("from house")
    (lawn,) = read.jobs[1].lawns
    assert lawn == Lawn(
        "front",
        FRONT.edge,
        (FRONT.holes[0], tree),
        (EdgeNote(0, "house"), EdgeNote(1, "path", no_seam=True)),
        LawnPlace.FRONT,
        y_bearing=359.5,
        cannot_be_seen_with=("verge", "back"),
    )


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("path,Yes", "path,maybe", "lawns.csv:2: no_seam: neither yes nor no, found 'maybe'"),
        (",359.5,", ",360,", "lawns.csv:2: north: too much, found '360'"),
        ("bed,,,,,\n", "bed,wall,,,,\n", "lawns.csv:3: edge_name: something said of a hole's side, found 'wall'"),
        ("bed,,,,,\n", "bed,,yes,,,\n", "lawns.csv:3: no_seam: something said of a hole's side, found 'yes'"),
        ("tree,,,front,,", "tree,,,back,,", "lawns.csv:10: place: not what another row of the lawn says, found 'back'"),
        ("5,,,,,,\n", "5,bed,,,,,\n", "lawns.csv:8: hole: a hole's name on the edge, found 'bed'"),
        ("verge; back", "verge;;back", "lawns.csv:6: unseen_from: empty"),
        ("edge_name", "edge_nam", "lawns.csv:1: edge_nam: an unknown column, found 'edge_nam', would be right: edge_n"),
    ],
)  # fmt: skip
def test_a_wrong_cell_of_a_column_that_may_be_lacking(tmp_path: Path, old: str, new: str, fault: str) -> None:
    assert old in MORE
    found = faults(write(tmp_path, lawns=MORE.replace(old, new, 1)))
    assert found[0].startswith(fault)
    assert len(found) == 1


def test_a_pile_wish_that_cannot_be_read(tmp_path: Path) -> None:
    jobs = (
        JOBS.replace("batch_rule", "batch_rule,pile_wish").replace("house,\n", "house,,\n").replace("any", "any,hither")
    )
    (found,) = faults(write(tmp_path, jobs=jobs))
    assert found.startswith(
        "jobs.csv:3: pile_wish: pile 'hither' cannot be read, found 'hither', would be right: write 'tow"
    )


def test_what_is_wrong_with_an_outline_is_told_by_row(tmp_path: Path) -> None:
    def judge(edge: object, holes: object) -> tuple[OutlineFault, ...]:
        assert (edge, holes) == (FRONT.edge, list(FRONT.holes))
        return OutlineFault("a spike", "it", "none", 0, 2), OutlineFault("a hole outside", "it", "inside", 1)

    with pytest.raises(SheetFaults) as caught:
        read_folder(write(tmp_path), judge=judge)
    assert caught.value.faults == (
        "lawns.csv:4: corner: lawn front: a spike, found it, would be right: none",
        "lawns.csv:5: corner: lawn front: a hole outside, found it, would be right: inside",
    )


def test_lawns_alone_may_be_given_for_jobs_in_the_store(tmp_path: Path) -> None:
    read = read_folder(write(tmp_path, jobs=None, strips=None), CONTENTS)
    assert (read.jobs, read.lawns) == ((), {"J2": (FRONT,)})
    (tmp_path / "jobs only").mkdir()
    left = read_folder(write(tmp_path / "jobs only", strips=STRIPS.replace("J2,A,3.6,4,1\n", ""), lawns=None), CONTENTS)
    assert left.jobs[1].strips == left.jobs[1].lawns == ()
