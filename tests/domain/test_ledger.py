"""Stock is what the ledger adds up to, worked out here by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from stockplan.domain.ledger import Entry, Movement, MovementKind, Yard, corrected, fold, received, written_off
from stockplan.domain.stock import StockForm, StockItem

ROLL = StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 25_000, "F1", 1060)
OFFCUT = StockItem("C-1", "G30", "", StockForm.OFFCUT, 1200, 2500, "F2", 0)
SHORTER = replace(ROLL, length_mm=24_900, bay="F3")


def entered(*entries: Entry) -> list[Movement]:
    return [
        entry.enter(number, datetime(2026, 11, 26, 7, tzinfo=UTC), "yard")
        for number, entry in enumerate(entries, start=1)
    ]


def test_nothing_happened_nothing_lies_there() -> None:
    assert fold([]) == {}


def test_received_items_lie_in_the_yard_as_received() -> None:
    assert fold(entered(received(ROLL, ""), received(OFFCUT, ""))) == {"R-1": ROLL, "C-1": OFFCUT}


def test_corrected_item_is_as_measured_last() -> None:
    first = replace(ROLL, width_mm=3970)
    ledger = entered(received(ROLL, ""), corrected(ROLL, first, "tape"), corrected(first, SHORTER, "tape again"))
    assert fold(ledger) == {"R-1": SHORTER}


def test_correction_states_only_what_changed() -> None:
    assert corrected(ROLL, SHORTER, "").values == {"length_mm": 24_900, "bay": "F3"}


def test_written_off_item_is_gone() -> None:
    assert fold(entered(received(ROLL, ""), received(OFFCUT, ""), written_off("R-1", "flood"))) == {"C-1": OFFCUT}


def test_area_account_by_hand() -> None:
    yard = Yard()
    for entry in (received(ROLL, ""), received(OFFCUT, ""), corrected(ROLL, SHORTER, ""), written_off("C-1", "")):
        yard.apply(entry)
    # in: 4 × 24.9 + 1.2 × 2.5 = 99.6 + 3; written off: 3
    assert (yard.area_in_mm2, yard.area_used_mm2, yard.area_written_off_mm2) == (102_600_000, 0, 3_000_000)


@pytest.mark.parametrize(
    ("after", "what"),
    [
        (replace(ROLL, batch="B8"), "batch"),
        (replace(ROLL, product="G40"), "product"),
        (replace(ROLL, form=StockForm.PART_ROLL), "form"),
        (ROLL, "nothing"),
    ],
)
def test_identity_cannot_be_corrected(after: StockItem, what: str) -> None:
    with pytest.raises(ValueError, match="cannot be corrected"):
        corrected(ROLL, after, what)


@pytest.mark.parametrize(
    ("entry", "message"),
    [
        (received(ROLL, ""), "received before"),
        (received(replace(OFFCUT, tag="GONE"), ""), "received before"),
        (received(replace(OFFCUT, tag="C-2", width_mm=0), ""), "positive"),
        (received(replace(OFFCUT, tag="C-2", cost_pence_per_m2=-1), ""), "not negative"),
        (Entry(MovementKind.RECEIVED, "C-2", "", {"product": "G30"}), "must state"),
        (Entry(MovementKind.RECEIVED, "C-2", "", {**received(OFFCUT, "").values, "form": "heap"}), "heap"),
        (Entry(MovementKind.CORRECTED, "R-1", "", {}), "cannot be corrected in nothing"),
        (Entry(MovementKind.CORRECTED, "R-1", "", {"batch": "B8"}), "cannot be corrected in batch"),
        (Entry(MovementKind.CORRECTED, "R-1", "", {"width_mm": "4 m"}), "whole number"),
        (Entry(MovementKind.CORRECTED, "R-1", "", {"width_mm": True}), "whole number"),
        (Entry(MovementKind.CORRECTED, "R-1", "", {"bay": 7}), "text"),
        (Entry(MovementKind.CORRECTED, "R-1", "", {"length_mm": 0}), "positive"),
        (Entry(MovementKind.CORRECTED, "GONE", "", {"bay": "F9"}), "has left the yard"),
        (Entry(MovementKind.CORRECTED, "C-9", "", {"bay": "F9"}), "never in the yard"),
        (Entry(MovementKind.WRITTEN_OFF, "R-1", "", {"area": 3}), "written off whole"),
        (written_off("GONE", ""), "has left the yard"),
        (written_off("C-9", ""), "never in the yard"),
    ],
)
def test_what_cannot_happen_is_refused_and_leaves_the_yard_alone(entry: Entry, message: str) -> None:
    def yard() -> Yard:
        gone = replace(OFFCUT, tag="GONE")
        made = Yard()
        for before in (received(ROLL, ""), received(gone, ""), written_off("GONE", "")):
            made.apply(before)
        return made

    tried = yard()
    with pytest.raises(ValueError, match=message):
        tried.apply(entry)
    assert tried == yard()
