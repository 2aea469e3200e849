"""What each kind of movement does to a yard, and how it moves area and money; each refuses what cannot happen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.ledger_checks import (
    checked,
    must_be_new,
    must_not_be_held,
    said,
    states,
    text_in,
    whole_in,
)
from stockplan.domain.ledger_cutting import bring_back, cut, take_out_of_bin, throw_away
from stockplan.domain.ledger_movements import CORRECTABLE, SOUND, MovementKind
from stockplan.domain.ledger_state import Account, Gone, Hold, Step, Undo, day_of, value_of
from stockplan.domain.stock import StockForm, StockItem

if TYPE_CHECKING:
    from stockplan.domain.ledger_fold import Yard


def _receive(yard: Yard, movement: Step) -> Account:
    must_be_new(yard, movement)
    values = {name: value for name, value in movement.values.items() if name != "delivery"}
    expected = {"product", "batch", "form", *CORRECTABLE}
    if set(values) != expected:
        raise ValueError(f"{movement.tag} received with {sorted(values)}, must state {sorted(expected)}")
    item = checked(
        StockItem(
            tag=movement.tag,
            product=text_in(values, "product"),
            batch=text_in(values, "batch"),
            form=StockForm(text_in(values, "form")),
            width_mm=whole_in(values, "width_mm"),
            length_mm=whole_in(values, "length_mm"),
            bay=text_in(values, "bay"),
            cost_pence_per_m2=whole_in(values, "cost_pence_per_m2"),
        )
    )
    yard.items[item.tag] = item
    return Account(area_in_mm2=item.area_mm2, value_in=value_of(item))


def _correct(yard: Yard, movement: Step) -> Account:
    before = yard.item(movement.tag)
    values = movement.values
    if not values or not set(values) <= set(CORRECTABLE):
        raise ValueError(f"{movement.tag} cannot be corrected in {', '.join(values) or 'nothing'}")
    after = checked(
        replace(
            before,
            width_mm=whole_in(values, "width_mm", before.width_mm),
            length_mm=whole_in(values, "length_mm", before.length_mm),
            bay=text_in(values, "bay", before.bay),
            cost_pence_per_m2=whole_in(values, "cost_pence_per_m2", before.cost_pence_per_m2),
        )
    )
    yard.items[after.tag] = after
    return Account(area_in_mm2=after.area_mm2 - before.area_mm2, value_in=value_of(after) - value_of(before))


def _move(yard: Yard, movement: Step) -> Account:
    before = yard.item(movement.tag)
    states(movement, "bay")
    yard.items[movement.tag] = replace(before, bay=text_in(movement.values, "bay"))
    return Account()


def _count(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    states(movement)
    return Account()


def _condition(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    states(movement, "condition")
    word = text_in(movement.values, "condition")
    if not word:
        raise ValueError(f"{movement.tag}: a condition is a word such as wet; found nothing")
    if word == SOUND:
        yard.conditions.pop(movement.tag, None)
    else:
        yard.conditions[movement.tag] = word
    return Account()


def _reserve(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    states(movement)
    if movement.plan is None:
        raise ValueError(f"{movement.tag} is reserved for a plan; its number is missing")
    if movement.tag in yard.reservations:
        raise ValueError(f"{movement.tag} is reserved for plan {yard.reservations[movement.tag]} already; plan again")
    must_not_be_held(yard, movement)
    yard.reservations[movement.tag] = movement.plan
    yard.holds.pop(movement.tag, None)
    return Account()


def _release(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    states(movement)
    plan = yard.reservations.get(movement.tag)
    if plan is None or plan != movement.plan:
        found = f"reserved for plan {plan}" if plan is not None else "not reserved"
        raise ValueError(f"{movement.tag} is {found}; plan {movement.plan} cannot release it")
    del yard.reservations[movement.tag]
    return Account()


def _hold(yard: Yard, movement: Step) -> Account:
    yard.item(movement.tag)
    states(movement, "quote", "until")
    hold = Hold(text_in(movement.values, "quote"), date.fromisoformat(text_in(movement.values, "until")))
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
    states(movement)
    if yard.hold_on(movement.tag, day_of(movement)) is None:
        raise ValueError(f"{movement.tag} is not held")
    del yard.holds[movement.tag]
    return Account()


def _write_off(yard: Yard, movement: Step) -> Account:
    item = yard.item(movement.tag)
    if movement.values:
        raise ValueError(f"{movement.tag} is written off whole; found {', '.join(movement.values)}")
    yard.take_out(item.tag, Gone(item, MovementKind.WRITTEN_OFF, movement.plan))
    return Account(area_written_off_mm2=item.area_mm2, value_written_off=value_of(item))


def _reverse(yard: Yard, movement: Step) -> Account:
    states(movement, "movement")
    number = whole_in(movement.values, "movement")
    if number in yard.bins:
        return take_out_of_bin(yard, movement, number)
    standing = yard.standing(movement.tag)
    if standing is None or standing.number != number:
        raise ValueError(f"movement {number} {_why_not(yard, movement.tag, number)}")
    gone = yard.gone.get(movement.tag)
    if gone is not None and (gone.returned_mm2 or gone.binned_mm2):
        raise ValueError(
            f"movement {number} cannot be reversed: part of {movement.tag} was returned or binned since; "
            "reverse those movements first"
        )
    if standing.kind is MovementKind.RETURNED:
        item = yard.items[movement.tag]
        parent = yard.gone[yard.parents[movement.tag]]
        yard.gone[parent.item.tag] = replace(parent, returned_mm2=parent.returned_mm2 - item.area_mm2)
    yard.put_state(movement.tag, standing.before)
    return -standing.moved


def _why_not(yard: Yard, tag: str, number: int) -> str:
    """Say why a movement other than the last one of its tag that stands cannot be reversed."""
    last, standing = yard.latest.get(tag), yard.standing(tag)
    if last is not None and last.number == number:
        return "is a reversal and cannot be reversed; put it right with a new movement"
    if standing is None:
        return f"cannot be reversed: no movement of {tag} stands"
    one: Undo | None = standing
    while one is not None and one.number > number:
        one = one.earlier
    if one is None or one.number != number:
        return f"cannot be reversed: it does not stand; the last movement of {tag} that stands is {standing.number}"
    return (
        f"cannot be reversed: the last movement of {tag} that stands is {standing.number}, {said(standing.kind)}; "
        "reverse that first, or put it right with a new movement"
    )


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
    MovementKind.CUT: cut,
    MovementKind.RETURNED: bring_back,
    MovementKind.WRITTEN_OFF: _write_off,
    MovementKind.BINNED: throw_away,
    MovementKind.REVERSED: _reverse,
}
