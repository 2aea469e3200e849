"""Lengths as they stand in tape notes, in the unit that the notes state."""

from __future__ import annotations

import re
from enum import StrEnum

from stockplan.domain.units import LONGEST, parse_length
from stockplan.errors import UnitError

MM_PER_INCH = 25.4
MM_PER_FOOT = 304.8

_FEET = re.compile(r"""(\d+(?:\.\d+)?)(?:\s*(?:ft|')\s*)?(?:(\d+(?:\.\d+)?)\s*(?:in|"))?""", re.ASCII)
_INCHES = re.compile(r"""(\d+(?:\.\d+)?)\s*(?:in|")""", re.ASCII)
_WHOLE = re.compile(r"\d+(?:\s*mm)?", re.ASCII)


class Unit(StrEnum):
    """What a bare number counts."""

    METRES = "m"
    MILLIMETRES = "mm"
    FEET = "ft"


def read_length(text: str, unit: Unit) -> int:
    """Read a length and return whole millimetres; feet are rounded to the millimetre, nothing else is.

    Parameters
    ----------
    text
        In metres as `parse_length` reads them; in millimetres a whole number; in feet `20`, `20.5`, `20'6"` or
        `20ft6in`.
    unit
        What was stated.

    Raises
    ------
    UnitError
        When the text is no length in that unit, or far too long for one. Feet are read only where feet are stated.
    """
    cleaned = text.strip().lower()
    if len(cleaned) > LONGEST:
        raise UnitError(
            f"length {cleaned[:LONGEST]!r}… is {len(cleaned)} characters long; at most {LONGEST} characters"
        )
    if unit is Unit.FEET:
        return _feet(text, cleaned)
    if unit is Unit.MILLIMETRES:
        if not _WHOLE.fullmatch(cleaned):
            raise UnitError(f"length {text!r} cannot be read; write whole millimetres such as 3600")
        return int(cleaned.removesuffix("mm"))
    if re.search(r"ft|in|['\"]", cleaned):
        raise UnitError(f"length {text!r} is in feet or inches; state feet as the unit, or write metres such as 3.6")
    return parse_length(cleaned)


def _feet(text: str, cleaned: str) -> int:
    if match := _INCHES.fullmatch(cleaned):
        return round(float(match[1]) * MM_PER_INCH)
    match = _FEET.fullmatch(cleaned)
    split = match is not None and match[2] is not None
    if match is None or (split and not re.search(r"ft|'", cleaned)) or (split and float(match[2]) >= 12):
        raise UnitError(f"length {text!r} cannot be read; write feet such as 20.5, or feet and inches such as 20'6\"")
    return round(float(match[1]) * MM_PER_FOOT + float(match[2] or 0) * MM_PER_INCH)
