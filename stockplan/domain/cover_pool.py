"""What there is for jobs that lose something promised, and what pieces cost from it at least.

What is cut from a thing costs no less than its area as the thing is worth for its area, since the worth of a square
metre never falls as a leftover grows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stockplan.domain.cover_promise import Item, Load, sizes_of
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, Size

Items = tuple[Item, ...]
Room = tuple[float, int]  # what a piece costs at least, and how many there is room for at most
INFINITE = float("inf")


@dataclass(frozen=True, slots=True)
class Shared:
    """A thing that is cut otherwise than planned and may give others more.

    Parameters
    ----------
    load
        The thing and what is planned; of one that is not promised a load of nothing.
    lifted
        Planned pieces that it loses.
    asked
        Sizes of the question that it gives; default none.
    """

    load: Load
    lifted: Items
    asked: Pieces = ()

    @property
    def source(self) -> Source:
        """The thing."""
        return self.load.source


@dataclass(frozen=True, slots=True)
class Special:
    """All there is of a batch that holds other than what the pool has of it.

    Parameters
    ----------
    things
        What can be cut from.
    name
        Two of one name and batch hold the same.
    """

    things: tuple[Source | Shared, ...]
    name: tuple[object, ...]


Specials = Mapping[str, Special]


class Pool:
    """Things that nothing is to be cut from, as they lie.

    Parameters
    ----------
    sources
        Of one product, each key and size once.
    """

    def __init__(self, sources: Iterable[Source]) -> None:
        ranked = [(one.pence_per_mm2, one.key, one) for one in sources]
        ranked.sort(key=lambda one: one[:2])
        self._ranked = [(one.width_mm, one.length_mm, one.batch, rate) for rate, _, one in ranked]
        self.batches: dict[str, list[Source]] = {}
        for _, _, one in ranked:
            self.batches.setdefault(one.batch, []).append(one)
        self._rooms: dict[Size, dict[str, Room]] = {}

    def rooms(self, size: Size) -> dict[str, Room]:
        """Give for each batch that has a thing large enough what the piece costs from it at least, and how often."""
        if size not in self._rooms:
            width, length = size
            found: dict[str, Room] = {}
            for w, n, batch, rate in self._ranked:
                if w >= width and n >= length:
                    floor, copies = found.get(batch, (rate * width * length - 1, 0))
                    found[batch] = (floor, copies + (w // width) * (n // length))
            self._rooms[size] = found
        return self._rooms[size]

    def least(self, size: Size) -> float:
        """What a piece costs at least from any."""
        return min((floor for floor, _ in self.rooms(size).values()), default=INFINITE)

    def floors(self, items: Items) -> list[tuple[float, str]]:
        """Give what pieces cost at least from each batch that may have room for all."""
        sizes = sizes_of(items)
        rooms = [(self.rooms(size), sizes.count(size)) for size in dict.fromkeys(sizes)]
        return [
            (sum(room[batch][0] * count for room, count in rooms), batch)
            for batch in min((room for room, _ in rooms), key=len)
            if all(batch in room and room[batch][1] >= count for room, count in rooms)
        ]


def lies(thing: Source | Shared) -> Source:
    """The thing itself."""
    return thing.source if isinstance(thing, Shared) else thing


def floor_of(thing: Source | Shared, size: Size) -> float:
    """What a piece costs from a thing at least; of one that is cut anyway it may be what would have been binned.

    Parameters
    ----------
    thing
        What it is cut from.
    size
        Of the piece, across and along, mm.
    """
    source = lies(thing)
    if not source.gives(size):
        return INFINITE
    return 0.0 if isinstance(thing, Shared) else source.pence_per_mm2 * size[0] * size[1] - 1
