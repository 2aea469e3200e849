"""What a competent foreman does by hand: the baseline, and the planner's first answer.

Jobs in the order they are laid, the largest first within a day; a job's pieces largest first; for each piece the
best-fitting offcut (what is left beside or behind pieces already cut counts as one), else the shortest part roll that
holds it, else an unopened roll, else a new roll. The whole job comes from one batch: he tries each and takes the
cheapest. Lawns he lays out the way that takes the least grass; only where no batch holds that does he try another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from stockplan.cutting.instance import Choice, Group, Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.solution import Solution
from stockplan.domain.worth import FULL_WIDTH_PERCENT

_Spot = tuple[int, int, int, int, int]  # preference, room, kind, drop, lane; the least is taken
_Place = tuple[tuple[int, int, int], int, tuple[int, int]]  # preference, room and kind; which source; drop and lane
UNSEEN: _Spot = (9, 0, 0, 0, 0)  # no spot: nobody has looked yet


@dataclass
class _OpenLane:
    width_mm: int
    pieces: list[PieceType]

    @property
    def used_mm(self) -> int:
        return sum(p.length_mm for p in self.pieces)


@dataclass
class _OpenDrop:
    length_mm: int
    lanes: list[_OpenLane]

    @property
    def used_mm(self) -> int:
        return sum(lane.width_mm for lane in self.lanes)


@dataclass
class _OpenSource:
    """A source being cut."""

    source: Source
    drops: list[_OpenDrop] = field(default_factory=list)
    best: dict[int, _Spot | None] = field(default_factory=dict)  # where a piece fits best, by its number

    @property
    def used_mm(self) -> int:
        return sum(d.length_mm for d in self.drops)

    def copy(self) -> _OpenSource:
        drops = [_OpenDrop(d.length_mm, [_OpenLane(n.width_mm, list(n.pieces)) for n in d.lanes]) for d in self.drops]
        return _OpenSource(self.source, drops)

    def pattern(self) -> Pattern:
        return Pattern(
            self.source,
            tuple(
                DropPattern(d.length_mm, tuple(LanePattern(n.width_mm, tuple(n.pieces)) for n in d.lanes))
                for d in self.drops
            ),
        )


@dataclass(frozen=True)
class Trial:
    """What cutting a unit from a batch would add to net cost, and the batch afterwards."""

    cost: int
    opened: list[_OpenSource]
    unopened: list[Source]


class Yard:
    """Everything a foreman can cut from as he goes.

    Parameters
    ----------
    instance
        The problem.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self._rolls_offered: dict[int, list[Source]] = {}
        self._unopened: dict[int, list[Source]] = {}
        self._open: dict[int, list[_OpenSource]] = {}
        self._numbers: dict[PieceType, int] = {}
        for source in instance.sources:
            if source.copies is None:
                self._rolls_offered.setdefault(source.batch, []).append(source)
            else:
                self._unopened.setdefault(source.batch, []).extend([source] * source.copies)

    def patterns(self) -> Counter[Pattern]:
        """How everything opened so far is cut."""
        return Counter(o.pattern() for opened in self._open.values() for o in opened)

    def try_unit(self, batch: int, demand: dict[PieceType, int]) -> Trial | None:
        """Cut a unit's pieces from one batch; None when the batch cannot hold them. Nothing is changed.

        What must be bought is tried as rolls alone too: a cut length is the cheaper for one piece, a roll for many.
        """
        offered = self._rolls_offered.get(batch, [])
        rolls_only = [s for s in offered if s.on_core]
        trials = [self._trial(batch, demand, offered)]
        if 0 < len(rolls_only) < len(offered):
            trials.append(self._trial(batch, demand, rolls_only))
        return min((t for t in trials if t is not None), key=lambda t: t.cost, default=None)

    def _trial(self, batch: int, demand: dict[PieceType, int], offered: list[Source]) -> Trial | None:
        before = self._open.get(batch, [])
        opened = list(before)
        unopened = list(self._unopened.get(batch, []))
        pieces = [t for t, count in demand.items() for _ in range(count)]
        for piece in sorted(pieces, key=lambda t: (-t.width_mm * t.length_mm, -t.length_mm, -t.width_mm)):
            if not self._place(piece, offered, opened, unopened):
                return None
        cost = sum(
            o.pattern().cost(self.instance) for n, o in enumerate(opened) if n >= len(before) or o is not before[n]
        )
        cost -= sum(o.pattern().cost(self.instance) for n, o in enumerate(before) if o is not opened[n])
        return Trial(cost, opened, unopened)

    def keep(self, batch: int, opened: list[_OpenSource], unopened: list[Source]) -> None:
        """Make what `try_unit` returned the state of the batch."""
        self._open[batch] = opened
        self._unopened[batch] = unopened

    def _place(
        self, piece: PieceType, offered: list[Source], opened: list[_OpenSource], unopened: list[Source]
    ) -> bool:
        """Cut one piece where the foreman would."""
        widest = self.instance.widest_mm
        spots = self._spots(piece, opened)
        loose = [
            ((0, s.width_mm * s.length_mm, 3), i, (0, 0))
            for i, s in enumerate(unopened)
            if s.makes(piece) and not s.on_core and s.width_mm * 100 < widest * FULL_WIDTH_PERCENT
        ]
        rolls = [
            ((1 + _is_fresh(s), s.length_mm, 3), i, (0, 0))
            for i, s in enumerate(unopened)
            if s.makes(piece) and (s.on_core or s.width_mm * 100 >= widest * FULL_WIDTH_PERCENT)
        ]
        least = min([*spots, *loose, *rolls], default=None)
        if least is not None:
            _cut(piece, least, opened, unopened)
            return True
        fitting = [s for s in offered if s.makes(piece)]
        if not fitting:
            return False
        bought = min(fitting, key=lambda s: self._price_of_opening(s, piece))
        opened.append(_OpenSource(bought, [_OpenDrop(piece.length_mm, [_OpenLane(piece.width_mm, [piece])])]))
        return True

    def _spots(self, piece: PieceType, opened: list[_OpenSource]) -> list[_Place]:
        """The best spot for a piece on each source opened; what was seen on one holds until it is cut again."""
        number = self._numbers.setdefault(piece, len(self._numbers))
        found = []
        for at, one in enumerate(opened):
            best = one.best.get(number, UNSEEN)
            if best is UNSEEN:
                one.best[number] = best = min(_spots_in(piece, one), default=None) if one.source.makes(piece) else None
            if best is not None:
                found.append((best[:3], at, best[3:]))
        return found

    def _price_of_opening(self, source: Source, piece: PieceType) -> tuple[int, int]:
        drop = DropPattern(piece.length_mm, (LanePattern(piece.width_mm, (piece,)),))
        return Pattern(source, (drop,)).cost(self.instance), source.length_mm


def _is_fresh(source: Source) -> int:
    """1 for an unopened roll, whose worth is its whole price."""
    whole = source.unit_cost.pence * source.width_mm * source.length_mm // source.unit_cost.area_mm2
    return int(source.on_core and source.value_pence == whole)


def _spots_in(piece: PieceType, one: _OpenSource) -> Iterable[_Spot]:
    """Places for a piece on an opened source."""
    for d, drop in enumerate(one.drops):
        beside = one.source.width_mm - drop.used_mm
        if piece.width_mm <= beside and piece.length_mm <= drop.length_mm:
            yield 0, beside * drop.length_mm, 1, d, 0
        for n, lane in enumerate(drop.lanes):
            behind = drop.length_mm - lane.used_mm
            if piece.width_mm <= lane.width_mm and piece.length_mm <= behind:
                yield 0, lane.width_mm * behind, 0, d, n
    tail = one.source.length_mm - one.used_mm
    if piece.length_mm <= tail:
        yield 1, tail, 2, 0, 0


def _cut(piece: PieceType, place: _Place, opened: list[_OpenSource], unopened: list[Source]) -> None:
    (_, _, kind), number, (d, n) = place
    if kind < 3:
        opened[number] = opened[number].copy()  # trials share what they do not change
    fresh = _OpenDrop(piece.length_mm, [_OpenLane(piece.width_mm, [piece])])
    if kind == 0:
        opened[number].drops[d].lanes[n].pieces.append(piece)
    elif kind == 1:
        opened[number].drops[d].lanes.append(_OpenLane(piece.width_mm, [piece]))
    elif kind == 2:
        opened[number].drops.append(fresh)
    else:
        opened.append(_OpenSource(unopened.pop(number), [fresh]))


def foreman_plan(instance: Instance, order: Sequence[int] | None = None) -> Solution:
    """The foreman's answer.

    Parameters
    ----------
    instance
        The problem.
    order
        Job indices in the order to take them; the default is his own.
    """
    if order is None:
        order = sorted(
            range(len(instance.jobs)), key=lambda j: (instance.jobs[j].lay_on, -instance.jobs[j].area_mm2, j)
        )
    groups_of: dict[int, list[int]] = {}
    for number, group in enumerate(instance.groups):
        groups_of.setdefault(group.job, []).append(number)
    yard = Yard(instance)
    _make_fixed(yard, instance)
    given: Counter[tuple[int, Choice]] = Counter()
    short = set()
    for job in order:
        chosen = _serve_job(yard, instance.groups, groups_of.get(job, []))
        if chosen is None:
            short.add(job)
        else:
            given.update(chosen)
    return Solution(yard.patterns(), dict(given), frozenset(short))


def _make_fixed(yard: Yard, instance: Instance) -> None:
    """Pieces that must be made come first; the caller has seen to it that they can be."""
    by_batch: dict[int, dict[PieceType, int]] = {}
    for piece, count in instance.fixed.items():
        by_batch.setdefault(piece.batch, {})[piece] = count
    for batch, demand in by_batch.items():
        found = yard.try_unit(batch, demand)
        if found is not None:
            yard.keep(batch, found.opened, found.unopened)


def _serve_job(yard: Yard, groups: Sequence[Group], mine: Sequence[int]) -> Counter[tuple[int, Choice]] | None:
    """Serve every unit of a job, or none of it."""
    before = {
        choice.batch: (list(yard._open.get(choice.batch, [])), list(yard._unopened.get(choice.batch, [])))
        for g in mine
        for choice in groups[g].demands
    }
    chosen: Counter[tuple[int, Choice]] = Counter()
    for number in mine:
        group = groups[number]
        for _ in range(group.units):
            served = _cheapest(yard, group)
            if served is None:
                for batch, (opened, unopened) in before.items():
                    yard.keep(batch, opened, unopened)
                return None
            choice, trial = served
            yard.keep(choice.batch, trial.opened, trial.unopened)
            chosen[number, choice] += 1
    return chosen


def _cheapest(yard: Yard, group: Group) -> tuple[Choice, Trial] | None:
    """The cheapest batch for a unit, by the first layout that any batch holds."""
    for layout in sorted({choice.layout for choice in group.demands}):
        found = {h: yard.try_unit(h.batch, d) for h, d in group.demands.items() if h.layout == layout}
        options = [(trial.cost, h) for h, trial in found.items() if trial is not None]
        if options:
            choice = min(options)[1]
            trial = found[choice]
            assert trial is not None
            return choice, trial
    return None
