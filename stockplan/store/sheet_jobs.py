"""The jobs sheet held against the calendar."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from stockplan.domain.jobs import Job
from stockplan.store.sheet_faults import FaultLog
from stockplan.store.sheet_rules import CheckedSheet

MOST_NAMED = 8  # of a schedule of past years; more rows would hide what else is told


def remark_passed(sheet: CheckedSheet, held: Iterable[Job], today: date, faults: FaultLog) -> None:
    """Remark on jobs laid on a day that has passed, which is no fault, but the slip of a year or a month may be.

    Parameters
    ----------
    sheet
        The jobs sheet.
    held
        What the store has: nothing is said of a job again that it has on the same day.
    today
        The day it is.
    faults
        Where to remark on them.
    """
    known = {(job.code, job.lay_on) for job in held}
    rows = sheet.frame[["job", "lay_on"]].dropna().itertuples(name=None)
    passed = [(row, code, lay_on) for row, code, lay_on in rows if lay_on < today and (code, lay_on) not in known]
    for row, code, lay_on in passed[:MOST_NAMED]:
        faults.remark(f"{sheet.raw.label}:{row}: lay_on: {lay_on} has passed; {code} is stored all the same")
    if more := len(passed[MOST_NAMED:]):
        jobs = "1 more job is" if more == 1 else f"{more:,} more jobs are"
        faults.remark(f"{sheet.raw.label}: {jobs} laid on a day that has passed")
