"""One piece covered by two side by side, of one batch, with a seam along the pile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from stockplan.domain.cover import Answer, Question, Ready, Take
from stockplan.domain.cover_purchase import cheapest_purchases
from stockplan.domain.cover_search import Desk, cheapest
from stockplan.domain.cover_source import Source
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Size, in_order
from stockplan.domain.stock import SupplyOption
from stockplan.domain.worth import LEAST_WIDTH_MM


def side_by_side(desk: Desk, sources: Iterable[Source], size: Size, layout: LayoutSettings) -> Iterator[Answer]:
    """Give ways to cover one piece by two side by side, of one batch, with a seam along the pile; the cheapest first.

    Each of the two is cut wider by what is trimmed off a seamed side. As laid, its free side trimmed too, it covers no
    less than the narrowest strip the firm lays.

    Parameters
    ----------
    desk, sources
        What there is.
    size
        The piece.
    layout
        Selvedge, narrowest strip, cost of a seam.
    """
    length = size[1]
    total, least = _widths(size, layout)
    if total < 2 * least:
        return
    seam = _Seam(desk, total, length, least)
    bounded: list[tuple[float, _Pair | tuple[Take, ...]]] = list(seam.pairs(sources))
    for _, takes in cheapest(bounded, seam.refine):
        assert not isinstance(takes, _Pair)
        yield _seamed(Ready.FREE, takes, length, layout)


def bought_side_by_side(
    desk: Desk, options: Sequence[SupplyOption], question: Question, layout: LayoutSettings
) -> Answer | None:
    """Give the cheapest found of ways to cover one piece by two bought side by side; None when there is none.

    Tried: the widest strip that each offer gives beside the rest, two alike, and the narrowest strip beside the rest.

    Parameters
    ----------
    desk
        Of the product.
    options
        What may be bought, any number of times; at least one offer.
    question
        Of one piece, and the day of asking.
    layout
        Selvedge, narrowest strip, cost of a seam.
    """
    length = question.pieces[0][1]
    total, least = _widths(question.pieces[0], layout)
    widest = max(option.width_mm for option in options)
    lefts = [*(min(option.width_mm, total - least) for option in options), -(-total // 2)]
    ways = (
        cheapest_purchases(desk, options, replace(question, pieces=in_order(((left, length), (total - left, length)))))
        for left in dict.fromkeys(lefts)
        if least <= left <= widest and least <= total - left <= widest
    )
    takes = min((way for way in ways if way), key=lambda way: sum(take.cost_pence for take in way), default=None)
    return _seamed(Ready.BUY, takes, length, layout) if takes else None


def _widths(size: Size, layout: LayoutSettings) -> tuple[int, int]:
    """Of both pieces together, and of the narrower at least: with what is trimmed off at its seam and its free side."""
    return size[0] + 2 * layout.selvedge_mm, layout.least_narrow_mm + _trimmed_mm(layout)


def _trimmed_mm(layout: LayoutSettings) -> int:
    """What of a side does not cover."""
    return layout.selvedge_mm + layout.free_side_mm


def _seamed(ready: Ready, takes: tuple[Take, ...], length_mm: int, layout: LayoutSettings) -> Answer:
    """An answer with a seam of this length along the pile, its cost rounded up to the penny."""
    covers = min(width for take in takes for width, _ in take.pieces) - _trimmed_mm(layout)
    narrow = covers if covers < layout.warn_narrow_mm else 0
    return Answer(ready, takes, length_mm, -(-layout.seam_pence_per_m * length_mm // 1000), narrow_mm=narrow)


class _Pair:
    """Two sources, the same twice for both pieces from one; bounded well or only roughly."""

    __slots__ = ("close", "left", "right")

    def __init__(self, left: Source, right: Source, close: bool = False) -> None:
        self.left, self.right, self.close = left, right, close


class _Seam:
    """Splits a width in two, trying every split that can be the best: see `small_cuts` on why these are enough."""

    def __init__(self, desk: Desk, total: int, length: int, least: int) -> None:
        self.desk, self.total, self.length, self.least = desk, total, length, least

    def pairs(self, sources: Iterable[Source]) -> Iterator[tuple[float, _Pair]]:
        """Every pair that can give the two pieces, with a rough bound: a line in the width taken from each."""
        batches: dict[str, list[tuple[Source, float, float]]] = {}
        for one in sorted(sources, key=lambda source: source.key):
            if one.length_mm >= self.length and one.width_mm >= self.least:
                beyond, beside = self.desk.rates(one, self.least, self.length)
                fixed = one.touch_pence - beyond * one.width_mm * (one.length_mm - self.length)
                if beside > beyond:
                    fixed = one.touch_pence - beside * one.width_mm * (one.length_mm - self.length)
                rate = beside * self.length
                batches.setdefault(one.batch, []).append((one, fixed - rate * one.width_mm - 1, rate))
        for members in batches.values():
            for place, (left, left_fixed, left_rate) in enumerate(members):
                if left.length_mm >= 2 * self.length and 2 * left.width_mm >= self.total:
                    area = left.width_mm * left.length_mm
                    yield left.touch_pence * self.total * self.length / area - 2, _Pair(left, left, True)
                for right, right_fixed, right_rate in members[place + 1 :]:
                    low, high = self._range(left, right)
                    if low <= high:
                        ends = [left_rate * a + right_rate * (self.total - a) for a in (low, high)]
                        yield left_fixed + right_fixed + min(ends), _Pair(left, right)

    def _range(self, left: Source, right: Source) -> tuple[int, int]:
        return (
            max(self.least, self.total - right.width_mm),
            min(left.width_mm, self.total - self.least),
        )

    def refine(self, one: _Pair | tuple[Take, ...]) -> Iterator[tuple[float, _Pair | tuple[Take, ...], bool]]:
        """A close bound for a pair with a rough one; the cheapest split for one with a close one."""
        assert isinstance(one, _Pair)
        if not one.close:
            desk, length = self.desk, self.length
            bounds = (
                desk.least(one.left, ((a, length),)) + desk.least(one.right, ((self.total - a, length),))
                for a in self._splits(one)
            )
            yield min(bounds), _Pair(one.left, one.right, True), False
            return
        found = [takes for a in self._splits(one) if (takes := self._takes(one, a))]
        if found:
            best = min(found, key=lambda takes: sum(take.cost_pence for take in takes))
            yield sum(take.cost_pence for take in best), best, True

    def _splits(self, pair: _Pair) -> list[int]:
        """Widths of the left piece at which something left over comes to nothing or to a width of the rule."""
        low, high = self._range(pair.left, pair.right)
        full = self.desk.cutter(pair.left).widths_of_the_rule[-1]
        marks = {low, high, self.total // 2, -(-self.total // 2)}
        for mark in (0, LEAST_WIDTH_MM, full):
            marks |= {mark, pair.left.width_mm - mark, self.total - mark, self.total - pair.right.width_mm + mark}
        return sorted(mark for mark in marks if low <= mark <= high)

    def _takes(self, pair: _Pair, left_mm: int) -> tuple[Take, ...] | None:
        pieces = [(left_mm, self.length), (self.total - left_mm, self.length)]
        if pair.left is pair.right:
            take = self.desk.take(pair.left, in_order(tuple(pieces)))
            return (take,) if take else None
        takes = [
            self.desk.take(source, (piece,)) for source, piece in zip((pair.left, pair.right), pieces, strict=True)
        ]
        return tuple(take for take in takes if take) if all(takes) else None
