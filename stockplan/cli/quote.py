"""Quoting a job from the command line."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.options import (
    FromOption,
    JsonFlag,
    LargeOption,
    StoreOption,
    ToOption,
    file_named,
    read_date,
    with_decimals,
)
from stockplan.cli.saying import say

if TYPE_CHECKING:
    from stockplan.domain.quote import Quote

PageOption = Annotated[
    Path | None,
    typer.Option(
        "--page",
        metavar="FILE.html",
        parser=file_named(".html"),
        help="Write the page the firm keeps, costs inside.",
        show_default=False,
    ),
]
CustomerOption = Annotated[
    Path | None,
    typer.Option(
        "--customer",
        metavar="FILE.html",
        parser=file_named(".html"),
        help="Write the annex for the customer, no cost inside.",
        show_default=False,
    ),
]


def quote(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    sizes: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="SIZE",
            help="Across x along the pile in metres, as cut: 4x6.2; several alike as 3@4x6.2.",
            show_default=False,
        ),
    ] = None,
    product: Annotated[str, typer.Option("--product", help="The grass.", show_default=False)] = "",
    lay_on: Annotated[
        date | None,
        typer.Option(
            "--lay-on",
            metavar="DATE",
            parser=read_date,
            help="The day it would be laid. Default: a week from today.",
            show_default=False,
        ),
    ] = None,
    lawn: Annotated[
        str | None,
        typer.Option(
            "--lawn",
            metavar="'6.2 x 4.8'|NOTES|FILE",
            help="A lawn as measured instead of sizes; it is laid out in strips.",
            show_default=False,
        ),
    ] = None,
    large_is_right: LargeOption = False,
    name: Annotated[str, typer.Option("--name", help="What the quote is called.")] = "quote",
    site: Annotated[str, typer.Option("--site", help="Where.", show_default=False)] = "",
    any_batch: Annotated[bool, typer.Option("--any-batch", help="Its pieces need not be of one batch.")] = False,
    price: Annotated[
        str | None,
        typer.Option(
            "--price",
            metavar="PRICE",
            help="Per m², for the rule of thumb. Default: the cheapest roll's.",
            show_default=False,
        ),
    ] = None,
    first: FromOption = None,
    last: ToOption = None,
    today: Annotated[
        date | None,
        typer.Option(
            "--today", metavar="DATE", parser=read_date, help="Ask as of this day. Default: today.", show_default=False
        ),
    ] = None,
    seconds: Annotated[
        float,
        typer.Option(metavar="SECONDS", parser=with_decimals(0.1), help="How long to look for each of the two plans."),
    ] = 2.5,
    page: PageOption = None,
    customer: CustomerOption = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Say what a job truly costs in grass: the plan with it less the plan without it, beside the rule of thumb."""
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415
    from stockplan.actions.files import check_writable  # noqa: PLC0415
    from stockplan.actions.making_ready import make_ready  # noqa: PLC0415
    from stockplan.actions.quoting import check_days, check_product, make_quote  # noqa: PLC0415
    from stockplan.actions.stating import Enquiry  # noqa: PLC0415
    from stockplan.cli.progress import shown_progress  # noqa: PLC0415
    from stockplan.domain.jobs import BatchRule  # noqa: PLC0415
    from stockplan.domain.sizes import parse_sizes  # noqa: PLC0415
    from stockplan.domain.units import parse_money  # noqa: PLC0415

    if page is not None and customer is not None and page.resolve() == customer.resolve():
        raise typer.BadParameter("the firm's page and the customer's are two files", param_hint="--customer")
    if bool(sizes) == (lawn is not None):
        raise typer.BadParameter("give sizes such as 4x6.2, or a lawn with --lawn", param_hint="SIZE")
    asked, where = today or date.today(), store or context.obj
    day = lay_on or asked + timedelta(days=7)
    files: list[Callable[[], object]] = [partial(check_writable, path) for path in (page, customer) if path is not None]
    checks: list[Callable[[], object]] = [
        lambda: check_days(day, asked, first, last),
        lambda: check_product(where, product),
    ]
    if price is not None:
        checks.insert(0, lambda: parse_money(price))
    if lawn is not None:
        from stockplan.actions.covering_lawns import check_lawn  # noqa: PLC0415

        checks.insert(0, lambda: check_lawn(where, lawn, large_is_right=large_is_right))
    else:
        checks.insert(0, lambda: parse_sizes(sizes or ()))
    with every_fault(*checks, *files):
        for check in files:
            check()
        enquiry = Enquiry(
            quote=name,
            product=product,
            lay_on=day,
            pieces=parse_sizes(sizes) if sizes else (),
            lawn=lawn,
            site=site,
            batch_rule=BatchRule.ANY if any_batch else BatchRule.ONE,
            price_pence_per_m2=parse_money(price) if price is not None else None,
            large_is_right=large_is_right,
        )
        make_ready(say)
        with shown_progress() as progress:
            found, currency, notes = make_quote(where, enquiry, asked, seconds, first, last, progress)
    _print_quote(found, currency, as_json=as_json)
    _write_pages(found, currency, page, customer)
    for note in notes:
        say(note)


def _print_quote(found: Quote, currency: str, *, as_json: bool) -> None:
    if as_json:
        from stockplan.report.quote_json import quote_to_json  # noqa: PLC0415

        print(quote_to_json(found, currency), end="")
    else:
        from stockplan.report.quote_text import quote_text  # noqa: PLC0415

        print(quote_text(found, currency))


def _write_pages(found: Quote, currency: str, page: Path | None, customer: Path | None) -> None:
    from stockplan.actions.files import write_text  # noqa: PLC0415
    from stockplan.report.quote_page import customer_page, firm_page  # noqa: PLC0415

    for path, text in ((page, firm_page(found, currency)), (customer, customer_page(found.annex))):
        if path is not None:
            write_text(path, text)
            say(f"Wrote {path}")
