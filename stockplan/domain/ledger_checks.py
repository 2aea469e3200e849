"""What every movement is held against before it takes effect; each check raises ValueError with what was found."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from stockplan.domain.ledger_movements import MovementKind, Value
from stockplan.domain.ledger_state import Step, day_of
from stockplan.domain.stock import StockItem

if TYPE_CHECKING:
    from stockplan.domain.ledger_fold import Yard


def states(movement: Step, *names: str) -> None:
    """See that a movement states these things and no others.

    Parameters
    ----------
    movement
        The movement.
    names
        What it must state.

    Raises
    ------
    ValueError
        When it lacks one of them, or states something else.
    """
    if set(movement.values) != set(names):
        found, right = ", ".join(sorted(movement.values)) or "nothing", ", ".join(names) or "nothing"
        raise ValueError(f"{movement.tag} {said(movement.kind)} states {found}, must state {right}")


def checked(item: StockItem) -> StockItem:
    """See that an item has a size and a cost that can be.

    Parameters
    ----------
    item
        The item.

    Raises
    ------
    ValueError
        When it has no such size or cost.
    """
    if item.width_mm <= 0 or item.length_mm <= 0 or item.cost_pence_per_m2 < 0:
        raise ValueError(f"{item.tag}: a size must be positive and a cost not negative; found {item}")
    return item


def text_in(values: Mapping[str, Value] | Mapping[str, str | int], name: str, otherwise: str = "") -> str:
    """Take a text out of what a movement states.

    Parameters
    ----------
    values
        What is stated, by name.
    name
        Which of it.
    otherwise
        Where it is not stated; default empty.

    Raises
    ------
    ValueError
        When something else is stated.
    """
    value = values.get(name, otherwise)
    if not isinstance(value, str):
        raise ValueError(f"{name} must be text, found {value!r}")
    return value


def whole_in(values: Mapping[str, Value] | Mapping[str, str | int], name: str, otherwise: int = 0) -> int:
    """Take a whole number out of what a movement states.

    Parameters
    ----------
    values
        What is stated, by name.
    name
        Which of it.
    otherwise
        Where it is not stated; default 0.

    Raises
    ------
    ValueError
        When something else is stated.
    """
    value = values.get(name, otherwise)
    if not isinstance(value, int) or isinstance(value, bool):
        raise ValueError(f"{name} must be a whole number, found {value!r}")
    return value


def said(kind: MovementKind) -> str:
    """Say a kind in words."""
    return kind.value.replace("_", " ")


def must_be_new(yard: Yard, movement: Step) -> None:
    """See that a tag was never used.

    Parameters
    ----------
    yard, movement
        The yard before a movement, and the movement.

    Raises
    ------
    ValueError
        When it was.
    """
    if movement.tag in yard.items or movement.tag in yard.gone:
        raise ValueError(f"{movement.tag} was received before; give the new thing a tag of its own")


def must_not_be_held(yard: Yard, movement: Step) -> None:
    """See that nobody keeps an item on the day of a movement.

    Parameters
    ----------
    yard, movement
        The yard before a movement, and the movement.

    Raises
    ------
    ValueError
        When somebody does.
    """
    hold = yard.hold_on(movement.tag, day_of(movement))
    if hold is not None:
        raise ValueError(f"{movement.tag} is held for {hold.quote} until {hold.until}; free it first")
