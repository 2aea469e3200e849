"""Taking spreadsheets into the store."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.actions.user import user
from stockplan.errors import SheetFaults, SurveyFaults

if TYPE_CHECKING:
    from stockplan.store.importing import ImportSummary


def import_sheets(
    where: str | None, sheets: Path, *, large_is_right: bool = False, today: date | None = None
) -> ImportSummary:
    """Bring the store to what a folder of CSV files or a workbook says; the same sheets again change nothing.

    Parameters
    ----------
    where
        The store, made when there is none; see `locate_store`.
    sheets
        Folder or .xlsx file.
    large_is_right
        Whether very large lawns in it are meant.
    today
        The day it is; new jobs laid before it are told as remarks. Default none are.

    Raises
    ------
    SheetFaults
        When anything in the sheets is wrong, or does not agree with the store; nothing is stored.
    StoreError
        When the store cannot be opened or written.
    """
    from stockplan.actions.counting_again import count_again  # noqa: PLC0415
    from stockplan.actions.judging import outline_judge  # noqa: PLC0415
    from stockplan.store.connecting import store_exists  # noqa: PLC0415
    from stockplan.store.importing import import_contents, read_contents  # noqa: PLC0415
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.sheets import read_folder  # noqa: PLC0415

    known = None
    if store_exists(where):
        with open_store(where, create=True) as store, store.reading() as session:  # a server's database may be empty
            known = read_contents(session)
    contents = read_folder(sheets, known, outline_judge(where, large_is_right=large_is_right), today)
    with open_store(where, create=True) as store, store.unit_of_work() as work:
        summary = import_contents(work, contents, user())
        jobs = read_jobs(work.session, codes=[job.code for job in contents.jobs])
        again = count_again(work.session, known.jobs if known is not None else (), jobs)
        work.commit()
    return replace(summary, remarks=(*summary.remarks, *again))


def fault_lines(faults: SheetFaults | SurveyFaults) -> str:
    """Print faults one a line, the first two hundred of them, and how many more there are."""
    from stockplan.store.sheet_faults import summarise_faults  # noqa: PLC0415

    return summarise_faults(faults)
