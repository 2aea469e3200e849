"""The cuts of one source as a yard hand does them, in order.

Each crosscut is measured from the end where the last one was made, so the tape starts at a fresh edge; the running
position from the first cut end is given too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stockplan.domain.plan import Drop, Lane, Piece, PlannedLeftover, SourceCuts
from stockplan.domain.units import metres, size
from stockplan.report.words import PieceLabels, form_words

LEFT = "Left: as you stand at the cut end and look along the pile."


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do and what comes of it.

    Parameters
    ----------
    do
        The cut, in words.
    gives
        Pieces, leftovers and trims, one a line.
    """

    do: str
    gives: tuple[str, ...]


def cutting_steps(cuts: SourceCuts, leftovers: tuple[PlannedLeftover, ...], labels: PieceLabels) -> list[Step]:
    """Say how one source is cut.

    Parameters
    ----------
    cuts
        The source's cuts.
    leftovers
        Every leftover of the plan; those of other sources are passed over.
    labels
        How pieces are labelled.
    """
    mine = [left for left in leftovers if left.source == cuts.source]
    mine.sort(key=lambda left: (left.along_mm, left.across_mm))
    steps: list[Step] = []
    for drop in cuts.drops:
        steps.extend(_drop_steps(cuts, drop, [left for left in mine if _within(left, drop)], labels))
    reached = sum(drop.length_mm for drop in cuts.drops)
    if reached < cuts.length_mm:
        steps.append(Step("leave the rest", tuple(leftover_words(left) for left in mine if left.along_mm >= reached)))
    return steps


def _within(left: PlannedLeftover, drop: Drop) -> bool:
    return drop.along_mm <= left.along_mm < drop.along_mm + drop.length_mm


def _crosscut(cuts: SourceCuts, along_mm: int, length_mm: int) -> str:
    end = along_mm + length_mm
    if end == cuts.length_mm:
        return f"take the last {metres(length_mm)} whole" if along_mm else "take it whole"
    running = f" ({metres(end)} from the start)" if along_mm else ""
    return f"crosscut {metres(length_mm)} from the cut end{running}"


def _drop_steps(cuts: SourceCuts, drop: Drop, leftovers: list[PlannedLeftover], labels: PieceLabels) -> Iterator[Step]:
    crosscut = _crosscut(cuts, drop.along_mm, drop.length_mm)
    if len(drop.lanes) == 1 and drop.lanes[0].width_mm == cuts.width_mm:
        lane_step = _lane_step("", drop, drop.lanes[0], leftovers, labels)
        yield Step(f"{crosscut}; {lane_step.do}" if lane_step.do else crosscut, lane_step.gives)
        return
    lanes_end = drop.lanes[-1].across_mm + drop.lanes[-1].width_mm
    beside = [left for left in leftovers if left.across_mm >= lanes_end]
    widths = " | ".join([metres(lane.width_mm) for lane in drop.lanes] + [metres(left.width_mm) for left in beside[:1]])
    yield Step(f"{crosscut}; rip {widths} from the left", tuple(leftover_words(left) for left in beside))
    for number, lane in enumerate(drop.lanes, 1):
        yield _lane_step(f"lane {number}", drop, lane, leftovers, labels)


def _lane_step(name: str, drop: Drop, lane: Lane, leftovers: list[PlannedLeftover], labels: PieceLabels) -> Step:
    do: list[str] = []
    lengths = [metres(piece.length_mm) for piece in lane.pieces]
    if sum(piece.length_mm for piece in lane.pieces) < drop.length_mm:
        do.append(f"crosscut {' + '.join(lengths)}")
    elif len(lengths) > 1:
        do.append(f"crosscut {' | '.join(lengths)}")
    if trims := _trims(lane, labels):
        do.append(f"trim {trims} across")
    right = lane.across_mm + lane.width_mm
    gives = [_piece_words(piece, labels) for piece in lane.pieces]
    gives += [leftover_words(left) for left in leftovers if lane.across_mm <= left.across_mm < right]
    words = ", ".join(do)
    if name:
        words = f"{name}: {words}" if words else f"{name}: as ripped"
    return Step(words, tuple(gives))


def _trims(lane: Lane, labels: PieceLabels) -> str:
    """To what width all of a lane is trimmed, or which of its pieces to which; nothing where none is."""
    by_width: dict[int, list[str]] = {}
    for piece in lane.pieces:
        by_width.setdefault(piece.width_mm, []).append(labels.of(piece))
    alike = len(by_width) == 1
    return " and ".join(
        f"to {metres(width)}" if alike else f"{', '.join(pieces)} to {metres(width)}"
        for width, pieces in by_width.items()
        if width < lane.width_mm
    )


def _piece_words(piece: Piece, labels: PieceLabels) -> str:
    return f"{labels.of(piece)}  {size(piece.width_mm, piece.length_mm)}"


def leftover_words(left: PlannedLeftover) -> str:
    """One leftover in a few words: `keep as part roll 4.00 × 7.80` or `bin 0.40 × 5.20`."""
    dimensions = size(left.width_mm, left.length_mm)
    return f"keep as {form_words(left.becomes)} {dimensions}" if left.keep else f"bin {dimensions}"
