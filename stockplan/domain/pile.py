"""Which way the pile is to lean, as people ask for it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from stockplan.errors import UnitError

FULL_CIRCLE = 360.0
HOUSE = "house"  # the edge name that common practice turns on

_BEARING = re.compile(r"(\d+(?:\.\d{1,3})?)\s*(?:°|deg|degrees)?", re.ASCII)
_FORMS = (
    "write 'towards EDGE', 'from EDGE', 'bearing DEGREES', 'along EDGE', 'along DEGREES', 'square to EDGE' or 'open'"
)


class PileKind(StrEnum):
    """The ways of asking."""

    TOWARDS = "towards"  # a named edge
    FROM = "from"  # away from a named edge
    BEARING = "bearing"
    SQUARE = "square to"  # a named edge, either way
    ALONG = "along"  # a named edge or a bearing, either way
    OPEN = "open"  # the planner may pick an axis, still one for all that is seen together


@dataclass(frozen=True, slots=True)
class PileWish:
    """One wish: which way the blades lean.

    Parameters
    ----------
    kind
        Which of the forms.
    edge
        Name of an edge, for the forms that have one.
    bearing
        Degrees clockwise from north, 0 up to 360, at most three decimals; from the y axis where north is not known.

    Raises
    ------
    ValueError
        When the form lacks its edge or bearing, or has one it cannot use.
    """

    kind: PileKind
    edge: str = ""
    bearing: float | None = None

    def __post_init__(self) -> None:
        if self.bearing is not None and not 0 <= self.bearing < FULL_CIRCLE:
            raise ValueError(f"bearing {self.bearing} lies outside 0 to 360 degrees")
        wants_bearing = self.kind is PileKind.BEARING or (self.kind is PileKind.ALONG and not self.edge)
        wants_edge = self.kind not in (PileKind.BEARING, PileKind.OPEN) and not wants_bearing
        if wants_bearing != (self.bearing is not None) or wants_edge != bool(self.edge):
            raise ValueError(f"a pile wish {self.kind.value!r} with edge {self.edge!r} and bearing {self.bearing}")

    @property
    def either_way(self) -> bool:
        """Whether only the axis is asked for."""
        return self.kind in (PileKind.SQUARE, PileKind.ALONG)

    def __str__(self) -> str:
        of = self.edge if self.bearing is None else f"{self.bearing:.3f}".rstrip("0").rstrip(".")
        return f"{self.kind.value} {of}".strip()


def parse_pile(text: str) -> PileWish:
    """Read a wish as people write it; `str()` of a wish reads back as itself.

    Parameters
    ----------
    text
        `towards house`, `from house`, `bearing 135`, `square to house`, `along road`, `along 90`, or `open`.

    Raises
    ------
    UnitError
        When the text is none of these, or a bearing is 360 or more.
    """
    words = " ".join(text.split())
    for kind in PileKind:
        begins = words[: len(kind.value)].casefold() == kind.value
        rest = words[len(kind.value) :].strip()
        if not begins or (rest and words[len(kind.value)] != " "):
            continue
        if kind is PileKind.OPEN and not rest:
            return PileWish(kind)
        if kind is PileKind.OPEN or not rest:
            break
        match = _BEARING.fullmatch(rest)
        if match and kind in (PileKind.BEARING, PileKind.ALONG):
            return PileWish(kind, bearing=_bearing(match[1], text))
        if kind is not PileKind.BEARING:
            return PileWish(kind, edge=rest)
    raise UnitError(f"pile {text!r} cannot be read; {_FORMS}")


def _bearing(digits: str, text: str) -> float:
    bearing = float(digits)
    if bearing >= FULL_CIRCLE:
        raise UnitError(
            f"pile {text!r} has a bearing of 360 degrees or more; write degrees clockwise from north, below 360"
        )
    return bearing
