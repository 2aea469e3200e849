"""The command that says why something in a plan is as it is."""

from __future__ import annotations

from typing import Annotated

import typer

from stockplan.cli.options import JsonFlag, StoreOption, whole, with_decimals
from stockplan.cli.saying import fitted, say


def why(
    context: typer.Context,
    name: Annotated[
        str,
        typer.Argument(
            metavar="JOB|ORDER|TAG",
            help="A job, an order such as new-1 or P12-1, or a thing in the yard that the plan cuts.",
            show_default=False,
        ),
    ],
    number: Annotated[
        int | None,
        typer.Option("--plan", metavar="PLAN", parser=whole(1), help="Which plan. Default: the last one that has it."),
    ] = None,
    seconds: Annotated[
        float,
        typer.Option("--seconds", metavar="SECONDS", parser=with_decimals(0.1), help="How long to look into it."),
    ] = 5.0,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Say why a job is cut from its batch or left short, or what would happen without an order or a thing."""
    from stockplan.actions.making_ready import make_ready  # noqa: PLC0415
    from stockplan.actions.why import ask_why  # noqa: PLC0415
    from stockplan.cli.progress import interruptible, shown_progress  # noqa: PLC0415
    from stockplan.report.why_text import why_text, why_to_json  # noqa: PLC0415

    with interruptible("what was found so far") as should_stop:
        make_ready(say, should_stop)
        with shown_progress() as progress:
            found = ask_why(store or context.obj, name, number, seconds, should_stop, progress)
    if as_json:
        print(why_to_json(found.why, found.plan, found.currency), end="")
    else:
        print(fitted(why_text(found.why, found.job, found.plan)))
