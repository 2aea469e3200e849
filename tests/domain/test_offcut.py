"""What stands against an offcut as it was typed."""

from __future__ import annotations

from stockplan.domain.offcut import NEAR_MM, Doubts, doubts, exchanged
from stockplan.domain.stock import StockForm, StockItem

ROLL = StockItem("R-014", "K30", "4488", StockForm.ROLL, 4000, 25_000, "F1", 1060)


def test_an_offcut_that_fits_and_is_worth_its_place_raises_no_doubt() -> None:
    assert doubts((1200, 6800), ROLL, [], 4000) == Doubts()
    assert doubts((1200, 6800), ROLL, [(1200, 6800)], 4000) == Doubts()


def test_what_is_larger_than_its_source_cannot_be() -> None:
    assert doubts((4100, 30_000), ROLL, [], 4000).impossible == (
        "4.10 × 30.00 m cannot come off R-014, which is 4.00 × 25.00 m"
    )
    assert doubts((4100, 30_000), ROLL, [], 4000).swapped == ""


def test_what_is_just_as_large_as_its_source_can_be() -> None:
    assert doubts((4000, 25_000), ROLL, [], 4000) == Doubts()
    assert doubts((4000, 5000), None, [], 4000) == Doubts()


def test_what_fits_only_the_other_way_round_looks_exchanged() -> None:
    found = doubts((6800, 1200), ROLL, [], 4000)
    assert found.impossible
    assert found.swapped.endswith("which is 4.00 × 25.00 m; 1.20 × 6.80 m could")


def test_without_a_source_the_widest_roll_is_the_measure() -> None:
    assert "at most 4.00 m across" in doubts((4100, 5000), None, [], 4000).impossible
    assert doubts((4100, 5000), None, [], 0) == Doubts()  # nothing is known of the product
    assert doubts((4100, 3000), None, [], 4000).swapped


def test_what_the_plan_leaves_only_the_other_way_round_looks_exchanged() -> None:
    planned = [(2000, 3500)]
    assert doubts((3500, 2000), ROLL, planned, 4000).swapped == (
        "the plan leaves 2.00 × 3.50 m over, not 3.50 × 2.00 m"
    )
    assert doubts((3500 + NEAR_MM, 2000 - NEAR_MM), ROLL, planned, 4000).swapped
    assert doubts((3500 + NEAR_MM + 1, 2000), ROLL, planned, 4000).swapped == ""
    assert doubts((2000, 3500), ROLL, planned, 4000) == Doubts()
    assert doubts((3500, 2000), ROLL, [*planned, (3500, 2000)], 4000) == Doubts()


def test_what_is_below_the_keep_size_belongs_in_the_bin() -> None:
    assert doubts((400, 3000), ROLL, [], 4000).bin == "bin: 0.40 m across is under 0.50 m"
    assert doubts((4000, 900), ROLL, [], 4000).bin == "bin: 0.90 m along is under 1.00 m"
    assert doubts((500, 1000), ROLL, [], 4000).bin == ""


def test_a_new_measurement_that_fits_the_record_only_turned_looks_exchanged() -> None:
    assert exchanged((25_000, 4000), (4000, 25_000), 0) == "on record it is 4.00 × 25.00 m, not 25.00 × 4.00 m"
    assert exchanged((24_900, 3950), (4000, 25_000), 4000) == "on record it is 4.00 × 25.00 m, not 24.90 × 3.95 m"
    assert exchanged((4200, 3000), (1000, 3000), 4000) == "no roll of it is wider than 4.00 m"
    for found in ((4000, 25_000), (4000 - NEAR_MM, 24_000), (3000, 3000), (4000, 4100)):
        assert exchanged(found, (4000, 25_000), 4000) == ""
    # Turned it would just do.
    assert exchanged((4200, 4000), (1000, 3000), 4000) == "no roll of it is wider than 4.00 m"
    assert exchanged((1200, 1100), (1100, 1200), 4000) == ""  # either way round it is near the record
    assert exchanged((4600, 4500), (4000, 25_000), 4000) == ""  # turning it would not help
