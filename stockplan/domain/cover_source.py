"""One thing to cut a small job from: lying in the yard, left over by a plan, or bought."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from stockplan.domain.pieces import Size
from stockplan.domain.pieces_cut import Remainder
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import UnitCost, stock_worth


@dataclass(frozen=True, slots=True)
class Source:
    """One thing to cut from.

    Parameters
    ----------
    key
        Its tag, that of what it will be left of, or for a purchase the supplier's name.
    product, batch
        Batch as it is matched.
    form, width_mm, length_mm
        How it lies or is sold.
    cost
        What its grass cost.
    touch_pence
        Worth of it as it lies, or its price: what it costs to take all of it.
    bay, condition
        Where it lies, and the word for it when it is not sound.
    from_day
        The day it can be cut from; for a purchase the day it comes. None for at once.
    """

    key: str
    product: str
    batch: str
    form: StockForm | SupplyForm
    width_mm: int
    length_mm: int
    cost: UnitCost
    touch_pence: int
    bay: str = ""
    condition: str = ""
    from_day: date | None = None

    @property
    def pence_per_mm2(self) -> float:
        """What its grass is worth as it lies; whatever is left of it is worth no more for its area."""
        return self.touch_pence / (self.width_mm * self.length_mm)

    def gives(self, size: Size) -> bool:
        """Whether a piece of this size fits."""
        return size[0] <= self.width_mm and size[1] <= self.length_mm

    def there_before(self, day: date | None) -> bool:
        """Whether it is there before a day; None for a day that is open."""
        return day is None or self.from_day is None or self.from_day < day

    @property
    def on_core(self) -> bool:
        """Whether its tail stays on a core."""
        return self.form in (StockForm.ROLL, StockForm.PART_ROLL, SupplyForm.ROLL)


def source_of(item: StockItem, widest_mm: int, condition: str = "", from_day: date | None = None) -> Source:
    """Take a stock item as something to cut from.

    Parameters
    ----------
    item
        The stock item.
    widest_mm
        Of the product's widest roll.
    condition
        A word such as wet; default sound.
    from_day
        The day on which it can be cut at first; default that on which it arrives, else at once.
    """
    return Source(
        item.tag,
        item.product,
        item.batch_key,
        item.form,
        item.width_mm,
        item.length_mm,
        UnitCost(item.cost_pence_per_m2, MM2_PER_M2),
        stock_worth(item, widest_mm),
        item.bay,
        condition,
        from_day or item.arrives_on,
    )


def purchase(option: SupplyOption, length_mm: int, today: date) -> Source:
    """Take a purchase ordered today as something to cut from.

    Parameters
    ----------
    option
        What is bought.
    length_mm
        How much of it; one of `option.lengths()`.
    today
        The day of ordering.
    """
    price = option.price_of(length_mm)
    return Source(
        option.supplier,
        option.product,
        NEW_BATCH,
        option.form,
        option.width_mm,
        length_mm,
        UnitCost(price, option.width_mm * length_mm),
        price,
        from_day=today + timedelta(days=option.lead_days),
    )


def left_of(source: Source, left: Remainder) -> Source:
    """Take something left over of a source, under its tag, as something to cut from."""
    return replace(
        source,
        form=StockForm.PART_ROLL if left.on_core else StockForm.OFFCUT,
        width_mm=left.width_mm,
        length_mm=left.length_mm,
        touch_pence=left.worth_pence,
    )
