"""The command that logs an offcut: few questions, in the order of the hands."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from stockplan.cli.cautions import tell_new_bay, tell_odd_condition
from stockplan.cli.cutting import read_metres
from stockplan.cli.offcuts_told import tell_logged, tell_rectangles, write_label
from stockplan.cli.options import StoreOption, file_named, whole
from stockplan.cli.saying import say
from stockplan.domain.ledger_movements import CONDITIONS, SOUND
from stockplan.domain.limits import MOST_LENGTH_MM
from stockplan.domain.units import metres, parse_length, size
from stockplan.errors import StockplanError, UnitError

if TYPE_CHECKING:
    from stockplan.actions.offcut_facts import Told
    from stockplan.domain.lawn import Ring


class TypedShape(NamedTuple):
    """Corners of a shape in the order walked round it, mm."""

    corners: Ring


def read_shape(text: str) -> TypedShape:
    """Read corners such as `0,0 2.4,0 2.4,3.1 0,3.6`: across, along in metres."""
    from stockplan.domain.lawn import Point  # noqa: PLC0415

    corners = []
    for word in text.split():
        parts = re.fullmatch(r"(-?)([^,]+),(-?)([^,]+)", word)
        try:
            if parts is None:
                raise UnitError(f"{word!r} is not a corner; write across,along in metres, such as 2.4,3.1")
            x, y = parse_length(parts[2]), parse_length(parts[4])
        except UnitError as error:
            raise typer.BadParameter(str(error)) from error
        corners.append(Point(-x if parts[1] else x, -y if parts[3] else y))
    return TypedShape(tuple(corners))


def offcut(  # noqa: PLR0913, PLR0917 - one a fact about the offcut
    context: typer.Context,
    parent: Annotated[
        str | None,
        typer.Argument(metavar="PARENT", help="Tag of what it was cut from.", show_default=False),
    ] = None,
    product: Annotated[
        str | None, typer.Option(help="Its product, when the parent is not known.", show_default=False)
    ] = None,
    batch: Annotated[str, typer.Option(help="Its batch, with --product. Default: unknown.", show_default=False)] = "",
    length: Annotated[
        int | None,
        typer.Option(metavar="METRES", parser=read_metres, help="Length along the pile.", show_default=False),
    ] = None,
    width: Annotated[
        int | None,
        typer.Option(metavar="METRES", parser=read_metres, help="Width across the pile.", show_default=False),
    ] = None,
    corners: Annotated[
        TypedShape | None,
        typer.Option(
            metavar="'X,Y X,Y ...'",
            parser=read_shape,
            help="Instead of length and width, the corners of an odd shape in metres, across,along, in the order "
            "walked round it: the rectangles worth most are logged.",
            show_default=False,
        ),
    ] = None,
    pieces: Annotated[
        int, typer.Option(metavar="NUMBER", parser=whole(1, 9), help="At most so many rectangles of an odd shape.")
    ] = 3,
    bay: Annotated[str | None, typer.Option(help="Where it lies now.", show_default=False)] = None,
    condition: Annotated[
        str | None,
        typer.Option(metavar="WORD", help=f"A word such as {', '.join(CONDITIONS)}. Default: {SOUND}."),
    ] = None,
    tag: Annotated[
        str, typer.Option(help="A tag it has already. Default: a new one is given.", show_default=False)
    ] = "",
    rest: Annotated[
        int | None,
        typer.Option(
            metavar="METRES",
            parser=read_metres,
            help="What is left of the parent along the pile, when its cut is not on record; 0 for nothing.",
            show_default=False,
        ),
    ] = None,
    as_typed: Annotated[
        bool, typer.Option("--as-typed", help="Across and along, product and batch are as they are meant.")
    ] = False,
    keep_anyway: Annotated[bool, typer.Option("--keep-anyway", help="Log it though it is small.")] = False,
    label: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.pdf",
            parser=file_named(".pdf"),
            help="Write its label, 100 × 50 mm, to this file.",
            show_default=False,
        ),
    ] = None,
    store: StoreOption = None,
) -> None:
    """Log an offcut under a tag of its own; on a terminal it asks for what was not given."""
    from stockplan.actions.files import check_writable  # noqa: PLC0415
    from stockplan.actions.offcut_facts import Told  # noqa: PLC0415
    from stockplan.actions.offcuts import log, rectangles  # noqa: PLC0415

    if label is not None:
        check_writable(label)
    where, asks = store or context.obj, sys.stdin.isatty()
    if asks:
        parent, product, batch = _ask_origin(where, parent, product, batch)
        if corners is None:
            length = length or _prompt_metres("Length along the pile, m")
            width = width or _prompt_metres("Width across the pile, m")
        bay = bay or _ask_bay(where)
        condition = condition or _prompt(f"Condition ({', '.join(CONDITIONS)})", SOUND)
    needed = {
        "PARENT or --product": parent or product,
        "--length": length or corners,
        "--width": width or corners,
        "--bay": bay,
    }
    if lacking := [name for name, given in needed.items() if not given]:
        raise typer.BadParameter(f"still to be said: {', '.join(lacking)}")
    if corners is not None and (length or width):
        raise typer.BadParameter("give either --corners or --length and --width", param_hint="--corners")
    if rest is not None and not parent:
        raise typer.BadParameter("is what is left of the parent; name that as well", param_hint="--rest")
    sizes = ((width, length),) if width and length else ()
    told = Told(
        sizes, bay or "", condition or SOUND, parent or "", product or "", batch, tag, rest, as_typed, keep_anyway,
        batch_meant=as_typed,
    )  # fmt: skip
    if asks:
        told = _ask_doubts(where, told)
    found = rectangles(where, told, corners.corners, pieces) if corners is not None else ()
    told = replace(told, sizes=tuple((width, length) for _, _, width, length in found) or told.sizes)
    done = log(where, told)
    tell_rectangles(found)  # not before: what is refused is not to be cut out
    tell_logged(where, done)
    tags = [item.tag for item in done.items]
    tell_new_bay(where, told.bay, tags)
    tell_odd_condition(told.condition, tags)
    write_label(where, done, label, asks)


def _ask_origin(
    where: str | None, parent: str | None, product: str | None, batch: str
) -> tuple[str | None, str | None, str]:
    """Ask what it was cut from, or of which product and batch it is when nobody knows."""
    if parent is not None or product is None:
        parent = _ask_parent(where, parent)
    if parent is None and product is None:
        product = _ask_product(where)
        batch = batch or _prompt("Batch (Enter when not known)", "")
    return parent, product, batch


def _ask_parent(where: str | None, typed: str | None) -> str | None:
    """Ask for the parent's tag until there is such a thing; one that was typed with the command must be right."""
    from stockplan.actions.offcut_facts import find_parent  # noqa: PLC0415

    while answer := typed or _prompt("Cut from (tag; Enter when not known)", ""):
        tag, fault = find_parent(where, answer)
        if not fault:
            return tag
        if typed:
            raise StockplanError(fault)
        say(fault)
    return None


def _ask_product(where: str | None) -> str:
    """Ask for the product until the store knows it."""
    from stockplan.actions.offcut_facts import product_fault  # noqa: PLC0415

    while fault := product_fault(where, answer := _prompt("Product")):
        say(fault)
    return answer


def _ask_bay(where: str | None) -> str:
    """Ask for the bay until it is not spelt otherwise than one in the yard."""
    from stockplan.actions.spelling import bay_fault  # noqa: PLC0415

    while fault := bay_fault(where, answer := _prompt("Bay")):
        say(fault)
    return answer


def _prompt(question: str, default: str | None = None) -> str:
    answer: str = typer.prompt(question, default=default, show_default=bool(default), err=True)
    return answer.strip()


def _prompt_metres(question: str, least_mm: int = 1) -> int:
    """Ask for a length until it can be one; sides that are exchanged are asked about later."""
    while True:
        try:
            found = parse_length(_prompt(question))
        except UnitError as error:
            say(str(error))
            continue
        if least_mm <= found <= MOST_LENGTH_MM:
            return found
        right = f"{'more than nothing, ' if least_mm else ''}at most {metres(MOST_LENGTH_MM, 0)} m"
        meant = f"; {found // 1000} mm are {metres(found // 1000)} m" if found > MOST_LENGTH_MM else ""
        say(f"{metres(found)} m cannot be; would be right: {right}{meant}")


def _ask_doubts(where: str | None, told: Told) -> Told:
    """Ask about what looks odd, and for what is still missing; what cannot be is told by `log`."""
    from stockplan.actions.offcut_facts import look  # noqa: PLC0415

    found = look(where, told)
    if found.other_product and not told.batch_meant:
        say(f"{found.other_product[0].upper()}{found.other_product[1:]}.")
        if not typer.confirm(f"Is it {told.product} all the same?", default=False, err=True):
            raise StockplanError("nothing was stored; log it under the right product and batch")
        told = replace(told, batch_meant=True)
    if found.lies_uncut and told.rest_mm is None:
        told = replace(
            told, rest_mm=_prompt_metres(f"Left on {found.told.parent} along the pile, m (0 for nothing)", 0)
        )
        found = look(where, told)
    if found.swapped and not told.as_typed:
        turned = tuple((length, width) for width, length in told.sizes)
        say(f"{found.swapped}.")
        if typer.confirm(f"Is it {size(*turned[0])} m, across × along?", default=True, err=True):
            told = replace(told, sizes=turned)
            found = look(where, told)
        told = replace(told, as_typed=True)
    if found.bin and not told.keep_anyway and not found.faults:
        say(f"{found.bin}.")
        if not typer.confirm("Log it all the same?", default=False, err=True):
            raise StockplanError("nothing was stored; put it in the skip")
        told = replace(told, keep_anyway=True)
    return told
