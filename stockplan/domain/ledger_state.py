"""What is known of a tag and of the yard as a whole at one moment of the ledger."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from typing import NamedTuple

from stockplan.domain.ledger_movements import CutPiece, Entry, Movement, MovementKind
from stockplan.domain.stock import StockItem

Step = Movement | Entry


@dataclass(frozen=True, slots=True)
class Account:
    """What came in and where it went.

    Parameters
    ----------
    area_in_mm2, area_used_mm2, area_written_off_mm2
        Square millimetres.
    value_in, value_used, value_written_off
        What it cost, in millionths of a penny.
    """

    area_in_mm2: int = 0
    area_used_mm2: int = 0
    area_written_off_mm2: int = 0
    value_in: int = 0
    value_used: int = 0
    value_written_off: int = 0

    def __add__(self, other: Account) -> Account:
        return Account(*(getattr(self, part.name) + getattr(other, part.name) for part in fields(Account)))

    def __neg__(self) -> Account:
        return Account(*(-getattr(self, part.name) for part in fields(Account)))


class Hold(NamedTuple):
    """For which quote an item is kept, and the last day on which it is."""

    quote: str
    until: date


@dataclass(frozen=True, slots=True)
class Gone:
    """An item that has left the yard.

    Parameters
    ----------
    item
        As it was.
    how
        Cut or written off.
    plan
        Number of the plan it was cut for; None when for none.
    pieces
        What the cut gave.
    returned_mm2, binned_mm2
        How much of it came back under other tags, and how much was thrown away.
    """

    item: StockItem
    how: MovementKind
    plan: int | None = None
    pieces: tuple[CutPiece, ...] = ()
    returned_mm2: int = 0
    binned_mm2: int = 0

    @property
    def unaccounted_mm2(self) -> int:
        """Area that is neither in a sound piece nor returned nor binned."""
        sound = sum(piece.area_mm2 for piece in self.pieces if not piece.spoiled)
        return self.item.area_mm2 - sound - self.returned_mm2 - self.binned_mm2


@dataclass(frozen=True, slots=True)
class PieceCut:
    """A sound piece that lies cut, or is laid already.

    Parameters
    ----------
    number
        Which copy of the strip.
    width_mm, length_mm
        As cut.
    source, batch
        What it was cut from, and that item's batch as `StockItem.batch_key` has it.
    product
        Of what grass it is.
    plan
        Number of the plan it was cut for; None when for none.
    """

    number: int
    width_mm: int
    length_mm: int
    source: str
    batch: str
    product: str
    plan: int | None = None


class TagState(NamedTuple):
    """All that is known of one tag; each part None when there is none."""

    item: StockItem | None
    gone: Gone | None
    plan: int | None
    hold: Hold | None
    condition: str | None
    last_seen: date | None
    since: date | None
    parent: str | None


class Undo(NamedTuple):
    """A movement of a tag, what would undo it, and the one before it that has not been undone."""

    number: int
    kind: MovementKind
    before: TagState
    moved: Account
    earlier: Undo | None


def day_of(movement: Step) -> date | None:
    """Give the day on which a movement was written, in UTC; None for one not written yet."""
    return movement.at.date() if isinstance(movement, Movement) else None


def value_of(item: StockItem) -> int:
    """Give what an item cost, in millionths of a penny."""
    return item.area_mm2 * item.cost_pence_per_m2
