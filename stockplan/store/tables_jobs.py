"""Tables of the schedule: jobs with their strips, lawns and pins."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, ForeignKeyConstraint, Index
from sqlalchemy.orm import Mapped, mapped_column

from stockplan.store.tables_base import Base


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


class PinRow(Base):
    """A person's word that a job is cut from a stock item; whether that is still possible is asked when it is used."""

    __tablename__ = "pin"

    job: Mapped[str] = mapped_column(primary_key=True)
    source: Mapped[str] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    who: Mapped[str]
