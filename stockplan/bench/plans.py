"""Plans of generated weeks, measured: cost against the foreman's, gap, times and memory; saved and read back."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import fmean

from rich.table import Table

from stockplan import __version__
from stockplan.bench.memory import BYTES_PER_MIB
from stockplan.bench.timing import Outcome, time_plan
from stockplan.domain.plan import PlanStatus
from stockplan.domain.units import money

FORMAT, VERSION = "stockplan-bench-weeks", 1
MISSING = "-"

Week = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Limits:
    """What weeks are of, and how long each may be looked at.

    Parameters
    ----------
    seconds
        Clock guard; positive.
    work
        Work limit for each product; None sets none.
    workers
        Processes that plan products side by side; 1 plans in one.
    lawns
        Whether every job is a lawn that may be laid in several ways; default strips.
    yard
        Size of the week whose yard the jobs are cut from; default their own.
    """

    seconds: float
    work: int | None = None
    workers: int = 1
    lawns: bool = False
    yard: str | None = None

    def words(self) -> str:
        """The limits in a few words."""
        work = f", {self.work} work units" if self.work is not None else ""
        of = ("lawns, " if self.lawns else "") + (f"yard of {self.yard}, " if self.yard else "")
        return f"{of}{self.seconds:g} s{work}" + (f", {self.workers} workers" if self.workers > 1 else "")

    def arguments(self) -> list[str]:
        """The limits as arguments of `stockplan.bench.fresh`."""
        work = [] if self.work is None else ["--work", str(self.work)]
        workers = [] if self.workers == 1 else ["--workers", str(self.workers)]  # older commits do not know it
        of = [*(["--lawns"] if self.lawns else []), *(["--yard", self.yard] if self.yard else [])]
        return ["--seconds", str(self.seconds), *work, *workers, *of]


@dataclass(frozen=True, slots=True)
class WeeksRun:
    """Outcomes of some weeks under the same limits.

    Parameters
    ----------
    limits
        What each was given.
    machine
        Python, system and processors, in a few words.
    outcomes
        By size and seed.
    """

    limits: Limits
    machine: str
    outcomes: dict[Week, Outcome]


def machine_words() -> str:
    """Say in a few words what this is measured on."""
    count = os.cpu_count()
    return f"Python {platform.python_version()}, {platform.system()} {platform.machine()}, {count} processors"


def plan_week(week: Week, limits: Limits, checkout: Path | None = None) -> Outcome:
    """Plan one generated week in a fresh process, by the source in a folder where one is named.

    Raises
    ------
    RuntimeError
        When the process fails.
    """
    size, seed = week
    return time_plan(["--week", size, "--seed", str(seed), *limits.arguments()], checkout)


def save(run: WeeksRun, path: Path) -> None:
    """Write a run as JSON."""
    document = {
        "format": FORMAT,
        "version": VERSION,
        "program": __version__,
        "machine": run.machine,
        "limits": asdict(run.limits),
        "weeks": [{"size": size, "seed": seed, **asdict(found)} for (size, seed), found in run.outcomes.items()],
    }
    path.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def load(path: Path) -> WeeksRun:
    """Read a run saved before.

    Raises
    ------
    ValueError
        When the file is not such a run.
    """
    document = json.loads(path.read_text(encoding="utf-8"))
    if not isinstance(document, dict) or (document.get("format"), document.get("version")) != (FORMAT, VERSION):
        raise ValueError(f"{path} is no run of weeks saved by this version of the program")
    outcomes = {}
    for record in document["weeks"]:
        size, seed = record.pop("size"), record.pop("seed")
        outcomes[size, seed] = Outcome(**{**record, "violations": tuple(record["violations"])})
    return WeeksRun(Limits(**document["limits"]), document["machine"], outcomes)


def weeks_table(run: WeeksRun) -> Table:
    """Lay a run out, a week a row; money in whole currency and pence, times in seconds."""
    table = Table(title=f"Generated weeks, {run.limits.words()} each, {run.machine}")
    columns = (
        "week,pieces,items,foreman,plan,saving %,bound,gap %,status,short,"
        "first plan s,within 2 % s,within 1 % s,total s,peak MiB,violations"
    )
    for heading in columns.split(","):
        table.add_column(heading, justify="left" if heading in {"week", "status"} else "right")
    for (size, seed), found in run.outcomes.items():
        table.add_row(f"{size}{seed}", *_cells(found))
    if run.outcomes:
        table.caption = _caption(list(run.outcomes.values()))
    return table


def _caption(found: Sequence[Outcome]) -> str:
    proven = sum(one.status == PlanStatus.OPTIMAL for one in found)
    worst, mean = max(one.gap for one in found), fmean(one.gap for one in found)
    late, fat = max(one.first_plan for one in found), max(one.peak_bytes or 0 for one in found)
    return (
        f"{proven} of {len(found)} proven best; gap {percent(mean)} % on average, {percent(worst)} % at worst; "
        f"first plan after {late:.1f} s at the latest; {mebibytes(fat or None)} MiB at most"
    )


def _cells(found: Outcome) -> tuple[str, ...]:
    return (
        str(found.pieces),
        str(found.items),
        MISSING if found.foreman is None else money(found.foreman),
        money(found.cost),
        percent(found.saving),
        money(found.bound),
        percent(found.gap),
        found.status,
        str(found.short),
        seconds_text(found.first_plan),
        seconds_text(found.rather_near),
        seconds_text(found.near_bound),
        seconds_text(found.seconds),
        mebibytes(found.peak_bytes),
        str(len(found.violations)),
    )


def percent(share: float | None) -> str:
    """Print a share in per cent with two decimals."""
    return MISSING if share is None else f"{100 * share:.2f}"


def seconds_text(seconds: float | None) -> str:
    """Print seconds with one decimal."""
    return MISSING if seconds is None else f"{seconds:.1f}"


def mebibytes(size: int | None) -> str:
    """Print bytes as whole MiB."""
    return MISSING if size is None else f"{size / BYTES_PER_MIB:.0f}"
