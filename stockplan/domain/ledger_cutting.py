"""What cutting does to a yard: the item leaves whole; what comes back or is binned is never more than it held."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from stockplan.domain.ledger_checks import checked, must_be_new, must_not_be_held, states, text_in, whole_in
from stockplan.domain.ledger_movements import CutPiece, MovementKind
from stockplan.domain.ledger_state import Account, Gone, Step, value_of
from stockplan.domain.stock import StockForm
from stockplan.domain.units import size, square_metres

if TYPE_CHECKING:
    from stockplan.domain.ledger_fold import Yard


def cut(yard: Yard, movement: Step) -> Account:
    """Let an item leave the yard whole, in pieces.

    Parameters
    ----------
    yard, movement
        The yard, which is changed, and what happens to it.

    Raises
    ------
    ValueError
        When the item is not in the yard, or gives no such pieces.
    """
    item = yard.item(movement.tag)
    states(movement, "pieces")
    plan = yard.reservations.get(item.tag)
    if plan is not None and plan != movement.plan:
        raise ValueError(f"{item.tag} is reserved for plan {plan}; release it first")
    must_not_be_held(yard, movement)
    gone = Gone(item, MovementKind.CUT, movement.plan, _pieces(movement))
    wider = (piece for piece in gone.pieces if piece.width_mm > item.width_mm or piece.length_mm > item.length_mm)
    if wide := next(wider, None):
        where = f"piece {wide.job} {wide.strip} no. {wide.number}"
        found, most = size(wide.width_mm, wide.length_mm), size(item.width_mm, item.length_mm)
        raise ValueError(f"{item.tag}: {where} measures {found}; {item.tag} itself is only {most}")
    if gone.unaccounted_mm2 < 0:
        raise ValueError(
            f"{item.tag}: its pieces come to {square_metres(item.area_mm2 - gone.unaccounted_mm2)} m²; it holds only "
            f"{square_metres(item.area_mm2)} m²; measure it again first if it is larger"
        )
    yard.take_out(item.tag, gone)
    return Account(area_used_mm2=item.area_mm2, value_used=value_of(item))


def _pieces(movement: Step) -> tuple[CutPiece, ...]:
    stated = movement.values["pieces"]
    if isinstance(stated, str | int):
        raise ValueError(f"{movement.tag}: pieces must be a list, found {stated!r}")
    made = []
    for one in stated:
        if not {"job", "strip", "number", "width_mm", "length_mm"} <= set(one):
            raise ValueError(f"{movement.tag}: a piece must state job, strip, number and size, found {dict(one)}")
        piece = CutPiece(
            text_in(one, "job"),
            text_in(one, "strip"),
            whole_in(one, "number"),
            whole_in(one, "width_mm"),
            whole_in(one, "length_mm"),
            bool(one.get("spoiled", 0)),
        )
        if piece.width_mm <= 0 or piece.length_mm <= 0 or piece.number <= 0:
            raise ValueError(f"{movement.tag}: a piece's size and number must be positive; found {piece}")
        made.append(piece)
    return tuple(made)


def bring_back(yard: Yard, movement: Step) -> Account:
    """Let a part of what was cut come back.

    Parameters
    ----------
    yard, movement
        The yard, which is changed, and what happens to it.

    Raises
    ------
    ValueError
        When it cannot come off what was cut in this form or size, or its tag is not new.
    """
    must_be_new(yard, movement)
    states(movement, "form", "width_mm", "length_mm", "bay")
    parent = _parent(yard, movement.parent or "")
    item = checked(
        replace(
            parent.item,
            tag=movement.tag,
            form=StockForm(text_in(movement.values, "form")),
            width_mm=whole_in(movement.values, "width_mm"),
            length_mm=whole_in(movement.values, "length_mm"),
            bay=text_in(movement.values, "bay"),
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
    return Account(area_used_mm2=-item.area_mm2, value_used=-value_of(item))


def throw_away(yard: Yard, movement: Step) -> Account:
    """Let a part of what was cut go to the bin.

    Parameters
    ----------
    yard, movement
        The yard, which is changed, and what happens to it.

    Raises
    ------
    ValueError
        When it is more than is left of what was cut.
    """
    states(movement, "area_mm2")
    parent = _parent(yard, movement.tag)
    area = whole_in(movement.values, "area_mm2")
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


def take_out_of_bin(yard: Yard, movement: Step, number: int) -> Account:
    """Undo a binning.

    Parameters
    ----------
    yard, movement
        The yard, which is changed, and what happens to it.
    number
        Of the movement that is undone.

    Raises
    ------
    ValueError
        When that was of another tag.
    """
    tag, area = yard.bins[number]
    if tag != movement.tag:
        raise ValueError(f"movement {number} is of {tag}, not of {movement.tag}")
    parent = yard.gone[tag]
    yard.gone[tag] = replace(parent, binned_mm2=parent.binned_mm2 - area)
    del yard.bins[number]
    value = area * parent.item.cost_pence_per_m2
    return Account(0, area, -area, 0, value, -value)
