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
