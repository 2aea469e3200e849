"""Lists of what lies in the yard, as plain text and as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Hashable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from stockplan.cli.saying import room
from stockplan.domain.lifting import weight_kg
from stockplan.domain.units import money, size, square_metres
from stockplan.report.columns import in_columns, set_out
from stockplan.report.handling import LIFT_KEY, lift_words
from stockplan.report.words import counted, form_words

if TYPE_CHECKING:
    from stockplan.actions.finding import Found, Listing

_RIGHT = ("across × along, m", "m²", "about kg", "cost per m²")


def stock_list(listing: Listing) -> str:
    """List things in the yard with what is promised of them, and how many and how much; column by column, for speed."""
    each = listing.each
    summary = f"{counted(listing.number, 'item')}, {square_metres(listing.area_mm2)} m²"
    if not each.tag:
        return summary
    if left := listing.number - len(each.tag):
        summary = (
            f"{left:,} more are not shown; name a product, a batch, a bay or a size, or list all of them with --all\n"
            f"{summary}"
        )
    headings = (
        "tag", "product", "batch", "lies as", "across × along, m", "m²", "about kg", "lift", "bay", "cost per m²",
        "in since", "remarks",
    )  # fmt: skip
    kinds = list(zip(each.width_mm, each.length_mm, each.weight_g_m2, strict=True))
    of_a_kind = {kind: _kind_in_words(*kind) for kind in set(kinds)}
    sizes, areas, weights = zip(*map(of_a_kind.__getitem__, kinds), strict=True)
    lifts = _each(lambda kg: lift_words(int(kg)) if kg else "", weights)
    columns = (
        each.tag,
        each.product,
        [batch or "unknown" for batch in each.batch],
        _each(form_words, each.form),
        sizes,
        areas,
        weights,
        lifts,
        each.bay,
        _each(money, each.cost_pence_per_m2),
        _each(lambda day: _day(day) or "", each.since),
        list(map(_remarks, each.plan, each.quote, each.held_until, each.condition)),
    )
    marked = f"\n{LIFT_KEY}" if any(weights) else ""
    return f"{set_out(headings, columns, _RIGHT, room())}\n\n{summary}{marked}"


def _kind_in_words(width_mm: int, length_mm: int, weight_g_m2: int | None) -> tuple[str, str, str]:
    """Say size, area and weight of a thing."""
    kg = "" if weight_g_m2 is None else str(weight_kg(width_mm, length_mm, weight_g_m2))
    return size(width_mm, length_mm), square_metres(width_mm * length_mm), kg


def _each(words: Callable[[Any], Any], values: Sequence[Hashable]) -> list[Any]:
    """Put each value in words, alike ones once."""
    known = {value: words(value) for value in set(values)}
    return [known[value] for value in values]


def remarks(one: Found) -> str:
    """Say what is promised of a thing, and in what condition it is where it is not sound."""
    return _remarks(one.plan, one.quote, one.held_until, one.condition)


def _remarks(plan: int | None, quote: str | None, until: date | None, condition: str) -> str:
    if plan is None and quote is None:
        return condition
    told = [f"plan {plan}"] if plan is not None else []
    if quote is not None:
        told.append(f"held for {quote} until {until}")
    if condition:
        told.append(condition)
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
        table = in_columns(headings, rows, ("across × along, m",), room())
        parts.append(f"{f'Bay {bay}' if bay else 'Bay not recorded'}: {counted(len(rows), 'item')}\n{table}")
    count = sum(len(found) for _, found in bays)
    parts.append(
        f"{counted(count, 'item')} not seen for {counted(days, 'day')} or more, in {counted(len(bays), 'bay')}"
    )
    return "\n\n".join(parts)


def stock_json(listing: Listing) -> str:
    """Print things in the yard as JSON: sizes in whole millimetres, money with two decimals."""
    return items_json("stockplan-stock", listing)


def items_json(form: str, listing: Listing) -> str:
    """Print things as JSON of a format, one a line; column by column, for speed."""
    encode, quoted = json.JSONEncoder(ensure_ascii=False).encode, json.encoder.encode_basestring
    columns = _json_columns(listing.each)
    cells = []
    for values, plain in columns.values():
        shown = {value: plain(value) for value in set(values)}
        texts = {value: quoted(text) if isinstance(text, str) else encode(text) for value, text in shown.items()}
        cells.append([texts[value] for value in values])
    record = "\n  {" + ", ".join(f'"{key}": %s' for key in columns) + "}"
    items = ",".join([record % one for one in zip(*cells, strict=True)])
    return f'{{\n "format": "{form}",\n "version": 1,\n "items": [{items}\n ]\n}}'


def _json_columns(each: Any) -> dict[str, tuple[Sequence[Hashable], Callable[[Any], Any]]]:
    """Give each key of things as JSON has them, with what it is made of and how."""
    weighed = list(zip(each.width_mm, each.length_mm, each.weight_g_m2, strict=True))

    def same(value: object) -> object:
        return value

    return {
        "tag": (each.tag, same),
        "product": (each.product, same),
        "batch": (each.batch, same),
        "form": (each.form, same),
        "width_mm": (each.width_mm, same),
        "length_mm": (each.length_mm, same),
        "bay": (each.bay, same),
        "cost_per_m2": (each.cost_pence_per_m2, lambda pence: pence / 100),
        "weight_kg": (weighed, lambda one: None if one[2] is None else weight_kg(*one)),
        "reserved_for_plan": (each.plan, same),
        "held_for": (each.quote, same),
        "held_until": (each.held_until, _day),
        "condition": (each.condition, lambda word: word or "sound"),
        "in_yard_since": (each.since, _day),
        "last_seen": (each.last_seen, _day),
        "cut_from": (each.parent, same),
    }


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None
