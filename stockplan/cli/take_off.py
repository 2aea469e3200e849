"""The command that says what jobs need beside grass."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer

from stockplan.cli.options import FromOption, JsonFlag, StoreOption, ToOption
from stockplan.domain.jobs import Window


def take_off(
    context: typer.Context,
    job: Annotated[str | None, typer.Argument(metavar="[JOB]", help="Only this job.", show_default=False)] = None,
    first: FromOption = None,
    last: ToOption = None,
    plan: Annotated[
        int | None,
        typer.Option("--plan", metavar="PLAN", min=1, help="Every job of this plan, as it lays them out."),
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
        sheet = take_off_plan(where, plan)
    elif job is not None:
        sheet = take_off_jobs(where, Window(date.min, date.max), (job,))
    else:
        begin, end = first or date.min, last or date.max
        if end < begin:
            raise typer.BadParameter(f"{end} lies before the first day, {begin}", param_hint="--to")
        sheet = take_off_jobs(where, Window(begin, end))
    print(take_off_json(sheet) if as_json else take_off_text(sheet))
