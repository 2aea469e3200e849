"""The commands that make a plan and show one, and the demo."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.options import (
    DrawingOption,
    EngineOption,
    FirstDay,
    JsonFileOption,
    LastDay,
    PlanSecondsOption,
    SecondsOption,
    SeedOption,
    StoreOption,
    TodayOption,
    WorkersOption,
    WorkOption,
    whole,
)
from stockplan.cli.plans import AgainOption, PinsOption, tell_changes
from stockplan.cli.saying import SHORT, say
from stockplan.domain.jobs import Window
from stockplan.domain.plan_state import PlanState
from stockplan.domain.request import SearchLimits

if TYPE_CHECKING:
    from stockplan.actions.planning import ShownPlan

SECONDS = 30.0
AT_FIRST = "Planning; Ctrl-C takes the best plan so far"
UNHURRIED_SECONDS = 86_400.0  # a day: where the work is limited the clock must not, or slow machines plan otherwise
# What a person who looks at a plan that is no longer a proposal must know, as its tables tell it as it was made.
_BECOME = {
    PlanState.ACCEPTED: "; its orders as they stand now: stockplan orders",
    PlanState.DONE: ": nothing is left to order or to cut by it",
    PlanState.WITHDRAWN: ": order and cut nothing by it",
}


def plan(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    first: FirstDay,
    last: LastDay,
    today: TodayOption = None,
    seconds: PlanSecondsOption = None,
    work: WorkOption = None,
    seed: SeedOption = 0,
    json_file: JsonFileOption = None,
    drawing: DrawingOption = None,
    again: AgainOption = False,
    pin: PinsOption = None,
    workers: WorkersOption = None,
    engine: EngineOption = None,
    store: StoreOption = None,
) -> None:
    """Plan the jobs laid in some days: orders, cuts, leftovers. Ctrl-C takes the best plan so far."""
    from stockplan.actions.asking import Wish  # noqa: PLC0415
    from stockplan.actions.engines import planner_at, planner_on, usable_processors  # noqa: PLC0415
    from stockplan.actions.files import check_writable  # noqa: PLC0415
    from stockplan.actions.planning import make_plan  # noqa: PLC0415
    from stockplan.cli.progress import interruptible, shown_progress  # noqa: PLC0415

    window = read_window(first, last)
    for path in (json_file, drawing):
        if path is not None and str(path) != "-":
            check_writable(path)
    if engine is not None and workers is not None:
        raise typer.BadParameter(
            "the cluster decides how many work on it; leave one of the two out", param_hint="--workers"
        )
    planner = planner_at(engine, say) if engine is not None else planner_on(workers or usable_processors(), say)
    with interruptible() as should_stop, shown_progress(AT_FIRST) as progress:
        limits = SearchLimits(seconds or (SECONDS if work is None else UNHURRIED_SECONDS), work, seed)
        day, wish = _today(today, first, last), Wish(again, tuple(pin or ()))
        made = make_plan(store or context.obj, window, day, limits, progress, should_stop, wish, planner)
    _show(made, json_file, drawing)
    tell_changes(made)
    if codes := ", ".join(job.code for job in made.without_strips if not job.lawns):
        say(f"Not planned, as their strips are not worked out yet: {codes}.")
    if made.is_short:
        raise typer.Exit(SHORT)


def read_window(first: date, last: date) -> Window:
    """Give the days from the first to the last, or refuse them as wrong usage."""
    if last < first:
        raise typer.BadParameter(f"{last} lies before the first day, {first}", param_hint="--to")
    return Window(first, last)


def _today(given: date | None, first: date, last: date) -> date:
    today = given or date.today()
    if today <= first:
        return today
    if today <= last:
        say(f"These days began before {today}; nothing can be ordered before then.")
        return today
    if given is not None:
        say(f"These days have passed by {today}; nothing that is ordered can arrive in time.")
        return today
    say(f"These days have passed (today is {today}); orders are counted from {first}.")
    return first


def _show(shown: ShownPlan, json_file: Path | None, drawing: Path | None) -> None:
    """Print a plan, and write what was asked for; the tables make room when the plan file goes to standard output."""
    from rich.console import Console  # noqa: PLC0415

    from stockplan.actions.drawings import write_drawings  # noqa: PLC0415
    from stockplan.actions.files import write_text  # noqa: PLC0415
    from stockplan.report.terminal import render_plan  # noqa: PLC0415

    to_stdout = str(json_file) == "-"
    console = Console(stderr=to_stdout, highlight=False)
    render_plan(console, shown.request, shown.plan, shown.conditions)
    say(f"This is plan {shown.number}; show it again with: stockplan show {shown.number}")
    written: list[Path] = []
    if to_stdout:
        sys.stdout.write(shown.text)
        sys.stdout.flush()
    elif json_file is not None:
        write_text(json_file, shown.text)
        written.append(json_file)
    if drawing is not None:
        written += write_drawings(shown, drawing)
    for path in written:
        say(f"Wrote {path}")


def show(
    context: typer.Context,
    number: Annotated[
        int | None,
        typer.Argument(metavar="PLAN", parser=whole(1), help="The plan's number. Default: the last one made."),
    ] = None,
    json_file: JsonFileOption = None,
    drawing: DrawingOption = None,
    store: StoreOption = None,
) -> None:
    """Show a plan made before."""
    from stockplan.actions.planning import stored_plan  # noqa: PLC0415

    shown = stored_plan(store or context.obj, number)
    _show(shown, json_file, drawing)
    if shown.state in _BECOME:
        say(f"Plan {shown.number} is {shown.state}{_BECOME[shown.state]}.")
    missed = [order for order in shown.plan.orders() if order.order_by < date.today()]
    if missed and shown.state in {PlanState.PROPOSED, PlanState.ACCEPTED}:
        keys = ", ".join(f"{order.key} ({order.order_by})" for order in missed)
        say(f"The day to order has passed for {keys}; where it was not ordered then, plan again.")


def demo(
    context: typer.Context,
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="FOLDER", help="Where to put it. Default: a new temporary folder.", show_default=False),
    ] = None,
    seconds: SecondsOption = 20.0,
) -> None:
    """Plan an invented firm's fortnight in a fresh store, and write the plan file and the drawings."""
    from rich.console import Console  # noqa: PLC0415

    from stockplan.actions.demo import run_demo  # noqa: PLC0415
    from stockplan.actions.engines import planner_on  # noqa: PLC0415
    from stockplan.cli.progress import interruptible, shown_progress  # noqa: PLC0415
    from stockplan.report.terminal import render_plan  # noqa: PLC0415

    if context.obj is not None:
        raise typer.BadParameter("demo makes a store of its own; name a folder for it instead", param_hint="--store")
    with interruptible() as should_stop, shown_progress(AT_FIRST) as progress:
        made = run_demo(folder, SearchLimits(seconds), progress, should_stop, planner_on(1, say))
    render_plan(Console(highlight=False), made.shown.request, made.shown.plan, made.shown.conditions)
    print(f"\nSpreadsheets  {made.sheets}\nStore         {made.store}\nPlan file     {made.plan_file}")
    for drawing in made.drawings:
        print(f"Drawing       {drawing}")
    print(f"\nLook further with: stockplan --store {made.store} stock")
