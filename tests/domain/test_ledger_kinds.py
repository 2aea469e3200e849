"""Each kind of movement by hand: what it does, what it refuses, and that area and money balance after it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from stockplan.domain.ledger import (
    CutPiece,
    Entry,
    Hold,
    Movement,
    MovementKind,
    Yard,
    binned,
    condition,
    corrected,
    counted,
    cut,
    freed,
    held,
    history,
    moved,
    received,
    released,
    reserved,
    returned,
    reversal,
    trace,
    written_off,
)
from stockplan.domain.stock import StockForm, StockItem

ROLL = StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 25_000, "F1", 1060)
LOOSE = StockItem("C-1", "G30", "", StockForm.OFFCUT, 1200, 2500, "F2", 500)
DAY = date(2026, 11, 26)
PIECE = CutPiece("J1", "A", 1, 4000, 6000)


class Ledger:
    """A ledger written entry by entry, and the yard it adds up to."""

    def __init__(self, *entries: Entry) -> None:
        self.yard = Yard()
        self.movements: list[Movement] = []
        self.write(*entries)

    def write(self, *entries: Entry, on: date = DAY) -> Ledger:
        for entry in entries:
            at = datetime.combine(on, datetime.min.time(), UTC) + timedelta(hours=7)
            movement = entry.enter(len(self.movements) + 1, at, "yard")
            self.yard.apply(movement)
            self.movements.append(movement)
            self.balance()
        return self

    def balance(self) -> None:
        items, account = self.yard.items.values(), self.yard.account
        area = sum(item.area_mm2 for item in items)
        value = sum(item.area_mm2 * item.cost_pence_per_m2 for item in items)
        assert account.area_in_mm2 == area + account.area_used_mm2 + account.area_written_off_mm2
        assert account.value_in == value + account.value_used + account.value_written_off


@pytest.fixture
def ledger() -> Ledger:
    """A roll and an offcut."""
    return Ledger(received(ROLL, ""), received(LOOSE, ""))


@pytest.fixture
def cut_up(ledger: Ledger) -> Ledger:
    """The roll cut: 24 m² in a piece, 4 × 10 m back as a part roll, 12 m² binned, 24 m² still to be told of."""
    return ledger.write(
        cut("R-1", [PIECE], "", plan=7),
        returned("P-1", "R-1", StockForm.PART_ROLL, (4000, 10_000), "F3", "", plan=7),
        binned("R-1", 12_000_000, "", plan=7),
    )


def test_moving_counting_and_conditions(ledger: Ledger) -> None:
    later = DAY + timedelta(days=3)
    ledger.write(moved("R-1", "F9", ""), condition("R-1", "wet", ""), on=later)
    assert ledger.yard.items["R-1"] == replace(ROLL, bay="F9")
    assert ledger.yard.conditions == {"R-1": "wet"}
    assert ledger.yard.last_seen == {"R-1": later, "C-1": DAY}
    ledger.write(counted("C-1", ""), condition("R-1", "sound", ""), on=later + timedelta(days=1))
    assert ledger.yard.conditions == {}
    assert ledger.yard.last_seen == {"R-1": later, "C-1": later + timedelta(days=1)}
    assert ledger.yard.since == {"R-1": DAY, "C-1": DAY}


def test_one_reservation_at_a_time(ledger: Ledger) -> None:
    ledger.write(reserved("R-1", 7, ""))
    assert ledger.yard.reservations == {"R-1": 7}
    assert ledger.yard.available(DAY).keys() == {"C-1"}
    for entry in (reserved("R-1", 8, ""), reserved("R-1", 7, ""), held("R-1", "Q-1", DAY, ""), released("R-1", 8, "")):
        with pytest.raises(ValueError, match="is reserved for plan 7"):
            ledger.write(entry)
    ledger.write(released("R-1", 7, ""))
    assert ledger.yard.available(DAY).keys() == {"R-1", "C-1"}


def test_hold_frees_itself_the_day_after(ledger: Ledger) -> None:
    until = DAY + timedelta(days=2)
    ledger.write(held("R-1", "Q-1", until, ""))
    assert ledger.yard.holds == {"R-1": Hold("Q-1", until)}
    assert "R-1" not in ledger.yard.available(until)
    assert "R-1" in ledger.yard.available(until + timedelta(days=1))
    with pytest.raises(ValueError, match="held for Q-1 until 2026-11-28 already; free it first"):
        ledger.write(held("R-1", "Q-2", until, ""), on=until)
    with pytest.raises(ValueError, match="held for Q-1 until 2026-11-28; free it first"):
        ledger.write(reserved("R-1", 7, ""), on=until)
    with pytest.raises(ValueError, match="is not held"):
        ledger.write(freed("R-1", ""), on=until + timedelta(days=1))
    ledger.write(reserved("R-1", 7, ""), on=until + timedelta(days=1))
    assert ledger.yard.holds == {}


def test_held_item_is_not_cut_until_the_hold_has_ended(ledger: Ledger) -> None:
    ledger.write(held("R-1", "Q-1", DAY, ""))
    with pytest.raises(ValueError, match="held for Q-1 until 2026-11-26; free it first"):
        ledger.write(cut("R-1", [PIECE], ""))
    ledger.write(cut("R-1", [PIECE], ""), on=DAY + timedelta(days=1))
    assert "R-1" in ledger.yard.gone


def test_hold_can_be_prolonged_and_ended(ledger: Ledger) -> None:
    ledger.write(held("R-1", "Q-1", DAY, ""), held("R-1", "Q-1", DAY + timedelta(days=9), ""), freed("R-1", ""))
    assert ledger.yard.holds == {}
    with pytest.raises(ValueError, match="that day has passed"):
        ledger.write(held("R-1", "Q-1", DAY - timedelta(days=1), ""))


def test_cut_takes_the_item_and_its_promises(cut_up: Ledger) -> None:
    yard = cut_up.yard
    assert yard.items.keys() == {"C-1", "P-1"}
    part = yard.items["P-1"]
    assert (part.product, part.batch, part.cost_pence_per_m2) == (ROLL.product, ROLL.batch, ROLL.cost_pence_per_m2)
    assert yard.parents == {"P-1": "R-1"}
    # in: 4 × 25 + 1.2 × 2.5 = 103 m²; stock 40 + 3; binned 12; so used 48, of which 24 in the piece
    assert (yard.area_in_mm2, yard.area_used_mm2, yard.area_written_off_mm2) == (103_000_000, 48_000_000, 12_000_000)
    # 100 m² at 10.60 and 3 m² at 5.00; 12 m² at 10.60 binned
    assert yard.account.value_in == (106_000 + 1500) * 1_000_000
    assert yard.account.value_written_off == 12_720 * 1_000_000
    assert yard.gone["R-1"].unaccounted_mm2 == 24_000_000
    assert [(piece.number, piece.spoiled) for piece in yard.gone["R-1"].pieces] == [(1, False)]


def test_spoiled_piece_may_come_back(ledger: Ledger) -> None:
    ledger.write(cut("R-1", [replace(PIECE, width_mm=4000, length_mm=25_000, spoiled=True)], ""))
    assert [piece.spoiled for piece in ledger.yard.gone["R-1"].pieces] == [True]
    ledger.write(returned("P-1", "R-1", StockForm.PART_ROLL, (4000, 25_000), "F1", ""))
    assert ledger.yard.account.area_used_mm2 == 0


@pytest.mark.parametrize(
    ("entry", "message"),
    [
        (returned("P-2", "R-1", StockForm.OFFCUT, (4000, 6001), "", ""), "only 24.0 m² is not accounted for"),
        (returned("P-2", "R-1", StockForm.OFFCUT, (4001, 100), "", ""), "was only 4.00 × 25.00"),
        (returned("P-2", "R-1", StockForm.OFFCUT, (100, 25_001), "", ""), "was only 4.00 × 25.00"),
        (returned("P-2", "R-1", StockForm.ROLL, (100, 100), "", ""), "cannot be a roll"),
        (returned("P-1", "R-1", StockForm.OFFCUT, (100, 100), "", ""), "received before"),
        (returned("P-2", "C-1", StockForm.OFFCUT, (100, 100), "", ""), "lies in the yard uncut"),
        (returned("P-2", "X-9", StockForm.OFFCUT, (100, 100), "", ""), "was never in the yard"),
        (binned("R-1", 24_000_001, ""), "only 24.0 m² is not accounted for"),
        (binned("R-1", 0, ""), "must be positive"),
        (binned("P-1", 1, ""), "lies in the yard uncut"),
        (cut("R-1", [], ""), "was cut and has left the yard"),
        (cut("P-1", [PIECE, PIECE], ""), "its pieces come to 48.0 m²; it holds only 40.0 m²"),
        (cut("P-1", [replace(PIECE, length_mm=10_001)], ""), "itself is only 4.00 × 10.00"),
        (cut("P-1", [replace(PIECE, number=0)], ""), "must be positive"),
        (Entry(MovementKind.CUT, "P-1", "", {"pieces": "all"}), "must be a list"),
        (Entry(MovementKind.CUT, "P-1", "", {"pieces": [{"job": "J1"}]}), "must state job, strip"),
        (Entry(MovementKind.MOVED, "P-1", "", {"shelf": "F1"}), "states shelf, must state bay"),
        (Entry(MovementKind.RESERVED, "P-1", ""), "its number is missing"),
        (Entry(MovementKind.HELD, "P-1", "", {"quote": "", "until": "2026-12-01"}), "its name is missing"),
        (Entry(MovementKind.HELD, "P-1", "", {"quote": "Q", "until": "soon"}), "soon"),
        (condition("P-1", "", ""), "a word such as wet"),
        (written_off("R-1", ""), "was cut and has left the yard"),
    ],
)
def test_what_cannot_happen_leaves_the_yard_alone(cut_up: Ledger, entry: Entry, message: str) -> None:
    before = cut_up.yard.copy()
    with pytest.raises(ValueError, match=message):
        cut_up.write(entry)
    assert cut_up.yard == before


def test_reserved_item_is_cut_for_its_own_plan_only(ledger: Ledger) -> None:
    ledger.write(reserved("R-1", 7, ""))
    for plan in (None, 8):
        with pytest.raises(ValueError, match="reserved for plan 7; release it first"):
            ledger.write(cut("R-1", [PIECE], "", plan=plan))
    ledger.write(cut("R-1", [PIECE], "", plan=7))
    assert ledger.yard.reservations == {}


@pytest.mark.parametrize(
    "entry",
    [
        corrected(LOOSE, replace(LOOSE, width_mm=1100, cost_pence_per_m2=900), ""),
        moved("C-1", "F9", ""),
        counted("C-1", ""),
        condition("C-1", "wet", ""),
        reserved("C-1", 7, ""),
        held("C-1", "Q-2", date(2026, 12, 24), ""),
        freed("C-1", ""),
        cut("C-1", [CutPiece("J9", "A", 1, 600, 2000)], "", plan=3),
        written_off("C-1", ""),
        received(replace(LOOSE, tag="C-2"), ""),
    ],
    ids=lambda entry: entry.kind.value,
)
def test_reversal_gives_back_what_was(ledger: Ledger, entry: Entry) -> None:
    if entry.kind is MovementKind.FREED:
        ledger.write(held("C-1", "Q-1", date(2026, 12, 24), ""))

    def known() -> tuple[object, ...]:
        return ledger.yard.state("C-1"), ledger.yard.state("C-2"), ledger.yard.account

    before = known()
    ledger.write(entry)
    assert known() != before or entry.kind is MovementKind.COUNTED
    ledger.write(reversal(ledger.movements[-1], "slip"), on=DAY + timedelta(days=1))
    assert known() == before


def test_cut_is_reversed_from_its_end(cut_up: Ledger) -> None:
    the_cut, the_return, the_bin = cut_up.movements[2:5]
    for early in (the_cut,):
        with pytest.raises(ValueError, match="reverse those movements first"):
            cut_up.write(reversal(early, ""))
    cut_up.write(reversal(the_return, ""), reversal(the_bin, ""), reversal(the_cut, ""))
    assert cut_up.yard.items == {"R-1": ROLL, "C-1": LOOSE}
    assert (cut_up.yard.account.area_used_mm2, cut_up.yard.account.area_written_off_mm2) == (0, 0)


@pytest.mark.parametrize(
    ("then", "message"),
    [
        (lambda movement: [moved("P-1", "F7", ""), reversal(movement, "")], "P-1 that stands is 6, moved;"),
        (lambda movement: [reversal(movement, ""), reversal(movement, "")], "no movement of P-1 stands"),
    ],
)
def test_reversal_only_while_nothing_later_happened(
    cut_up: Ledger, then: Callable[[Movement], list[Entry]], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        cut_up.write(*then(cut_up.movements[3]))


def test_what_was_reversed_is_as_if_it_had_never_been(cut_up: Ledger) -> None:
    the_return = cut_up.movements[3]
    cut_up.write(moved("P-1", "F7", ""), condition("P-1", "wet", ""))
    the_move, the_condition = cut_up.movements[5:7]
    with pytest.raises(ValueError, match="P-1 that stands is 7, condition; reverse that first"):
        cut_up.write(reversal(the_move, ""))
    cut_up.write(reversal(the_condition, ""), counted("P-1", ""))
    cut_up.write(reversal(cut_up.movements[8], ""), reversal(the_move, ""))
    with pytest.raises(ValueError, match="it does not stand; the last movement of P-1 that stands is 4"):
        cut_up.write(reversal(the_condition, ""))
    with pytest.raises(ValueError, match="it does not stand; the last movement of P-1 that stands is 12"):
        cut_up.write(counted("P-1", ""), reversal(the_condition, ""))
    cut_up.write(reversal(cut_up.movements[-1], ""))
    cut_up.write(reversal(the_return, ""))
    assert "P-1" not in cut_up.yard.items
    assert cut_up.yard.gone["R-1"].returned_mm2 == 0


def test_of_what_stands_for_good_nothing_is_kept_for_undoing(cut_up: Ledger) -> None:
    cut_up.write(moved("P-1", "F7", ""), moved("P-1", "F8", ""))
    cut_up.write(reversal(cut_up.movements[6], ""), reversal(cut_up.movements[5], ""))
    short = Yard(reversed_later=frozenset({6, 7}))
    for movement in cut_up.movements:
        short.apply(movement)
    assert short.items == cut_up.yard.items
    assert short.account == cut_up.yard.account
    standing = short.standing("P-1")
    assert standing is not None
    assert (standing.number, standing.earlier) == (4, None)


def test_reversal_is_not_reversed_and_a_bin_only_once(cut_up: Ledger) -> None:
    cut_up.write(reversal(cut_up.movements[4], ""))
    with pytest.raises(ValueError, match="movement 5 cannot be reversed"):
        cut_up.write(reversal(cut_up.movements[4], ""))
    cut_up.write(reversal(cut_up.movements[3], ""))
    with pytest.raises(ValueError, match="is a reversal and cannot be reversed"):
        cut_up.write(reversal(cut_up.movements[6], ""))


def test_offcut_is_traced_to_roll_batch_and_delivery(cut_up: Ledger) -> None:
    cut_up.write(
        cut("P-1", [], ""),
        returned("C-5", "P-1", StockForm.OFFCUT, (1000, 2000), "F1", ""),
    )
    origin = trace(cut_up.movements, "C-5")
    assert origin.tags == ("C-5", "P-1", "R-1")
    assert [movement.tag for movement in origin.cuts] == ["P-1", "R-1"]
    assert (origin.product, origin.batch, origin.delivery.number) == ("G30", "B7", 1)
    assert [movement.number for movement in history(cut_up.movements, "R-1")] == [1, 3, 4, 5]
    with pytest.raises(ValueError, match="X was never in the yard"):
        trace(cut_up.movements, "X")


def test_tag_used_again_after_a_reversal_is_traced_to_its_new_parent(cut_up: Ledger) -> None:
    cut_up.write(reversal(cut_up.movements[3], "wrong roll"), cut("C-1", [], ""))
    cut_up.write(returned("P-1", "C-1", StockForm.OFFCUT, (1000, 1000), "F1", ""))
    assert trace(cut_up.movements, "P-1").tags == ("P-1", "C-1")
