"""What leftovers are worth: the figures of the rule, and what the planner relies on.

The figures are worked by hand from the rule's own wording (shares of cost per m²); it is the firm's judgement, so there
is no published value to hold it against.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.worth import Leftover, UnitCost, keep_reason, leftover_worth, stock_worth

COST_11_PER_M2 = UnitCost(1100, 1_000_000)
ROLL_WIDTHS = (2000, 4000, 5000, 6000)


def loose(width_mm: int, length_mm: int, widest_mm: int = 4000) -> Leftover:
    return Leftover(width_mm, length_mm, on_core=False, widest_mm=widest_mm)


def on_core(width_mm: int, length_mm: int, widest_mm: int = 4000) -> Leftover:
    return Leftover(width_mm, length_mm, on_core=True, widest_mm=widest_mm)


@pytest.mark.parametrize(
    ("leftover", "share"),
    [
        (on_core(4000, 3000), "0.90"),
        (on_core(4000, 20_000), "0.90"),
        (on_core(4000, 1000), "0.75"),
        (on_core(4000, 2000), "0.825"),  # half way from 0.75 to 0.90
        (loose(4000, 3000), "0.90"),  # full width though loose
        (on_core(2000, 3000), "0.90"),  # a narrow roll is full width on its own core
        (loose(2000, 6000), "0.475"),  # 0.25 + 0.45/2
        (loose(2000, 9000), "0.475"),  # length counts up to 6 m
        (loose(2000, 3000), "0.38"),  # 0.475 · 0.8
        (loose(1000, 6000), "0.3625"),  # 0.25 + 0.45/4
        (loose(500, 1500), "0.214375"),  # (0.25 + 0.45/8) · 0.7
    ],
)
def test_share_of_cost(leftover: Leftover, share: str) -> None:
    area = Fraction(leftover.width_mm * leftover.length_mm, 1_000_000)
    assert leftover_worth(leftover, COST_11_PER_M2) == int(area * 1100 * Fraction(share))


@pytest.mark.parametrize(
    ("leftover", "keep"),
    [
        (loose(499, 9000), False),
        (loose(500, 1000), True),
        (loose(500, 999), False),
        (on_core(4000, 999), False),
        (on_core(4000, 1000), True),
    ],
)
def test_nothing_below_half_a_metre_wide_or_a_metre_long(leftover: Leftover, keep: bool) -> None:
    assert (leftover_worth(leftover, COST_11_PER_M2) > 0) is keep
    assert keep_reason(leftover).startswith("keep" if keep else "bin")


def test_a_roll_that_measures_397_for_400_cm_is_full_width() -> None:
    assert loose(3970, 3000).full_width
    assert loose(3920, 3000).full_width
    assert not loose(3919, 3000).full_width


def test_an_unopened_roll_is_worth_its_price() -> None:
    # 4 m × 25 m at 11.00 a square metre cost 1,100.00
    roll = StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 25_000, "A1", 1100)
    assert stock_worth(roll, 4000) == 110_000


def test_a_part_roll_and_an_offcut_are_worth_what_they_would_be_as_leftovers() -> None:
    part = StockItem("P-1", "G30", "B7", StockForm.PART_ROLL, 4000, 10_000, "A1", 1100)
    offcut = StockItem("C-1", "G30", "B7", StockForm.OFFCUT, 2000, 3000, "A1", 1100)
    assert stock_worth(part, 4000) == 39_600  # 40 m² · 11.00 · 0.90
    assert stock_worth(offcut, 4000) == 2508  # 6 m² · 11.00 · 0.38


def test_a_sliver_off_a_very_wide_piece_does_not_raise_its_worth() -> None:
    # Uncapped, the share of 5.87 m across, 0.25 + 0.45 · 5.87/4, would pass the 0.90 of full width.
    whole, trimmed = loose(5880, 6000, 6000), loose(5870, 6000, 6000)
    assert whole.full_width
    assert not trimmed.full_width
    assert leftover_worth(trimmed, COST_11_PER_M2) < leftover_worth(whole, COST_11_PER_M2)


costs = st.builds(UnitCost, st.integers(0, 500_000), st.sampled_from([1_000_000, 50_000_000, 100_000_000]))
lengths = st.integers(1, 30_000)
widest_widths = st.sampled_from(ROLL_WIDTHS) | st.integers(500, 6000)


@given(st.data(), widest_widths, costs, st.booleans())
def test_never_falls_as_a_piece_grows(data: st.DataObject, widest: int, cost: UnitCost, core: bool) -> None:
    width, length = data.draw(st.integers(1, widest)), data.draw(lengths)
    wider, longer = data.draw(st.integers(width, widest)), data.draw(st.integers(length, 30_000))
    small = leftover_worth(Leftover(width, length, core, widest), cost)
    assert 0 <= small <= leftover_worth(Leftover(wider, length, core, widest), cost)
    assert small <= leftover_worth(Leftover(width, longer, core, widest), cost)


@pytest.mark.parametrize("widest", ROLL_WIDTHS)
def test_never_falls_millimetre_by_millimetre_across(widest: int) -> None:
    for length in (1000, 2999, 6000, 25_000):
        worths = [leftover_worth(loose(width, length, widest), COST_11_PER_M2) for width in range(1, widest + 1)]
        assert worths == sorted(worths)


@given(st.data(), widest_widths, costs, st.booleans())
def test_cutting_a_leftover_up_never_makes_it_worth_more(
    data: st.DataObject, widest: int, cost: UnitCost, core: bool
) -> None:
    width = data.draw(st.integers(1, widest))
    whole = Leftover(width, data.draw(lengths), core, widest)
    parts = list(guillotine(data, whole, depth=3))
    assert sum(part.width_mm * part.length_mm for part in parts) == whole.width_mm * whole.length_mm
    assert sum(leftover_worth(part, cost) for part in parts) <= leftover_worth(whole, cost)


@given(st.data(), st.integers(0, 5000))
def test_opening_a_roll_never_makes_it_worth_more(data: st.DataObject, cost_pence: int) -> None:
    roll = StockItem("R", "G", "B", StockForm.ROLL, 4000, 25_000, "", cost_pence)
    parts = guillotine(data, on_core(4000, 25_000), depth=3)
    assert sum(leftover_worth(part, UnitCost(cost_pence, 1_000_000)) for part in parts) <= stock_worth(roll, 4000)


def guillotine(data: st.DataObject, piece: Leftover, depth: int) -> list[Leftover]:
    """Cut at random: what comes off a roll is loose, its tail stays on the core; a loose piece is cut either way."""
    if depth == 0 or not data.draw(st.booleans()):
        return [piece]
    width, length, widest = piece.width_mm, piece.length_mm, piece.widest_mm
    if (piece.on_core or data.draw(st.booleans())) and length > 1:
        drop = data.draw(st.integers(1, length - 1))
        pair = [loose(width, drop, widest), Leftover(width, length - drop, piece.on_core, widest)]
    elif not piece.on_core and width > 1:
        lane = data.draw(st.integers(1, width - 1))
        pair = [loose(lane, length, widest), loose(width - lane, length, widest)]
    else:
        return [piece]
    return [part for half in pair for part in guillotine(data, half, depth - 1)]
