"""What each kind of movement does to a yard, and how it moves area and money; each refuses what cannot happen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.ledger_entries import CORRECTABLE, SOUND, CutPiece, MovementKind, Value
from stockplan.domain.ledger_state import Account, Gone, Hold, Step, day_of
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.units import size, square_metres

if TYPE_CHECKING:
    from stockplan.domain.ledger_fold import Yard


def _receive(yard: Yard, movement: Step) -> Account:
    _new_tag(yard, movement)
    values = {name: value for name, value in movement.values.items() if name != "delivery"}
    expected = {"product", "batch", "form", *CORRECTABLE}
    if set(values) != expected:
        raise ValueError(f"{movement.tag} received with {sorted(values)}, must state {sorted(expected)}")
    item = _checked(
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
    yard.items[item.tag] = item
    return Account(area_in_mm2=item.area_mm2, value_in=_value(item))


def _new_tag(yard: Yard, movement: Step) -> None:
    if movement.tag in yard.items or movement.tag in yard.gone:
        raise ValueError(f"{movement.tag} was received before; give the new thing a tag of its own")


def _correct(yard: Yard, movement: Step) -> Account:
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
    return Account(area_in_mm2=after.area_mm2 - before.area_mm2, value_in=_value(after) - _value(before))


def _move(yard: Yard, movement: Step) -> Account:
    before = yard.item(movement.tag)
    _states(movement, "bay")
    yard.items[movement.tag] = replace(before, bay=_text(movement.values, "bay"))
    return Account()


def _count(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    _states(movement)
    return Account()


def _condition(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    _states(movement, "condition")
    word = _text(movement.values, "condition")
    if not word:
        raise ValueError(f"{movement.tag}: a condition is a word such as wet; found nothing")
    if word == SOUND:
        yard.conditions.pop(movement.tag, None)
    else:
        yard.conditions[movement.tag] = word
    return Account()


def _reserve(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    _states(movement)
    if movement.plan is None:
        raise ValueError(f"{movement.tag} is reserved for a plan; its number is missing")
    if movement.tag in yard.reservations:
        raise ValueError(f"{movement.tag} is reserved for plan {yard.reservations[movement.tag]} already; plan again")
    _not_held(yard, movement)
    yard.reservations[movement.tag] = movement.plan
    yard.holds.pop(movement.tag, None)
    return Account()


def _release(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    _states(movement)
    plan = yard.reservations.get(movement.tag)
    if plan is None or plan != movement.plan:
        found = f"reserved for plan {plan}" if plan is not None else "not reserved"
        raise ValueError(f"{movement.tag} is {found}; plan {movement.plan} cannot release it")
    del yard.reservations[movement.tag]
    return Account()


def _hold(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    _states(movement, "quote", "until")
    hold = Hold(_text(movement.values, "quote"), date.fromisoformat(_text(movement.values, "until")))
    day = day_of(movement)
    if not hold.quote:
        raise ValueError(f"{movement.tag} is held for a quote; its name is missing")
    if day is not None and hold.until < day:
        raise ValueError(f"{movement.tag} cannot be held until {hold.until}; that day has passed")
    if movement.tag in yard.reservations:
        raise ValueError(f"{movement.tag} is reserved for plan {yard.reservations[movement.tag]}; hold another")
    present = yard.hold_on(movement.tag, day)
    if present is not None and present.quote != hold.quote:
        raise ValueError(f"{movement.tag} is held for {present.quote} until {present.until} already; free it first")
    yard.holds[movement.tag] = hold
    return Account()


def _free(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    _states(movement)
    if yard.hold_on(movement.tag, day_of(movement)) is None:
        raise ValueError(f"{movement.tag} is not held")
    del yard.holds[movement.tag]
    return Account()


def _not_held(yard: Yard, movement: Step) -> None:
    hold = yard.hold_on(movement.tag, day_of(movement))
    if hold is not None:
        raise ValueError(f"{movement.tag} is held for {hold.quote} until {hold.until}; free it first")


def _cut(yard: Yard, movement: Step) -> Account:
    item = yard.item(movement.tag)
    _states(movement, "pieces")
    plan = yard.reservations.get(item.tag)
    if plan is not None and plan != movement.plan:
        raise ValueError(f"{item.tag} is reserved for plan {plan}; release it first")
    _not_held(yard, movement)
    gone = Gone(item, MovementKind.CUT, movement.plan, _pieces(movement))
    wide = next(
        (piece for piece in gone.pieces if piece.width_mm > item.width_mm or piece.length_mm > item.length_mm), 0
    )
    if wide:
        where = f"piece {wide.job} {wide.strip} no. {wide.number}"
        found, most = size(wide.width_mm, wide.length_mm), size(item.width_mm, item.length_mm)
        raise ValueError(f"{item.tag}: {where} measures {found}; {item.tag} itself is only {most}")
    if gone.unaccounted_mm2 < 0:
        raise ValueError(
            f"{item.tag}: its pieces come to {square_metres(item.area_mm2 - gone.unaccounted_mm2)} m²; it holds only "
            f"{square_metres(item.area_mm2)} m²; measure it again first if it is larger"
        )
    yard.take_out(item.tag, gone)
    return Account(area_used_mm2=item.area_mm2, value_used=_value(item))


def _pieces(movement: Step) -> tuple[CutPiece, ...]:
    stated = movement.values["pieces"]
    if isinstance(stated, str | int):
        raise ValueError(f"{movement.tag}: pieces must be a list, found {stated!r}")
    made = []
    for one in stated:
        if not {"job", "strip", "number", "width_mm", "length_mm"} <= set(one):
            raise ValueError(f"{movement.tag}: a piece must state job, strip, number and size, found {dict(one)}")
        piece = CutPiece(
            _text(one, "job"),
            _text(one, "strip"),
            _whole(one, "number"),
            _whole(one, "width_mm"),
            _whole(one, "length_mm"),
            bool(one.get("spoiled", 0)),
        )
        if piece.width_mm <= 0 or piece.length_mm <= 0 or piece.number <= 0:
            raise ValueError(f"{movement.tag}: a piece's size and number must be positive; found {piece}")
        made.append(piece)
    return tuple(made)


def _return(yard: Yard, movement: Step) -> Account:
    _new_tag(yard, movement)
    _states(movement, "form", "width_mm", "length_mm", "bay")
    parent = _parent(yard, movement.parent or "")
    item = _checked(
        replace(
            parent.item,
            tag=movement.tag,
            form=StockForm(_text(movement.values, "form")),
            width_mm=_whole(movement.values, "width_mm"),
            length_mm=_whole(movement.values, "length_mm"),
            bay=_text(movement.values, "bay"),
        )
    )
    if item.form is StockForm.ROLL or (item.form is StockForm.PART_ROLL and parent.item.form is StockForm.OFFCUT):
        raise ValueError(f"{item.tag} cannot be a {item.form.value.replace('_', ' ')}, cut from {parent.item.tag}")
    if item.width_mm > parent.item.width_mm or item.length_mm > parent.item.length_mm:
        found, most = size(item.width_mm, item.length_mm), size(parent.item.width_mm, parent.item.length_mm)
        raise ValueError(f"{item.tag} measures {found}; {parent.item.tag}, which it was cut from, was only {most}")
    _enough_left(parent, item.area_mm2)
    yard.items[item.tag] = item
    yard.parents[item.tag] = parent.item.tag
    yard.gone[parent.item.tag] = replace(parent, returned_mm2=parent.returned_mm2 + item.area_mm2)
    return Account(area_used_mm2=-item.area_mm2, value_used=-_value(item))


def _bin(yard: Yard, movement: Step) -> Account:
    _states(movement, "area_mm2")
    parent = _parent(yard, movement.tag)
    area = _whole(movement.values, "area_mm2")
    if area <= 0:
        raise ValueError(f"{movement.tag}: an area that is binned must be positive; found {area}")
    _enough_left(parent, area)
    yard.gone[movement.tag] = replace(parent, binned_mm2=parent.binned_mm2 + area)
    value = area * parent.item.cost_pence_per_m2
    return Account(0, -area, area, 0, -value, value)


def _parent(yard: Yard, tag: str) -> Gone:
    gone = yard.gone.get(tag)
    if gone is None or gone.how is not MovementKind.CUT:
        state = (
            "lies in the yard uncut" if tag in yard.items else "was written off" if gone else "was never in the yard"
        )
        raise ValueError(f"nothing can come off {tag or 'nothing'}; it {state}")
    return gone


def _enough_left(parent: Gone, area_mm2: int) -> None:
    if area_mm2 > parent.unaccounted_mm2:
        whole, left = square_metres(parent.item.area_mm2), square_metres(parent.unaccounted_mm2)
        raise ValueError(
            f"{square_metres(area_mm2)} m² cannot come off {parent.item.tag}; of its {whole} m² only {left} m² is not "
            "accounted for"
        )


def _write_off(yard: Yard, movement: Step) -> Account:
    item = yard.item(movement.tag)
    if movement.values:
        raise ValueError(f"{movement.tag} is written off whole; found {', '.join(movement.values)}")
    yard.take_out(item.tag, Gone(item, MovementKind.WRITTEN_OFF, movement.plan))
    return Account(area_written_off_mm2=item.area_mm2, value_written_off=_value(item))


def _reverse(yard: Yard, movement: Step) -> Account:
    _states(movement, "movement")
    number = _whole(movement.values, "movement")
    if number in yard.bins:
        return _unbin(yard, movement, number)
    last = yard.latest.get(movement.tag)
    if last is None or last.number != number:
        later = (
            f"the last movement of {movement.tag} is {last.number}, {_said(last.kind)}" if last else "it is not known"
        )
        raise ValueError(f"movement {number} cannot be reversed: {later}; put it right with a new movement")
    if last.kind is MovementKind.REVERSED:
        raise ValueError(f"movement {number} is a reversal and cannot be reversed; put it right with a new movement")
    gone = yard.gone.get(movement.tag)
    if gone is not None and (gone.returned_mm2 or gone.binned_mm2):
        raise ValueError(
            f"movement {number} cannot be reversed: part of {movement.tag} was returned or binned since; "
            "reverse those movements first"
        )
    if last.kind is MovementKind.RETURNED:
        item = yard.items[movement.tag]
        parent = yard.gone[yard.parents[movement.tag]]
        yard.gone[parent.item.tag] = replace(parent, returned_mm2=parent.returned_mm2 - item.area_mm2)
    yard.put_state(movement.tag, last.before)
    return -last.moved


def _unbin(yard: Yard, movement: Step, number: int) -> Account:
    tag, area = yard.bins[number]
    if tag != movement.tag:
        raise ValueError(f"movement {number} is of {tag}, not of {movement.tag}")
    parent = yard.gone[tag]
    yard.gone[tag] = replace(parent, binned_mm2=parent.binned_mm2 - area)
    del yard.bins[number]
    value = area * parent.item.cost_pence_per_m2
    return Account(0, area, -area, 0, value, -value)


def _said(kind: MovementKind) -> str:
    return kind.value.replace("_", " ")


EFFECTS: dict[MovementKind, Callable[[Yard, Step], Account]] = {
    MovementKind.RECEIVED: _receive,
    MovementKind.CORRECTED: _correct,
    MovementKind.MOVED: _move,
    MovementKind.COUNTED: _count,
    MovementKind.CONDITION: _condition,
    MovementKind.RESERVED: _reserve,
    MovementKind.RELEASED: _release,
    MovementKind.HELD: _hold,
    MovementKind.FREED: _free,
    MovementKind.CUT: _cut,
    MovementKind.RETURNED: _return,
    MovementKind.WRITTEN_OFF: _write_off,
    MovementKind.BINNED: _bin,
    MovementKind.REVERSED: _reverse,
}


def _value(item: StockItem) -> int:
    return item.area_mm2 * item.cost_pence_per_m2


def _states(movement: Step, *names: str) -> None:
    if set(movement.values) != set(names):
        found, right = ", ".join(sorted(movement.values)) or "nothing", ", ".join(names) or "nothing"
        raise ValueError(f"{movement.tag} {_said(movement.kind)} states {found}, must state {right}")


def _checked(item: StockItem) -> StockItem:
    if item.width_mm <= 0 or item.length_mm <= 0 or item.cost_pence_per_m2 < 0:
        raise ValueError(f"{item.tag}: a size must be positive and a cost not negative; found {item}")
    return item


def _text(values: Mapping[str, Value] | Mapping[str, str | int], name: str, otherwise: str = "") -> str:
    value = values.get(name, otherwise)
    if not isinstance(value, str):
        raise ValueError(f"{name} must be text, found {value!r}")
    return value


def _whole(values: Mapping[str, Value] | Mapping[str, str | int], name: str, otherwise: int = 0) -> int:
    value = values.get(name, otherwise)
    if not isinstance(value, int) or isinstance(value, bool):
        raise ValueError(f"{name} must be a whole number, found {value!r}")
    return value
