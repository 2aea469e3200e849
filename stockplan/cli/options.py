"""What people type after a command's name, and how it is read."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from stockplan.domain.units import parse_length
from stockplan.errors import UnitError

MOST_NUMBER = 10**9  # of plans, movements and the like; more would be a slip of the finger
OTHER_ENDINGS = (".csv", ".htm", ".html", ".jpeg", ".jpg", ".json", ".pdf", ".png", ".svg", ".xlsx")


FIRST_DAY, LAST_DAY = date(1970, 1, 1), date(2999, 12, 31)  # others are slips, such as 0226 for 2026


def read_date(text: str) -> date:
    """Read a date such as 2026-11-30."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a date; write year-month-day, such as 2026-11-30") from None
    if not FIRST_DAY <= found <= LAST_DAY:
        raise typer.BadParameter(f"{text!r} will not do; write a day from {FIRST_DAY} to {LAST_DAY}")
    return found


@dataclass(frozen=True, slots=True)
class LeastSize:
    """At least so much across and along the pile, mm."""

    width_mm: int = 0
    length_mm: int = 0


def read_size(text: str) -> LeastSize:
    """Read a size such as 1.8x3.0: across by along the pile, in metres."""
    parts = re.split(r"\s*[x×]\s*", text.strip().lower())
    if len(parts) != 2:
        raise typer.BadParameter(f"{text!r} is not a size; write across x along in metres, such as 1.8x3.0")
    try:
        width_mm, length_mm = map(parse_length, parts)
    except UnitError as error:
        raise typer.BadParameter(str(error)) from error
    return LeastSize(width_mm, length_mm)


def whole(least: int, most: int = MOST_NUMBER) -> Callable[[str | int], int]:
    """Make a reader of whole numbers.

    Parameters
    ----------
    least, most
        Bounds, both allowed; by default at most a thousand million.
    """

    def read_whole(text: str | int) -> int:
        found = int(text) if re.fullmatch(r"\s*[+-]?[0-9]{1,18}\s*", str(text)) else None
        if found is None or not least <= found <= most:
            raise typer.BadParameter(f"{text!r} will not do; write a whole number from {least:,} to {most:,}")
        return found

    return read_whole


def file_named(ending: str) -> Callable[[str | Path], Path]:
    """Make a reader of names of files to write, which refuses one that says the file is of another kind.

    Only JSON may go to standard output, as `-`.

    Parameters
    ----------
    ending
        How the name of such a file ends, such as `.svg`.
    """

    def read_name(text: str | Path) -> Path:
        path = Path(text)
        if str(path) == "-" and ending != ".json":
            raise typer.BadParameter(
                f"'-' will not do: {ending[1:].upper()} goes to a file; name it, such as 'a{ending}'"
            )
        if not path.name:
            raise typer.BadParameter(f"{str(text)!r} names no file; write a name such as 'a{ending}'")
        if path.suffix.casefold() in OTHER_ENDINGS and path.suffix.casefold() != ending:
            kind, right = ending[1:].upper(), path.with_suffix(ending)
            raise typer.BadParameter(f"'{path}' will not do: what is written is {kind}; name it '{right}'")
        return path

    return read_name


def with_decimals(least: float) -> Callable[[str | float], float]:
    """Make a reader of numbers that may have decimals.

    Parameters
    ----------
    least
        The lower bound, itself allowed.
    """

    def read_number(text: str | float) -> float:
        found = float(text) if re.fullmatch(r"\s*\+?([0-9]{1,9}(\.[0-9]*)?|\.[0-9]+)\s*", str(text)) else None
        if found is None or found < least:
            raise typer.BadParameter(f"{text!r} will not do; write a number such as 2.5, {least:g} or more")
        return found

    return read_number


StoreOption = Annotated[
    str | None,
    typer.Option(
        "--store",
        metavar="FILE|URL",
        help="The store: a file, or the URL of a PostgreSQL database. Default: STOCKPLAN_STORE, else your own store.",
        show_default=False,
    ),
]
FromOption = Annotated[
    date | None, typer.Option("--from", metavar="DATE", parser=read_date, help="First day.", show_default=False)
]
ToOption = Annotated[
    date | None, typer.Option("--to", metavar="DATE", parser=read_date, help="Last day.", show_default=False)
]
FirstDay = Annotated[date, typer.Option("--from", metavar="DATE", parser=read_date, help="First day to lay.")]
LastDay = Annotated[date, typer.Option("--to", metavar="DATE", parser=read_date, help="Last day to lay.")]
TodayOption = Annotated[
    date | None,
    typer.Option(
        "--today",
        metavar="DATE",
        parser=read_date,
        help="The first day on which anything can be ordered. Default: this machine's date, or the first day to lay "
        "when all of them have passed.",
        show_default=False,
    ),
]
SecondsOption = Annotated[
    float,
    typer.Option("--seconds", metavar="SECONDS", parser=with_decimals(0.1), help="How long to look for a better plan."),
]
PlanSecondsOption = Annotated[
    float | None,
    typer.Option(
        "--seconds",
        metavar="SECONDS",
        parser=with_decimals(0.1),
        help="How long to look for a better plan. Default: 30, and as long as it takes with --work.",
        show_default=False,
    ),
]
WorkOption = Annotated[
    int | None,
    typer.Option(
        "--work",
        metavar="UNITS",
        parser=whole(1),
        help="Stop after so much work on each product, so that every machine gives the same plan. Default: no limit.",
        show_default=False,
    ),
]
WorkersOption = Annotated[
    int | None,
    typer.Option(
        "--workers",
        metavar="NUMBER",
        parser=whole(1),
        help="Plan so many products at the same time, each in a process of its own. With a limit of work it is the "
        "same plan. Default: as many as there are processors; small plans are made in one process.",
        show_default=False,
    ),
]
EngineOption = Annotated[
    str | None,
    typer.Option(
        "--engine",
        metavar="ADDRESS",
        help="Plan products on the Dask cluster whose scheduler has this address, such as tcp://planner:8786.",
        show_default=False,
    ),
]
SeedOption = Annotated[
    int,
    typer.Option(
        "--seed", metavar="NUMBER", parser=whole(0), help="Another seed may find another plan of the same worth."
    ),
]
JsonFileOption = Annotated[
    Path | None,
    typer.Option(
        "--json",
        metavar="FILE",
        parser=file_named(".json"),
        help="Write the plan file; - for standard output.",
        show_default=False,
    ),
]
DrawingOption = Annotated[
    Path | None,
    typer.Option(
        "--drawing",
        metavar="FILE.svg",
        parser=file_named(".svg"),
        help="Draw the cuts to scale, one file a product, named FILE-PRODUCT.svg when there are several, and measured "
        "lawns with their strips, one file a job, named FILE-lawns-JOB.svg.",
        show_default=False,
    ),
]
AtLeastOption = Annotated[
    LeastSize | None,
    typer.Option(
        "--at-least",
        metavar="ACROSSxALONG",
        parser=read_size,
        help="Only things of at least this size in metres, such as 1.8x3.0; nothing is turned to fit.",
        show_default=False,
    ),
]
JsonFlag = Annotated[bool, typer.Option("--json", help="Print JSON instead of a list.")]
LargeOption = Annotated[
    bool,
    typer.Option("--large-is-right", help="Take a very large lawn as it is; feet have not been read as metres."),
]
