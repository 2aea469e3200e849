"""Holding a month's small enquiries against the offcuts, from the command line."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from stockplan.cli.options import JsonFlag, StoreOption, read_date, whole
from stockplan.cli.saying import fitted


def enquiries(
    context: typer.Context,
    sheet: Annotated[
        Path,
        typer.Argument(
            metavar="FILE.csv",
            help="Columns enquiry, product, width_m, length_m, and where wanted count and worth; rows of one name are "
            "one enquiry.",
        ),
    ],
    together: Annotated[
        int, typer.Option(metavar="NUMBER", parser=whole(1, 4), help="How many enquiries one offcut may cover.")
    ] = 2,
    part_rolls: Annotated[bool, typer.Option("--part-rolls", help="Cut part rolls too.")] = False,
    today: Annotated[
        date | None,
        typer.Option(
            "--today", metavar="DATE", parser=read_date, help="Ask as of this day. Default: today.", show_default=False
        ),
    ] = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Say which small enquiries the offcuts in the yard could cover, worth most first."""
    from stockplan.actions.matching import match_enquiries  # noqa: PLC0415
    from stockplan.report.enquiries_text import enquiries_text, enquiries_to_json  # noqa: PLC0415

    found = match_enquiries(store or context.obj, sheet, today or date.today(), together, part_rolls)
    parts = (found.matched, found.misses, found.fitting, found.offcuts, found.currency)
    if as_json:
        print(enquiries_to_json(*parts), end="")
    else:
        print(fitted(enquiries_text(*parts)))
