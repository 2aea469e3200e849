"""How each kind of movement is stated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from stockplan.domain.ledger_movements import (
    CORRECTABLE,
    CutPiece,
    Entry,
    Movement,
    MovementKind,
    Value,
    condition_word,
)
from stockplan.domain.stock import StockForm, StockItem


def received(item: StockItem, why: str, plan: int | None = None, delivery: str = "") -> Entry:
    """Say that an item came into the yard.

    Parameters
    ----------
    item, why, plan
        What came, why, and for which plan it was ordered.
    delivery
        Key of the order or number of the delivery note; default none.
    """
    values: dict[str, Value] = {
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        **{name: getattr(item, name) for name in CORRECTABLE},
    }
    if delivery:
        values["delivery"] = delivery
    return Entry(MovementKind.RECEIVED, item.tag, why, values, plan)


def corrected(before: StockItem, after: StockItem, why: str) -> Entry:
    """Say that an item's size, bay or cost was found to be other than recorded.

    Parameters
    ----------
    before, after
        The item as recorded and as found.
    why
        A remark for the record; may be empty.

    Raises
    ------
    ValueError
        When the two differ in anything that cannot be corrected, or in nothing.
    """
    values = {name: getattr(after, name) for name in CORRECTABLE if getattr(after, name) != getattr(before, name)}
    if not values or replace(before, **values) != after:
        raise ValueError(f"{before} cannot be corrected to {after}")
    return Entry(MovementKind.CORRECTED, before.tag, why, values)


def moved(tag: str, bay: str, why: str) -> Entry:
    """Say that an item lies in another bay now.

    Parameters
    ----------
    tag
        As written on the item.
    bay
        Where it lies now.
    why
        A remark for the record; may be empty.
    """
    return Entry(MovementKind.MOVED, tag, why, {"bay": bay})


def counted(tag: str, why: str) -> Entry:
    """Say that an item was seen where the record has it."""
    return Entry(MovementKind.COUNTED, tag, why)


def condition(tag: str, word: str, why: str) -> Entry:
    """Say in what condition an item is, in a word such as those of `CONDITIONS`.

    Parameters
    ----------
    tag
        As written on the item.
    word
        The word.
    why
        A remark for the record; may be empty.
    """
    return Entry(MovementKind.CONDITION, tag, why, {"condition": condition_word(word)})


def reserved(tag: str, plan: int, why: str) -> Entry:
    """Say that an accepted plan will cut an item.

    Parameters
    ----------
    tag
        As written on the item.
    plan
        Number of the plan.
    why
        A remark for the record; may be empty.
    """
    return Entry(MovementKind.RESERVED, tag, why, plan=plan)


def released(tag: str, plan: int, why: str) -> Entry:
    """Say that the plan an item was reserved for gives it up.

    Parameters
    ----------
    tag
        As written on the item.
    plan
        Number of the plan.
    why
        A remark for the record; may be empty.
    """
    return Entry(MovementKind.RELEASED, tag, why, plan=plan)


def held(tag: str, quote: str, until: date, why: str) -> Entry:
    """Say that an item is kept for a quote up to and including a day; from the next day on it is free by itself.

    Parameters
    ----------
    tag
        As written on the item.
    quote
        For whom it is kept.
    until
        The last day of that.
    why
        A remark for the record; may be empty.
    """
    return Entry(MovementKind.HELD, tag, why, {"quote": quote, "until": until.isoformat()})


def freed(tag: str, why: str) -> Entry:
    """Say that an item is no longer kept for its quote."""
    return Entry(MovementKind.FREED, tag, why)


def cut(tag: str, pieces: Sequence[CutPiece], why: str, plan: int | None = None) -> Entry:
    """Say that an item was cut: it leaves the yard whole, and what is left over is returned or binned afterwards.

    Parameters
    ----------
    tag, why
        What was cut, and why.
    pieces
        The pieces that were cut, spoiled ones too; may be none.
    plan
        Number of the plan followed; default none.
    """
    stated: list[dict[str, str | int]] = [
        {
            "job": piece.job,
            "strip": piece.strip,
            "number": piece.number,
            "width_mm": piece.width_mm,
            "length_mm": piece.length_mm,
            **({"spoiled": 1} if piece.spoiled else {}),
        }
        for piece in pieces
    ]
    return Entry(MovementKind.CUT, tag, why, {"pieces": stated}, plan)


def returned(
    tag: str, parent: str, form: StockForm, size_mm: tuple[int, int], bay: str, why: str, plan: int | None = None
) -> Entry:
    """Say that a part of an item that was cut is in the yard under a new tag.

    Product, batch and cost are those of the parent.

    Parameters
    ----------
    tag, parent
        The new tag, and the one that was cut.
    form
        Part roll or offcut.
    size_mm
        Across and along the pile, mm.
    bay, why
        Where it lies, and why it is kept.
    plan
        Number of the plan that foresaw it; default none.
    """
    values: dict[str, Value] = {"form": form.value, "width_mm": size_mm[0], "length_mm": size_mm[1], "bay": bay}
    return Entry(MovementKind.RETURNED, tag, why, values, plan, parent)


def written_off(tag: str, why: str) -> Entry:
    """Say that an item is gone for good."""
    return Entry(MovementKind.WRITTEN_OFF, tag, why)


def binned(parent: str, area_mm2: int, why: str, plan: int | None = None) -> Entry:
    """Say that some of an item that was cut has been thrown away.

    Parameters
    ----------
    parent
        Tag of what was cut.
    area_mm2
        How much, square millimetres; positive.
    why, plan
        As everywhere.
    """
    return Entry(MovementKind.BINNED, parent, why, {"area_mm2": area_mm2}, plan)


def reversal(movement: Movement, why: str) -> Entry:
    """Undo a movement."""
    values: dict[str, Value] = {"movement": movement.number}
    return Entry(MovementKind.REVERSED, movement.tag, why, values, movement.plan, movement.parent)
