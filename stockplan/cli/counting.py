"""The command for counting what lies in the yard."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.cautions import tell_odd_condition
from stockplan.cli.options import JsonFlag, StoreOption, file_named, whole
from stockplan.cli.saying import say
from stockplan.errors import StockplanError

if TYPE_CHECKING:
    from stockplan.actions.counting import Stocktake


def count(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    bay: Annotated[str | None, typer.Argument(metavar="BAY", help="The bay to count.", show_default=False)] = None,
    tags: Annotated[
        list[str] | None,
        typer.Argument(metavar="TAG", help="Every tag found there; all other things are missing."),
    ] = None,
    found: Annotated[
        Path | None,
        typer.Option(metavar="FILE.csv", help="The count sheet as it was filled in.", show_default=False),
    ] = None,
    sheet: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.csv",
            parser=file_named(".csv"),
            help="Write the sheet to count by to this file.",
            show_default=False,
        ),
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option(
            "--pdf",
            metavar="FILE.pdf",
            parser=file_named(".pdf"),
            help="Write the sheet to print and count by.",
            show_default=False,
        ),
    ] = None,
    due: Annotated[
        int | None,
        typer.Option(
            metavar="DAYS",
            parser=whole(0, 36_500),
            help="List what nobody has seen for so many days.",
            show_default=False,
        ),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Write the differences down without asking.")] = False,
    write_off_missing: Annotated[
        bool, typer.Option("--write-off-missing", help="Write off what was not found, instead of leaving it on record.")
    ] = False,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Print the sheet to count a bay by, or write down what was found there."""
    where = store or context.obj
    writing = {"--sheet": sheet is not None, "--pdf": pdf is not None, "--json": as_json}
    booking = {"--found": found is not None, "--yes": yes, "--write-off-missing": write_off_missing}
    if due is not None:
        if bay is not None:
            raise typer.BadParameter("--due lists every bay; name none", param_hint="BAY")
        _refuse({**writing, **booking, "--json": False}, "--due only lists what nobody has seen")
        _show_due(where, due, as_json)
        return
    if bay is None:
        raise typer.BadParameter("name the bay to count, or --due DAYS", param_hint="BAY")
    if tags or found is not None:
        _refuse(writing, "what was found is written down, and no sheet is written; leave one of them out")
    else:
        _refuse(booking, "nothing is said of what was found; give tags, or the filled-in sheet with --found")
        _show_sheet(where, bay, sheet, pdf, as_json)
        return
    from stockplan.actions.count_sheet import read_sheet, typed  # noqa: PLC0415
    from stockplan.actions.counting import compare  # noqa: PLC0415
    from stockplan.cli.count_lists import differences  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415

    seen = typed(tags or []) + (read_sheet(found) if found is not None else [])
    taken = compare(where, bay, seen, ledger_day())
    print(differences(taken))
    _write(where, taken, write_off_missing, yes)


def _refuse(given: dict[str, bool], why: str) -> None:
    """Refuse options that would do nothing here, so that nobody takes them for done."""
    if useless := [name for name, typed in given.items() if typed]:
        raise typer.BadParameter(why, param_hint=" and ".join(useless))


def _write(where: str | None, taken: Stocktake, write_off_missing: bool, yes: bool) -> None:
    from stockplan.actions.counting import book, entries  # noqa: PLC0415
    from stockplan.report.words import counted  # noqa: PLC0415

    number = sum(1 for _ in entries(taken, write_off_missing))
    if not number:
        print("There is nothing to write down.")
        _tell_of_missing(taken, write_off_missing)
        return
    if not (yes or taken.agrees or _confirmed(f"Write {counted(number, 'movement')}?")):
        say("Nothing was stored.")
        return
    lost = {}
    if taken.missing and write_off_missing:
        from stockplan.actions.cutting_sheets import jobs_cut_from  # noqa: PLC0415

        lost = jobs_cut_from(where, [one.item.tag for one in taken.missing])
    print(f"Stored: {counted(book(where, taken, write_off_missing), 'movement')}.")
    if taken.measured or lost:
        from stockplan.cli.yard import tell_endangered, tell_lost  # noqa: PLC0415

        tell_endangered(where, [after.tag for _, after in taken.measured])
        tell_lost(lost)
    _tell_of_missing(taken, write_off_missing)
    for tag, word in taken.conditions:
        tell_odd_condition(word, [tag])


def _tell_of_missing(taken: Stocktake, written_off: bool) -> None:
    if taken.missing and not written_off:
        say("What was not found stays on record; look for it, then: stockplan write-off TAG --why TEXT")


def _confirmed(question: str) -> bool:
    try:
        return typer.confirm(question, err=True)
    except typer.Abort:
        if sys.stdin.isatty():  # Ctrl-C
            raise
        raise StockplanError("nothing was stored: nobody answered; --yes writes without asking") from None


def _show_sheet(where: str | None, bay: str, sheet: Path | None, pdf: Path | None, as_json: bool) -> None:
    from stockplan.actions.count_sheet import check_not_filled_in, sheet_text  # noqa: PLC0415
    from stockplan.actions.counting import bay_sheet  # noqa: PLC0415
    from stockplan.actions.files import check_writable, write_bytes, write_text  # noqa: PLC0415
    from stockplan.actions.finding import listing  # noqa: PLC0415
    from stockplan.cli.count_lists import count_sheet  # noqa: PLC0415
    from stockplan.cli.stock_lists import stock_json  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415

    for path in (sheet, pdf):
        if path is not None:
            check_writable(path)
    found = bay_sheet(where, bay, ledger_day())
    if sheet is not None:
        check_not_filled_in(sheet)
        write_text(sheet, sheet_text(found))
        say(f"Wrote {sheet}")
    if pdf is not None:
        from stockplan.cli.stock_lists import remarks  # noqa: PLC0415
        from stockplan.report.count_sheet import count_sheet_pdf  # noqa: PLC0415
        from stockplan.report.paper import loses_letters  # noqa: PLC0415

        told = {one.item.tag: remarks(one) for one in found}
        write_bytes(pdf, count_sheet_pdf(bay, [one.item for one in found], date.today(), told))
        say(f"Wrote {pdf}")
        if loses_letters(bay, *(text for one in found for text in (one.item.tag, one.item.product, one.item.batch))):
            other = "--sheet writes a sheet" if sheet is None else f"{sheet} is a sheet"
            say(f"A ? stands there for each letter that cannot be printed; {other} that has them all.")
    print(stock_json(listing(found)) if as_json else count_sheet(bay, found))


def _show_due(where: str | None, days: int, as_json: bool) -> None:
    from stockplan.actions.finding import listing, unseen  # noqa: PLC0415
    from stockplan.cli.stock_lists import items_json, unseen_list  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415

    bays = unseen(where, days, ledger_day())
    if not as_json:
        print(unseen_list(bays, days))
        return
    print(items_json("stockplan-unseen", listing([one for _, found in bays for one in found])))
