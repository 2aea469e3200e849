"""Asking from the command line what covers a small job."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer

from stockplan.cli.options import JsonFlag, LargeOption, StoreOption, read_date, whole
from stockplan.cli.saying import fitted, say

Sizes = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="SIZE",
        help="Across x along the pile in metres, as cut: 3.1x1.8; several alike as 2@0.9x2.2.",
        show_default=False,
    ),
]
ProductsOption = Annotated[
    list[str] | None,
    typer.Option("--product", metavar="CODE", help="This grass; may be given more than once.", show_default=False),
]
FamilyOption = Annotated[
    str | None,
    typer.Option("--family", metavar="TEXT", help="Any grass with this in code or description.", show_default=False),
]
AnyProductOption = Annotated[bool, typer.Option("--any-product", help="Any grass at all.")]
LayOnOption = Annotated[
    date | None,
    typer.Option("--lay-on", metavar="DATE", parser=read_date, help="The day it is to be laid.", show_default=False),
]
AskedOption = Annotated[
    date | None,
    typer.Option(
        "--today", metavar="DATE", parser=read_date, help="Ask as of this day. Default: today.", show_default=False
    ),
]


def cover(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    sizes: Sizes = None,
    lawn: Annotated[
        str | None,
        typer.Option(
            "--lawn",
            metavar="'3.1 x 1.8'|NOTES|FILE",
            help="A lawn as measured instead of sizes; allowances are added.",
            show_default=False,
        ),
    ] = None,
    large_is_right: LargeOption = False,
    product: ProductsOption = None,
    family: FamilyOption = None,
    any_product: AnyProductOption = False,
    lay_on: LayOnOption = None,
    today: AskedOption = None,
    answers: Annotated[
        int, typer.Option(metavar="NUMBER", parser=whole(1, 50), help="How many answers of each sort.")
    ] = 3,
    hold: Annotated[
        str | None, typer.Option("--hold", metavar="QUOTE", help="Hold the answer for this quote.", show_default=False)
    ] = None,
    until: Annotated[
        date | None,
        typer.Option("--until", metavar="DATE", parser=read_date, help="The last day of the hold.", show_default=False),
    ] = None,
    take: Annotated[
        int, typer.Option(metavar="NUMBER", parser=whole(1), help="Which answer to hold, by its number.")
    ] = 1,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """Say what covers a small job: what is free, what could be freed, what must be bought."""
    from stockplan.actions.covering import Grass, ask_cover, check_grass, held_beside, hold_answer  # noqa: PLC0415
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415
    from stockplan.domain.cover_purchase import check_question  # noqa: PLC0415
    from stockplan.domain.sizes import parse_sizes  # noqa: PLC0415

    if (hold is None) != (until is None):
        raise typer.BadParameter("--hold and --until go together", param_hint="--hold")
    if take != 1 and hold is None:
        raise typer.BadParameter("says which answer to hold; give --hold and --until as well", param_hint="--take")
    where = store or context.obj
    if bool(sizes) == (lawn is not None):
        raise typer.BadParameter("give sizes such as 3.1x1.8, or a lawn with --lawn", param_hint="SIZE")
    grass, asked = Grass(tuple(product or ()), family, any_product), today or date.today()
    checks = (lambda: check_question((), asked, lay_on), lambda: check_grass(where, grass))
    if lawn is not None:
        from stockplan.actions.covering_lawns import ask_lawn, check_lawn  # noqa: PLC0415

        with every_fault(lambda: check_lawn(where, lawn, large_is_right=large_is_right), *checks):
            check_question((), asked, lay_on)
            found = ask_lawn(where, lawn, grass, asked, lay_on, answers, large_is_right=large_is_right)
    else:
        with every_fault(*checks):
            found = ask_cover(where, parse_sizes(sizes or ()), grass, asked, lay_on, answers)
    held: tuple[str, ...] = ()
    if hold is not None and until is not None:
        held = hold_answer(where, found.coverage, hold, until, take)
    if as_json:
        from stockplan.report.cover_json import cover_to_json  # noqa: PLC0415

        print(cover_to_json(found.coverage, found.currency, held, found.note), end="")
    else:
        from stockplan.report.cover_text import cover_text, held_words, still_held_words  # noqa: PLC0415

        print(fitted(cover_text(found.coverage, found.currency, found.note)))
        if held and hold is not None and until is not None:
            say(held_words(held, hold, until.isoformat()))
            if others := held_beside(where, hold, held):
                say(still_held_words(others, hold))
