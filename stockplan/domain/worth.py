"""What a leftover is worth, and why: keep it or bin it.

One rule behind one name, `leftover_worth`; it is the firm's own judgement (common practice), not a standard, and is
meant to be replaced by one learnt from the firm's record.

Worth is a share of what the grass cost per square metre:

- nothing below 0.5 m wide or 1 m long;
- full width: 0.75 at 1 m long, rising evenly to 0.90 at 3 m and staying there;
- narrower: (0.25 + 0.45·w / 4 m) · (0.6 + 0.4·min(l, 6 m) / 6 m), never more than full width of that length;
- an unopened roll is worth its price.

The share never falls as a piece grows, so cutting something up never raises its worth and an untouched item is never
worth opening for its own sake. Amounts are rounded down to the penny, which keeps that true of whole pence.
"""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.units import MM2_PER_M2, metres

LEAST_WIDTH_MM = 500
LEAST_LENGTH_MM = 1000
FULL_WIDTH_PERCENT = 98  # a roll may measure 397 for 400 cm and still be full width (common practice)


@dataclass(frozen=True, slots=True)
class UnitCost:
    """What a piece of grass cost, as pence for an area, so that no rounding enters before the end.

    Parameters
    ----------
    pence
        Price paid; 0 or more.
    area_mm2
        For this many square millimetres; positive.
    """

    pence: int
    area_mm2: int


@dataclass(frozen=True, slots=True)
class Leftover:
    """The shape of something left after cutting.

    Parameters
    ----------
    width_mm, length_mm
        Across and along the pile.
    on_core
        Whether it stays on its roll at the roll's full width.
    widest_mm
        Width of the product's widest roll: what counts as full width for a loose piece.
    """

    width_mm: int
    length_mm: int
    on_core: bool
    widest_mm: int

    @property
    def full_width(self) -> bool:
        """Whether it counts as full width."""
        return self.on_core or self.width_mm * 100 >= self.widest_mm * FULL_WIDTH_PERCENT


def leftover_worth(leftover: Leftover, cost: UnitCost) -> int:
    """Worth of a leftover in pence, rounded down.

    Parameters
    ----------
    leftover
        Its shape.
    cost
        What the grass cost.
    """
    if not big_enough(leftover):
        return 0
    width, length = leftover.width_mm, leftover.length_mm
    whole = 80_000 * 15_000
    share = 1200 * (675_000 + 75 * min(length, 3000))
    if not leftover.full_width:
        share = min(share, (20_000 + 9 * width) * (9000 + min(length, 6000)))
    return cost.pence * width * length * share // (cost.area_mm2 * whole)


def big_enough(leftover: Leftover) -> bool:
    """Whether a leftover is kept: a matter of size alone, whatever the grass cost."""
    return leftover.width_mm >= LEAST_WIDTH_MM and leftover.length_mm >= LEAST_LENGTH_MM


def stock_worth(item: StockItem, widest_mm: int) -> int:
    """Worth in pence of a stock item as it lies: a roll its price, anything else what it would be worth as a leftover.

    Parameters
    ----------
    item
        The stock item.
    widest_mm
        Width of the product's widest roll, mm.
    """
    cost = UnitCost(item.cost_pence_per_m2, MM2_PER_M2)
    if item.form is StockForm.ROLL:
        return cost.pence * item.area_mm2 // cost.area_mm2
    on_core = item.form is StockForm.PART_ROLL
    return leftover_worth(Leftover(item.width_mm, item.length_mm, on_core, widest_mm), cost)


def keep_reason(leftover: Leftover) -> str:
    """Say in a few words why a leftover is kept or binned."""
    width, length = leftover.width_mm, leftover.length_mm
    if width < LEAST_WIDTH_MM:
        return f"bin: {metres(width)} m across is under {metres(LEAST_WIDTH_MM)} m"
    if length < LEAST_LENGTH_MM:
        return f"bin: {metres(length)} m along is under {metres(LEAST_LENGTH_MM)} m"
    if leftover.on_core:
        return "keep: stays on its roll, full width"
    if leftover.full_width:
        return "keep: full width"
    return f"keep: {metres(width)} m across, for narrow strips and small jobs"
