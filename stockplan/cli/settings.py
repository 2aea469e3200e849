"""The command for the firm's settings."""

from __future__ import annotations

from typing import Annotated

import typer

from stockplan.cli.options import JsonFlag, StoreOption
from stockplan.cli.saying import say


def settings(
    context: typer.Context,
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="The setting to set.", show_default=False)] = None,
    value: Annotated[
        str | None, typer.Argument(help="Its new value, or: default.", show_default=False, metavar="VALUE")
    ] = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """List the firm's settings with their defaults and reasons, or set one."""
    from stockplan.actions.settings import set_setting, stored_settings  # noqa: PLC0415
    from stockplan.domain.settings import setting_faults  # noqa: PLC0415
    from stockplan.report.settings import settings_json, settings_list  # noqa: PLC0415

    if (name is None) != (value is None):
        raise typer.BadParameter("name the setting and its new value, such as: fixing_spacing_mm 150")
    where = store or context.obj
    if name is not None and value is not None:
        stored = set_setting(where, name, value)
        now = f"is {stored[name]} now" if name in stored else "has its default again"
        print(f"{name} {now}.")
        return
    stored = stored_settings(where)
    print(settings_json(stored) if as_json else settings_list(stored), end="" if as_json else "\n")
    for fault in setting_faults(stored):
        say(f"In the store: {fault}")
