"""The command line: each command reads what was typed, calls one action and shows what comes back.

Exit status: 0 done; 1 the input or the store is wrong; 2 wrong usage; 3 a plan was made but some job is short, or a
job that a cut was for lacks pieces that nothing makes up for; 130 stopped by Ctrl-C.
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
from stockplan.cli import counting, planning, stock, yard
from stockplan.cli.backup import backup, restore
from stockplan.cli.cover import cover
from stockplan.cli.cutting import cut
from stockplan.cli.enquiries import enquiries
from stockplan.cli.labels import labels
from stockplan.cli.lift import lift
from stockplan.cli.measuring import lawns, measure_lawn
from stockplan.cli.offcuts import offcut
from stockplan.cli.options import FromOption, JsonFlag, LargeOption, StoreOption, ToOption
from stockplan.cli.orders import order, orders, receive_order
from stockplan.cli.pipes import expect_readers_to_leave, print_alone, stand_in_for_closed_streams
from stockplan.cli.planning import read_window
from stockplan.cli.plans import accept, cancel_job, pins, plans, unpin, withdraw
from stockplan.cli.quote import quote
from stockplan.cli.saying import INPUT_WRONG, INTERRUPTED, say, stored_words
from stockplan.cli.settings import settings
from stockplan.cli.take_off import take_off
from stockplan.cli.usage import Command
from stockplan.cli.why import why
from stockplan.errors import SheetFaults, StockplanError, SurveyFaults
from stockplan.store.stored import STORED

if TYPE_CHECKING:
    from stockplan.store.importing import ImportSummary, Tally

MOST_FAULTS = 200  # more of them tell nobody more
MOST_NAMED = 8  # things that an import changed
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
        except UnicodeEncodeError as error:
            # Bytes that are no text come as surrogates, which neither a store nor a list takes.
            say(f"stockplan: what was typed is not UTF-8 text, found {error.object!r}; {stored_words()}")
        except OSError as error:
            if error.filename is None:  # no place that a person named
                raise
            say(f"stockplan: {error.filename} cannot be used: {error.strerror}; {stored_words()}")
        except (KeyboardInterrupt, typer.Abort):  # the latter at a question
            say(f"\nStopped; {stored_words()}")
            raise typer.Exit(INTERRUPTED) from None
        raise typer.Exit(INPUT_WRONG)


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
    stand_in_for_closed_streams()
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

    summary = import_sheets(store or context.obj, sheets, large_is_right=large_is_right, today=date.today())
    print(_import_words(summary))
    for remark in summary.remarks:
        say(remark)
    yard.tell_unsuited(store or context.obj, summary.jobs.names, summary.stock.names)


def _import_words(summary: ImportSummary) -> str:
    sorts = ("products", "supply", "stock", "jobs")
    lines = [f"{name}: {_tally_words(getattr(summary, name))}" for name in sorts]
    if not summary.changed_anything:
        lines.insert(0, "Nothing new: the store holds all of it already.")
    return "\n".join(lines)


def _tally_words(tally: Tally) -> str:
    counts = ((tally.new, "new"), (tally.changed, "changed"), (tally.removed, "taken out"), (tally.same, "as before"))
    told = [f"{count:,} {word}{_names(tally) if word == 'changed' else ''}" for count, word in counts if count]
    return ", ".join(told) or "none in the sheets"


def _names(tally: Tally) -> str:
    named = ", ".join(dict.fromkeys(tally.names[:MOST_NAMED]))
    more = f" and {len(tally.names) - MOST_NAMED:,} more" if len(tally.names) > MOST_NAMED else ""
    return f" ({named}{more})"


app.command()(planning.plan)
app.command()(planning.show)


@app.command()
def jobs(
    context: typer.Context,
    first: FromOption = None,
    last: ToOption = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """List the jobs in the order they are laid."""
    from stockplan.actions.looking import list_schedule  # noqa: PLC0415
    from stockplan.cli.lists import job_list, jobs_json  # noqa: PLC0415

    found = list_schedule(store or context.obj, read_window(first or date.min, last or date.max))
    print(jobs_json(found) if as_json else job_list(found), end="" if as_json else "\n")


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


app.command()(planning.demo)
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
