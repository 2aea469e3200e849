"""A few pieces to be cut together: every way to take some of them, and the least sizes that give them all."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

Size = tuple[int, int]  # across, along, mm
Pieces = tuple[Size, ...]  # largest first


def in_order(pieces: Iterator[Size] | Pieces) -> Pieces:
    """Put pieces in the order in which this module wants them: largest first."""
    return tuple(sorted(pieces, key=lambda size: (-size[0] * size[1], -size[0])))


@lru_cache(maxsize=4096)
def with_first(pieces: Pieces) -> tuple[tuple[Pieces, Pieces], ...]:
    """Every way to take the first piece and some of the others, alike pieces counted once; and what is then left."""
    return tuple(((pieces[0], *taken), rest) for taken, rest in subsets(pieces[1:]))


@lru_cache(maxsize=4096)
def subsets(pieces: Pieces) -> tuple[tuple[Pieces, Pieces], ...]:
    """Every way to take some of the pieces, none and all among them, alike pieces counted once; and what is left."""
    if not pieces:
        return (((), ()),)
    first, count = pieces[0], pieces.count(pieces[0])
    others = subsets(tuple(piece for piece in pieces if piece != first))
    found = []
    for taken_count in range(count + 1):
        mine, left = (first,) * taken_count, (first,) * (count - taken_count)
        found += [(mine + taken, left + rest) for taken, rest in others]
    return tuple(found)


@lru_cache(maxsize=4096)
def drop_boxes(pieces: Pieces) -> tuple[Size, ...]:
    """Every least width and length of one drop that gives the pieces; none is as narrow and as short as another."""
    if not pieces:
        return ((0, 0),)
    found = set()
    for lane, rest in with_first(pieces):
        width, length = max(w for w, _ in lane), sum(n for _, n in lane)
        found |= {(width + w, max(length, n)) for w, n in drop_boxes(rest)}
    return _least(found)


@lru_cache(maxsize=4096)
def boxes(pieces: Pieces) -> tuple[Size, ...]:
    """Every least width and length of a source that gives the pieces, narrowest first."""
    if not pieces:
        return ((0, 0),)
    found = set()
    for drop, rest in with_first(pieces):
        others = boxes(rest)
        found |= {(max(w, v), n + m) for w, n in drop_boxes(drop) for v, m in others}
    return _least(found)


def _least(sizes: set[Size]) -> tuple[Size, ...]:
    kept: list[Size] = []
    for width, length in sorted(sizes):
        if not kept or length < kept[-1][1]:
            kept.append((width, length))
    return tuple(kept)


def fits(pieces: Pieces, width_mm: int, length_mm: int) -> bool:
    """Whether a source of this size gives the pieces.

    Parameters
    ----------
    pieces
        Largest first, see `in_order`.
    width_mm, length_mm
        Of the source.
    """
    return any(width <= width_mm and length <= length_mm for width, length in boxes(pieces))
