"""What really came off a source, against what was planned: pieces, what is kept under new tags, what is binned.

Whatever is not named came off as planned. Area that is in no sound piece and not kept is binned, so that the account of
the yard closes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from stockplan.domain.as_typed import argument
from stockplan.domain.ledger import CutPiece
from stockplan.domain.offcut import NEAR_MM, doubts
from stockplan.domain.plan import Piece, PlannedLeftover
from stockplan.domain.standing import Standing
from stockplan.domain.stock import StockForm
from stockplan.domain.units import MM2_PER_M2, metres, size, square_metres

Size = tuple[int, int]  # across and along the pile, mm
PieceName = tuple[str, str, int]  # job, strip, number


@dataclass(frozen=True, slots=True)
class CameOff:
    """What differs from the plan.

    Parameters
    ----------
    spoiled
        Pieces that came out unfit.
    sizes
        True sizes of leftovers, by their number on the sheet; one that was to be binned is then kept.
    binned
        Numbers of leftovers that were to be kept and are thrown away.
    tail_mm
        True length of what stays on the roll; None as planned.
    more
        Further pieces worth keeping, such as what is left of a spoiled one.
    as_typed
        That across and along of leftovers are not exchanged, however it looks.
    """

    spoiled: frozenset[PieceName] = frozenset()
    sizes: Mapping[int, Size] = field(default_factory=dict)
    binned: frozenset[int] = frozenset()
    tail_mm: int | None = None
    more: tuple[Size, ...] = ()
    as_typed: bool = False


@dataclass(frozen=True, slots=True)
class Kept:
    """Something that goes back into the yard.

    Parameters
    ----------
    form
        Part roll or offcut.
    width_mm, length_mm
        As it is.
    planned
        The leftover it was planned as; None when none was.
    """

    form: StockForm
    width_mm: int
    length_mm: int
    planned: PlannedLeftover | None = None

    @property
    def area_mm2(self) -> int:
        """Area in square millimetres."""
        return self.width_mm * self.length_mm


@dataclass(frozen=True, slots=True)
class Outcome:
    """What becomes of a source.

    Parameters
    ----------
    pieces
        Every piece cut, spoiled ones marked.
    kept
        What goes back into the yard.
    binned_mm2
        Area thrown away.
    faults
        Why it cannot have been so; with any of them the rest means nothing.
    """

    pieces: tuple[CutPiece, ...]
    kept: tuple[Kept, ...]
    binned_mm2: int
    faults: tuple[str, ...] = ()


def outcome(one: Standing, off: CameOff) -> Outcome:
    """Work out what becomes of a source.

    Parameters
    ----------
    one
        The source as it was planned to be cut; its leftovers are numbered from 1 in the order listed.
    off
        What differed.
    """
    planned = list(one.cuts.pieces())
    names = {_name(piece) for piece in planned}
    spoiled = {named(name, names) for name in off.spoiled}
    strange = sorted(spoiled - names)
    faults = [f"no piece {piece_words(name)} is cut from {one.item.tag}{_but(names)}" for name in strange]
    if one.lost and not planned:
        faults.append(
            f"{one.item.tag} measures {size(one.item.width_mm, one.item.length_mm)} m and can give nothing of what was "
            "planned; plan these days again"
        )
    kept = tuple(_kept(one, off))
    pieces = tuple(
        CutPiece(piece.job, piece.strip, piece.number, piece.width_mm, piece.length_mm, _name(piece) in spoiled)
        for piece in planned
    )
    faults += _wrong_numbers(one, off)
    faults += [] if off.as_typed else _turned(one, off)
    faults += _too_large(one, kept)
    sound = sum(piece.area_mm2 for piece in pieces if not piece.spoiled)
    rest = one.item.area_mm2 - sound - sum(thing.area_mm2 for thing in kept)
    if rest < 0 and not faults:
        whole = square_metres(one.item.area_mm2 - rest)
        faults.append(
            f"pieces and what is kept come to {whole} m², {-rest / MM2_PER_M2:.3f} m² more than {one.item.tag} holds; "
            f"measure it first if it was larger than recorded: {_measured(one, kept)}"
        )
    return Outcome(pieces, kept, rest, tuple(faults))


def _measured(one: Standing, kept: Iterable[Kept]) -> str:
    """What to type first of a source that was larger: its size, where what stays on the roll is a little longer."""
    item = one.item
    tails = [
        (thing, thing.planned) for thing in kept if thing.form is StockForm.PART_ROLL and thing.planned is not None
    ]
    more_mm = sum(thing.length_mm - left.length_mm for thing, left in tails if thing.width_mm == left.width_mm)
    known = 0 < more_mm <= NEAR_MM
    measured = f"{metres(item.width_mm)}x{metres(item.length_mm + more_mm)}" if known else "ACROSSxALONG"
    return f"stockplan measure {argument(item.tag, measured)}"


def _name(piece: Piece) -> PieceName:
    return piece.job, piece.strip, piece.number


def piece_words(name: PieceName) -> str:
    """Name a piece as its label does."""
    return "/".join(map(str, name))


def named(typed: PieceName, names: Iterable[PieceName]) -> PieceName:
    """Give the piece whose label reads as what was typed: slashes may be part of a job's or a strip's name.

    Where none does, the last number may be part of a name, too, and the first piece is meant.

    Parameters
    ----------
    typed
        Job, strip and number as they were read.
    names
        Every piece that may be meant.
    """
    known = {piece_words(name): name for name in names}
    words = piece_words(typed)
    return known.get(words) or known.get(f"{words}/1", typed)


def _but(names: Iterable[PieceName]) -> str:
    return f"; what is cut: {', '.join(map(piece_words, sorted(names)))}" if names else ""


def tail_number(one: Standing) -> int | None:
    """Give the number on the sheet of what stays on the roll; None when nothing does."""
    found = (number for number, left in numbered(one) if left.becomes is StockForm.PART_ROLL)
    return next(found, None)


def numbered(one: Standing) -> Iterator[tuple[int, PlannedLeftover]]:
    """Give the leftovers of a source with their numbers on the sheet."""
    yield from enumerate(one.leftovers, 1)


def _kept(one: Standing, off: CameOff) -> Iterator[Kept]:
    tail = tail_number(one)
    for number, left in numbered(one):
        width, length = off.sizes.get(number, (left.width_mm, left.length_mm))
        if number == tail and off.tail_mm is not None:
            length = off.tail_mm
        wanted = left.keep or number in off.sizes or (number == tail and off.tail_mm is not None)
        if wanted and number not in off.binned and length > 0:
            yield Kept(left.becomes, width, length, left)
    for width, length in off.more:
        yield Kept(StockForm.OFFCUT, width, length)


def _wrong_numbers(one: Standing, off: CameOff) -> Iterator[str]:
    count = len(one.leftovers)
    known = (
        f"the sheet of {one.item.tag} has leftovers 1 to {count}" if count else f"{one.item.tag} leaves nothing over"
    )
    for number in sorted({*off.sizes, *off.binned}):
        if not 1 <= number <= count:
            yield f"there is no leftover {number}; {known}"
    for number in sorted(off.sizes.keys() & off.binned):
        yield f"leftover {number} is given a size and binned as well; it can be only one"
    tail = tail_number(one)
    if off.tail_mm is not None and tail is None:
        yield f"by the plan nothing stays on the core of {one.item.tag}; name what is kept as a leftover instead"
    if off.tail_mm is not None and tail is not None and tail in {*off.sizes, *off.binned}:
        yield f"the tail is leftover {tail}; it is stated twice"


def looks_turned(left: PlannedLeftover, found: Size) -> str:
    """Say that a leftover looks typed along before across, by what was planned; empty where it does not.

    Parameters
    ----------
    left
        As planned.
    found
        Across and along as typed, mm.
    """
    return doubts(found, None, [(left.width_mm, left.length_mm)], widest_mm=0).swapped


def _turned(one: Standing, off: CameOff) -> Iterator[str]:
    for number, left in numbered(one):
        if number in off.sizes and (odd := looks_turned(left, off.sizes[number])):
            yield (
                f"leftover {number}: {odd}: are across and along exchanged? give it the other way round, or add "
                "--as-typed"
            )


def _too_large(one: Standing, kept: Iterable[Kept]) -> Iterator[str]:
    item = one.item
    for thing in kept:
        if thing.width_mm <= 0 or thing.length_mm <= 0:
            yield f"{size(thing.width_mm, thing.length_mm)} m is no size; give across × along the pile"
        elif thing.width_mm > item.width_mm or thing.length_mm > item.length_mm:
            swapped = thing.length_mm <= item.width_mm and thing.width_mm <= item.length_mm
            hint = "; across comes first, then along the pile" if swapped else ""
            yield (
                f"{size(thing.width_mm, thing.length_mm)} m cannot come off {item.tag}, which is only "
                f"{size(item.width_mm, item.length_mm)} m{hint}"
            )
