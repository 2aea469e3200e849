"""Tables of what can be bought, of what lies in the yard and of the firm's settings.

The ledger, `movement`, is append-only; the stock and all that is gone are derived from it.
"""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from stockplan.store.tables_base import Amount, Base


class ProductRow(Base):
    """One grass."""

    __tablename__ = "product"
    __table_args__ = (CheckConstraint("weight_g_m2 > 0", name="weight_positive"),)

    code: Mapped[str] = mapped_column(primary_key=True)
    description: Mapped[str]
    weight_g_m2: Mapped[int]


class SupplyOptionRow(Base):
    """One way to buy a product; the price is the only thing an offer can change without being another offer."""

    __tablename__ = "supply_option"
    __table_args__ = (
        CheckConstraint("form IN ('roll', 'cut_length')", name="form_known"),
        CheckConstraint("width_mm > 0 AND length_mm > 0 AND price_pence >= 0 AND lead_days >= 0", name="sizes_sound"),
    )

    product: Mapped[str] = mapped_column(ForeignKey("product.code"), primary_key=True)
    supplier: Mapped[str] = mapped_column(primary_key=True)
    form: Mapped[str] = mapped_column(primary_key=True)
    width_mm: Mapped[int] = mapped_column(primary_key=True)
    length_mm: Mapped[int] = mapped_column(primary_key=True)
    lead_days: Mapped[int] = mapped_column(primary_key=True)
    price_pence: Mapped[int] = mapped_column(Amount)


class MovementRow(Base):
    """One line of the ledger; triggers refuse to change or remove it.

    `reverses` is the number of the movement it undoes; none can be undone twice.
    """

    __tablename__ = "movement"
    __table_args__ = (
        Index(None, "tag"),
        Index(None, "parent"),
        Index(None, "plan"),
        Index(None, "reverses", unique=True),
        CheckConstraint("number > 0", name="number_positive"),
    )

    number: Mapped[int] = mapped_column(Amount, primary_key=True, autoincrement=False)
    at: Mapped[datetime]
    who: Mapped[str]
    kind: Mapped[str]
    tag: Mapped[str]
    why: Mapped[str]
    values_json: Mapped[str]
    plan: Mapped[int | None] = mapped_column(Amount)
    parent: Mapped[str | None]
    reverses: Mapped[int | None] = mapped_column(Amount)


class StockItemRow(Base):
    """One thing in the yard, as the ledger has it.

    `plan` is the one it is reserved for, `quote` and `held_until` whom it is held for and the last day of that,
    `condition` nothing when sound, `latest` the number of its last movement.
    """

    __tablename__ = "stock_item"
    __table_args__ = (
        Index(None, "product"),
        Index(None, "bay"),
        Index(None, "plan"),
        Index(None, "last_seen"),
        CheckConstraint("form IN ('roll', 'part_roll', 'offcut')", name="form_known"),
        CheckConstraint("width_mm > 0 AND length_mm > 0 AND cost_pence_per_m2 >= 0", name="sizes_sound"),
        CheckConstraint("(quote IS NULL) = (held_until IS NULL)", name="hold_whole"),
    )

    tag: Mapped[str] = mapped_column(primary_key=True)
    product: Mapped[str] = mapped_column(ForeignKey("product.code"))
    batch: Mapped[str]
    form: Mapped[str]
    width_mm: Mapped[int]
    length_mm: Mapped[int]
    bay: Mapped[str]
    cost_pence_per_m2: Mapped[int] = mapped_column(Amount)
    plan: Mapped[int | None] = mapped_column(Amount)
    quote: Mapped[str | None]
    held_until: Mapped[date | None]
    condition: Mapped[str | None]
    last_seen: Mapped[date | None]
    since: Mapped[date | None]
    parent: Mapped[str | None]
    latest: Mapped[int] = mapped_column(Amount)


class GoneItemRow(Base):
    """One thing that has left the yard, as it was then; derived from the ledger like `stock_item`."""

    __tablename__ = "gone_item"
    __table_args__ = (CheckConstraint("how IN ('cut', 'written_off')", name="how_known"),)

    tag: Mapped[str] = mapped_column(primary_key=True)
    product: Mapped[str] = mapped_column(ForeignKey("product.code"))
    batch: Mapped[str]
    form: Mapped[str]
    width_mm: Mapped[int]
    length_mm: Mapped[int]
    bay: Mapped[str]
    cost_pence_per_m2: Mapped[int] = mapped_column(Amount)
    how: Mapped[str]
    plan: Mapped[int | None] = mapped_column(Amount)
    returned_mm2: Mapped[int] = mapped_column(Amount)
    binned_mm2: Mapped[int] = mapped_column(Amount)
    parent: Mapped[str | None]
    latest: Mapped[int] = mapped_column(Amount)


class PieceCutRow(Base):
    """One piece that was cut, spoiled or not, in the order the cut gave them; derived from the ledger."""

    __tablename__ = "piece_cut"
    __table_args__ = (Index(None, "job"),)

    source: Mapped[str] = mapped_column(ForeignKey("gone_item.tag", ondelete="CASCADE"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    job: Mapped[str]
    strip: Mapped[str]
    number: Mapped[int]
    width_mm: Mapped[int]
    length_mm: Mapped[int]
    spoiled: Mapped[bool]


class YardAccountRow(Base):
    """The account of area and money, one row; derived from the ledger.

    Areas in square millimetres, values in millionths of a penny, as in `Account`.
    """

    __tablename__ = "yard_account"
    __table_args__ = (CheckConstraint("number = 1", name="one_row"),)

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    area_in_mm2: Mapped[int] = mapped_column(Amount)
    area_used_mm2: Mapped[int] = mapped_column(Amount)
    area_written_off_mm2: Mapped[int] = mapped_column(Amount)
    value_in: Mapped[int] = mapped_column(Amount)
    value_used: Mapped[int] = mapped_column(Amount)
    value_written_off: Mapped[int] = mapped_column(Amount)


class SettingRow(Base):
    """One setting of the firm; absent means the program's default."""

    __tablename__ = "setting"

    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]
