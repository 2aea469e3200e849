"""Orders from draft to delivery: one line is one roll or cut length to buy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.stock import StockForm, StockItem, SupplyForm
from stockplan.domain.units import MM2_PER_M2


class OrderState(StrEnum):
    """How far an order has come."""

    DRAFT = "draft"
    ORDERED = "ordered"
    RECEIVED = "received"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One roll or cut length to buy, or bought.

    Parameters
    ----------
    key
        Unique in the store; see `line_key`.
    plan
        Number of the accepted plan it is for; None when the plan that wanted it has given it up.
    plan_key
        How that plan names it among its sources.
    product, supplier, form, width_mm, length_mm, price_pence
        What is bought, as in `Order`.
    order_by, arrives_on
        The last day to order, and the day it is due.
    state
        See `OrderState`.
    batch
        The batch in which all came that has come yet of what its plan ordered of its product from its supplier; empty
        when nothing has, or not all in one.
    """

    key: str
    plan: int | None
    plan_key: str
    product: str
    supplier: str
    form: SupplyForm
    width_mm: int
    length_mm: int
    price_pence: int
    order_by: date
    arrives_on: date
    state: OrderState
    batch: str = ""

    @property
    def coming(self) -> bool:
        """Whether it is still to come in: drafted, or ordered."""
        return self.state in (OrderState.DRAFT, OrderState.ORDERED)

    @property
    def cost_pence_per_m2(self) -> int:
        """What a square metre of it costs, rounded half up to the penny."""
        area = self.width_mm * self.length_mm
        return (2 * self.price_pence * MM2_PER_M2 + area) // (2 * area)

    def earliest(self, today: date) -> date:
        """Say on which day it can be here at best: what is overdue comes today, what is ordered late as much later.

        Parameters
        ----------
        today
            The day it is asked; it has not come in by then, and a draft has not been ordered.
        """
        lead = self.arrives_on - self.order_by if self.state is OrderState.DRAFT else timedelta(0)
        return max(self.arrives_on, today + lead)

    def as_stock(self, today: date | None = None) -> StockItem:
        """Give it as something to cut from once it has come, tagged with its key.

        It was asked for in one batch with the rest of its order: that of what has come of it, else one of its own.

        Parameters
        ----------
        today
            The day it is asked, so that what is overdue is no longer expected on its day; default the day it is due.
        """
        return StockItem(
            tag=self.key,
            product=self.product,
            batch=self.batch or batch_on_its_way(self.key),
            form=received_form(self.form),
            width_mm=self.width_mm,
            length_mm=self.length_mm,
            bay="",
            cost_pence_per_m2=self.cost_pence_per_m2,
            arrives_on=self.arrives_on if today is None else self.earliest(today),
        )


def line_key(plan: int, order_key: str) -> str:
    """Name an order for the whole store: `new-2` of plan 12 becomes `P12-2`."""
    return f"P{plan}-{order_key.removeprefix(NEW_BATCH + '-')}"


def batch_on_its_way(key: str) -> str:
    """Name the batch of what is not yet here: what one plan orders of a product is asked for in one batch."""
    return f"{NEW_BATCH} (plan {key[1:].partition('-')[0]})"


def received_form(form: SupplyForm) -> StockForm:
    """Say how what is bought lies in the yard: a cut length comes without a core, so that its tail is a loose piece."""
    return StockForm.ROLL if form is SupplyForm.ROLL else StockForm.OFFCUT
