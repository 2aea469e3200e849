"""A few pieces as they are cut from one source: its drops and their lanes, what is left over, what that comes to."""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.domain.pieces import Pieces
from stockplan.domain.worth import Leftover, big_enough


@dataclass(frozen=True, slots=True)
class Lane:
    """A lane and its pieces in cutting order."""

    width_mm: int
    pieces: Pieces


@dataclass(frozen=True, slots=True)
class Drop:
    """A drop and its lanes from the left."""

    length_mm: int
    lanes: tuple[Lane, ...]


@dataclass(frozen=True, slots=True)
class Remainder:
    """A rectangle left over, and what it is worth.

    Parameters
    ----------
    width_mm, length_mm
        Across and along the pile.
    on_core
        Whether it stays on its roll.
    worth_pence
        0 when it is not kept, or cost next to nothing.
    """

    width_mm: int
    length_mm: int
    on_core: bool
    worth_pence: int

    @property
    def keep(self) -> bool:
        """Whether it is kept, as plans keep it: grass that cost nothing is kept too."""
        return big_enough(Leftover(self.width_mm, self.length_mm, self.on_core, self.width_mm))


@dataclass(frozen=True, slots=True)
class SmallCut:
    """The cheapest way found to cut some pieces from one source.

    Parameters
    ----------
    drops
        From the cut end.
    remainders
        Everything left over, the most valuable first.
    crosscuts, rips
        How many; trims among the rips.
    cutting_pence, worth_left_pence
        What the cuts cost, and what the remainders are worth.
    """

    drops: tuple[Drop, ...]
    remainders: tuple[Remainder, ...]
    crosscuts: int
    rips: int
    cutting_pence: int
    worth_left_pence: int

    @property
    def net_pence(self) -> int:
        """Cutting less what is left."""
        return self.cutting_pence - self.worth_left_pence
