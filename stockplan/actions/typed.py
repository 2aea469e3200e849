"""Holding what was typed about a thing against the rules that spreadsheets are held against, every fault at once."""

from __future__ import annotations

from datetime import date

from stockplan.domain.limits import MOST_LENGTH_MM, MOST_PRICE_PENCE, MOST_WIDTH_MM
from stockplan.domain.stock import StockItem
from stockplan.domain.units import metres, money
from stockplan.errors import StockplanError
from stockplan.store.rows import ledger_day
from stockplan.store.sheet_cells import Rule, Wrong, batch_name, code, free_text, read_cell, tag_name

_RULES: dict[str, Rule] = {"bay": code, "condition": code, "quote": code}


def check_text(name: str, text: str) -> None:
    """Check a bay, a condition or the name of a quote.

    Parameters
    ----------
    name
        What it is, as it is called in messages.
    text
        As typed.

    Raises
    ------
    StockplanError
        When it is empty, too long, or holds what cannot be seen.
    """
    if fault := _fault(name, text, _RULES[name]):
        raise StockplanError(fault)


def check_hold(quote: str, until: date) -> None:
    """Check the name of a quote, and that the last day something is kept for it has not passed.

    Parameters
    ----------
    quote
        For whom something is kept.
    until
        The last day of that; today or later.

    Raises
    ------
    StockplanError
        When either cannot be; names both.
    """
    today = ledger_day()
    faults = [fault] if (fault := _fault("quote", quote, _RULES["quote"])) else []
    if until < today:
        faults.append(f"until: that day has passed, found {until}, would be right: {today} or later")
    if faults:
        raise StockplanError("\n".join(faults))


def check_item(item: StockItem, delivery: str = "") -> None:
    """Check everything typed about an item that comes in.

    Parameters
    ----------
    item
        As typed.
    delivery
        With which delivery it came; default none is named.

    Raises
    ------
    StockplanError
        When anything cannot be; names all of it.
    """
    texts: tuple[tuple[str, str, Rule], ...] = (
        ("tag", item.tag, tag_name),
        ("product", item.product, code),
        ("batch", item.batch, batch_name),
        ("bay", item.bay, code),
        ("delivery", delivery, free_text),
    )
    faults = [fault for name, text, rule in texts if (fault := _fault(name, text, rule))]
    faults += size_faults(item.width_mm, item.length_mm) + _cost_faults(item.cost_pence_per_m2)
    if faults:
        raise StockplanError("\n".join(faults))


def check_measured(size_mm: tuple[int, int] | None, cost_pence_per_m2: int | None) -> None:
    """Check a size across and along that someone measured, and a cost; None is nothing to check.

    Parameters
    ----------
    size_mm
        Across and along, mm; up to the limits of `stockplan.domain.limits`.
    cost_pence_per_m2
        0 or more.

    Raises
    ------
    StockplanError
        When anything cannot be; names all of it.
    """
    faults = size_faults(*size_mm) if size_mm is not None else []
    faults += _cost_faults(cost_pence_per_m2 or 0)
    if faults:
        raise StockplanError("\n".join(faults))


def _cost_faults(pence: int) -> list[str]:
    if pence <= MOST_PRICE_PENCE:
        return []
    return [f"cost: found {money(pence)} per m², would be right: at most {money(MOST_PRICE_PENCE)}"]


def size_faults(width_mm: int, length_mm: int) -> list[str]:
    """Say what is wrong with a size that someone measured; nothing when it can be.

    Parameters
    ----------
    width_mm, length_mm
        Across and along, mm.
    """
    faults = []
    for name, found, most in (("across", width_mm, MOST_WIDTH_MM), ("along", length_mm, MOST_LENGTH_MM)):
        if not 0 < found <= most:
            faults.append(
                f"{name}: found {metres(found)} m, would be right: more than nothing, at most {metres(most, 0)} m"
            )
    return faults


def _fault(name: str, text: str, rule: Rule) -> str | None:
    value = read_cell(text, rule)
    if isinstance(value, Wrong):
        return f"{name}: {value.what}, found {text!r}, would be right: {value.right}"
    return None if value == text else f"{name}: found {text!r}, would be right: {value!r}"
