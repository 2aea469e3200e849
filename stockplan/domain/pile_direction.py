"""From a job's wishes to one pile direction for all lawns that are seen together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import Lawn, LawnPlace, twice_area
from stockplan.domain.pile import FULL_CIRCLE, HOUSE, PileKind, PileWish

BY_PRACTICE = "common practice"
PARALLEL_DEGREES = 5.0  # walls of one name on lawns measured alike differ by less


@dataclass(frozen=True, slots=True)
class PileDirection:
    """Which way the blades lean over everything seen together.

    Parameters
    ----------
    bearing
        Degrees clockwise from north, or from the y axis where north is not known, 0 up to 360; None when any will do.
    either_way
        Whether the opposite direction will do as well.
    why
        The wish it follows from, for a drawing.
    """

    bearing: float | None
    either_way: bool
    why: str

    def on(self, lawn: Lawn) -> float | None:
        """Degrees clockwise from a lawn's own y axis, 0 up to 360; exact for multiples of 90 along the axes."""
        return None if self.bearing is None else _turned(self.bearing, -(lawn.y_bearing or 0.0))


@dataclass(frozen=True, slots=True)
class SeenTogether:
    """Lawns of one job that share a pile direction.

    Parameters
    ----------
    lawns
        In the job's order.
    direction
        The one for all of them.
    """

    lawns: tuple[Lawn, ...]
    direction: PileDirection


def job_wish(job: Job) -> PileWish | None:
    """Give a job's wish: the one stated, else what its note for the crew says where that names an edge."""
    named = job.pile_towards.strip()
    if job.pile is None and named and any(lawn.named(named) for lawn in job.lawns):
        return PileWish(PileKind.TOWARDS, edge=named)
    return job.pile


def pile_groups(lawns: Sequence[Lawn], wish: PileWish | None = None) -> tuple[SeenTogether, ...]:
    """Part a job's lawns into those seen together, each with its pile direction.

    A lawn's own wish comes before the job's. Where nobody wishes anything, common practice: in a back garden towards
    the house, in front away from it; where no edge is named house, or the place is other, any direction will do.

    Parameters
    ----------
    lawns
        All lawns of the job. Their axes are taken to be parallel where north is not known.
    wish
        The job's own wish, as `job_wish` gives it; None when it has none.

    Raises
    ------
    ValueError
        When `pile_faults` has something to say.
    """
    faults = pile_faults(lawns, wish)
    if faults:
        raise ValueError("; ".join(faults))
    return tuple(SeenTogether(group, _direction(group, wish)) for group in _seen_together(lawns))


def pile_faults(lawns: Sequence[Lawn], wish: PileWish | None = None) -> list[str]:
    """Say what keeps the wishes of a job from being followed: unknown edges and lawns, wishes that disagree.

    Parameters
    ----------
    lawns
        All lawns of a job.
    wish
        Of the job as a whole; default none.
    """
    labels = {lawn.label for lawn in lawns}
    faults = [
        f"lawn {lawn.label}: cannot be seen with {other!r}, which is no other lawn of the job"
        for lawn in lawns
        for other in lawn.cannot_be_seen_with
        if other not in labels or other == lawn.label
    ]
    if faults:
        return faults
    for group in _seen_together(lawns):
        together = ", ".join(lawn.label for lawn in group)
        wishes = {str(lawn.pile): lawn.pile for lawn in group if lawn.pile is not None}
        if len(wishes) > 1:
            found = " and ".join(repr(text) for text in wishes)
            faults.append(f"lawns {together}: seen together but asked to lie {found}; one direction for all of them")
        names = sorted({note.name for lawn in group for note in lawn.notes if note.name})
        for one in wishes.values() or [wish]:
            if one is not None and one.edge and not any(lawn.named(one.edge) for lawn in group):
                known = f"named edges: {', '.join(names)}" if names else "no edge has a name"
                faults.append(f"lawns {together}: pile {str(one)!r}, but no edge is called {one.edge!r}; {known}")
            elif one is not None and one.edge and _edge_bearing(group, one.edge) is None:
                faults.append(f"lawns {together}: the edges called {one.edge!r} face all ways and give no direction")
    return faults


def pile_doubts(lawns: Sequence[Lawn], wish: PileWish | None = None) -> list[str]:
    """Say where lawns may lie otherwise than is meant.

    Those seen together may have been measured on axes that are not parallel, so that one lies turned: either north is
    known for some of them only, or each has sides of the name that the direction follows, and these face different ways
    where north is not known. Where it is, a wish that names such sides may be meant for another of them. And a lawn in
    front may only be thought to be seen together with one at the back.

    Parameters
    ----------
    lawns, wish
        As for `pile_faults`.
    """
    doubts = []
    for group in _seen_together(lawns):
        if wish is None and (front := _follows_the_back(group)):
            back = ", ".join(lawn.label for lawn in group if lawn.place is LawnPlace.BACK)
            doubts.append(
                f"{front} is taken to be seen together with {back}, and its pile leans as there; "
                "where nobody sees both, say so with unseen from"
            )
        without = [lawn.label for lawn in group if lawn.y_bearing is None]
        if without and len(without) < len(group):
            known_for = ", ".join(lawn.label for lawn in group if lawn.y_bearing is not None)
            doubts.append(
                f"north is known for {known_for}, and not for {', '.join(without)}: right only where the y axis there "
                "points north; else give north for each, or for none that lie on parallel axes"
            )
            continue
        own = next((lawn.pile for lawn in group if lawn.pile is not None), wish)
        name = HOUSE if own is None else own.edge
        facing = {lawn.label: _edge_bearing([lawn], name) for lawn in group if name and lawn.named(name)}
        known = [bearing for bearing in facing.values() if bearing is not None]
        apart = max((abs((one - known[0] + 180.0) % FULL_CIRCLE - 180.0) for one in known), default=0.0)
        each = ", ".join(f"{label} {bearing:.0f}°" for label, bearing in facing.items() if bearing is not None)
        if apart > PARALLEL_DEGREES and without:
            doubts.append(
                f"{name} lies at {each}: right only where their x axes are parallel; else give north for each"
            )
        elif own is not None and (min(apart, 180.0 - apart) if own.either_way else apart) > PARALLEL_DEGREES:
            first = next(iter(facing))
            doubts.append(f"{name} lies at {each}: the pile lies as {first} has it; else ask for it by a bearing")
    return doubts


def _seen_together(lawns: Sequence[Lawn]) -> list[tuple[Lawn, ...]]:
    """Two lawns belong together when they are seen together, or each with a third."""
    apart = {frozenset((lawn.label, other)) for lawn in lawns for other in lawn.cannot_be_seen_with}
    groups: list[list[Lawn]] = []
    for lawn in lawns:
        touched = [group for group in groups if any(frozenset((lawn.label, one.label)) not in apart for one in group)]
        groups = [group for group in groups if group not in touched]
        groups.append([*(one for group in touched for one in group), lawn])
    order = {lawn.label: number for number, lawn in enumerate(lawns)}
    sorted_groups = [tuple(sorted(group, key=lambda lawn: order[lawn.label])) for group in groups]
    return sorted(sorted_groups, key=lambda group: order[group[0].label])


def _direction(group: Sequence[Lawn], wish: PileWish | None) -> PileDirection:
    own = next((lawn.pile for lawn in group if lawn.pile is not None), wish)
    if own is None:
        return _by_practice(group)
    bearing = own.bearing
    if own.edge:
        outward = _edge_bearing(group, own.edge)
        assert outward is not None  # pile_faults has seen to it
        turn = {PileKind.FROM: 180.0, PileKind.ALONG: 90.0}.get(own.kind, 0.0)
        bearing = _turned(outward, turn)
    return PileDirection(bearing, own.either_way or own.kind is PileKind.OPEN, str(own))


def _by_practice(group: Sequence[Lawn]) -> PileDirection:
    back, front = (_house_bearing(group, place) for place in (LawnPlace.BACK, LawnPlace.FRONT))
    if back is not None:
        return PileDirection(back, False, f"towards {HOUSE} ({BY_PRACTICE} in back gardens)")
    if front is not None:
        return PileDirection(_turned(front, 180.0), False, f"from {HOUSE} ({BY_PRACTICE} in front)")
    return PileDirection(None, True, "open")


def _house_bearing(group: Sequence[Lawn], place: LawnPlace) -> float | None:
    """Bearing from the grass over the side called house, of the lawns in a place; None where none lies there.

    Their own sides come first. A lawn across the house looks at it from the other side, and has no say in it.
    """
    there = [lawn for lawn in group if lawn.place is place]
    beside = [lawn for lawn in group if lawn.place is LawnPlace.OTHER]
    return _edge_bearing([*there, *beside], HOUSE) if there else None


def _follows_the_back(group: Sequence[Lawn]) -> str:
    """Lawns in front whose pile leans by what is common practice at the back; nothing where a wish settles it."""
    front = [lawn.label for lawn in group if lawn.place is LawnPlace.FRONT]
    settled = any(lawn.pile is not None for lawn in group) or _house_bearing(group, LawnPlace.BACK) is None
    return "" if settled else ", ".join(front)


def _edge_bearing(group: Sequence[Lawn], name: str) -> float | None:
    """Bearing from the grass straight over the edges of a name; of the first lawn that has such edges.

    Where several edges share the name, longer ones count for more: their outward normals, each as long as its edge,
    are added.
    """
    for lawn in group:
        numbers = lawn.named(name)
        if numbers:
            sides = [lawn.side(number) for number in numbers]
            turned = 1 if twice_area(lawn.edge) > 0 else -1
            east = turned * sum(b.y_mm - a.y_mm for a, b in sides)
            north = -turned * sum(b.x_mm - a.x_mm for a, b in sides)
            if (east, north) == (0, 0):
                return None
            return _turned(degrees(atan2(east, north)), lawn.y_bearing or 0.0)
    return None


def _turned(bearing: float, by: float) -> float:
    turned = (bearing + by) % FULL_CIRCLE
    return 0.0 if turned == FULL_CIRCLE else turned  # a tiny negative remainder rounds up to a whole circle
