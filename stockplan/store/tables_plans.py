"""Tables of plans, of what became of them, and of what they order."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from stockplan.store.tables_base import Amount, Base


class StoredPlanRow(Base):
    """One plan as it was made, with the whole plan file."""

    __tablename__ = "stored_plan"

    number: Mapped[int] = mapped_column(Amount, primary_key=True, autoincrement=False)
    made_at: Mapped[datetime]
    window_first: Mapped[date]
    window_last: Mapped[date]
    today: Mapped[date]
    net_cost_pence: Mapped[int] = mapped_column(Amount)
    lower_bound_pence: Mapped[int] = mapped_column(Amount)
    plan_json: Mapped[str]


class PlanStateRow(Base):
    """When a stored plan became accepted, done or withdrawn, and by whose hand; one without a row is only proposed."""

    __tablename__ = "plan_state"
    __table_args__ = (CheckConstraint("state IN ('proposed', 'accepted', 'done', 'withdrawn')", name="state_known"),)

    plan: Mapped[int] = mapped_column(Amount, ForeignKey("stored_plan.number"), primary_key=True)
    state: Mapped[str] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    who: Mapped[str]


class OrderLineRow(Base):
    """One roll or cut length to buy: drafted by an accepted plan, ordered, received or cancelled.

    `plan_key` is how the plan names it; `order_by` the last day to order and `arrives_on` the day it is due.
    """

    __tablename__ = "order_line"
    __table_args__ = (
        Index(None, "plan"),
        Index(None, "state"),
        CheckConstraint("form IN ('roll', 'cut_length')", name="form_known"),
        CheckConstraint("state IN ('draft', 'ordered', 'received', 'cancelled')", name="state_known"),
        CheckConstraint("width_mm > 0 AND length_mm > 0 AND price_pence >= 0", name="sizes_sound"),
    )

    key: Mapped[str] = mapped_column(primary_key=True)
    plan: Mapped[int | None] = mapped_column(Amount, ForeignKey("stored_plan.number"))
    plan_key: Mapped[str]
    product: Mapped[str] = mapped_column(ForeignKey("product.code"))
    supplier: Mapped[str]
    form: Mapped[str]
    width_mm: Mapped[int]
    length_mm: Mapped[int]
    price_pence: Mapped[int] = mapped_column(Amount)
    order_by: Mapped[date]
    arrives_on: Mapped[date]
    state: Mapped[str]
    ordered_on: Mapped[date | None]
    received_on: Mapped[date | None]


class OrderReceiptRow(Base):
    """A tag under which something of an order came into the yard."""

    __tablename__ = "order_receipt"
    __table_args__ = (Index(None, "order_key"),)

    tag: Mapped[str] = mapped_column(primary_key=True)
    order_key: Mapped[str] = mapped_column(ForeignKey("order_line.key"))
