"""What became of a tag, and where it comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stockplan.domain.ledger_movements import Movement, MovementKind

_MAKES = {MovementKind.RECEIVED, MovementKind.RETURNED}


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a tag comes from.

    Parameters
    ----------
    tags
        The tag, what it was cut from, what that was cut from, and so on to what was delivered.
    made
        For each of `tags` the movement that brought it into the yard; the last one is the delivery.
    cuts
        For each of `tags` but the first the movement that cut it.
    """

    tags: tuple[str, ...]
    made: tuple[Movement, ...]
    cuts: tuple[Movement, ...]

    @property
    def delivery(self) -> Movement:
        """The movement by which the grass came into the yard."""
        return self.made[-1]

    @property
    def product(self) -> str:
        """Product, as delivered."""
        return str(self.delivery.values["product"])

    @property
    def batch(self) -> str:
        """Batch, as delivered; empty when unknown."""
        return str(self.delivery.values["batch"])


def history(movements: Iterable[Movement], tag: str) -> list[Movement]:
    """Give every movement of a tag and every return of a part of it, in order of the ledger.

    Parameters
    ----------
    movements
        The ledger, or the part of it that names the tag as tag or parent.
    tag
        Any tag that was ever used.
    """
    return [movement for movement in movements if tag in (movement.tag, movement.parent)]


def trace(movements: Iterable[Movement], tag: str) -> Origin:
    """Say from which roll, batch and delivery a tag comes.

    Parameters
    ----------
    movements
        The ledger, or the part of it about the tag and all it was cut from, in order.
    tag
        Any tag that was ever used.

    Raises
    ------
    ValueError
        When the movements do not say where the tag comes from.
    """
    known = list(movements)
    undone = {movement.reverses for movement in known}
    made: dict[str, Movement] = {}
    cuts: dict[str, Movement] = {}
    for movement in known:
        if movement.number in undone:
            continue
        if movement.kind in _MAKES:
            made[movement.tag] = movement
        elif movement.kind is MovementKind.CUT:
            cuts[movement.tag] = movement
    tags = [tag]
    while tags[-1] in made and (parent := made[tags[-1]].parent) is not None:
        tags.append(parent)
    if tags[-1] not in made:
        raise ValueError(f"{tags[-1]} was never in the yard")
    return Origin(tuple(tags), tuple(made[one] for one in tags), tuple(cuts[one] for one in tags[1:]))
