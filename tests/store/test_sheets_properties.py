"""Whatever is written comes back equal, and one spoilt cell is named where it stands."""

from __future__ import annotations

import csv
import re
import unicodedata
from datetime import date
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from stockplan.bench.sheets import write_large_folder
from stockplan.bench.weeks import week, write_folder
from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import PileWish, parse_pile
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.errors import SheetFaults
from stockplan.store.sheet_spelling import folded
from stockplan.store.sheets import SheetContents, read_folder

LEFT_BY_SPREADSHEETS = re.compile(r"-?\d(?:[.,]\d+)?E\+\d{2,3}|Err:\d{3}")  # shortened numbers, errors


def takeable(text: str) -> bool:
    """Whether a cell holds text that reading leaves as it is."""
    whole = unicodedata.normalize("NFC", text).strip() == text and text.isprintable() and text[:1] not in {"=", "#"}
    return whole and not LEFT_BY_SPREADSHEETS.fullmatch(text)


codes = st.text(st.characters(exclude_categories=["C", "Z"]) | st.just(" "), min_size=1, max_size=40).filter(takeable)
texts = st.text(st.characters(exclude_categories=["C", "Z"]) | st.just(" "), max_size=60).filter(takeable)
maybe_codes = st.just("") | codes
batches = maybe_codes.filter(lambda text: not text.casefold().startswith(("new", "unknown")))  # the program's own words
lengths = st.integers(1, 200_000)
widths = st.integers(1, 6000)
days = st.dates(date(2000, 1, 1), date(2100, 12, 31))


def names(least: int = 0) -> st.SearchStrategy[list[str]]:
    return st.lists(codes, min_size=least, max_size=5, unique_by=folded)


offsets = st.integers(-(10**6), 10**6)
rings = st.lists(st.builds(Point, offsets, offsets), min_size=3, max_size=6).map(tuple)
wishes: st.SearchStrategy[PileWish | None] = st.none() | st.sampled_from(
    [parse_pile(text) for text in ("open", "towards house", "bearing 0.125", "along 90", "square to the old wall")]
)


@st.composite
def lawns(draw: st.DrawFn, label: str) -> Lawn:
    """Draw a lawn that a sheet can state: any rings, as nothing judges them."""
    edge = draw(rings)
    notes = [EdgeNote(number, draw(maybe_codes), draw(st.booleans())) for number in range(len(edge))]
    unseen = draw(st.lists(codes.filter(lambda text: ";" not in text), max_size=2))
    bearing = draw(st.none() | st.integers(0, 359_999).map(lambda thousandths: thousandths / 1000))
    said = tuple(note for note in notes if note.name or note.no_seam)
    holes = tuple(draw(st.lists(rings, max_size=2)))
    return Lawn(label, edge, holes, said, draw(st.sampled_from(LawnPlace)), bearing, None, tuple(unseen))


def lawn_rows(job: Job) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for lawn in job.lawns:
        notes = {note.number: note for note in lawn.notes}
        north = "" if lawn.y_bearing is None else f"{lawn.y_bearing:.3f}"
        of_the_lawn = (lawn.place.value, north, "; ".join(lawn.cannot_be_seen_with))
        for number, (x_mm, y_mm) in enumerate(lawn.edge):
            note = notes.get(number, EdgeNote(number))
            of_the_side = (note.name, "yes" if note.no_seam else "")
            rows.append(
                (job.code, lawn.label, number, in_metres(x_mm), in_metres(y_mm), "edge", *of_the_side, *of_the_lawn)
            )
        for hole in lawn.holes:
            for number, (x_mm, y_mm) in enumerate(hole):
                place = (in_metres(x_mm), in_metres(y_mm))
                rows.append((job.code, lawn.label, number, *place, "hole", "", "", "", "", ""))
    return rows


def in_metres(millimetres: int) -> str:
    return f"{Decimal(millimetres) / 1000:f}"


@st.composite
def contents(draw: st.DrawFn) -> SheetContents:
    """Draw things that hang together: known products, no strip wider than anything of its product."""
    products = [Product(code, draw(texts), draw(st.integers(1, 20_000))) for code in draw(names(least=1))]
    product = st.sampled_from([thing.code for thing in products])
    supply = draw(
        st.lists(
            st.builds(
                SupplyOption,
                product,
                codes,
                st.sampled_from(SupplyForm),
                widths,
                st.integers(1000, 200_000),
                st.integers(1, 10**8),
                st.integers(0, 365),
            ),
            max_size=5,
            unique_by=lambda s: (s.product, s.supplier, s.form, s.width_mm, s.length_mm, s.lead_days),
        )
    )
    stock = [
        draw(
            st.builds(
                StockItem,
                st.just(tag),
                product,
                batches,
                st.sampled_from(StockForm),
                widths,
                lengths,
                maybe_codes,
                st.integers(0, 10**8),
            )
        )
        for tag in draw(names())
    ]
    jobs = []
    for code in draw(names()):
        grass = draw(product)
        widest = max((thing.width_mm for thing in (*supply, *stock) if thing.product == grass), default=6000)
        strips = tuple(
            Strip(label, draw(st.integers(100, widest)), draw(st.integers(100, 200_000)), draw(st.integers(1, 1000)))
            for label in (draw(names()) if widest >= 100 else ())
        )
        rule = draw(st.sampled_from(BatchRule))
        labels = draw(st.lists(codes, min_size=0 if strips else 1, max_size=2, unique=True))
        outlines = tuple(draw(lawns(label)) for label in labels)
        jobs.append(Job(code, draw(texts), grass, draw(days), draw(texts), rule, strips, outlines, draw(wishes)))
    names_used = [(one.product, one.supplier, "") for one in supply] + [(one.product, "", one.batch) for one in stock]
    names_used += [("", one.bay, "bay") for one in stock]
    assume(len(set(names_used)) == len({(code, folded(name), folded(batch)) for code, name, batch in names_used}))
    return SheetContents(tuple(products), tuple(supply), tuple(stock), tuple(jobs))


def write(things: SheetContents, folder: Path) -> None:
    window = Window(date(2026, 11, 30), date(2026, 11, 30))
    write_folder(PlanRequest(window, window.first, things.products, things.supply, things.stock, things.jobs), folder)
    columns = ("job", "lawn", "corner", "x_m", "y_m", "part", "edge_name", "no_seam", "place", "north", "unseen_from")
    with (folder / "lawns.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([columns, *(row for job in things.jobs for row in lawn_rows(job))])
    with (folder / "jobs.csv").open(encoding="utf-8", newline="") as file:
        header, *rows = list(csv.reader(file))
    wished = {job.code: str(job.pile or "") for job in things.jobs}
    with (folder / "jobs.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[*header, "pile_wish"], *([*row, wished[row[0]]] for row in rows)])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(contents())
def test_what_is_written_comes_back_equal(things: SheetContents) -> None:
    with TemporaryDirectory() as folder:
        write(things, Path(folder))
        assert read_folder(Path(folder)) == things
        assert read_folder(Path(folder), things) == things


NUMBERS = ["3,5", "1e3", "nan", "-inf", "x", "", "1.23456", "999999999999", "=1+1", "3\x00"]
WORDS = ["rol", "ROLL", "=roll", "ro\x07ll", "#REF!"]
CODES = ["x" * 41, "a\tb", "=A1", "#N/A", "tag\u200b7"]
LINES = ["=A1", "a\nb", "#VALUE!", "x" * 501]
SPOILT = {
    "weight_kg_m2": NUMBERS, "width_m": NUMBERS, "length_m": NUMBERS, "price": NUMBERS, "cost_per_m2": NUMBERS,
    "lead_days": NUMBERS, "count": [text for text in NUMBERS if text], "form": WORDS, "batch_rule": WORDS,
    "lay_on": ["30/11/2026", "46356", "", "2026-13-01", "tomorrow"], "description": LINES, "site": LINES,
    "pile_towards": LINES, "supplier": [*LINES, ""], "tag": [*CODES, ""], "product": [*CODES, "", "unknown"],
    "batch": [*CODES, "new", "Unknown", "unknown (C-3)"], "bay": CODES, "job": [*CODES, ""], "strip": [*CODES, ""],
}  # fmt: skip
REFERRED_TO = {("products", "product"), ("jobs", "job"), ("strips", "job")}  # others look these names up
FOLLOW_ON = ("an unknown product", "an unknown job", "a job with neither strips nor lawns", "wider than anything")


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_one_spoilt_cell_is_named_at_its_file_row_and_column(data: st.DataObject) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        write_folder(week("S", data.draw(st.integers(0, 20))), folder)
        sheet = data.draw(st.sampled_from(["products", "supply", "stock", "jobs", "strips"]))
        with (folder / f"{sheet}.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        row = data.draw(st.integers(1, len(rows) - 1))
        position = data.draw(st.integers(0, len(rows[0]) - 1))
        column = rows[0][position]
        # in the list of products any name is a known one
        spoilt = [text for text in SPOILT[column] if (sheet, text) != ("products", "unknown")]
        rows[row][position] = data.draw(st.sampled_from(spoilt))
        with (folder / f"{sheet}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        with pytest.raises(SheetFaults) as raised:
            read_folder(folder)
    place = f"{sheet}.csv:{row + 1}: {column}: "
    here = [fault for fault in raised.value.faults if fault.startswith(place)]
    others = [fault for fault in raised.value.faults if not fault.startswith(place)]
    assert len(here) == 1
    if (sheet, column) in REFERRED_TO:
        assert all(fault.split(": ")[2].startswith(FOLLOW_ON) for fault in others)
    else:
        assert others == []


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300), st.sampled_from([b"", b"tag,product,batch,form,width_m,length_m,bay,cost_per_m2\n"]))
def test_any_bytes_are_read_or_refused(noise: bytes, header: bytes) -> None:
    with TemporaryDirectory() as folder:
        (Path(folder) / "stock.csv").write_bytes(header + noise)
        try:
            things = read_folder(Path(folder))
        except SheetFaults as raised:
            found = raised.faults
        else:
            found = ()
            assert things == SheetContents()  # nothing but blank rows: there is no product a row could name
    for fault in found:
        assert fault.startswith(("stock.csv:", "products.csv:1:"))
        assert fault.isprintable()
        fault.encode("utf-8")  # fit to print anywhere: raises on a lone surrogate


def test_a_large_folder_is_read_whole(tmp_path: Path) -> None:
    write_large_folder(tmp_path, 4000)
    things = read_folder(tmp_path)
    assert (len(things.stock), len(things.jobs)) == (2000, 1000)
    assert all(len(job.strips) == 1 for job in things.jobs)
