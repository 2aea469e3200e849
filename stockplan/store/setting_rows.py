"""The firm's settings as rows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from stockplan.domain.settings import FirmSettings, read_settings
from stockplan.errors import SettingFaults, StoreError
from stockplan.store.rows import Rows, Work, inserting, rows_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


def read_stored_settings(source: Session | Rows) -> dict[str, str]:
    """Read what the firm has set, as text by name."""
    return {name: value for name, value in rows_of(source).run("SELECT name, value FROM setting")}  # noqa: C416


def read_firm_settings(source: Session | Rows) -> FirmSettings:
    """Read every setting; defaults where the store says nothing.

    Raises
    ------
    StoreError
        When what is stored cannot be used.
    """
    try:
        return read_settings(read_stored_settings(source))
    except SettingFaults as faults:
        raise StoreError(f"{faults}; set it right with: stockplan settings NAME VALUE") from faults


def write_settings(work: Work, settings: Mapping[str, str]) -> None:
    """Write everything the firm has set; what is not among it has its default from now on."""
    work.rows.run("DELETE FROM setting")
    if settings:
        rows = [{"name": name, "value": value} for name, value in settings.items()]
        work.rows.run_each(inserting("setting", ("name", "value")), rows)
