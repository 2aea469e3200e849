"""The command that prints labels."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.options import StoreOption, file_named, whole
from stockplan.cli.saying import say

if TYPE_CHECKING:
    from stockplan.report.label_facts import LabelFacts

ROWS, COLUMNS = 5, 2  # of labels on a sheet of A4
LOST_TOLD = 20  # of labels that lack letters; more would only hide what else is told


def labels(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    file: Annotated[
        Path,
        typer.Option(
            "--file",
            metavar="FILE.pdf",
            parser=file_named(".pdf"),
            help="Where to write them.",
            show_default=False,
        ),
    ],
    tags: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="TAG",
            help="Things in the yard; and pieces that accepted plans cut, such as J104/A/1.",
            show_default=False,
        ),
    ] = None,
    plan: Annotated[
        int | None,
        typer.Option(
            metavar="PLAN",
            parser=whole(1),
            help="Pieces of this plan, and what it left over once cut.",
            show_default=False,
        ),
    ] = None,
    bay: Annotated[str | None, typer.Option(help="Everything that lies in this bay.", show_default=False)] = None,
    a4: Annotated[bool, typer.Option("--a4", help="On sheets of A4 instead of a label printer's 100 × 50 mm.")] = False,
    rows: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            parser=whole(1, 99),
            help=f"Rows on a sheet of A4; {ROWS} unless given.",
            show_default=False,
        ),
    ] = None,
    columns: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            parser=whole(1, 99),
            help=f"Columns on a sheet of A4; {COLUMNS} unless given.",
            show_default=False,
        ),
    ] = None,
    skip: Annotated[
        int,
        typer.Option(metavar="NUMBER", parser=whole(0, 9801), help="Places used up already on the first sheet of A4."),
    ] = 0,
    store: StoreOption = None,
) -> None:
    """Print labels with tag, QR code, size, weight, batch and bay as a PDF."""
    from stockplan.actions.files import check_writable, write_bytes  # noqa: PLC0415
    from stockplan.actions.labelling import Wanted, find_labels  # noqa: PLC0415
    from stockplan.report.label_pages import LABEL_PRINTER, a4_pages, label_pdf  # noqa: PLC0415
    from stockplan.report.words import counted  # noqa: PLC0415

    if not tags and plan is None and bay is None:
        raise typer.BadParameter("name tags, --plan or --bay", param_hint="TAG")
    of_a_sheet = {"--rows": rows is not None, "--columns": columns is not None, "--skip": bool(skip)}
    if not a4 and (useless := [name for name, typed in of_a_sheet.items() if typed]):
        raise typer.BadParameter("only sheets of A4 have such; add --a4", param_hint=" and ".join(useless))
    check_writable(file)
    found = find_labels(store or context.obj, Wanted(tuple(tags or ()), plan, bay, or_pieces=True))
    if found.facts:
        pages = a4_pages(rows or ROWS, columns or COLUMNS) if a4 else LABEL_PRINTER
        write_bytes(file, label_pdf(found.facts, pages, skip))
        say(f"Wrote {file}: {counted(len(found.facts), 'label')}. Print it at full size, not fitted to the page.")
        tell_lost_letters(found.facts)
    else:
        say(f"There is nothing to print a label for; {file} was not written.")
    if found.given_up:
        say(f"No labels for what plan {plan} is no longer to cut: {', '.join(found.given_up)}.")
    if found.cannot:
        say(f"No labels for what cannot be cut any more: {', '.join(found.cannot)}; plan these days again.")
    if found.without_tag:
        say(f"{counted(found.without_tag, 'leftover')} without a tag yet; print such labels when the grass is cut.")


def tell_lost_letters(printed: Sequence[LabelFacts]) -> None:
    """Say on which labels the printed face lacks letters."""
    from stockplan.report.label import loses_letters_of  # noqa: PLC0415
    from stockplan.report.words import counted  # noqa: PLC0415

    lost = [facts.code for facts in printed if loses_letters_of(facts)]
    if lost:
        more = f" and {len(lost) - LOST_TOLD} more" if len(lost) > LOST_TOLD else ""
        say(
            f"On {counted(len(lost), 'label')} a ? stands for each letter that cannot be printed: "
            f"{', '.join(lost[:LOST_TOLD])}{more}. Write them in by hand; the code holds the whole tag."
        )
