"""What is remarked on in sheets without a fault."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from sound_sheets import CONTENTS, JOBS, PRODUCTS, STOCK, STRIPS, only, write

from stockplan.store.sheets import read_folder


def test_a_file_that_ends_within_a_row_where_others_do_not_is_remarked_on(tmp_path: Path) -> None:
    whole = only(tmp_path, products=PRODUCTS, stock=STOCK)
    assert read_folder(whole).remarks == ()
    (whole / "stock.csv").write_text(STOCK.rstrip())
    assert read_folder(whole).remarks == (
        "stock.csv: its last row has no line end, as in a file that was cut off while it was copied; see whether the "
        "row is whole",
    )
    (whole / "products.csv").write_text(PRODUCTS.rstrip())  # so the program that wrote them ends files
    assert read_folder(whole).remarks == ()


def test_a_batch_that_lies_in_the_yard_in_other_grass_is_remarked_on_once(tmp_path: Path) -> None:
    new = (
        "N-1,G40,B7,offcut,1,2,A1,0\nN-2,G40,B7,offcut,1,2,A1,0\nN-3,G40,,offcut,1,2,A1,0\nN-4,G30,B7,offcut,1,2,A1,0\n"
    )
    read = read_folder(only(tmp_path, stock=STOCK + new), CONTENTS)
    assert read.remarks == ("stock.csv:5: batch: B7 lies in the yard as G30; N-1 is stored as G40 all the same",)
    assert read_folder(tmp_path, replace(CONTENTS, stock=read.stock)).remarks == ()


def test_costs_far_from_what_their_grass_costs_elsewhere_are_remarked_on_once(tmp_path: Path) -> None:
    new = "N-1,G40,,offcut,1,2,A1,1263\nN-2,G40,,offcut,1,2,A1,12.63\nN-3,G40,,offcut,1,2,A1,0.13\n"
    slip = STOCK.replace("A2,11.00", "A2,1100")
    read = read_folder(write(tmp_path, stock=slip + new), CONTENTS)
    assert read.remarks == (
        "stock.csv:3: cost_per_m2: 1,100.00 per m² is about 100 times what the dearest G30 on offer or in the yard "
        "costs, 11.00; P-2 is stored so all the same",
        "stock.csv:5: cost_per_m2: 1,263.00 per m² is about 100 times what the dearest G40 on offer or in the yard "
        "costs, 12.63; N-1 is stored so all the same; so is 1 more of it",
    )
    assert read_folder(tmp_path, replace(CONTENTS, stock=read.stock)).remarks == ()


def test_jobs_of_days_that_have_passed_are_remarked_on_unless_the_store_has_them_so(tmp_path: Path) -> None:
    write(tmp_path, jobs=JOBS.replace("2026-11-30", "2025-11-30"))
    read = read_folder(tmp_path, today=date(2026, 12, 1))
    assert read.remarks == ("jobs.csv:2: lay_on: 2025-11-30 has passed; J1 is stored all the same",)
    assert [job.lay_on for job in read.jobs] == [date(2025, 11, 30), date(2026, 12, 1)]
    assert read_folder(tmp_path, read, today=date(2026, 12, 1)).remarks == ()
    assert read_folder(tmp_path, CONTENTS, today=date(2026, 12, 1)).remarks == read.remarks
    assert read_folder(tmp_path).remarks == ()


def test_of_many_jobs_of_days_that_have_passed_the_first_are_named(tmp_path: Path) -> None:
    jobs = "".join(f"J{number},x,G30,2025-01-01,,\n" for number in range(1, 11))
    strips = "".join(f"J{number},A,1,2,\n" for number in range(1, 11))
    only(tmp_path, jobs=f"{JOBS.splitlines()[0]}\n{jobs}", strips=f"{STRIPS.splitlines()[0]}\n{strips}")
    remarks = read_folder(tmp_path, CONTENTS, today=date(2026, 1, 1)).remarks
    assert (len(remarks), remarks[-1]) == (9, "jobs.csv: 2 more jobs are laid on a day that has passed")
