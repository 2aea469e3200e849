"""Movements in words: what happened to a tag, when, by whose hand, and where it comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import tzinfo
from typing import Any

from stockplan.domain.ledger import Movement, MovementKind, Origin
from stockplan.domain.stock import StockForm
from stockplan.domain.units import metres, money, size, square_metres
from stockplan.report.columns import in_columns
from stockplan.report.words import counted, form_words, here


def history_list(movements: Sequence[Movement], zone: tzinfo | None = None, room: int | None = None) -> str:
    """List movements in order: number, when, who, what happened, and why.

    Parameters
    ----------
    movements
        In order of the ledger.
    zone
        Whose clock to tell the time by; default this machine's.
    room
        As in `in_columns`.
    """
    undone = {movement.reverses for movement in movements}
    rows = [
        (
            str(movement.number),
            f"{here(movement.at, zone):%Y-%m-%d %H:%M}",
            movement.who,
            movement_words(movement) + (" (reversed since)" if movement.number in undone else ""),
            movement.why,
        )
        for movement in movements
    ]
    return in_columns(("no.", "when", "who", "what", "why"), rows, ("no.",), room)


def movement_words(movement: Movement) -> str:
    """Say in a few words what a movement did."""
    return _WORDS[movement.kind](movement)


def movement_record(movement: Movement) -> dict[str, Any]:
    """Give a movement as JSON has it."""
    return {
        "number": movement.number,
        "at": movement.at.isoformat(),
        "who": movement.who,
        "kind": movement.kind.value,
        "tag": movement.tag,
        "why": movement.why,
        "plan": movement.plan,
        "parent": movement.parent,
        "values": dict(movement.values),
    }


def origin_words(origin: Origin) -> str:
    """Say from which roll, batch and delivery a tag comes, one line a step."""
    lines = []
    for number, tag in enumerate(origin.tags[:-1]):
        cut = origin.cuts[number]
        lines.append(f"{tag} was cut off {cut.tag} on {here(cut.at):%Y-%m-%d} by {cut.who}{_plan(cut)}")
    arrived, values = origin.delivery, origin.delivery.values
    note = f" with delivery {values['delivery']}" if "delivery" in values else ""
    what = f"{_form(values)} {_size(values)} of {origin.product}"
    batch = f"batch {origin.batch}" if origin.batch else "batch unknown"
    lines.append(f"{origin.tags[-1]} came on {here(arrived.at):%Y-%m-%d}{note} as {what}, {batch}")
    return "\n".join(lines)


def _size(values: Mapping[str, object]) -> str:
    return size(int(str(values["width_mm"])), int(str(values["length_mm"])))


def _bay(values: Mapping[str, object]) -> str:
    return f"bay {values['bay']}" if values["bay"] else "bay not recorded"


def _corrections(values: Mapping[str, object]) -> list[str]:
    words = {"width_mm": "across", "length_mm": "along"}
    told = [f"{word} {metres(int(str(values[name])))}" for name, word in words.items() if name in values]
    if "bay" in values:
        told.append(_bay(values))
    if "cost_pence_per_m2" in values:
        told.append(f"cost per m² {money(int(str(values['cost_pence_per_m2'])))}")
    return told


def _pieces(pieces: object) -> str:
    if not isinstance(pieces, Sequence) or not pieces:
        return "no pieces noted"
    spoiled = sum(1 for piece in pieces if piece.get("spoiled"))
    jobs = sorted({str(piece["job"]) for piece in pieces})
    bad = f", {spoiled} of them spoiled" if spoiled else ""
    return f"{counted(len(pieces), 'piece')} for {', '.join(jobs)}{bad}"


def _received(movement: Movement) -> str:
    values = movement.values
    delivery = f", delivery {values['delivery']}" if "delivery" in values else ""
    batch = f"batch {values['batch']}" if values["batch"] else "batch unknown"
    what = f"{_form(values)} {_size(values)}, {values['product']}, {batch}"
    return f"received: {what}, {_bay(values)}{delivery}{_plan(movement)}"


def _returned(movement: Movement) -> str:
    came = f"{movement.tag} came off {movement.parent}"
    return f"{came}: {_form(movement.values)} {_size(movement.values)}, {_bay(movement.values)}{_plan(movement)}"


def _binned(movement: Movement) -> str:
    return f"{square_metres(int(str(movement.values['area_mm2'])))} m² of it binned{_plan(movement)}"


def _plan(movement: Movement) -> str:
    return f" for plan {movement.plan}" if movement.plan is not None else ""


def _form(values: Mapping[str, object]) -> str:
    return form_words(StockForm(str(values["form"])))


_WORDS: dict[MovementKind, Callable[[Movement], str]] = {
    MovementKind.RECEIVED: _received,
    MovementKind.CORRECTED: lambda movement: f"corrected: {', '.join(_corrections(movement.values))}",
    MovementKind.MOVED: lambda movement: f"moved to {_bay(movement.values)}",
    MovementKind.COUNTED: lambda _: "seen where it should be",
    MovementKind.CONDITION: lambda movement: f"found {movement.values['condition']}",
    MovementKind.RESERVED: lambda movement: f"reserved{_plan(movement)}",
    MovementKind.RELEASED: lambda movement: f"given up by plan {movement.plan}",
    MovementKind.HELD: lambda movement: f"held for {movement.values['quote']} until {movement.values['until']}",
    MovementKind.FREED: lambda _: "no longer held",
    MovementKind.CUT: lambda movement: f"cut{_plan(movement)}: {_pieces(movement.values['pieces'])}",
    MovementKind.RETURNED: _returned,
    MovementKind.WRITTEN_OFF: lambda _: "written off",
    MovementKind.BINNED: _binned,
    MovementKind.REVERSED: lambda movement: f"movement {movement.reverses} reversed",
}
