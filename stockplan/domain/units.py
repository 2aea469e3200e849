"""Whole millimetres and whole pence: reading what people type, and printing it back.

Inside the program every length is an `int` of millimetres and every amount an `int` of pence (or cents). Text is
converted here and nowhere else. Reading never rounds: a length finer than a millimetre or an amount finer than a
penny is refused. Printing an area rounds half up to a tenth of a square metre.
"""

from __future__ import annotations

import re
from decimal import Decimal

from stockplan.errors import UnitError

MM_PER_M = 1000
MM2_PER_M2 = 1_000_000

LONGEST = 40  # characters: the trade needs no longer number, and Python refuses to print one of thousands of digits
_METRES = re.compile(r"(\d+(?:\.\d+)?|\.\d+)\s*m?", re.ASCII)
_MILLIMETRES = re.compile(r"(\d+)\s*mm", re.ASCII)
_CENTIMETRES = re.compile(r"(\d+(?:\.\d)?)\s*cm", re.ASCII)
_METRES_AND_CENTIMETRES = re.compile(r"(\d+)m(\d{2})", re.ASCII)
_MONEY = re.compile(r"\d+(?:\.\d+)?|\.\d+", re.ASCII)


def parse_length(text: str) -> int:
    """Read a length as people write it and return whole millimetres.

    Parameters
    ----------
    text
        Metres (`3.6`, `3.625 m`), millimetres (`3600mm`), centimetres (`360cm`) or metres and centimetres (`3m60`).

    Raises
    ------
    UnitError
        When the text is none of these, uses a decimal comma, or is finer than a millimetre.
    """
    cleaned = text.strip().lower()
    if len(cleaned) > LONGEST:
        raise UnitError(f"length {cleaned[:LONGEST]!r}… is {len(cleaned)} characters long; write metres such as 3.6")
    if match := _MILLIMETRES.fullmatch(cleaned):
        return int(match[1])
    if match := _CENTIMETRES.fullmatch(cleaned):
        return int(Decimal(match[1]) * 10)
    if match := _METRES_AND_CENTIMETRES.fullmatch(cleaned):
        return int(match[1]) * MM_PER_M + int(match[2]) * 10
    if match := _METRES.fullmatch(cleaned):
        millimetres = Decimal(match[1]) * MM_PER_M
        if millimetres != int(millimetres):
            raise UnitError(f"length {text!r} is finer than a millimetre; give at most three decimals of a metre")
        return int(millimetres)
    if re.fullmatch(r"\d+,\d+\s*m?", cleaned):
        raise UnitError(f"length {text!r} has a decimal comma; write {cleaned.replace(',', '.')}")
    raise UnitError(f"length {text!r} cannot be read; write metres such as 3.6")


def parse_money(text: str) -> int:
    """Read an amount such as `1100` or `1100.50` and return whole pence.

    Raises
    ------
    UnitError
        When the text is not a plain number with at most two decimals.
    """
    cleaned = text.strip()
    if len(cleaned) > LONGEST:
        raise UnitError(f"amount {cleaned[:LONGEST]!r}… is {len(cleaned)} characters long; write one such as 1100.50")
    if not _MONEY.fullmatch(cleaned):
        if re.fullmatch(r"\d+,\d{1,2}", cleaned):
            raise UnitError(f"amount {text!r} has a decimal comma; write {cleaned.replace(',', '.')}")
        raise UnitError(f"amount {text!r} cannot be read; write a plain number such as 1100.50")
    pence = Decimal(cleaned) * 100
    if pence != int(pence):
        raise UnitError(f"amount {text!r} is finer than a penny; give at most two decimals")
    return int(pence)


def metres(millimetres: int, decimals: int = 2) -> str:
    """Print millimetres as metres with `decimals` places, or three where fewer would hide a millimetre.

    Parameters
    ----------
    millimetres
        The length, mm; any sign.
    decimals
        Places to show when they are exact, 0 to 3; default 2.
    """
    step = 10 ** (3 - decimals)
    places = decimals if millimetres % step == 0 else 3
    whole, rest = divmod(abs(millimetres), MM_PER_M)
    sign = "-" if millimetres < 0 else ""
    return f"{sign}{whole}.{rest // 10 ** (3 - places):0{places}}" if places else f"{sign}{whole}"


def size(width_mm: int, length_mm: int) -> str:
    """Print a rectangle as `across × along` in metres."""
    return f"{metres(width_mm)} × {metres(length_mm)}"


def money(pence: int) -> str:
    """Print pence as an amount with two decimals and thousands commas, without a currency sign."""
    sign = "-" if pence < 0 else ""
    return f"{sign}{abs(pence) // 100:,}.{abs(pence) % 100:02d}"


def square_metres(square_millimetres: int) -> str:
    """Print an area in square metres, one decimal, rounded half up."""
    tenths = (square_millimetres + MM2_PER_M2 // 20) // (MM2_PER_M2 // 10)
    return f"{tenths // 10}.{tenths % 10}"
