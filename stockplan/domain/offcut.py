"""Whether an offcut as somebody measured it can be, is meant as it was typed, and is worth its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.domain.stock import StockItem
from stockplan.domain.units import metres, size
from stockplan.domain.worth import Leftover, big_enough, keep_reason

Size = tuple[int, int]  # across and along the pile, mm
NEAR_MM = 150  # what is left over seldom differs more than this from what was planned (common practice)


@dataclass(frozen=True, slots=True)
class Doubts:
    """What there is against an offcut; each empty when there is nothing.

    Parameters
    ----------
    impossible
        Why it cannot be.
    swapped
        Why across and along look exchanged.
    bin
        Why it is not worth keeping.
    """

    impossible: str = ""
    swapped: str = ""
    bin: str = ""


def doubts(found: Size, source: StockItem | None, planned: Sequence[Size], widest_mm: int) -> Doubts:
    """Hold an offcut against what it was cut from, what the plan foresaw, and the firm's rule for keeping.

    Parameters
    ----------
    found
        As typed; positive.
    source
        What it was cut from; None when that is not known.
    planned
        Sizes of what the plan left over of the source; none when no plan did.
    widest_mm
        Width of the product's widest roll; 0 when none is known.
    """
    leftover = Leftover(*found, on_core=False, widest_mm=widest_mm)
    reason = "" if big_enough(leftover) else keep_reason(leftover)
    most, named = _limits(source, widest_mm)
    turned = found[::-1]
    if not _within(found, most):
        words = f"{size(*found)} m cannot come off {named}"
        if _within(turned, most):
            return Doubts(words, f"{words}; {size(*turned)} m could", reason)
        return Doubts(words, "", reason)
    if found != turned and any(_near(turned, one) for one in planned) and not any(_near(found, one) for one in planned):
        left = next(one for one in planned if _near(turned, one))
        return Doubts("", f"the plan leaves {size(*left)} m over, not {size(*found)} m", reason)
    return Doubts("", "", reason)


def exchanged(found: Size, recorded: Size, widest_mm: int) -> str:
    """Say why across and along look exchanged in a new measurement of a thing on record; empty when they do not.

    Parameters
    ----------
    found, recorded
        As typed, and as on record; positive.
    widest_mm
        Width of the product's widest roll; 0 when none is known.
    """
    turned = found[::-1]
    if found == turned or _near(found, recorded):
        return ""
    if _near(turned, recorded):
        return f"on record it is {size(*recorded)} m, not {size(*found)} m"
    return too_wide(found, widest_mm)


def too_wide(found: Size, widest_mm: int) -> str:
    """Say that a thing is wider than any roll of its grass, where the other way round it would not be; else empty.

    Parameters
    ----------
    found, widest_mm
        As in `exchanged`.
    """
    width_mm, length_mm = found
    return f"no roll of it is wider than {metres(widest_mm)} m" if 0 < length_mm <= widest_mm < width_mm else ""


def _limits(source: StockItem | None, widest_mm: int) -> tuple[Size | None, str]:
    if source is not None:
        named = f"{source.tag}, which is {size(source.width_mm, source.length_mm)} m"
        return (source.width_mm, source.length_mm), named
    if widest_mm:
        return (widest_mm, 10**9), f"a roll of it, which is at most {metres(widest_mm)} m across"
    return None, ""


def _within(found: Size, most: Size | None) -> bool:
    return most is None or (found[0] <= most[0] and found[1] <= most[1])


def _near(one: Size, other: Size) -> bool:
    return abs(one[0] - other[0]) <= NEAR_MM and abs(one[1] - other[1]) <= NEAR_MM
