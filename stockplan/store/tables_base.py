"""What every table of the store has in common: how constraints are named, how moments and amounts are kept."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import BigInteger, DateTime, Dialect, Integer, MetaData, Text
from sqlalchemy.orm import DeclarativeBase
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
        """Make ready to store.

        Raises
        ------
        ValueError
            When the moment has no time zone.
        """
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
