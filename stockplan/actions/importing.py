"""Taking spreadsheets into the store."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.actions.user import user
from stockplan.domain.stock import StockItem
from stockplan.domain.units import money, size
from stockplan.errors import SheetFaults, SurveyFaults

MOST_TOLD = 8  # things that a sheet corrects

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
    corrected = _corrected(known.stock if known is not None else (), contents.stock)
    return replace(summary, remarks=(*summary.remarks, *corrected, *again))


def _corrected(before: Iterable[StockItem], after: Iterable[StockItem]) -> list[str]:
    """Say of things in the yard what the sheets say otherwise: two things under one tag are taken for one."""
    held = {item.tag: item for item in before}
    changed = [(held[item.tag], item) for item in after if held.get(item.tag, item) != item]
    told = [f"{was.tag}: was {_facts(was, now)}; is {_facts(now, was)} now" for was, now in changed[:MOST_TOLD]]
    if more := len(changed[MOST_TOLD:]):
        told.append(f"… and {more:,} more things are other than before")
    return [*told, "A tag is one thing: another thing needs another tag."] if told else []


def _facts(item: StockItem, other: StockItem) -> str:
    """What can be put right of a thing, as far as it differs from another."""
    mine, others = (
        (
            f"{size(one.width_mm, one.length_mm)} m",
            f"bay {one.bay}" if one.bay else "in no bay",
            f"{money(one.cost_pence_per_m2)} per m²",
        )
        for one in (item, other)
    )
    return ", ".join(fact for fact, same in zip(mine, others, strict=True) if fact != same)


def fault_lines(faults: SheetFaults | SurveyFaults) -> str:
    """Print faults one a line, the first two hundred of them, and how many more there are."""
    from stockplan.store.sheet_faults import summarise_faults  # noqa: PLC0415

    return summarise_faults(faults)
