"""The yard driven at random through the store against a plain model: stock, promises, area and money.

`STOCKPLAN_YARD_STEPS` sets how many steps the slow test takes.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from empty_stores import empty_store
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test
from small_yard import G30, G40, take_in
from yard_model import Model, Op, area

from stockplan.domain.ledger import (
    CutPiece,
    Entry,
    binned,
    condition,
    corrected,
    counted,
    cut,
    freed,
    held,
    moved,
    received,
    released,
    reserved,
    returned,
    reversal,
    written_off,
)
from stockplan.domain.stock import StockForm, StockItem
from stockplan.errors import StoreConflict, StoreError
from stockplan.store.ledger_rows import read_cut_so_far, read_movement, read_yard, record
from stockplan.store.quick import OpenYard, open_yard
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store, verify_yard

STEPS = int(os.environ.get("STOCKPLAN_YARD_STEPS", "1000"))
TAGS = tuple(f"T-{number:02}" for number in range(30))
PICKS = st.tuples(st.integers(0, 29), st.integers(0, 9))  # which one, and now and then any tag at all
WIDTHS, LENGTHS = st.integers(1, 40).map(lambda n: n * 100), st.integers(1, 50).map(lambda n: n * 500)
PLANS, DAYS = st.integers(1, 3), st.integers(-1, 4)
PIECES = st.lists(  # job, strip, number, tenths of the item's width and length, spoiled
    st.tuples(
        st.sampled_from(["J1", "J2"]),
        st.sampled_from(["A", "B"]),
        st.integers(1, 3),
        st.integers(1, 10),
        st.integers(1, 6),
        st.booleans(),
    ),
    max_size=3,
)
Pieces = list[tuple[str, str, int, int, int, bool]]


def thing(item: StockItem) -> dict[str, Any]:
    """A stock item as the model has it."""
    return {
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        "width": item.width_mm,
        "length": item.length_mm,
        "bay": item.bay,
        "cost": item.cost_pence_per_m2,
    }


class YardMachine(RuleBasedStateMachine):
    """Everything that can happen to grass, allowed or not, and time that passes."""

    place: str | None = None  # an empty database for one run; default a new file for each

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.model = Model()
        self.day = date(2026, 11, 2)
        self.store: OpenYard

    @initialize()
    def make(self) -> None:
        path = self.place or str(Path(self.folder.name) / "yard.db")
        with open_store(path, create=True) if self.place else empty_store(Path(path)) as store:
            take_in(store, SheetContents(products=(G30, G40)))
        self.store = open_yard(path)
        for number, form in enumerate((StockForm.ROLL, StockForm.PART_ROLL, StockForm.OFFCUT)):
            self.receive((number, 0), "G30", "B7", form, 4000, 20_000 - 5000 * number, 1060)

    def pick(self, pick: tuple[int, int], among: Iterable[str]) -> str:
        """Take one of the tags that suit; sometimes any tag."""
        number, stray = pick
        suit = sorted(among)
        return TAGS[number] if stray == 9 or not suit else suit[number % len(suit)]

    def here(self, pick: tuple[int, int]) -> str:
        return self.pick(pick, self.model.now().items)

    def new(self, pick: tuple[int, int]) -> str:
        held = self.model.now()
        return self.pick(pick if pick[1] == 9 else (0, 0), set(TAGS) - held.items.keys() - held.gone.keys())

    def cuts(self, pick: tuple[int, int]) -> str:
        return self.pick(pick, [tag for tag, one in self.model.now().gone.items() if one["cut"] and one["left"]])

    def do(self, *pairs: tuple[Op, Entry]) -> None:
        """Do one or several things in one unit of work; the store must take them when the model does, and only then."""
        trial = Model()
        trial.ops = list(self.model.ops)
        allowed = True
        for op, _ in pairs:
            allowed = allowed and trial.may(op, self.day)
            if allowed:
                trial.write({**op, "day": self.day})
        with self.store.unit_of_work() as work:
            work.at = datetime.combine(self.day, datetime.min.time(), UTC) + timedelta(hours=7)
            if not allowed:
                with pytest.raises(StoreConflict, match="nothing was stored; see how things stand"):
                    record(work, [entry for _, entry in pairs], "tester")
                return
            record(work, [entry for _, entry in pairs], "tester")
            work.commit()
        self.model = trial

    @rule(
        pick=PICKS, product=st.sampled_from(["G30", "G40"]), batch=st.sampled_from(["", "B7"]),
        form=st.sampled_from(list(StockForm)), width=WIDTHS, length=LENGTHS, cost=st.integers(0, 2000),
    )  # fmt: skip
    def receive(
        self, pick: tuple[int, int], product: str, batch: str, form: StockForm, width: int, length: int, cost: int
    ) -> None:
        tag = self.new(pick)
        item = StockItem(tag, product, batch, form, width, length, "F1", cost)
        self.do(({"kind": "receive", "tag": tag, "item": thing(item)}, received(item, "", delivery="D-1")))

    @rule(pick=PICKS, width=WIDTHS, length=LENGTHS, cost=st.integers(0, 2000))
    def measure(self, pick: tuple[int, int], width: int, length: int, cost: int) -> None:
        tag = self.here(pick)
        before = StockItem(tag, "G30", "", StockForm.ROLL, 1, 1, "", 3000)
        after = StockItem(tag, "G30", "", StockForm.ROLL, width, length, "", cost)
        op = {"kind": "measure", "tag": tag, "new": {"width": width, "length": length, "cost": cost}}
        self.do((op, corrected(before, after, "measured")))

    @rule(pick=PICKS, bay=st.sampled_from(["F1", "F2", "F3"]))
    def move(self, pick: tuple[int, int], bay: str) -> None:
        tag = self.here(pick)
        self.do(({"kind": "move", "tag": tag, "bay": bay}, moved(tag, bay, "")))

    @rule(picks=st.lists(PICKS, min_size=1, max_size=3))
    def count(self, picks: list[tuple[int, int]]) -> None:
        tags = sorted({self.here(pick) for pick in picks})
        self.do(*(({"kind": "count", "tag": tag}, counted(tag, "stocktake")) for tag in tags))

    @rule(pick=PICKS, word=st.sampled_from(["wet", "dirty"]), mend=st.booleans())
    def find_condition(self, pick: tuple[int, int], word: str, mend: bool) -> None:
        tag = self.here(pick)
        word = "sound" if mend and tag in self.model.now().conditions else word
        self.do(({"kind": "condition", "tag": tag, "word": word}, condition(tag, word, "")))

    @rule(picks=st.lists(PICKS, min_size=1, max_size=3), plan=PLANS)
    def accept(self, picks: list[tuple[int, int]], plan: int) -> None:
        tags = sorted({self.here(pick) for pick in picks})
        self.do(*(({"kind": "reserve", "tag": tag, "plan": plan}, reserved(tag, plan, "accepted")) for tag in tags))

    @rule(pick=PICKS, plan=PLANS)
    def release(self, pick: tuple[int, int], plan: int) -> None:
        tag = self.pick(pick, self.model.now().plans)
        plan = self.model.now().plans.get(tag, plan) if pick[1] != 9 else plan
        self.do(({"kind": "release", "tag": tag, "plan": plan}, released(tag, plan, "withdrawn")))

    @rule(pick=PICKS, quote=st.sampled_from(["Q-1", "Q-2"]), days=DAYS)
    def hold(self, pick: tuple[int, int], quote: str, days: int) -> None:
        tag = self.here(pick)
        until = self.day + timedelta(days=days)
        self.do(({"kind": "hold", "tag": tag, "quote": quote, "until": until}, held(tag, quote, until, "")))

    @rule(pick=PICKS)
    def free(self, pick: tuple[int, int]) -> None:
        tag = self.pick(pick, self.model.now().holds)
        self.do(({"kind": "free", "tag": tag}, freed(tag, "")))

    @rule(days=st.integers(1, 3))
    def time_passes(self, days: int) -> None:
        self.day += timedelta(days=days)

    def cutting(self, tag: str, pieces: Pieces, plan: int | None) -> tuple[Op, Entry]:
        whole = self.model.now().items.get(tag, {"width": 4000, "length": 20_000})
        given = [
            CutPiece(job, strip, number, whole["width"] * across // 10 + 1, whole["length"] * along // 10 + 1, spoiled)
            for job, strip, number, across, along, spoiled in pieces
        ]
        stated = [
            {"job": one.job, "strip": one.strip, "number": one.number, "spoiled": one.spoiled}
            | {"width": one.width_mm, "length": one.length_mm}
            for one in given
        ]
        return {"kind": "cut", "tag": tag, "pieces": stated, "plan": plan}, cut(tag, given, "", plan)

    @rule(pick=PICKS, pieces=PIECES, plan=st.none() | PLANS, follow=st.integers(0, 4))
    def cut(self, pick: tuple[int, int], pieces: Pieces, plan: int | None, follow: int) -> None:
        tag = self.here(pick)
        plan = self.model.now().plans.get(tag, plan) if follow < 4 else plan
        self.do(self.cutting(tag, pieces, plan))

    @rule(pick=PICKS, new=PICKS, pieces=PIECES, along=st.integers(1, 6), share=st.integers(1, 12))
    def cut_bring_back_and_bin(
        self, pick: tuple[int, int], new: tuple[int, int], pieces: Pieces, along: int, share: int
    ) -> None:
        tag, child = self.here(pick), self.new(new)
        whole = self.model.now().items.get(tag, {"width": 4000, "length": 20_000})
        width, length = whole["width"], whole["length"] * along // 10 + 1
        item = {"form": "offcut", "width": width, "length": length, "bay": "F2"}
        rest = max(1, (area(whole) - width * length) * share // 10)
        self.do(
            self.cutting(tag, pieces[:1], self.model.now().plans.get(tag)),
            (
                {"kind": "back", "tag": child, "parent": tag, "item": item},
                returned(child, tag, StockForm.OFFCUT, (width, length), "F2", ""),
            ),
            ({"kind": "bin", "tag": tag, "area": rest}, binned(tag, rest, "")),
        )

    @rule(pick=PICKS, off=PICKS, form=st.sampled_from(list(StockForm)), width=WIDTHS, length=LENGTHS)
    def bring_back(self, pick: tuple[int, int], off: tuple[int, int], form: StockForm, width: int, length: int) -> None:
        self.back(self.new(pick), self.cuts(off), form, width, length)

    def back(self, tag: str, parent: str, form: StockForm, width: int, length: int) -> None:
        item = {"form": form.value, "width": width, "length": length, "bay": "F2"}
        entry = returned(tag, parent, form, (width, length), "F2", "")
        self.do(({"kind": "back", "tag": tag, "parent": parent, "item": item}, entry))

    @rule(pick=PICKS, off=PICKS, share=st.integers(1, 10))
    def bring_back_what_fits(self, pick: tuple[int, int], off: tuple[int, int], share: int) -> None:
        parent = self.model.now().gone.get(self.cuts(off))
        if parent is not None and parent.get("left"):
            width = max(1, parent["width"] * share // 10)
            length = max(1, min(parent["length"], parent["left"] // width))
            self.back(self.new(pick), self.cuts(off), StockForm.OFFCUT, width, length)

    @rule(pick=PICKS, share=st.integers(1, 12))
    def throw_away(self, pick: tuple[int, int], share: int) -> None:
        tag = self.cuts(pick)
        left = self.model.now().gone.get(tag, {}).get("left", 0)
        size_mm2 = max(1, left * share // 10)
        self.do(({"kind": "bin", "tag": tag, "area": size_mm2}, binned(tag, size_mm2, "")))

    @rule(pick=PICKS)
    def write_off(self, pick: tuple[int, int]) -> None:
        tag = self.here(pick)
        self.do(({"kind": "write_off", "tag": tag}, written_off(tag, "flood")))

    @rule(back=st.integers(0, 3))
    def reverse(self, back: int) -> None:
        self.undo(len(self.model.ops) - back)

    @rule(pick=PICKS, times=st.integers(2, 5))
    def reverse_what_stands_of_one_tag(self, pick: tuple[int, int], times: int) -> None:
        """From its last movement that stands backwards."""
        tag = self.pick(pick, {op["tag"] for op in self.model.ops})
        for _ in range(times):
            undone = {op.get("undoes") for op in self.model.ops}
            done = [op["number"] for op in self.model.ops if op["tag"] == tag and op["kind"] != "reverse"]
            if standing := [number for number in done if number not in undone]:
                self.undo(standing[-1])

    def undo(self, number: int) -> None:
        with self.store.reading() as source:
            try:
                movement = read_movement(source, number)
            except StoreError:
                assert not 1 <= number <= len(self.model.ops)
                return
        undone = self.model.of(number)
        self.do(({"kind": "reverse", "tag": undone["tag"], "undoes": number}, reversal(movement, "slip")))

    @invariant()
    def holds_what_the_model_holds(self) -> None:
        if not hasattr(self, "store"):
            return
        want = self.model.now()
        with self.store.reading() as source:
            yard = read_yard(source)
            pieces = read_cut_so_far(source)
            assert verify_yard(source) == []
        assert {tag: thing(item) for tag, item in yard.items.items()} == want.items
        assert yard.reservations == want.plans
        assert {tag: tuple(hold) for tag, hold in yard.holds.items()} == want.holds
        assert yard.conditions == want.conditions
        assert yard.last_seen == want.seen
        assert yard.parents == {tag: parent for tag, parent in want.parents.items() if tag in want.items}
        assert yard.available(self.day).keys() == want.available(self.day)
        cuts = [(job, strip, one.number, one.source) for (job, strip), made in pieces.items() for one in made]
        assert sorted(cuts) == sorted(want.pieces)
        self.balances(want, yard.account)

    def balances(self, want: Any, account: Any) -> None:
        stock = sum(map(area, want.items.values()))
        money = sum(area(item) * item["cost"] for item in want.items.values())
        assert (account.area_in_mm2, account.value_in) == (want.came_in, want.money_in)
        assert (account.area_used_mm2, account.value_used) == (want.used, want.money_used)
        assert (account.area_written_off_mm2, account.value_written_off) == (want.off, want.money_off)
        assert want.came_in == stock + want.used + want.off
        assert want.money_in == money + want.money_used + want.money_off

    def teardown(self) -> None:
        if hasattr(self, "store"):
            where = self.place or self.store.name
            self.store.close()
            with open_store(where) as store, store.reading() as session:
                assert verify_store(session) == []
        self.folder.cleanup()


def drive(steps: int, steps_each: int = 40, machine: type[YardMachine] = YardMachine) -> None:
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=max(1, steps // steps_each),
            stateful_step_count=steps_each,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_yard_and_model_agree_for_a_few_hundred_steps() -> None:
    drive(300)


@pytest.mark.postgres
def test_yard_on_postgresql_and_model_agree(postgres_place: str) -> None:
    class OnServer(YardMachine):
        place = postgres_place

    drive(100, steps_each=100, machine=OnServer)


@pytest.mark.slow
def test_yard_and_model_agree_for_many_steps() -> None:
    drive(STEPS)
