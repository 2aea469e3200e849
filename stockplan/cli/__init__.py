"""The command line: each command reads what was typed, calls one action and shows what comes back.

Exit status: 0 done; 1 the input or the store is wrong; 2 wrong usage; 3 a plan was made but some job is short.
"""

from __future__ import annotations

import gc
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup
from typer.models import CommandInfo

from stockplan import __version__
from stockplan.cli import counting, stock, yard
from stockplan.cli.backup import backup, restore
from stockplan.cli.cover import cover
from stockplan.cli.cutting import cut
from stockplan.cli.enquiries import enquiries
from stockplan.cli.labels import labels
from stockplan.cli.lift import lift
from stockplan.cli.measuring import lawns, measure_lawn
from stockplan.cli.offcuts import offcut
from stockplan.cli.options import (
    DrawingOption,
    EngineOption,
    FirstDay,
    FromOption,
    JsonFileOption,
    JsonFlag,
    LargeOption,
    LastDay,
    SecondsOption,
    SeedOption,
    StoreOption,
    TodayOption,
    ToOption,
    WorkersOption,
    WorkOption,
    whole,
)
from stockplan.cli.orders import order, orders, receive_order
from stockplan.cli.pipes import expect_readers_to_leave, print_alone
from stockplan.cli.plans import AgainOption, PinsOption, accept, cancel_job, pins, plans, tell_changes, unpin, withdraw
from stockplan.cli.quote import quote
from stockplan.cli.saying import say
from stockplan.cli.settings import settings
from stockplan.cli.take_off import take_off
from stockplan.cli.usage import Command
from stockplan.cli.why import why
from stockplan.domain.jobs import Window
from stockplan.domain.request import SearchLimits
from stockplan.errors import SheetFaults, StockplanError, SurveyFaults
from stockplan.store.stored import STORED

if TYPE_CHECKING:
    from stockplan.actions.planning import ShownPlan
    from stockplan.store.importing import ImportSummary, Tally

INPUT_WRONG, SHORT, INTERRUPTED = 1, 3, 130
MOST_FAULTS = 200  # more of them tell nobody more
COLLECT_AFTER = 200_000  # Python's own 700 makes it search for what is no longer used a hundred times in one long list


class _Commands(TyperGroup):
    """Turns what a person can mend into a message and an exit status, in one place."""

    def invoke(self, ctx: Any) -> Any:
        STORED.forget()
        try:
            return super().invoke(ctx)
        except (SheetFaults, SurveyFaults) as faults:
            from stockplan.actions.importing import fault_lines  # noqa: PLC0415

            say(fault_lines(faults))
            say(f"Nothing was stored: {len(faults.faults):,} fault{'s' if len(faults.faults) != 1 else ''}.")
        except StockplanError as error:
            say(f"stockplan: {error}")
        except KeyboardInterrupt:
            say(f"\nStopped; {_stored_words()}")
            raise typer.Exit(INTERRUPTED) from None
        raise typer.Exit(INPUT_WRONG)


def _stored_words() -> str:
    if STORED.plan is not None:
        return f"plan {STORED.plan} is stored; show it with: stockplan show {STORED.plan}"
    return "what was done up to then is stored." if STORED.anything else "nothing was stored."


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="What to cut from what, what to order by when, what it costs, and which leftovers to keep.",
    epilog="Exit status: 0 done; 1 the input or the store is wrong; 2 wrong usage; 3 planned, but some job is short.",
)


def main() -> None:
    """Run the command line."""
    gc.set_threshold(COLLECT_AFTER)
    print_alone()
    expect_readers_to_leave()
    _leave_out_what_is_not_asked()
    app()


def _leave_out_what_is_not_asked() -> None:
    """Leave only the commands whose name was typed: reading the options of all the others takes 0.06 s."""
    typed = sys.argv[1:]
    asked = [one for one in app.registered_commands if _name(one) in typed]
    if not asked:
        return
    first = min(typed.index(_name(one)) for one in asked)
    if not {"-h", "--help"} & set(typed[:first]):
        app.registered_commands = asked


def _name(command: CommandInfo) -> str:
    """A command's name as Typer makes it."""
    if command.name:
        return command.name
    assert command.callback is not None
    return command.callback.__name__.lower().replace("_", "-")


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"stockplan {__version__}")
        raise typer.Exit


@app.callback()
def options(
    context: typer.Context,
    store: StoreOption = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Keep what holds for every command."""
    context.obj = store


@app.command("import")
def import_(
    context: typer.Context,
    sheets: Annotated[Path, typer.Argument(metavar="FOLDER", help="A folder of CSV files, or one .xlsx workbook.")],
    large_is_right: LargeOption = False,
    store: StoreOption = None,
) -> None:
    """Take products, supply, stock and jobs from spreadsheets into the store."""
    from stockplan.actions.importing import import_sheets  # noqa: PLC0415

    print(_import_words(import_sheets(store or context.obj, sheets, large_is_right=large_is_right)))


def _import_words(summary: ImportSummary) -> str:
    sorts = ("products", "supply", "stock", "jobs")
    lines = [f"{name}: {_tally_words(getattr(summary, name))}" for name in sorts]
    if not summary.changed_anything:
        lines.insert(0, "Nothing new: the store holds all of it already.")
    return "\n".join(lines)


def _tally_words(tally: Tally) -> str:
    counts = ((tally.new, "new"), (tally.changed, "changed"), (tally.removed, "taken out"), (tally.same, "as before"))
    return ", ".join(f"{count:,} {word}" for count, word in counts if count) or "none in the sheets"


@app.command()
def plan(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    first: FirstDay,
    last: LastDay,
    today: TodayOption = None,
    seconds: SecondsOption = 30.0,
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

    window = _window(first, last)
    for path in (json_file, drawing):
        if path is not None and str(path) != "-":
            check_writable(path)
    if engine is not None and workers is not None:
        raise typer.BadParameter(
            "the cluster decides how many work on it; leave one of the two out", param_hint="--workers"
        )
    planner = planner_at(engine, say) if engine is not None else planner_on(workers or usable_processors(), say)
    with interruptible() as should_stop, shown_progress() as progress:
        limits = SearchLimits(seconds, work, seed)
        day, wish = _today(today, first, last), Wish(again, tuple(pin or ()))
        made = make_plan(store or context.obj, window, day, limits, progress, should_stop, wish, planner)
    _show(made, json_file, drawing)
    tell_changes(made)
    if made.without_strips:
        codes = ", ".join(job.code for job in made.without_strips)
        say(f"Not planned, as their strips are not worked out yet: {codes}.")
    if made.is_short:
        raise typer.Exit(SHORT)


def _window(first: date, last: date) -> Window:
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

    from stockplan.actions.files import write_text  # noqa: PLC0415
    from stockplan.actions.planning import write_drawings  # noqa: PLC0415
    from stockplan.report.terminal import render_plan  # noqa: PLC0415

    to_stdout = str(json_file) == "-"
    console = Console(stderr=to_stdout, highlight=False)
    render_plan(console, shown.request, shown.plan)
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


@app.command()
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
    missed = [order for order in shown.plan.orders() if order.order_by < date.today()]
    if missed:
        keys = ", ".join(f"{order.key} ({order.order_by})" for order in missed)
        say(f"The day to order has passed for {keys}; where it was not ordered then, plan again.")


@app.command()
def jobs(
    context: typer.Context,
    first: FromOption = None,
    last: ToOption = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """List the jobs in the order they are laid."""
    from stockplan.actions.looking import list_jobs  # noqa: PLC0415
    from stockplan.cli.lists import job_list, jobs_json  # noqa: PLC0415

    found = list_jobs(store or context.obj, _window(first or date.min, last or date.max))
    print(jobs_json(found) if as_json else job_list(found))


@app.command()
def verify(context: typer.Context, store: StoreOption = None) -> None:
    """Check the store against itself: stock against the ledger, area and money, plans, the file."""
    from stockplan.actions.looking import verify as verify_store  # noqa: PLC0415

    name, faults = verify_store(store or context.obj)
    if faults:
        for fault in faults[:MOST_FAULTS]:
            say(fault)
        if len(faults) > MOST_FAULTS:
            say(f"… and {len(faults) - MOST_FAULTS:,} more")
        raise StockplanError(f"the store {name} is not in order; work from its last good copy")
    print(f"The store {name} is in order.")


@app.command()
def demo(
    context: typer.Context,
    folder: Annotated[
        Path | None, typer.Argument(help="Where to put it. Default: a new temporary folder.", show_default=False)
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
    with interruptible() as should_stop, shown_progress() as progress:
        made = run_demo(folder, SearchLimits(seconds), progress, should_stop, planner_on(1, say))
    render_plan(Console(highlight=False), made.shown.request, made.shown.plan)
    print(f"\nSpreadsheets  {made.sheets}\nStore         {made.store}\nPlan file     {made.plan_file}")
    for drawing in made.drawings:
        print(f"Drawing       {drawing}")
    print(f"\nLook further with: stockplan --store {made.store} stock")


app.command()(accept)
app.command()(plans)
app.command()(withdraw)
app.command()(pins)
app.command()(unpin)
app.command("cancel-job")(cancel_job)
app.command()(orders)
app.command()(order)
app.command("receive-order")(receive_order)
app.command()(cut)
app.command()(why)
app.command()(stock.stock)
app.command()(stock.history)
app.command()(yard.receive)
app.command()(yard.measure)
app.command()(yard.move)
app.command()(yard.condition)
app.command()(yard.hold)
app.command()(yard.free)
app.command("write-off")(yard.write_off)
app.command()(yard.reverse)
app.command()(counting.count)
app.command()(offcut)
app.command()(labels)
app.command()(lift)
app.command()(backup)
app.command()(restore)
app.command()(cover)
app.command()(enquiries)
app.command()(quote)
app.command()(settings)
app.command()(take_off)
app.command("measure-lawn")(measure_lawn)
app.command()(lawns)
for one in app.registered_commands:
    one.cls = Command
