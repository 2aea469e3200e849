"""One product's planning problem in the planner's own terms.

Letters used throughout `cutting` (and in the mathematical program at the head of `master.py`):

- b: a batch; the last one may be `new`, everything bought.
- t: a piece type, a size that some job needs. On `new`, pieces of one size are told apart by which supply options still
  arrive in time for their jobs; in the yard they are not.
- c: a source class, stock items that are alike in every way that matters, or one purchase of a given length.
- g: a choice group, a number of units that must each be given a batch: a whole job when it needs one batch, the copies
  of one strip size when it does not. A job that may be laid in several ways is given a layout with its batch: h is a
  choice of both.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from stockplan.domain.jobs import Job
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import SupplyOption
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth

ANYWHERE = -1  # in place of a batch, of pieces for which every batch will do


@dataclass(frozen=True, slots=True)
class PieceType:
    """A size of piece within one batch.

    Parameters
    ----------
    batch
        Index of the batch.
    width_mm, length_mm
        Across and along the pile.
    options
        Numbers of the gates that stand open for it: on the `new` batch the supply options that arrive in time; in the
        yard those of `settled.Gate`, and none where nothing is gated.
    pinned
        Whether it may be cut from nothing but what lies behind its gates.
    """

    batch: int
    width_mm: int
    length_mm: int
    options: frozenset[int] = frozenset()
    pinned: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """A source class: what a pattern is cut from.

    Parameters
    ----------
    batch
        Index of the batch.
    width_mm, length_mm
        Size before cutting.
    value_pence
        What touching one copy costs: its worth as it lies, or its price.
    unit_cost
        What its grass cost, for valuing leftovers.
    on_core
        Whether its tail stays on a roll.
    option
        Index of the supply option, None for stock.
    tags
        Stock tags of the copies, in order of use; empty for purchases, of which there is no end.
    gate
        Number of the gate before it, None where it is open to all; see `settled`.
    """

    batch: int
    width_mm: int
    length_mm: int
    value_pence: int
    unit_cost: UnitCost
    on_core: bool
    option: int | None
    tags: tuple[str, ...] = ()
    gate: int | None = None

    @property
    def copies(self) -> int | None:
        """How many there are; None when unlimited."""
        return None if self.option is not None else len(self.tags)

    def open_to(self, piece: PieceType) -> bool:
        """Whether the piece type may come from here, by arrival and pins."""
        return self.gate in piece.options or (self.gate is None and not piece.pinned)

    def makes(self, piece: PieceType) -> bool:
        """Whether this source may serve the piece type at all, by batch, arrival, pins and size."""
        return (
            piece.batch == self.batch
            and self.open_to(piece)
            and piece.width_mm <= self.width_mm
            and piece.length_mm <= self.length_mm
        )


class Choice(NamedTuple):
    """What a unit may be given: a batch, and which of its job's layouts; 0 where strips were given."""

    batch: int
    layout: int = 0


@dataclass(frozen=True, slots=True)
class Group:
    """Units that must each be given a batch and a layout, or left short with their job.

    Parameters
    ----------
    job
        Index of the job.
    units
        How many units.
    demands
        For each choice that may serve a unit: the piece types one unit needs and how many.
    costs
        What a choice costs beside its pieces, pence: the seams of its layout; nothing where it is not named.
    """

    job: int
    units: int
    demands: dict[Choice, dict[PieceType, int]]
    costs: dict[Choice, int] = field(default_factory=dict)

    def cost(self, choice: Choice) -> int:
        """What a choice costs beside its pieces, pence."""
        return self.costs.get(choice, 0)

    def cost_at(self, choice: Choice, prices: Mapping[PieceType, float]) -> float:
        """What a unit costs by a choice at prices of pieces, pence."""
        return self.cost(choice) + sum(prices.get(t, 0.0) * n for t, n in self.demands[choice].items())

    @property
    def several_layouts(self) -> bool:
        """Whether there is more than one layout to choose from."""
        return any(choice.layout for choice in self.demands)


@dataclass(frozen=True)
class Mixed:
    """Jobs that may mix batches and be laid in several ways, as bounds see them.

    Parameters
    ----------
    groups
        A group of one unit for each: a choice is a layout, its pieces of no batch.
    made_as
        By such a piece: the types of piece, one for each batch that has it, that each may be had as.
    """

    groups: tuple[Group, ...] = ()
    made_as: Mapping[PieceType, tuple[PieceType, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Instance:
    """One product's problem.

    Parameters
    ----------
    product
        Product code.
    costs
        Cutting costs and whether leftovers are worth anything.
    widest_mm
        Full width, for valuing loose leftovers.
    batches
        Batch names by index.
    jobs
        The jobs by index.
    penalties
        By job: pence charged for leaving it short; more than covering it can ever cost. Whole ones, but in problems of
        one batch alone (`batch_relaxation.py`).
    sources
        Every source class, cut lengths at every length on offer.
    groups
        Every choice group.
    supply
        Supply options by index.
    fixed
        Pieces that must be made whatever else is chosen.
    cut
        By job and strip: copies cut before, which `jobs` no longer ask for; the others are numbered after them.
    mixed
        How bounds see jobs that may mix batches and be laid in several ways; in `groups` they are laid the first way.
    made_as
        As in `Mixed`, of pieces that groups need; nothing but in problems that are for bounds.
    """

    product: str
    costs: CostSettings
    widest_mm: int
    batches: tuple[str, ...]
    jobs: tuple[Job, ...]
    penalties: tuple[float, ...]
    sources: tuple[Source, ...]
    groups: tuple[Group, ...]
    supply: tuple[SupplyOption, ...]
    fixed: dict[PieceType, int] = field(default_factory=dict)
    cut: Counter[tuple[str, str]] = field(default_factory=Counter)
    mixed: Mixed = field(default_factory=Mixed)
    made_as: Mapping[PieceType, tuple[PieceType, ...]] = field(default_factory=dict)

    def piece_types(self) -> tuple[PieceType, ...]:
        """Every piece type of a batch that some choice may need, in a fixed order."""
        found = dict.fromkeys(self.fixed)
        for group in self.groups:
            for demand in group.demands.values():
                found.update(dict.fromkeys(t for piece in demand for t in self.ways_to_have(piece)))
        return tuple(sorted(found, key=lambda t: (t.batch, t.width_mm, t.length_mm, sorted(t.options), t.pinned)))

    def ways_to_have(self, piece: PieceType) -> tuple[PieceType, ...]:
        """The types of piece of a batch that one may be had as: itself, unless every batch will do."""
        return self.made_as.get(piece, (piece,))

    def worth(self, source: Source, width_mm: int, length_mm: int, *, tail: bool) -> int:
        """Worth in pence of a rectangle left of a source."""
        if not self.costs.leftovers_have_worth:
            return 0
        shape = Leftover(width_mm, length_mm, tail and source.on_core, self.widest_mm)
        return leftover_worth(shape, source.unit_cost)


def in_whole_loads(instance: Instance) -> bool:
    """Whether what a batch serves is units, each laid some way, and no more: nothing that must be made."""
    return not instance.made_as and not any(instance.fixed.values())


def for_bounds(instance: Instance) -> Instance:
    """The problem with jobs that may mix batches free to be laid in any of their ways: the same one, mostly."""
    if not instance.mixed.groups:
        return instance
    freed = {group.job for group in instance.mixed.groups}
    kept = tuple(group for group in instance.groups if group.job not in freed)
    return replace(instance, groups=kept + instance.mixed.groups, made_as=instance.mixed.made_as)


def with_first_layouts(instance: Instance) -> Instance:
    """The same problem with each job laid the first way that any batch holds; its answers are answers to the whole."""
    groups = []
    for group in instance.groups:
        first = min((choice.layout for choice in group.demands), default=0)
        demands = {choice: demand for choice, demand in group.demands.items() if choice.layout == first}
        groups.append(replace(group, demands=demands))
    return replace(instance, groups=tuple(groups))
