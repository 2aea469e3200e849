"""What every table of the store has in common: how constraints are named, how moments and amounts are kept."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, DateTime, Integer, MetaData, Text
from sqlalchemy.orm import DeclarativeBase

NAMING = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
}
Amount = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows by itself only where the type is INTEGER
Moment = DateTime(timezone=True)  # in UTC; written and read by plain SQL, see `as_moment`


class Base(DeclarativeBase):
    """Base of every table."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {str: Text, datetime: Moment}  # noqa: RUF012 - SQLAlchemy reads it from the class
