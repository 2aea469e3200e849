"""What is told of an offcut once it is logged: where it comes off, what to write on it, its label."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from stockplan.cli.labels import tell_lost_letters
from stockplan.cli.saying import say
from stockplan.domain.as_typed import argument
from stockplan.domain.units import metres, size
from stockplan.errors import StockplanError

if TYPE_CHECKING:
    from stockplan.actions.offcuts import Logged


def tell_rectangles(found: Sequence[tuple[int, int, int, int]]) -> None:
    """Say where rectangles come off an odd shape: across, along, width and length, mm."""
    for across, along, width, length in found:
        print(
            f"Cut out {size(width, length)} m: its near left corner lies {metres(across)} m across and "
            f"{metres(along)} m along."
        )


def tell_logged(where: str | None, done: Logged) -> None:
    """Say what to write on what was logged, and what it weighs."""
    from stockplan.actions.labelling import Wanted, find_labels  # noqa: PLC0415
    from stockplan.report.handling import GUIDANCE, lifting_note, weight_words  # noqa: PLC0415
    from stockplan.report.words import form_words  # noqa: PLC0415

    items = [*done.items, *([done.rest] if done.rest else [])]
    known = {facts.code: facts for facts in find_labels(where, Wanted(tuple(item.tag for item in items))).facts}
    noted = False
    for item in items:
        kg, wet = known[item.tag].weight_kg, known[item.tag].condition == "wet"
        noted = noted or wet or (kg is not None and bool(lifting_note(kg)))
        print(
            f"Write {item.tag} on the {form_words(item.form)} of {size(item.width_mm, item.length_mm)} m: "
            f"{item.product}, batch {item.batch or 'unknown'}, {f'bay {item.bay}' if item.bay else 'bay not recorded'}"
            + (f", {weight_words(kg, wet=wet)}." if kg is not None else ".")
        )
    if noted:
        say(GUIDANCE)


def write_label(where: str | None, done: Logged, label: Path | None, asks: bool) -> None:
    """Write the labels of what was logged, or say how to."""
    tags = tuple(item.tag for item in (*done.items, *([done.rest] if done.rest else [])))
    offered = Path(f"{tags[0]}.pdf".replace("/", "-"))
    if label is None and asks and typer.confirm(f"Write the label to {offered}?", default=True, err=True):
        label = offered
    later = f"stockplan labels --file {shlex.quote(str(offered))} {argument(*tags)}"
    if label is None:
        say(f"Print the label with: {later}")
        return
    from stockplan.actions.files import write_bytes  # noqa: PLC0415
    from stockplan.actions.labelling import Wanted, find_labels  # noqa: PLC0415
    from stockplan.report.label_pages import label_pdf  # noqa: PLC0415

    printed = find_labels(where, Wanted(tags)).facts
    try:
        write_bytes(label, label_pdf(printed))
    except StockplanError as error:
        raise StockplanError(f"{error}; what was cut is logged all the same; print the label with: {later}") from error
    say(f"Wrote {label}. Print it at full size, not fitted to the page.")
    tell_lost_letters(printed)
