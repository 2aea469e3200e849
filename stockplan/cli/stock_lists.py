"""Lists of what lies in the yard, as plain text and as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from stockplan.domain.stock import StockItem
from stockplan.domain.units import money, size, square_metres
from stockplan.report.columns import in_columns
from stockplan.report.handling import LIFT_KEY, lift_words
from stockplan.report.words import counted, form_words

if TYPE_CHECKING:
    from stockplan.actions.finding import Found

_RIGHT = ("across × along, m", "m²", "about kg", "cost per m²")


def stock_list(found: Sequence[Found]) -> str:
    """List things in the yard with what is promised of them, and how many and how much."""
    summary = _summary([one.item for one in found])
    if not found:
        return summary
    headings = (
        "tag", "product", "batch", "lies as", "across × along, m", "m²", "about kg", "lift", "bay", "cost per m²",
        "in since", "remarks",
    )  # fmt: skip
    rows = [
        (
            one.item.tag,
            one.item.product,
            one.item.batch or "unknown",
            form_words(one.item.form),
            size(one.item.width_mm, one.item.length_mm),
            square_metres(one.item.area_mm2),
            "" if one.weight_kg is None else str(one.weight_kg),
            "" if one.weight_kg is None else lift_words(one.weight_kg),
            one.item.bay,
            money(one.item.cost_pence_per_m2),
            one.since.isoformat() if one.since else "",
            remarks(one),
        )
        for one in found
    ]
    marked = f"\n{LIFT_KEY}" if any(row[headings.index("lift")] for row in rows) else ""
    return f"{in_columns(headings, rows, right=_RIGHT)}\n\n{summary}{marked}"


def remarks(one: Found) -> str:
    """Say what is promised of a thing, and in what condition it is where it is not sound."""
    told = []
    if one.plan is not None:
        told.append(f"plan {one.plan}")
    if one.hold is not None:
        told.append(f"held for {one.hold.quote} until {one.hold.until}")
    if one.condition:
        told.append(one.condition)
    return ", ".join(told)


def unseen_list(bays: Sequence[tuple[str, Sequence[Found]]], days: int) -> str:
    """List what has not been seen for some days, bay by bay."""
    parts = []
    for bay, found in bays:
        rows = [
            (
                one.item.tag,
                one.last_seen.isoformat() if one.last_seen else "never",
                one.item.product,
                one.item.batch or "unknown",
                form_words(one.item.form),
                size(one.item.width_mm, one.item.length_mm),
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
    document = {"format": "stockplan-stock", "version": 1, "items": [item_record(one) for one in found]}
    return json.dumps(document, ensure_ascii=False, indent=1)


def item_record(one: Found) -> dict[str, Any]:
    """Give one thing in the yard as JSON has it."""
    item = one.item
    return {
        "tag": item.tag,
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        "width_mm": item.width_mm,
        "length_mm": item.length_mm,
        "bay": item.bay,
        "cost_per_m2": item.cost_pence_per_m2 / 100,
        **({} if one.weight_kg is None else {"weight_kg": one.weight_kg}),
        "reserved_for_plan": one.plan,
        "held_for": one.hold.quote if one.hold else None,
        "held_until": one.hold.until.isoformat() if one.hold else None,
        "condition": one.condition or "sound",
        "in_yard_since": one.since.isoformat() if one.since else None,
        "last_seen": one.last_seen.isoformat() if one.last_seen else None,
        "cut_from": one.parent,
    }


def _summary(items: Sequence[StockItem]) -> str:
    total = square_metres(sum(item.area_mm2 for item in items))
    return f"{counted(len(items), 'item')}, {total} m²"
