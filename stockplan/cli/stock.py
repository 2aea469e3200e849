"""The commands that look at things in the yard: what lies there, and what became of one."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from stockplan.cli.options import AtLeastOption, JsonFlag, LeastSize, StoreOption
from stockplan.cli.saying import fitted, room, say
from stockplan.domain.stock import StockForm

FIRST_SHOWN = 200  # more would only run past


def stock(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    product: Annotated[str | None, typer.Option(help="Only this product.", show_default=False)] = None,
    batch: Annotated[
        str | None, typer.Option(help='Only this batch; "" for things of unknown batch.', show_default=False)
    ] = None,
    bay: Annotated[str | None, typer.Option(help="Only what lies in this bay.", show_default=False)] = None,
    form: Annotated[
        StockForm | None, typer.Option(help="Only what lies there in this form.", show_default=False)
    ] = None,
    at_least: AtLeastOption = None,
    free: Annotated[bool, typer.Option("--free", help="Only what is neither reserved nor held.")] = False,
    oldest: Annotated[bool, typer.Option("--oldest", help="What has lain longest first.")] = False,
    everything: Annotated[
        bool,
        typer.Option("--all", help=f"All of it; a terminal is shown the first {FIRST_SHOWN}, files and pipes all."),
    ] = False,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """List what lies in the yard, and what is promised of it."""
    from stockplan.actions.finding import StockFilter, list_stock  # noqa: PLC0415
    from stockplan.cli.stock_lists import stock_json, stock_list  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415

    least, where = at_least or LeastSize(), store or context.obj
    wanted = StockFilter(product, batch, bay, least.width_mm, least.length_mm, form, free)
    most = None if everything or as_json or not _someone_looks() else FIRST_SHOWN
    found = list_stock(where, wanted, ledger_day(), oldest=oldest, most=most)
    print(stock_json(found) if as_json else fitted(stock_list(found)))
    if product is not None and not found.number:
        from stockplan.actions.looking import unknown_product  # noqa: PLC0415

        if words := unknown_product(where, product):
            say(words)
    if bay is not None and not found.number:
        from stockplan.actions.meant import bays_meant  # noqa: PLC0415

        if meant := bays_meant(where, bay):
            say(f"Nothing lies in bay {bay!r}{meant}.")
    if batch and not found.number:
        from stockplan.actions.meant import batches_meant  # noqa: PLC0415

        if meant := batches_meant(where, batch):
            say(f"Nothing in the yard is of batch {batch!r}{meant}.")


def _someone_looks() -> bool:
    return sys.stdout.isatty()


def history(
    context: typer.Context,
    tag: Annotated[str, typer.Argument(metavar="TAG", help="Any tag that was ever used.", show_default=False)],
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Tell what became of a thing, and from which roll, batch and delivery it comes."""
    from stockplan.actions.finding import listing  # noqa: PLC0415
    from stockplan.actions.tracing import tell  # noqa: PLC0415
    from stockplan.cli.stock_lists import stock_list  # noqa: PLC0415
    from stockplan.report.json_text import json_document  # noqa: PLC0415
    from stockplan.report.movements import history_list, movement_record, origin_words  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415

    story = tell(store or context.obj, tag, ledger_day())
    if as_json:
        document = {
            "format": "stockplan-history",
            "version": 1,
            "tag": tag,
            "cut_from": list(story.origin.tags[1:]) if story.origin else [],
            "movements": [movement_record(movement) for movement in story.movements],
        }
        print(json_document(document), end="")
        return
    if story.origin is not None:
        print(fitted(origin_words(story.origin)) + "\n")
    print(history_list(story.movements, room=room()) + "\n")
    if story.found is not None:
        print(fitted(f"It lies in the yard:\n{stock_list(listing([story.found]))}"))
    elif story.gone is not None:
        print(f"It has left the yard: {story.gone.how.value.replace('_', ' ')}.")
    else:
        print("It is not in the yard: its arrival was reversed.")
