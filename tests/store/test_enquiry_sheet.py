"""A CSV file of small enquiries: what it says, and every fault at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from stockplan.domain.enquiries import SmallEnquiry
from stockplan.errors import SheetFaults, StockplanError
from stockplan.store.enquiry_sheet import read_enquiries


def read(folder: Path, text: str, products: tuple[str, ...] = ("G30", "G40")) -> tuple[SmallEnquiry, ...]:
    path = folder / "month.csv"
    path.write_bytes(text.encode())
    return read_enquiries(path, products)


def faults(folder: Path, text: str) -> tuple[str, ...]:
    with pytest.raises(SheetFaults) as raised:
        read(folder, text)
    return raised.value.faults


def test_rows_of_one_name_are_one_enquiry(tmp_path: Path) -> None:
    text = "\ufeffenquiry,product,width_m,length_m,count,worth\na,G30,1,2,2,\nb,G40,3.1,1.8,,120.50\n\na,G30,2,3,,90\n"
    assert read(tmp_path, text) == (
        SmallEnquiry("a", "G30", ((2000, 3000), (1000, 2000), (1000, 2000)), 9000),
        SmallEnquiry("b", "G40", ((3100, 1800),), 12_050),
    )


def test_the_only_grass_need_not_be_named(tmp_path: Path) -> None:
    (one,) = read(tmp_path, "width_m,length_m,enquiry\n1,2,a\n", ("G30",))
    assert one == SmallEnquiry("a", "G30", ((1000, 2000),), None)


def test_every_fault_is_told_with_row_and_column(tmp_path: Path) -> None:
    text = 'enquiry,product,width_m,length_m,worth\n,G30,1,2,\na,G3,"3,5",9999,x\nb,G30,1\nc,G30,1,2,5\nc,G40,1,2,6\n'
    found = faults(tmp_path, text)
    assert [one.split(": what")[0].split(",")[0] for one in found] == [
        "month.csv:2: enquiry: empty",
        "month.csv:3: product: an unknown product",
        "month.csv:3: width_m: a decimal comma",
        "month.csv:3: length_m: too much",
        "month.csv:3: worth: not a number",
        "month.csv:4: (row): a row of the wrong length",
        "month.csv:6: product: another grass than in the rows before",
        "month.csv:6: worth: another worth than in the rows before",
    ]


def test_columns_missing_unknown_or_twice_are_told(tmp_path: Path) -> None:
    found = faults(tmp_path, "enquiry,prodct,width_m,width_m\n")
    assert any("length_m: a column is missing" in one for one in found)
    assert any("prodct: an unknown column, found 'prodct', would be right: product" in one for one in found)
    assert any("a column given twice" in one for one in found)


@pytest.mark.parametrize("data", [b"enquiry,width_m,length_m\n\xff,1,2\n", b'enquiry,width_m,length_m\n"a,1,2\n', b""])
def test_what_is_no_sheet_is_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "month.csv"
    path.write_bytes(data)
    with pytest.raises(SheetFaults):
        read_enquiries(path, ["G30"])


@pytest.mark.parametrize(
    ("data", "fault"),
    [
        (b"enquiry;width_m;length_m\na;1;2\n", "month.csv:1: (row): cells are separated by semicolons"),
        ("enquiry,width_m,length_m\na,1,2\n".encode("utf-16"), "month.csv:1: (row): not UTF-8 (byte 1)"),
        ("enquiry,width_m,length_m\na,1,2\nö,1,2\n".encode("cp1252"), "month.csv:3: enquiry: not UTF-8 (byte 0xF6)"),
        (b'enquiry,width_m,length_m\na,1,2\n"b,1,2\n', "month.csv:3: (row): a quote without its partner"),
    ],
)
def test_a_file_as_other_programs_save_it_is_one_fault(tmp_path: Path, data: bytes, fault: str) -> None:
    path = tmp_path / "month.csv"
    path.write_bytes(data)
    with pytest.raises(SheetFaults) as raised:
        read_enquiries(path, ["G30"])
    (told,) = raised.value.faults
    assert told.startswith(fault)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(StockplanError, match="cannot be opened"):
        read_enquiries(tmp_path / "none.csv", ["G30"])
