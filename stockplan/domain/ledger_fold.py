"""What the movements add up to: the yard, and the account of area and money.

Area balances after every movement: what came in = what lies in the yard + what was used + what was written off. So does
money, reckoned in millionths of a penny (square millimetres × pence per square metre), so that nothing is rounded. A
correction restates how much had come in; a cut uses its item whole; what is returned or binned comes out of what the
cut used.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TypeVar

from stockplan.domain.ledger_effects import EFFECTS
from stockplan.domain.ledger_movements import Movement, MovementKind
from stockplan.domain.ledger_state import Account, Gone, Hold, Step, TagState, Undo, day_of
from stockplan.domain.stock import StockItem

Thing = TypeVar("Thing")
_ARRIVALS = {MovementKind.RECEIVED, MovementKind.RETURNED}
_SEEN = _ARRIVALS | {MovementKind.COUNTED, MovementKind.MOVED, MovementKind.CORRECTED}


@dataclass(slots=True)
class Yard:
    """What the movements so far add up to.

    Parameters
    ----------
    items
        What lies in the yard, by tag.
    gone
        What was in the yard once, by tag; a tag is never used twice.
    reservations
        Number of the plan each reserved tag is reserved for.
    holds
        Quote and last day of each held tag; holds that have expired stay listed until the next movement of the tag
        that replaces or ends them: ask `hold_on` and `available`.
    conditions
        The word for each tag that is not sound.
    last_seen, since
        Day each tag in the yard was last received, returned, counted, moved or corrected; day it came in.
    parents
        What each returned tag was cut from, also once it is gone.
    account
        Area and money.
    number
        Of the last movement.
    latest
        The last movement of each tag, for undoing it and what stands before it.
    reversed_later
        Numbers of the movements that the ledger reverses sooner or later: what stands before any other is not kept.
        Default: not known, so all is kept.
    bins
        Parent and area of each binning that has not been reversed, by number.
    """

    items: dict[str, StockItem] = field(default_factory=dict)
    gone: dict[str, Gone] = field(default_factory=dict)
    reservations: dict[str, int] = field(default_factory=dict)
    holds: dict[str, Hold] = field(default_factory=dict)
    conditions: dict[str, str] = field(default_factory=dict)
    last_seen: dict[str, date] = field(default_factory=dict)
    since: dict[str, date] = field(default_factory=dict)
    parents: dict[str, str] = field(default_factory=dict)
    account: Account = field(default_factory=Account)
    number: int = 0
    latest: dict[str, Undo] = field(default_factory=dict)
    reversed_later: frozenset[int] | None = None
    bins: dict[int, tuple[str, int]] = field(default_factory=dict)

    @property
    def area_in_mm2(self) -> int:
        """Area that came in."""
        return self.account.area_in_mm2

    @property
    def area_used_mm2(self) -> int:
        """Area that was used."""
        return self.account.area_used_mm2

    @property
    def area_written_off_mm2(self) -> int:
        """Area that was written off or binned."""
        return self.account.area_written_off_mm2

    def apply(self, movement: Step) -> None:
        """Let one movement happen.

        An `Entry` happens on no particular day: a hold then counts as in force, and nothing is seen.

        Raises
        ------
        ValueError
            When it cannot happen: the tag is in the yard already, not in it, promised to someone else, or the values
            do not suit the kind. The yard is then as it was.
        """
        number = movement.number if isinstance(movement, Movement) else self.number + 1
        tag, kind = movement.tag, movement.kind
        before, bins, standing = self.state(tag), len(self.bins), self.standing(tag)
        moved = EFFECTS[kind](self, movement)
        self.number = number
        self.account += moved
        if kind is MovementKind.BINNED:
            self.bins[number] = (tag, moved.area_written_off_mm2)
        if len(self.bins) != bins:
            return  # a binning is undone by its area alone, whatever else came off the same parent
        day = day_of(movement)
        if day is not None and kind in _SEEN:
            self.last_seen[tag] = day
            if kind in _ARRIVALS:
                self.since[tag] = day
        if standing is not None and kind is MovementKind.REVERSED:
            standing = standing.earlier
        elif self.reversed_later is not None and number not in self.reversed_later:
            standing = None  # it stands for good, and so does all before it
        self.latest[tag] = Undo(number, kind, before, moved, standing)

    def standing(self, tag: str) -> Undo | None:
        """Give the last movement of a tag that has not been undone."""
        last = self.latest.get(tag)
        return last.earlier if last is not None and last.kind is MovementKind.REVERSED else last

    def item(self, tag: str) -> StockItem:
        """Look up an item that must be there.

        Raises
        ------
        ValueError
            When the tag is not in the yard.
        """
        if tag in self.items:
            return self.items[tag]
        if tag in self.gone:
            how = "was cut" if self.gone[tag].how is MovementKind.CUT else "was written off"
            raise ValueError(f"{tag} {how} and has left the yard")
        raise ValueError(f"{tag} was never in the yard")

    def hold_on(self, tag: str, day: date | None) -> Hold | None:
        """Give the hold that keeps an item on a day; on no particular day any hold counts.

        Parameters
        ----------
        tag
            As written on the item.
        day
            Which day; None for any.
        """
        hold = self.holds.get(tag)
        return hold if hold is not None and (day is None or day <= hold.until) else None

    def available(self, on: date) -> dict[str, StockItem]:
        """Give every item that on a day is neither reserved nor held, by tag."""
        return {
            tag: item
            for tag, item in self.items.items()
            if tag not in self.reservations and self.hold_on(tag, on) is None
        }

    def copy(self) -> Yard:
        """Give a yard that can go its own way."""
        return replace(
            self,
            items=self.items.copy(),
            gone=self.gone.copy(),
            reservations=self.reservations.copy(),
            holds=self.holds.copy(),
            conditions=self.conditions.copy(),
            last_seen=self.last_seen.copy(),
            since=self.since.copy(),
            parents=self.parents.copy(),
            latest=self.latest.copy(),
            bins=self.bins.copy(),
        )

    def state(self, tag: str) -> TagState:
        """Give all that is known of a tag."""
        return TagState(
            self.items.get(tag),
            self.gone.get(tag),
            self.reservations.get(tag),
            self.holds.get(tag),
            self.conditions.get(tag),
            self.last_seen.get(tag),
            self.since.get(tag),
            self.parents.get(tag),
        )

    def put_state(self, tag: str, state: TagState) -> None:
        """Make what is known of a tag this and nothing else."""
        _put(self.items, tag, state.item)
        _put(self.gone, tag, state.gone)
        _put(self.reservations, tag, state.plan)
        _put(self.holds, tag, state.hold)
        _put(self.conditions, tag, state.condition)
        _put(self.last_seen, tag, state.last_seen)
        _put(self.since, tag, state.since)
        _put(self.parents, tag, state.parent)

    def take_out(self, tag: str, gone: Gone) -> None:
        """Let an item leave, with every promise about it.

        Parameters
        ----------
        tag
            As written on the item.
        gone
            What is known of it from now on.
        """
        self.put_state(tag, TagState(None, gone, None, None, None, None, None, self.parents.get(tag)))


def _put(known: dict[str, Thing], tag: str, value: Thing | None) -> None:
    if value is None:
        known.pop(tag, None)
    else:
        known[tag] = value


def fold(movements: Iterable[Movement]) -> dict[str, StockItem]:
    """Work out what lies in the yard from the whole ledger.

    Parameters
    ----------
    movements
        In order of number, from the first.

    Raises
    ------
    ValueError
        When a movement cannot happen; see `Yard.apply`.
    """
    yard = Yard()
    for movement in movements:
        yard.apply(movement)
    return yard.items
