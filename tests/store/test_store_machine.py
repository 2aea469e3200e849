"""A store driven at random against a plain dict of what should lie in it."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

from empty_stores import empty_store
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from small_yard import G30, G40, take_in

from stockplan.domain.ledger import corrected, written_off
from stockplan.domain.stock import StockForm, StockItem
from stockplan.errors import SheetFaults
from stockplan.store.importing import import_contents
from stockplan.store.ledger_rows import read_movements, read_stock, record
from stockplan.store.session import Store, open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store

TAGS = st.sampled_from(["R-1", "r-1", "0147", "147", "C-7/2", "tag with spaces", "Ω", "x'; --"])
ITEMS = st.builds(
    StockItem,
    tag=TAGS,
    product=st.sampled_from(["G30", "G40"]),
    batch=st.sampled_from(["", "B7"]),
    form=st.sampled_from(list(StockForm)),
    width_mm=st.integers(1, 5000),
    length_mm=st.integers(1, 30_000_000),
    bay=st.sampled_from(["", "F1", "É"]),
    cost_pence_per_m2=st.integers(0, 100_000),
)
SHEETS = st.lists(ITEMS, unique_by=lambda item: item.tag, max_size=5).map(
    lambda items: SheetContents(stock=tuple(items))
)


class Yard(RuleBasedStateMachine):
    """Import, correct and write off; keep the expected yard in a dict beside it."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.expected: dict[str, StockItem] = {}
        self.gone: set[str] = set()
        self.lines = 0
        self.store: Store

    @initialize()
    def make(self) -> None:
        self.store = empty_store(Path(self.folder.name) / "yard.db")
        take_in(self.store, SheetContents(products=(G30, G40)))

    def may_hold(self, item: StockItem) -> bool:
        before = self.expected.get(item.tag, item)
        same_thing = (before.product, before.batch, before.form) == (item.product, item.batch, item.form)
        return same_thing and item.tag not in self.gone

    @rule(sheets=SHEETS)
    def import_anything(self, sheets: SheetContents) -> None:
        if not all(map(self.may_hold, sheets.stock)):
            with self.store.unit_of_work() as work:
                try:
                    import_contents(work, sheets, "tester")
                except SheetFaults:
                    return
            raise AssertionError(f"imported {sheets} over {self.expected}")
        take_in(self.store, sheets)
        self.lines += sum(self.expected.get(item.tag) != item for item in sheets.stock)
        self.expected |= {item.tag: item for item in sheets.stock}

    @rule()
    def import_what_is_there(self) -> None:
        assert not take_in(self.store, SheetContents(stock=tuple(self.expected.values()))).changed_anything

    @precondition(lambda self: self.expected)
    @rule(data=st.data(), width_mm=st.integers(1, 5000), bay=st.sampled_from(["F1", "F2"]), commit=st.booleans())
    def correct(self, data: st.DataObject, width_mm: int, bay: str, commit: bool) -> None:
        before = self.expected[data.draw(st.sampled_from(sorted(self.expected)))]
        after = replace(before, width_mm=width_mm, bay=bay)
        if after == before:
            return
        with self.store.unit_of_work() as work:
            record(work, [corrected(before, after, "measured")], "tester")
            if commit:
                work.commit()
                self.expected[after.tag] = after
                self.lines += 1

    @precondition(lambda self: self.expected)
    @rule(data=st.data(), commit=st.booleans())
    def write_off(self, data: st.DataObject, commit: bool) -> None:
        tag = data.draw(st.sampled_from(sorted(self.expected)))
        with self.store.unit_of_work() as work:
            record(work, [written_off(tag, "flood")], "tester")
            if commit:
                work.commit()
                del self.expected[tag]
                self.gone.add(tag)
                self.lines += 1

    @rule()
    def open_again(self) -> None:
        where = self.store.name
        self.store.close()
        self.store = open_store(where)

    @invariant()
    def holds_what_is_expected(self) -> None:
        if not hasattr(self, "store"):
            return
        with self.store.reading() as session:
            assert {item.tag: item for item in read_stock(session)} == self.expected
            assert len(list(read_movements(session))) == self.lines
            assert verify_store(session) == []

    def teardown(self) -> None:
        if hasattr(self, "store"):
            self.store.close()
        self.folder.cleanup()


TestYard = Yard.TestCase
TestYard.settings = settings(max_examples=25, stateful_step_count=15, deadline=None)
