"""Whether pieces fit inside others, none turned."""

from __future__ import annotations

from collections.abc import Sequence


def fits_inside(pieces: Sequence[tuple[int, int]], others: Sequence[tuple[int, int]]) -> bool:
    """Whether each piece fits inside a piece of its own among the others, none turned.

    Widest first, each takes the shortest that is long enough among those wide enough: whatever is left is open to all
    that come after, so no other choice could serve more.

    Parameters
    ----------
    pieces, others
        Widths and lengths, mm.
    """
    if len(pieces) > len(others):
        return False
    waiting = sorted(others)
    open_to_all: list[int] = []
    for width, length in sorted(pieces, reverse=True):
        while waiting and waiting[-1][0] >= width:
            open_to_all.append(waiting.pop()[1])
        enough = [one for one in open_to_all if one >= length]
        if not enough:
            return False
        open_to_all.remove(min(enough))
    return True
