"""Lists of what lies in the yard, as plain text and as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from stockplan.domain.units import money, size, square_metres
from stockplan.report.columns import in_columns, set_out
from stockplan.report.handling import LIFT_KEY, lift_words
from stockplan.report.words import counted, form_words

if TYPE_CHECKING:
    from stockplan.actions.finding import Found

_RIGHT = ("across × along, m", "m²", "about kg", "cost per m²")


def stock_list(found: Sequence[Found]) -> str:
    """List things in the yard with what is promised of them, and how many and how much."""
    summary = _summary(found)
    if not found:
        return summary
    headings = (
        "tag", "product", "batch", "lies as", "across × along, m", "m²", "about kg", "lift", "bay", "cost per m²",
        "in since", "remarks",
    )  # fmt: skip
    # Column by column, and what is alike only once: a whole yard is to be listed at once.
    tags, products, batches, forms, widths, lengths, bays, costs, *_ = zip(*found, strict=True)
    sizes = list(zip(widths, lengths, strict=True))
    weights = [one.weight_kg for one in found]
    columns = (
        tags,
        products,
        [batch or "unknown" for batch in batches],
        _each(form_words, forms),
        _each(lambda sides: size(*sides), sizes),
        _each(lambda sides: square_metres(sides[0] * sides[1]), sizes),
        ["" if kg is None else str(kg) for kg in weights],
        lifts := _each(lambda kg: "" if kg is None else lift_words(kg), weights),
        bays,
        _each(money, costs),
        _each(lambda day: _day(day) or "", [one.since for one in found]),
        [remarks(one) for one in found],
    )
    marked = f"\n{LIFT_KEY}" if any(lifts) else ""
    return f"{set_out(headings, columns, right=_RIGHT)}\n\n{summary}{marked}"


def _each(words: Callable[[Any], str], values: Sequence[Any]) -> list[str]:
    """Say each value in words, alike ones worked out once."""
    known = {value: words(value) for value in set(values)}
    return [known[value] for value in values]


def remarks(one: Found) -> str:
    """Say what is promised of a thing, and in what condition it is where it is not sound."""
    told = []
    if one.plan is not None:
        told.append(f"plan {one.plan}")
    if one.quote is not None:
        told.append(f"held for {one.quote} until {one.held_until}")
    if one.condition:
        told.append(one.condition)
    return ", ".join(told)


def unseen_list(bays: Sequence[tuple[str, Sequence[Found]]], days: int) -> str:
    """List what has not been seen for some days, bay by bay."""
    parts = []
    for bay, found in bays:
        rows = [
            (
                one.tag,
                one.last_seen.isoformat() if one.last_seen else "never",
                one.product,
                one.batch or "unknown",
                form_words(one.form),
                size(one.width_mm, one.length_mm),
                remarks(one),
            )
            for one in found
        ]
        headings = ("tag", "last seen", "product", "batch", "lies as", "across × along, m", "remarks")
        table = in_columns(headings, rows, right=("across × along, m",))
        parts.append(f"{f'Bay {bay}' if bay else 'Bay not recorded'}: {counted(len(rows), 'item')}\n{table}")
    count = sum(len(found) for _, found in bays)
    parts.append(
        f"{counted(count, 'item')} not seen for {counted(days, 'day')} or more, in {counted(len(bays), 'bay')}"
    )
    return "\n\n".join(parts)


def stock_json(found: Sequence[Found]) -> str:
    """Print things in the yard as JSON: sizes in whole millimetres, money with two decimals."""
    return items_json("stockplan-stock", found)


def items_json(form: str, found: Sequence[Found]) -> str:
    """Print things as JSON of a format, one a line; column by column, as `stock_list` does."""
    encode = json.JSONEncoder(ensure_ascii=False).encode
    columns = [_each(encode, [value(one) for one in found]) for value in _RECORD.values()]
    record = "\n  {" + ", ".join(f'"{key}": %s' for key in _RECORD) + "}"
    items = ",".join([record % cells for cells in zip(*columns, strict=True)])
    return f'{{\n "format": "{form}",\n "version": 1,\n "items": [{items}\n ]\n}}'


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


_RECORD: dict[str, Callable[[Found], Any]] = {
    "tag": lambda one: one.tag,
    "product": lambda one: one.product,
    "batch": lambda one: one.batch,
    "form": lambda one: one.form.value,
    "width_mm": lambda one: one.width_mm,
    "length_mm": lambda one: one.length_mm,
    "bay": lambda one: one.bay,
    "cost_per_m2": lambda one: one.cost_pence_per_m2 / 100,
    "weight_kg": lambda one: one.weight_kg,
    "reserved_for_plan": lambda one: one.plan,
    "held_for": lambda one: one.quote,
    "held_until": lambda one: _day(one.held_until),
    "condition": lambda one: one.condition or "sound",
    "in_yard_since": lambda one: _day(one.since),
    "last_seen": lambda one: _day(one.last_seen),
    "cut_from": lambda one: one.parent,
}


def _summary(found: Sequence[Found]) -> str:
    total = square_metres(sum(one.width_mm * one.length_mm for one in found))
    return f"{counted(len(found), 'item')}, {total} m²"
