"""The demo: an invented firm's fortnight, from spreadsheets to drawings, in a folder of its own."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan import resources
from stockplan.actions.drawings import write_drawings
from stockplan.actions.files import write_text
from stockplan.actions.importing import import_sheets
from stockplan.actions.planning import ShownPlan, make_plan
from stockplan.domain.jobs import Window
from stockplan.domain.request import Progress, SearchLimits
from stockplan.errors import StockplanError, StoreError

if TYPE_CHECKING:
    from stockplan.actions.engines import Planner

TODAY = date(2026, 11, 26)
WINDOW = Window(date(2026, 11, 30), date(2026, 12, 11))
MADE = ("sheets", "plan.json", "plan-*.svg")  # beside the store


@dataclass(frozen=True, slots=True)
class Demo:
    """What the demo made.

    Parameters
    ----------
    shown
        The plan.
    sheets, store, plan_file
        Where the spreadsheets, the store and the plan file are.
    drawings
        Where the drawings are, in order of product.
    """

    shown: ShownPlan
    sheets: Path
    store: Path
    plan_file: Path
    drawings: list[Path]


def run_demo(
    folder: Path | None,
    limits: SearchLimits,
    progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    planner: Planner | None = None,
) -> Demo:
    """Make a fresh store, import the demo's spreadsheets, plan, and write the plan file and the drawings.

    Parameters
    ----------
    folder
        Where to; made when it is not there. Default: a new temporary folder.
    limits, progress, should_stop, planner
        As for `make_plan`.

    Raises
    ------
    StoreError
        When the folder already holds a store.
    StockplanError
        When the folder holds something else that would be overwritten, or something cannot be written.
    """
    place = _prepared(folder)
    store, sheets = place / "stockplan.db", place / "sheets"
    sheets.mkdir(exist_ok=True)
    for sheet in sorted(resources.demo_folder().glob("*.csv")):
        shutil.copyfile(sheet, sheets / sheet.name)
    import_sheets(str(store), sheets)
    shown = make_plan(str(store), WINDOW, TODAY, limits, progress, should_stop, planner=planner)
    plan_file = place / "plan.json"
    write_text(plan_file, shown.text)
    return Demo(shown, sheets, store, plan_file, write_drawings(shown, place / "plan.svg"))


def _prepared(folder: Path | None) -> Path:
    try:
        if folder is None:
            return Path(tempfile.mkdtemp(prefix="stockplan-demo-"))
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StockplanError(f"the folder {folder} cannot be used: {error.strerror}") from error
    if (folder / "stockplan.db").exists():
        raise StoreError(f"{folder} already holds a store, {folder / 'stockplan.db'}; name another folder for the demo")
    for taken in (found for name in MADE for found in folder.glob(name)):
        raise StockplanError(f"{taken} is there already and would be overwritten; name another folder for the demo")
    return folder
