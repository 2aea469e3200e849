"""The ledger: everything that ever happened to stock, in order; what lies in the yard is a fold over it.

A movement is never changed or removed. A mistake is put right by a later movement. Each kind of movement has one
function that says what it does to a `Yard`; a new kind is one more name in `MovementKind` and one more such function.

Area balances at every moment: what came in = what lies in the yard + what was used + what was written off. A
correction restates how much had come in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum

from stockplan.domain.stock import StockForm, StockItem

Value = str | int
CORRECTABLE = ("width_mm", "length_mm", "bay", "cost_pence_per_m2")  # measured again, put elsewhere, priced again


class MovementKind(StrEnum):
    """What can happen to a stock item."""

    RECEIVED = "received"
    CORRECTED = "corrected"
    WRITTEN_OFF = "written_off"


@dataclass(frozen=True, slots=True)
class Entry:
    """A movement not yet in the ledger.

    Parameters
    ----------
    kind, tag
        What happens to which item.
    why
        Free text.
    values
        What the kind states: every field of the item for `received`, the changed ones of `CORRECTABLE` for
        `corrected`, nothing for `written_off`.
    """

    kind: MovementKind
    tag: str
    why: str
    values: Mapping[str, Value] = field(default_factory=dict)

    def enter(self, number: int, at: datetime, who: str) -> Movement:
        """Give the entry its place in the ledger."""
        return Movement(number, at, who, self.kind, self.tag, self.why, self.values)


@dataclass(frozen=True, slots=True)
class Movement:
    """One line of the ledger.

    Parameters
    ----------
    number
        Its place: 1, 2, 3, … without gaps.
    at
        When it was written, UTC.
    who
        Who wrote it.
    kind, tag, why, values
        As in `Entry`.
    """

    number: int
    at: datetime
    who: str
    kind: MovementKind
    tag: str
    why: str
    values: Mapping[str, Value]


def received(item: StockItem, why: str) -> Entry:
    """Say that an item came into the yard."""
    values: dict[str, Value] = {
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        **{name: getattr(item, name) for name in CORRECTABLE},
    }
    return Entry(MovementKind.RECEIVED, item.tag, why, values)


def corrected(before: StockItem, after: StockItem, why: str) -> Entry:
    """Say that an item's size, bay or cost was found to be other than recorded.

    Raises
    ------
    ValueError
        When the two differ in anything that cannot be corrected, or in nothing.
    """
    values = {name: getattr(after, name) for name in CORRECTABLE if getattr(after, name) != getattr(before, name)}
    if not values or replace(before, **values) != after:
        raise ValueError(f"{before} cannot be corrected to {after}")
    return Entry(MovementKind.CORRECTED, before.tag, why, values)


def written_off(tag: str, why: str) -> Entry:
    """Say that an item is gone for good."""
    return Entry(MovementKind.WRITTEN_OFF, tag, why)


@dataclass(slots=True)
class Yard:
    """What the movements so far add up to.

    Parameters
    ----------
    items
        What lies in the yard, by tag.
    gone
        Tags that were in the yard once; a tag is never used twice.
    area_in_mm2, area_used_mm2, area_written_off_mm2
        The area account, square millimetres.
    """

    items: dict[str, StockItem] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)
    area_in_mm2: int = 0
    area_used_mm2: int = 0
    area_written_off_mm2: int = 0

    def apply(self, movement: Movement | Entry) -> None:
        """Let one movement happen.

        Raises
        ------
        ValueError
            When it cannot happen: the tag is in the yard already, not in it, or the values do not suit the kind.
            The yard is then as it was.
        """
        _EFFECTS[movement.kind](self, movement)

    def item(self, tag: str) -> StockItem:
        """Look up an item that must be there.

        Raises
        ------
        ValueError
            When the tag is not in the yard.
        """
        if tag not in self.items:
            raise ValueError(f"{tag} {'has left the yard' if tag in self.gone else 'was never in the yard'}")
        return self.items[tag]


def _receive(yard: Yard, movement: Movement | Entry) -> None:
    if movement.tag in yard.items or movement.tag in yard.gone:
        raise ValueError(f"{movement.tag} was received before")
    item = _item(movement)
    yard.items[item.tag] = item
    yard.area_in_mm2 += item.area_mm2


def _correct(yard: Yard, movement: Movement | Entry) -> None:
    before = yard.item(movement.tag)
    values = movement.values
    if not values or not set(values) <= set(CORRECTABLE):
        raise ValueError(f"{movement.tag} cannot be corrected in {', '.join(values) or 'nothing'}")
    after = _checked(
        replace(
            before,
            width_mm=_whole(values, "width_mm", before.width_mm),
            length_mm=_whole(values, "length_mm", before.length_mm),
            bay=_text(values, "bay", before.bay),
            cost_pence_per_m2=_whole(values, "cost_pence_per_m2", before.cost_pence_per_m2),
        )
    )
    yard.items[after.tag] = after
    yard.area_in_mm2 += after.area_mm2 - before.area_mm2


def _write_off(yard: Yard, movement: Movement | Entry) -> None:
    item = yard.item(movement.tag)
    if movement.values:
        raise ValueError(f"{movement.tag} is written off whole; found {', '.join(movement.values)}")
    del yard.items[item.tag]
    yard.gone.add(item.tag)
    yard.area_written_off_mm2 += item.area_mm2


_EFFECTS: dict[MovementKind, Callable[[Yard, Movement | Entry], None]] = {
    MovementKind.RECEIVED: _receive,
    MovementKind.CORRECTED: _correct,
    MovementKind.WRITTEN_OFF: _write_off,
}


def _item(movement: Movement | Entry) -> StockItem:
    values = movement.values
    expected = {"product", "batch", "form", *CORRECTABLE}
    if set(values) != expected:
        raise ValueError(f"{movement.tag} received with {sorted(values)}, must state {sorted(expected)}")
    return _checked(
        StockItem(
            tag=movement.tag,
            product=_text(values, "product"),
            batch=_text(values, "batch"),
            form=StockForm(_text(values, "form")),
            width_mm=_whole(values, "width_mm"),
            length_mm=_whole(values, "length_mm"),
            bay=_text(values, "bay"),
            cost_pence_per_m2=_whole(values, "cost_pence_per_m2"),
        )
    )


def _checked(item: StockItem) -> StockItem:
    if item.width_mm <= 0 or item.length_mm <= 0 or item.cost_pence_per_m2 < 0:
        raise ValueError(f"{item.tag}: a size must be positive and a cost not negative; found {item}")
    return item


def _text(values: Mapping[str, Value], name: str, otherwise: str = "") -> str:
    value = values.get(name, otherwise)
    if not isinstance(value, str):
        raise ValueError(f"{name} must be text, found {value!r}")
    return value


def _whole(values: Mapping[str, Value], name: str, otherwise: int = 0) -> int:
    value = values.get(name, otherwise)
    if not isinstance(value, int) or isinstance(value, bool):
        raise ValueError(f"{name} must be a whole number, found {value!r}")
    return value


def fold(movements: Iterable[Movement]) -> dict[str, StockItem]:
    """Work out what lies in the yard from the whole ledger.

    Parameters
    ----------
    movements
        In order of number, from the first.

    Raises
    ------
    ValueError
        When a movement cannot happen; see `Yard.apply`.
    """
    yard = Yard()
    for movement in movements:
        yard.apply(movement)
    return yard.items
