"""The firm's settings as rows."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from stockplan.domain.settings import FirmSettings, read_settings
from stockplan.errors import SettingFaults, StoreError
from stockplan.store.session import UnitOfWork
from stockplan.store.tables import SettingRow


def read_stored_settings(session: Session) -> dict[str, str]:
    """Read what the firm has set, as text by name."""
    return {row.name: row.value for row in session.execute(select(SettingRow.name, SettingRow.value))}


def read_firm_settings(session: Session) -> FirmSettings:
    """Read every setting; defaults where the store says nothing.

    Raises
    ------
    StoreError
        When what is stored cannot be used.
    """
    try:
        return read_settings(read_stored_settings(session))
    except SettingFaults as faults:
        raise StoreError(f"{faults}; set it right with: stockplan settings NAME VALUE") from faults


def write_settings(unit_of_work: UnitOfWork, settings: Mapping[str, str]) -> None:
    """Write everything the firm has set; what is not among it has its default from now on."""
    unit_of_work.session.execute(delete(SettingRow))
    unit_of_work.session.add_all(SettingRow(name=name, value=value) for name, value in settings.items())
    unit_of_work.session.flush()
