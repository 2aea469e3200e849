"""Rules about where things lie: inside and not overlapping, through-cuts, area conserved.

Through-cuts are judged twice. From the rectangles alone: a source comes apart in at most the stages crosscut, rip,
crosscut, trim. Cutting at every line that crosses no rectangle, stage by stage, loses nothing: a cut put off could
only be made two stages later, in each part on its own, and parts already separate are never harder to separate. And
from the plan's own tree of drops, lanes and pieces: laid end to end it must give the places the pieces claim, and what
it leaves over must be the leftovers listed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

from stockplan.domain.check_facts import Facts, Rectangle, Rule, Violation, piece_name, rectangle
from stockplan.domain.plan import Drop, Lane, SourceCuts
from stockplan.domain.units import size, square_metres

Extent = Callable[[Rectangle], tuple[int, int]]


def along(part: Rectangle) -> tuple[int, int]:
    """Where a rectangle begins and ends along the pile, mm."""
    return part.along_mm, part.end_mm


def across(part: Rectangle) -> tuple[int, int]:
    """Where a rectangle begins and ends across the pile, mm."""
    return part.across_mm, part.right_mm


def placement(facts: Facts) -> Iterator[Violation]:
    """Pieces and leftovers lie inside their source, do not overlap, and leave no gap; no source is idle."""
    for cuts in facts.plan.cuts():
        yield from _source_placement(facts, cuts)
    cut = {cuts.source for cuts in facts.plan.cuts()}
    for key in facts.leftovers:
        if key not in cut:
            yield Violation(Rule.PLACEMENT, "has leftovers listed but is not cut", key)


def _source_placement(facts: Facts, cuts: SourceCuts) -> Iterator[Violation]:
    pieces = list(cuts.pieces())
    if not pieces:
        yield Violation(Rule.PLACEMENT, "is cut but gives no piece; would not be listed", cuts.source)
    width, length = true_size(facts, cuts)
    if (cuts.width_mm, cuts.length_mm) != (width, length):
        found, right = size(cuts.width_mm, cuts.length_mm), size(width, length)
        yield Violation(Rule.PLACEMENT, f"is shown as {found}; is {right}", cuts.source)
    parts = facts.rectangles(pieces, cuts.source)
    for part in parts:
        if not part.has_size:
            yield Violation(Rule.PLACEMENT, f"{part} has no size", cuts.source)
        if part.across_mm < 0 or part.along_mm < 0 or part.right_mm > width or part.end_mm > length:
            yield Violation(Rule.PLACEMENT, f"{part} sticks out of {size(width, length)}", cuts.source)
    for one, other in combinations([part for part in parts if part.has_size], 2):
        if one.overlaps(other):
            yield Violation(Rule.PLACEMENT, f"{one} overlaps {other}", cuts.source)
    missing = width * length - sum(part.area_mm2 for part in parts)
    if missing > 0:
        message = f"{square_metres(missing)} m² ({missing} mm²) is neither piece nor leftover"
        yield Violation(Rule.PLACEMENT, message, cuts.source)


def true_size(facts: Facts, cuts: SourceCuts) -> tuple[int, int]:
    """Width and length of a source as the request or the order has it; as the plan shows it where neither knows it."""
    source = facts.sources.get(cuts.source)
    return (source.width_mm, source.length_mm) if source else (cuts.width_mm, cuts.length_mm)


def through_cuts(facts: Facts) -> Iterator[Violation]:
    """Every source comes apart by through-cuts in the permitted stages, as its tree says, with the cuts counted."""
    for cuts in facts.plan.cuts():
        stuck = inseparable(facts.rectangles(list(cuts.pieces()), cuts.source))
        if stuck:
            named = "; ".join(str(part) for part in stuck)
            message = f"cannot be separated by crosscut, rip, crosscut and trim: {named}"
            yield Violation(Rule.THROUGH_CUTS, message, cuts.source)
        yield from _tree(facts, cuts)
        yield from _counts(facts, cuts)


def inseparable(parts: Sequence[Rectangle]) -> list[Rectangle]:
    """Return rectangles that stay together after crosscut, rip, crosscut and trim; none when all come apart.

    Parameters
    ----------
    parts
        Pieces and leftovers of one source; any without size is passed over.
    """
    for drop in _apart([part for part in parts if part.has_size], along):
        for lane in _apart(drop, across):
            for cell in _apart(lane, along):
                if len(cell) > 1 and not _trimmed(cell):
                    return cell
    return []


def _apart(parts: list[Rectangle], extent: Extent) -> list[list[Rectangle]]:
    """Cut at every line at right angles to `extent` that crosses no rectangle."""
    groups: list[list[Rectangle]] = []
    reach = 0
    for part in sorted(parts, key=extent):
        begins, ends = extent(part)
        if groups and begins < reach:
            groups[-1].append(part)
            reach = max(reach, ends)
        else:
            groups.append([part])
            reach = ends
    return groups


def _trimmed(cell: list[Rectangle]) -> bool:
    """Whether one last rip parts a piece from one sliver of the same length."""
    if len(cell) != 2:
        return False
    left, right = sorted(cell, key=across)
    return left.is_piece != right.is_piece and left.right_mm <= right.across_mm and along(left) == along(right)


def _tree(facts: Facts, cuts: SourceCuts) -> Iterator[Violation]:
    width, length = true_size(facts, cuts)
    left_over: list[Rectangle] = []
    position = 0
    for drop in cuts.drops:
        if drop.along_mm != position:
            message = f"drop begins at {drop.along_mm} along; the one before ends at {position}"
            yield Violation(Rule.THROUGH_CUTS, message, cuts.source)
        yield from _drop(drop, width, cuts.source, left_over)
        position += drop.length_mm
    left_over.append(Rectangle(0, position, width, length - position, False))
    if position > length:
        message = f"drops are {position} mm long together; the source is {length}"
        yield Violation(Rule.THROUGH_CUTS, message, cuts.source)
    expected = Counter(part for part in left_over if part.has_size)
    listed = Counter(rectangle(part) for part in facts.leftovers.get(cuts.source, ()))
    for part in (expected - listed).elements():
        yield Violation(Rule.THROUGH_CUTS, f"the cuts leave a {part} that is not listed", cuts.source)
    for part in (listed - expected).elements():
        yield Violation(Rule.THROUGH_CUTS, f"{part} is listed, but the cuts leave no such thing", cuts.source)


def _drop(drop: Drop, width: int, source: str, left_over: list[Rectangle]) -> Iterator[Violation]:
    where = f"{source}, drop at {drop.along_mm}"
    position = 0
    for lane in drop.lanes:
        if lane.across_mm != position:
            message = f"lane begins at {lane.across_mm} across; the one before ends at {position}"
            yield Violation(Rule.THROUGH_CUTS, message, where)
        yield from _lane(lane, drop, where, left_over)
        position += lane.width_mm
    left_over.append(Rectangle(position, drop.along_mm, width - position, drop.length_mm, False))
    if not drop.lanes or drop.length_mm < 1 or position > width:
        message = f"{len(drop.lanes)} lanes, {position} mm wide together, from {size(width, drop.length_mm)}"
        yield Violation(Rule.THROUGH_CUTS, message, where)


def _lane(lane: Lane, drop: Drop, where: str, left_over: list[Rectangle]) -> Iterator[Violation]:
    position = drop.along_mm
    for piece in lane.pieces:
        if (piece.across_mm, piece.along_mm) != (lane.across_mm, position):
            found = f"lies at {piece.across_mm} across, {piece.along_mm} along"
            message = f"{found}; its lane puts it at {lane.across_mm}, {position}"
            yield Violation(Rule.THROUGH_CUTS, message, piece_name(piece))
        spare = lane.width_mm - piece.width_mm
        if spare < 0:
            message = f"is {piece.width_mm} mm wide in a lane of {lane.width_mm}"
            yield Violation(Rule.THROUGH_CUTS, message, piece_name(piece))
        left_over.append(Rectangle(lane.across_mm + piece.width_mm, position, spare, piece.length_mm, False))
        position += piece.length_mm
    rest = drop.along_mm + drop.length_mm - position
    left_over.append(Rectangle(lane.across_mm, position, lane.width_mm, rest, False))
    if not lane.pieces or lane.width_mm < 1 or rest < 0:
        taken = f"{len(lane.pieces)} pieces, {drop.length_mm - rest} mm together"
        message = f"lane of {lane.width_mm} mm has {taken}, from a drop of {drop.length_mm}"
        yield Violation(Rule.THROUGH_CUTS, message, where)


def _counts(facts: Facts, cuts: SourceCuts) -> Iterator[Violation]:
    width, length = true_size(facts, cuts)
    crosscuts = len(cuts.drops) - (sum(drop.length_mm for drop in cuts.drops) == length)
    rips = 0
    for drop in cuts.drops:
        rips += len(drop.lanes) - (sum(lane.width_mm for lane in drop.lanes) == width)
        for lane in drop.lanes:
            used_up = sum(piece.length_mm for piece in lane.pieces) == drop.length_mm
            crosscuts += len(lane.pieces) - used_up
            rips += sum(piece.width_mm < lane.width_mm for piece in lane.pieces)
    if (cuts.crosscuts, cuts.rips) != (crosscuts, rips):
        found = f"{cuts.crosscuts} crosscuts and {cuts.rips} rips"
        message = f"{found} are counted; the tree has {crosscuts} and {rips}"
        yield Violation(Rule.THROUGH_CUTS, message, cuts.source)


def area(facts: Facts) -> Iterator[Violation]:
    """Grass neither appears nor vanishes: on each source, and over the whole plan."""
    total = 0
    for cuts in facts.plan.cuts():
        width, length = true_size(facts, cuts)
        parts = sum(part.area_mm2 for part in facts.rectangles(list(cuts.pieces()), cuts.source))
        total += sum(piece.width_mm * piece.length_mm for piece in cuts.pieces())
        if parts != width * length:
            yield Violation(Rule.AREA, f"pieces and leftovers are {parts} mm²; it is {width * length}", cuts.source)
    total += sum(rectangle(leftover).area_mm2 for leftover in facts.plan.leftovers())
    keys = [used.source for used in facts.plan.stock_used()]
    taken = sum(facts.items[key].area_mm2 for key in keys if key in facts.items)
    taken += sum(order.width_mm * order.length_mm for order in facts.plan.orders())
    if total != taken:
        message = f"pieces and leftovers are {total} mm² in all; orders and stock used are {taken}"
        yield Violation(Rule.AREA, message, "plan")
