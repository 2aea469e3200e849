"""The commands for lawns: measuring them in, and listing them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Annotated

import typer

from stockplan.cli.options import JsonFlag, LargeOption, StoreOption, read_date
from stockplan.cli.saying import say
from stockplan.cli.yard import tell_unsuited
from stockplan.domain.jobs import BatchRule
from stockplan.domain.lawn import EdgeNote, LawnPlace
from stockplan.domain.pile import FULL_CIRCLE, PileWish, parse_pile
from stockplan.errors import UnitError

PRACTICE = "practice"


@dataclass(frozen=True, slots=True)
class _Degrees:
    """A bearing as typed."""

    value: float


@dataclass(frozen=True, slots=True)
class _Pile:
    """A pile wish as typed; none for common practice."""

    wish: PileWish | None


def _read_pile(text: str) -> _Pile:
    try:
        return _Pile(None if text.strip().casefold() == PRACTICE else parse_pile(text))
    except UnitError as error:
        raise typer.BadParameter(str(error)) from error


def _read_north(text: str) -> _Degrees:
    if not re.fullmatch(r"\d+(\.\d{1,3})?", text, re.ASCII) or float(text) >= FULL_CIRCLE:
        raise typer.BadParameter(
            f"{text!r} is not a bearing; write degrees clockwise from north, below 360, such as 30"
        )
    return _Degrees(float(text))


def _read_side(text: str) -> EdgeNote:
    match = re.fullmatch(r"\s*([1-9]\d{0,3})\s*[,=: ]?\s*(.*?)[,\s]*(no[- ]seam)?\s*", text, re.IGNORECASE | re.ASCII)
    if match is None or not (match[2] or match[3]):
        raise typer.BadParameter(
            f"{text!r} says nothing of a side; write its number and name, such as '3 path, no seam'"
        )
    return EdgeNote(int(match[1]) - 1, match[2], match[3] is not None)


def measure_lawn(  # noqa: PLR0913, PLR0917 - one a choice people have
    context: typer.Context,
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's code.")],
    source: Annotated[
        str,
        typer.Argument(
            metavar="FILE|SIZE",
            help="Tape notes, GeoJSON, WKT or DXF in a file; or typed: '6.2 x 4.8', or notes with ; between lines.",
        ),
    ],
    lawn: Annotated[
        str, typer.Option("--lawn", metavar="NAME", help="The lawn's name. Default: the file's, else lawn.")
    ] = "",
    place: Annotated[
        LawnPlace | None, typer.Option(help="Where it lies; the pile follows common practice.", show_default=False)
    ] = None,
    side: Annotated[
        list[EdgeNote] | None,
        typer.Option(
            "--side",
            metavar="'NUMBER NAME'",
            parser=_read_side,
            help="Name a side, and say no seam where none may lie: '1 house', '3 path, no seam'. May be repeated.",
            show_default=False,
        ),
    ] = None,
    pile: Annotated[
        _Pile | None,
        typer.Option(
            metavar="WISH",
            parser=_read_pile,
            help="The job's pile: 'towards house', 'from road', 'bearing 135', 'square to house', 'along 90', open; "
            "or practice, to go back to common practice.",
            show_default=False,
        ),
    ] = None,
    north: Annotated[
        _Degrees | None,
        typer.Option(
            metavar="DEGREES",
            parser=_read_north,
            help="Bearing of the y axis, clockwise from north.",
            show_default=False,
        ),
    ] = None,
    unseen_from: Annotated[
        list[str] | None,
        typer.Option(
            "--unseen-from",
            metavar="LAWN",
            help="A lawn of the job nobody sees together with this one. May be repeated.",
            show_default=False,
        ),
    ] = None,
    product: Annotated[str | None, typer.Option(help="Of a new job: its grass.", show_default=False)] = None,
    lay_on: Annotated[
        date | None,
        typer.Option(
            "--lay-on", metavar="DATE", parser=read_date, help="Of a new job: the day it is laid.", show_default=False
        ),
    ] = None,
    site: Annotated[str, typer.Option(help="Of a new job: where.", show_default=False)] = "",
    batch_rule: Annotated[BatchRule, typer.Option("--batch-rule", help="Of a new job.")] = BatchRule.ONE,
    units: Annotated[
        str | None,
        typer.Option(help="What a drawing counts in that does not say so itself: m, mm or ft.", show_default=False),
    ] = None,
    large_is_right: LargeOption = False,
    look: Annotated[bool, typer.Option("--look", help="Work it out and show it; store nothing.")] = False,
    store: StoreOption = None,
) -> None:
    """Measure a lawn in: work out its outline, check it, and store it on its job."""
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415
    from stockplan.actions.measurements import Said, look_at  # noqa: PLC0415
    from stockplan.actions.measuring import NewJob, PileSaid, as_measured, check_job, measure_in  # noqa: PLC0415
    from stockplan.report.measured import measured_text, pile_text  # noqa: PLC0415
    from stockplan.surveying.lengths import Unit  # noqa: PLC0415

    if (product is None) != (lay_on is None):
        raise typer.BadParameter("a new job needs both --product and --lay-on")
    if site and product is None:
        raise typer.BadParameter("is of a new job, which needs --product and --lay-on as well", param_hint="--site")
    if units is not None and units not in [unit.value for unit in Unit]:
        raise typer.BadParameter(f"{units!r} is not one of m, mm, ft", param_hint="--units")
    where = store or context.obj
    said = Said(lawn, place, None if north is None else north.value, tuple(side or ()), tuple(unseen_from or ()))
    unit = None if units is None else Unit(units)
    new = None if product is None or lay_on is None else NewJob(product, lay_on, site, batch_rule)
    with every_fault(*([] if look else [lambda: check_job(where, job, new)])):
        measured = look_at(where, source, said, large_is_right=large_is_right, unit=unit)
    pile_said = None if pile is None else PileSaid(pile.wish)
    done = None if look else measure_in(where, job, measured, pile_said, new)
    there = as_measured(where, job, measured, pile_said) if done is None else done.job
    print("\n\n".join(measured_text(one) for one in measured))
    print(pile_text(there))
    if done is None:
        say("Nothing was stored.")
        return
    anew = f"; measured anew: {', '.join(done.replaced)}" if done.replaced else ""
    print(f"Stored on {'the new ' if done.created else ''}job {job}{anew}.")
    for note in done.again:
        say(f"CAREFUL: {note}")
    if there.strips:
        say(f"Job {job} has strips of its own; they are what is cut.")
    if not done.created:
        tell_unsuited(where, [job])
    elif there.lay_on < date.today():
        say(f"Job {job} is to be laid on {there.lay_on}, which has passed.")


def lawns(
    context: typer.Context,
    job: Annotated[str | None, typer.Option(help="Only of this job.", show_default=False)] = None,
    remove: Annotated[
        str | None,
        typer.Option("--remove", metavar="LAWN", help="Take this lawn off the job named by --job.", show_default=False),
    ] = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """List measured lawns: area, perimeter, sides, and which way their pile will lean."""
    from stockplan.actions.looking import list_jobs  # noqa: PLC0415
    from stockplan.report.measured import lawn_list, lawns_json  # noqa: PLC0415

    where = store or context.obj
    if remove is not None:
        from stockplan.actions.measuring import take_off_job  # noqa: PLC0415

        if job is None:
            raise typer.BadParameter("name its job with --job", param_hint="--remove")
        take_off_job(where, job, remove)
        say(f"Took lawn {remove} off job {job}.")
        tell_unsuited(where, [job])
    found = list_jobs(where, code=job)
    print(lawns_json(found) if as_json else lawn_list(found), end="" if as_json else "\n")
