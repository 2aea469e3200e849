"""JSON with exact decimals, one record a line.

The standard writer prints 1100.00 as 1100.0 and cannot print a `Decimal`; here a `Decimal` keeps its places, and each
record of a list stands on a line of its own, so that two plan files can be compared line by line.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal


def json_document(document: Mapping[str, object]) -> str:
    """Print an object with one key a line, lists of records one record a line, a newline at the end."""
    lines = []
    for key, value in document.items():
        if isinstance(value, Sequence) and not isinstance(value, str) and value:
            records = ",\n".join(f"    {_inline(record)}" for record in value)
            lines.append(f"  {_inline(key)}: [\n{records}\n  ]")
        else:
            lines.append(f"  {_inline(key)}: {_inline(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def amount(pence: int | None) -> Decimal | None:
    """State an amount in whole units of the currency; what is not known stays None.

    Parameters
    ----------
    pence
        Whole pence.
    """
    return None if pence is None else Decimal(pence).scaleb(-2)


def area(square_millimetres: int | None) -> Decimal | None:
    """State an area in square metres; what is not known stays None.

    Parameters
    ----------
    square_millimetres
        Whole square millimetres.
    """
    return None if square_millimetres is None else Decimal(square_millimetres).scaleb(-6)


def pence_of(stated: Decimal | int) -> int:
    """Read an amount back: the inverse of `amount`.

    Parameters
    ----------
    stated
        In whole units of the currency.

    Raises
    ------
    ValueError
        When it is no whole number of pence.
    """
    return whole_of(Decimal(stated) * 100)


def whole_of(value: Decimal) -> int:
    """Read a whole number.

    Parameters
    ----------
    value
        In its smallest unit.

    Raises
    ------
    ValueError
        When it is not whole.
    """
    if value != int(value):
        raise ValueError(f"{value.normalize():f} should be a whole number of its smallest unit")
    return int(value)


def _inline(value: object) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_inline(str(key))}: {_inline(item)}" for key, item in value.items()) + "}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(_inline(item) for item in value) + "]"
    if value is None or isinstance(value, (str, bool, int)):
        return json.dumps(value, ensure_ascii=False)
    raise TypeError(f"{type(value).__name__} has no exact form in a plan file; use int, str or Decimal")
