"""A lawn as measured: outline, holes, named edges, and what is known of where it lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot
from typing import NamedTuple

from stockplan.domain.pile import FULL_CIRCLE, PileWish

UNNAMED = "lawn"  # what a lawn is called that nobody gave a name


class Point(NamedTuple):
    """A place on the ground, mm; y is 90 degrees to the left of x, as on paper."""

    x_mm: int
    y_mm: int


Ring = tuple[Point, ...]


class LawnPlace(StrEnum):
    """Where a lawn lies; common practice for the pile turns on it."""

    BACK = "back"
    FRONT = "front"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class EdgeNote:
    """What is known of one edge of the outline.

    Parameters
    ----------
    number
        The edge from corner `number` to the next, counted from 0; the last one closes the outline.
    name
        Such as `house`, `door`, `path`; empty when it has none. Several edges may share one.
    no_seam
        Whether a seam must keep away from it.
    """

    number: int
    name: str = ""
    no_seam: bool = False


@dataclass(frozen=True, slots=True)
class Lawn:
    """One area of grass. Its outline is taken to be sound: what measuring in let through.

    Parameters
    ----------
    label
        Unique in its job.
    edge
        Corners in the order walked, either way round; at least three, the first not repeated at the end.
    holes
        What stands in it: beds, trees, ponds; each like `edge`, inside it and apart from one another.
    notes
        Edges with a name or a rule, in order of number, each at most once.
    place
        Back, front or other; default other.
    y_bearing
        Bearing of the y axis, degrees clockwise from north, 0 up to 360; None when north is not known.
    pile
        Its own wish, which holds for all that is seen together with it; None leaves it to the job.
    cannot_be_seen_with
        Labels of lawns of the same job that nobody sees together with this one. It holds both ways.

    Raises
    ------
    ValueError
        When a ring has fewer than three corners, a note names no edge or stands twice, or the bearing is out of range.
    """

    label: str
    edge: Ring
    holes: tuple[Ring, ...] = ()
    notes: tuple[EdgeNote, ...] = ()
    place: LawnPlace = LawnPlace.OTHER
    y_bearing: float | None = None
    pile: PileWish | None = None
    cannot_be_seen_with: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if any(len(ring) < 3 for ring in (self.edge, *self.holes)):
            raise ValueError(f"lawn {self.label}: an outline has three corners or more")
        numbers = [note.number for note in self.notes]
        if numbers != sorted(set(numbers)) or any(not 0 <= number < len(self.edge) for number in numbers):
            raise ValueError(f"lawn {self.label}: notes on edges {numbers} of {len(self.edge)}, each once and in order")
        if self.y_bearing is not None and not 0 <= self.y_bearing < FULL_CIRCLE:
            raise ValueError(f"lawn {self.label}: bearing {self.y_bearing} lies outside 0 to 360 degrees")

    @property
    def area_mm2(self) -> int:
        """Area without the holes, mm², rounded half up."""
        return (abs(twice_area(self.edge)) - sum(abs(twice_area(hole)) for hole in self.holes) + 1) // 2

    @property
    def perimeter_mm(self) -> int:
        """Length of the outline, mm; holes have their own."""
        return perimeter(self.edge)

    @property
    def holes_perimeter_mm(self) -> int:
        """Length of the edges of all holes together, mm."""
        return sum(perimeter(hole) for hole in self.holes)

    def side(self, number: int) -> tuple[Point, Point]:
        """Ends of one edge, in the order walked; counted from 0."""
        return self.edge[number], self.edge[(number + 1) % len(self.edge)]

    def named(self, name: str) -> tuple[int, ...]:
        """Numbers of the edges of a name, letter case aside."""
        return tuple(note.number for note in self.notes if note.name.casefold() == name.casefold())

    def no_seam_edges(self) -> tuple[int, ...]:
        """Numbers of the edges a seam must keep away from."""
        return tuple(note.number for note in self.notes if note.no_seam)


def lawn_words(label: str) -> str:
    """Say which lawn: `lawn front`; one that is called `lawn` or `lawn 2`, as those that nobody named, is said once."""
    words = label.split()
    return label if words and words[0].casefold() == UNNAMED else f"lawn {label}".rstrip()


def twice_area(ring: Sequence[Point]) -> int:
    """Twice the area enclosed, mm², exact; positive when walked anticlockwise.

    The coordinates ('shoelace') rule: the sum of x[k]·y[k+1] − x[k+1]·y[k] round the ring.
    """
    following = [*ring[1:], *ring[:1]]
    return sum(a.x_mm * b.y_mm - b.x_mm * a.y_mm for a, b in zip(ring, following, strict=True))


def perimeter(ring: Sequence[Point]) -> int:
    """Length of a closed ring, mm, rounded once at the end."""
    following = [*ring[1:], *ring[:1]]
    return round(sum(hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm) for a, b in zip(ring, following, strict=True)))
