"""The firm's settings: looking at them, and setting one."""

from __future__ import annotations


def stored_settings(where: str | None) -> dict[str, str]:
    """Read what the firm has set, as text by name; what it has not set has its default.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_stored_settings  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        return read_stored_settings(session)


def set_setting(where: str | None, name: str, value: str) -> dict[str, str]:
    """Set one setting, and return everything the firm has set now.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    name, value
        The setting and its new value; `default` takes the firm's own value away.

    Raises
    ------
    SettingFaults
        When there is no such setting, or the value cannot stand; nothing is stored.
    StoreError
        When the store cannot be read or written.
    """
    from stockplan.domain.settings import changed_settings  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_stored_settings, write_settings  # noqa: PLC0415

    with open_store(where) as store, store.unit_of_work() as work:
        settings = changed_settings(read_stored_settings(work.session), name, value)
        write_settings(work, settings)
        work.commit()
    return settings
