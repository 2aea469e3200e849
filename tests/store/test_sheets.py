"""A folder of CSV files becomes domain things, or every fault in it by file, row and column."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from sound_sheets import CONTENTS, JOBS, LAWNS, PRODUCTS, SOUND, STOCK, STRIPS, SUPPLY, faults, only, write

from stockplan.domain.stock import StockForm
from stockplan.errors import SheetFaults
from stockplan.store.sheet_files import by_letter
from stockplan.store.sheets import SheetContents, read_folder, summarise_faults


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


def test_files_that_are_not_read_are_named(tmp_path: Path) -> None:
    write(tmp_path)
    for name in ("stock (1).csv", "jobs.xlsx", "~$jobs.xlsx", "notes.md"):
        (tmp_path / name).write_text("")
    assert read_folder(tmp_path).remarks == tuple(
        f"{tmp_path.name}: not read: {name}; what is read is called products.csv, supply.csv, stock.csv, jobs.csv, "
        "strips.csv, lawns.csv"
        for name in ("'stock (1).csv'", "'jobs.xlsx'")
    )


def test_names_of_files_may_be_in_capitals(tmp_path: Path) -> None:
    (write(tmp_path) / "stock.csv").rename(tmp_path / "Stock.CSV")
    assert read_folder(tmp_path) == CONTENTS


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


def test_a_title_above_the_header_is_one_fault(tmp_path: Path) -> None:
    (found,) = faults(write(tmp_path, stock=f"Stock on 26 November,,\n{STOCK}"))
    assert found.startswith(
        "stock.csv:1: (row): no column of a known name, found 'Stock on 26 November', would be right"
    )
    assert found.endswith("tag, product, batch, form, width_m, length_m, bay, cost_per_m2, and nothing above them")


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
    without = "stock.csv:1: column I: a column without a name, found an empty cell above 'x' in row 2, would be right: "
    assert found[0].startswith(f"{without}one of tag, product")


@pytest.mark.parametrize(
    ("position", "letters"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16_383, "XFD")]
)
def test_a_column_is_called_as_a_spreadsheet_calls_it(position: int, letters: str) -> None:
    assert by_letter(position) == f"column {letters}"


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", "stock.csv:1: (row): the file is empty, found nothing, would be right: a header row"),
        (b"\xef\xbb\xbf\r\n\r\n", "stock.csv:1: (row): the file is empty"),
        (b"\n" + STOCK.encode(), "stock.csv:1: (row): the first row is empty"),
        (STOCK.replace(",", ";").encode(), "stock.csv:1: (row): cells are separated by semicolons"),
        (STOCK.replace(",", "\t").encode(), "stock.csv:1: (row): cells are separated by tabs"),
        (STOCK.encode("utf-16"), "stock.csv:1: (row): not UTF-8 (byte 1), found the mark of UTF-16"),
        (STOCK.encode("utf-16-le"), "stock.csv:1: (row): not UTF-8, found bytes of zero, as UTF-16 has them"),
        (b"sep=,\r\n" + STOCK.encode(), "stock.csv:1: (row): a line that only names the separator, found 'sep=,'"),
        (
            STOCK.replace(",", ";").encode("utf-8-sig"),
            "stock.csv:1: (row): cells are separated by semicolons, found 'tag;product;",
        ),
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


def test_a_job_put_on_another_day_keeps_its_strips_where_no_sheet_of_strips_says_others(tmp_path: Path) -> None:
    put_off = only(tmp_path, jobs=JOBS.replace("2026-11-30", "2026-12-02"))
    first, second = CONTENTS.jobs
    put_off_as_it_was = replace(first, lay_on=date(2026, 12, 2))
    assert read_folder(put_off, CONTENTS).jobs == (put_off_as_it_was, replace(second, lawns=()))
    (put_off / "lawns.csv").write_text(LAWNS)
    assert read_folder(put_off, CONTENTS).jobs == (put_off_as_it_was, second)


def test_a_sheet_of_strips_says_all_strips_of_the_jobs_beside_it(tmp_path: Path) -> None:
    found = faults(only(tmp_path, jobs=JOBS, strips="job,strip,width_m,length_m,count\nJ2,A,3.6,4,1\n"), CONTENTS)
    assert found == (
        "jobs.csv:2: job: a job with neither strips nor lawns, found 'J1', "
        "would be right: at least one row for it in strips.csv or lawns.csv",
    )


def test_a_new_job_beside_known_ones_needs_strips_or_lawns_of_its_own(tmp_path: Path) -> None:
    found = faults(only(tmp_path, jobs=JOBS + "J3,1 Larch Row,G30,2026-12-01,,\n"), CONTENTS)
    assert [fault.split(", ")[:2] for fault in found] == [
        ["jobs.csv:4: job: a job with neither strips nor lawns", "found 'J3'"]
    ]


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
    ("sheet", "old", "new", "fault"),
    [
        ("stock", "P-2,G30,B7", "P-2,G30,b7", "stock.csv:3: batch: differs only in letter case from the one in row 2"),
        ("stock", "P-2,G30,B7", "P-2,G30,B 7", None),
        (
            "stock",
            "1.2,3.625,C4",
            "1.2,3.625,a1 ",
            "stock.csv:4: bay: differs only in letter case from the one in row 2",
        ),
        ("stock", "1.2,3.625,C4", "1.2,3.625,A 1", None),
        ("stock", "C-3,G40,", "C-3,G40,b7", None),
        (
            "stock",
            "C-3,",
            "R\u20111,",
            "4: tag: differs only in letter case, spaces or dashes from",
        ),
        (
            "supply",
            "G40,Ostrel Depot",
            "G30,fernholt  mills",
            "3: supplier: differs only in letter case, spaces",
        ),
        ("supply", "G40,Ostrel Depot", "G40,fernholt mills", None),
    ],
)
def test_names_that_look_the_same_are_spelt_the_same(
    tmp_path: Path, sheet: str, old: str, new: str, fault: str | None
) -> None:
    assert old in SOUND[sheet]
    write(tmp_path, **{sheet: SOUND[sheet].replace(old, new)})
    if fault is None:
        read_folder(tmp_path)
    else:
        assert sum(fault in found for found in faults(tmp_path)) == 1


def test_names_are_spelt_as_in_the_store(tmp_path: Path) -> None:
    held = CONTENTS
    supply = SUPPLY.replace("Fernholt M", "Fernholt m")
    stock = STOCK.replace("R-1,G30,B7", "R-1,G30,b7").replace("P-2,G30,B7", "P-9,G30,b7")
    assert [fault.partition(", would be")[0] for fault in faults(only(tmp_path, supply=supply, stock=stock), held)] == [
        "supply.csv:2: supplier: differs only in letter case from one in the store, found 'Fernholt mills'",
        "stock.csv:2: batch: not what tag R-1 has in the store, found 'b7'",
        "stock.csv:3: batch: differs only in letter case from one in the store, found 'b7'",
    ]
    moved = only(tmp_path, stock=STOCK.replace("C4", "a1").replace(",A1,", ",A3,").replace("A2", "a2"))
    (tmp_path / "supply.csv").unlink()
    assert faults(moved, held) == (
        "stock.csv:3: bay: differs only in letter case from one in the store, found 'a2', would be right: 'A2', "
        "if it is the same",
        "stock.csv:4: bay: differs only in letter case from one in the store, found 'a1', would be right: 'A1', "
        "if it is the same",
    )
    both = replace(held, stock=(*held.stock, replace(held.stock[0], tag="r-1", batch="b7")))
    line = STOCK.splitlines()[1]
    again = f"{STOCK}{line.replace('R-1', 'r-1').replace('B7', 'b7')}\n"
    assert len(read_folder(only(tmp_path, stock=again), both).stock) == 4
    (fault,) = faults(only(tmp_path, stock=again + again.splitlines()[-1]), both)
    assert fault.startswith("stock.csv:6: tag: given twice, found 'r-1', and 'r-1' in row 5")


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


def test_tags_that_are_something_else_or_gone_in_the_store_are_told_by_row_with_all_other_faults(
    tmp_path: Path,
) -> None:
    roll, part, offcut = CONTENTS.stock
    other = (replace(roll, batch=""), replace(part, form=StockForm.ROLL))
    known = replace(CONTENTS, stock=other, gone=frozenset({offcut.tag}))
    another = "another thing needs another tag"
    assert faults(write(tmp_path, stock=f"{STOCK}C-4,G40,,offcut,1.2,1,C4,-1\n"), known) == (
        f"stock.csv:2: batch: not what tag R-1 has in the store, found 'B7', would be right: an empty cell; {another}",
        f"stock.csv:3: form: not what tag P-2 has in the store, found 'part_roll', would be right: roll; {another}",
        "stock.csv:4: tag: has left the yard, found 'C-3', "
        "would be right: no row for it; a new thing needs a tag of its own",
        "stock.csv:5: cost_per_m2: negative, found '-1', would be right: an amount per m² such as 11.50",
    )
