"""The store's tables. The ledger, `movement`, is append-only; the stock and all that is gone are derived from it.

Every length is in millimetres and every amount in pence, as everywhere inside the program. What a migration made and
what stands here must agree; a test compares them.
"""

from __future__ import annotations

from datetime import UTC, date, datetime

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    DateTime,
    Dialect,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

NAMING = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
}
Amount = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows by itself only where the type is INTEGER


class Moment(TypeDecorator[datetime]):
    """A moment in UTC; SQLite keeps no time zone, so it is taken off on the way in and put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Make ready to store."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no time zone; moments are stored in UTC")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Make ready to use."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """Base of every table."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {str: Text, datetime: Moment}  # noqa: RUF012 - SQLAlchemy reads it from the class


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


class JobRow(Base):
    """One job in the schedule; `pile` is its wish in words, empty for common practice."""

    __tablename__ = "job"
    __table_args__ = (Index(None, "lay_on"), CheckConstraint("batch_rule IN ('one', 'any')", name="batch_rule_known"))

    code: Mapped[str] = mapped_column(primary_key=True)
    site: Mapped[str]
    product: Mapped[str] = mapped_column(ForeignKey("product.code"))
    lay_on: Mapped[date]
    pile_towards: Mapped[str]
    batch_rule: Mapped[str]
    pile: Mapped[str] = mapped_column(server_default="")


class StripRow(Base):
    """One size of piece a job needs; `position` keeps the order in which they were given."""

    __tablename__ = "strip"
    __table_args__ = (CheckConstraint("width_mm > 0 AND length_mm > 0 AND count > 0", name="sizes_sound"),)

    job: Mapped[str] = mapped_column(ForeignKey("job.code", ondelete="CASCADE"), primary_key=True)
    label: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[int]
    width_mm: Mapped[int]
    length_mm: Mapped[int]
    count: Mapped[int]


class LawnRow(Base):
    """One measured lawn of a job.

    `y_bearing` is in thousandths of a degree, NULL where north is not known; `pile` a wish in words, empty for none.
    """

    __tablename__ = "lawn"
    __table_args__ = (
        CheckConstraint("place IN ('back', 'front', 'other')", name="place_known"),
        CheckConstraint("y_bearing >= 0 AND y_bearing < 360000", name="y_bearing_in_circle"),
    )

    job: Mapped[str] = mapped_column(ForeignKey("job.code", ondelete="CASCADE"), primary_key=True)
    label: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[int]
    place: Mapped[str]
    y_bearing: Mapped[int | None]
    pile: Mapped[str]
    unseen_from_json: Mapped[str]


class LawnCornerRow(Base):
    """One corner of a lawn: ring 0 is its edge, the others are holes; name and rule are of the side beginning here."""

    __tablename__ = "lawn_corner"
    __table_args__ = (ForeignKeyConstraint(["job", "lawn"], ["lawn.job", "lawn.label"], ondelete="CASCADE"),)

    job: Mapped[str] = mapped_column(primary_key=True)
    lawn: Mapped[str] = mapped_column(primary_key=True)
    ring: Mapped[int] = mapped_column(primary_key=True)
    corner: Mapped[int] = mapped_column(primary_key=True)
    x_mm: Mapped[int]
    y_mm: Mapped[int]
    edge_name: Mapped[str]
    no_seam: Mapped[bool]


class SettingRow(Base):
    """One setting of the firm; absent means the program's default."""

    __tablename__ = "setting"

    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]


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


class PinRow(Base):
    """A person's word that a job is cut from a stock item; whether that is still possible is asked when it is used."""

    __tablename__ = "pin"

    job: Mapped[str] = mapped_column(primary_key=True)
    source: Mapped[str] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    who: Mapped[str]
