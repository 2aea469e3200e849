"""Sizes of a small job as people type them: `3.1x1.8`, across by along the pile, and `2*0.9x2.2` for two alike."""

from __future__ import annotations

import re
from collections.abc import Iterable

from stockplan.domain.limits import LEAST_STRIP_MM, MOST_LENGTH_MM, MOST_WIDTH_MM
from stockplan.domain.pieces import Pieces, Size, in_order
from stockplan.domain.units import metres, parse_length
from stockplan.errors import UnitError

MOST_COUNT = 99
_COUNTED = re.compile(r"(\d{1,9})[*@](.+)", re.ASCII)


def parse_size(text: str) -> Size:
    """Read one size, across by along the pile, and return whole millimetres.

    Raises
    ------
    UnitError
        When it is no size, or a side is out of bounds; the faults of both sides are told.
    """
    parts = re.split(r"\s*[x×]\s*", text.strip().lower())
    if len(parts) != 2 or not all(parts):
        raise UnitError(f"size {text!r} cannot be read; write across x along in metres, such as 3.1x1.8")
    sides: list[int] = []
    faults: list[str] = []
    for name, side, most in (("across", parts[0], MOST_WIDTH_MM), ("along", parts[1], MOST_LENGTH_MM)):
        try:
            found = parse_length(side)
        except UnitError as error:
            faults.append(f"size {text!r}: {error}")
            continue
        sides.append(found)
        if not LEAST_STRIP_MM <= found <= most:
            bounds = f"{metres(LEAST_STRIP_MM)} to {metres(most, 0)} m {name} the pile"
            is_lawn = name == "across" and most < found < 10 * most
            wider = f"; what is wider is laid in strips: --lawn {text!r}" if is_lawn else ""
            faults.append(
                f"size {text!r} is {metres(found)} m {name}; would be {bounds}; write metres, such as 3.1x1.8{wider}"
            )
    if faults:
        raise UnitError("\n".join(faults))
    return sides[0], sides[1]


def parse_sizes(texts: Iterable[str]) -> Pieces:
    """Read sizes, each with its count before it where there are several alike.

    Parameters
    ----------
    texts
        Such as `3.1x1.8`, `2*0.9x2.2` or `2@0.9x2.2`; blanks between sizes separate them too, and one size may have
        blanks around its x.

    Raises
    ------
    UnitError
        When one cannot be read; all faults are told.
    """
    pieces: list[Size] = []
    faults: list[str] = []
    for word in re.sub(r"\s*([xX×*@])\s*", r"\1", " ".join(texts)).split():
        counted = _COUNTED.fullmatch(word)
        count = int(counted[1]) if counted else 1
        if not 1 <= count <= MOST_COUNT:
            faults.append(f"size {word!r} asks for {count} pieces; would be 1 to {MOST_COUNT}")
        try:
            pieces += [parse_size(counted[2] if counted else word)] * count
        except UnitError as error:
            faults.append(str(error))
    if faults:
        raise UnitError("\n".join(faults))
    if not pieces:
        raise UnitError("no size given; write across x along in metres, such as 3.1x1.8")
    return in_order(tuple(pieces))


def sizes_text(pieces: Pieces) -> str:
    """Print sizes as people read them, alike ones counted: `3.10 × 1.80, 2 of 0.90 × 2.20`."""
    words = []
    for width, length in dict.fromkeys(pieces):
        count = pieces.count((width, length))
        words.append(f"{f'{count} of ' if count > 1 else ''}{metres(width)} × {metres(length)}")
    return ", ".join(words)
