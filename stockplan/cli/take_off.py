"""The command that says what jobs need beside grass."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer

from stockplan.cli.options import FromOption, JsonFlag, StoreOption, ToOption, whole
from stockplan.domain.jobs import Window
from stockplan.domain.surfaces import Slope
from stockplan.domain.units import parse_length
from stockplan.errors import UnitError


def read_slope(text: str) -> Slope:
    """Read a slope such as 10/30: rise over run, both in metres."""
    parts = text.split("/")
    try:
        rise, run = map(parse_length, parts)
    except (UnitError, ValueError):
        rise, run = 0, 0
    if run == 0:
        raise typer.BadParameter(f"{text!r} is no slope; write rise/run in metres, such as 10/30")
    return Slope(rise, run)


def take_off(  # noqa: PLR0913, PLR0917 - each is an option of its own
    context: typer.Context,
    job: Annotated[str | None, typer.Argument(metavar="JOB", help="Only this job.", show_default=False)] = None,
    first: FromOption = None,
    last: ToOption = None,
    plan: Annotated[
        int | None,
        typer.Option("--plan", metavar="PLAN", parser=whole(1), help="Every job of this plan, as it lays them out."),
    ] = None,
    slope: Annotated[
        Slope | None,
        typer.Option(
            "--slope",
            metavar="RISE/RUN",
            parser=read_slope,
            help="For lawns measured level, on a map say: the ground rises so far over so much, such as 10/30.",
            show_default=False,
        ),
    ] = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Say what jobs need beside grass: tape, adhesive, edging, fixings, sand, stone, membrane."""
    from stockplan.actions.taking_off import take_off_jobs, take_off_plan  # noqa: PLC0415
    from stockplan.report.take_off import take_off_json, take_off_text  # noqa: PLC0415

    if sum((job is not None, plan is not None, first is not None or last is not None)) != 1:
        raise typer.BadParameter("name a job, or days with --from and --to, or a plan with --plan; one of them")
    where = store or context.obj
    if plan is not None:
        sheet = take_off_plan(where, plan, slope)
    elif job is not None:
        sheet = take_off_jobs(where, Window(date.min, date.max), (job,), slope)
    else:
        begin, end = first or date.min, last or date.max
        if end < begin:
            raise typer.BadParameter(f"{end} lies before the first day, {begin}", param_hint="--to")
        sheet = take_off_jobs(where, Window(begin, end), slope=slope)
    print(take_off_json(sheet) if as_json else take_off_text(sheet), end="" if as_json else "\n")
