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

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import NamedTuple

from stockplan.cutting.settled import Settled, settled_before
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth, stock_worth


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

    @property
    def several_layouts(self) -> bool:
        """Whether there is more than one layout to choose from."""
        return any(choice.layout for choice in self.demands)


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
        By job: pence charged for leaving it short; more than covering it can ever cost.
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
    """

    product: str
    costs: CostSettings
    widest_mm: int
    batches: tuple[str, ...]
    jobs: tuple[Job, ...]
    penalties: tuple[int, ...]
    sources: tuple[Source, ...]
    groups: tuple[Group, ...]
    supply: tuple[SupplyOption, ...]
    fixed: dict[PieceType, int] = field(default_factory=dict)
    cut: Counter[tuple[str, str]] = field(default_factory=Counter)

    def piece_types(self) -> tuple[PieceType, ...]:
        """Every piece type some choice may need, in a fixed order."""
        found = dict.fromkeys(self.fixed)
        for group in self.groups:
            for demand in group.demands.values():
                found.update(dict.fromkeys(demand))
        return tuple(sorted(found, key=lambda t: (t.batch, t.width_mm, t.length_mm, sorted(t.options), t.pinned)))

    def worth(self, source: Source, width_mm: int, length_mm: int, *, tail: bool) -> int:
        """Worth in pence of a rectangle left of a source."""
        if not self.costs.leftovers_have_worth:
            return 0
        shape = Leftover(width_mm, length_mm, tail and source.on_core, self.widest_mm)
        return leftover_worth(shape, source.unit_cost)


def build_instance(request: PlanRequest, product: str) -> Instance:
    """State one product's problem.

    Parameters
    ----------
    request
        The plan asked for.
    product
        Code of the product to plan; jobs of other products are left aside.
    """
    stock = sorted((i for i in request.stock if i.product == product), key=lambda i: i.tag)
    supply = tuple(s for s in request.supply if s.product == product)
    asked = sorted((j for j in request.jobs if j.product == product), key=lambda j: (j.lay_on, j.code))
    settled = settled_before(request, stock, asked, len(supply))
    jobs = tuple(settled.left_of(job) for job in asked)
    identities = sorted({_identity(i) for i in stock})
    names = {_identity(i): i.batch_key for i in stock}
    batches = tuple(names[i] for i in identities) + ((NEW_BATCH,) if supply else ())
    widest = request.widest_mm(product)
    new_batch = len(batches) - 1 if supply else None
    sources = _stock_sources(stock, identities, widest, settled) + _purchases(supply, len(batches) - 1)
    of_batch = [tuple(s for s in sources if s.batch == batch) for batch in range(len(batches))]
    arrival = [request.today + timedelta(days=s.lead_days) for s in supply]
    groups: list[Group] = []
    for number, job in enumerate(jobs):
        in_time = frozenset(k for k, day in enumerate(arrival) if day < job.lay_on)
        yard = Yard(batches, of_batch, new_batch, in_time, settled)
        groups.extend(_groups_of(number, job, yard))
    return Instance(
        product=product,
        costs=request.costs,
        widest_mm=widest,
        batches=batches,
        jobs=jobs,
        penalties=_penalties(jobs, sources, request.costs),
        sources=sources,
        groups=tuple(groups),
        supply=supply,
        cut=settled.cut,
    )


def with_first_layouts(instance: Instance) -> Instance:
    """The same problem with each job laid the first way that any batch holds; its answers are answers to the whole."""
    groups = []
    for group in instance.groups:
        first = min((choice.layout for choice in group.demands), default=0)
        demands = {choice: demand for choice, demand in group.demands.items() if choice.layout == first}
        groups.append(replace(group, demands=demands))
    return replace(instance, groups=tuple(groups))


def _identity(item: StockItem) -> tuple[str, str]:
    """What tells batches apart: the name, or the tag of an item whose batch is unknown."""
    return (item.batch, "") if item.batch else ("", item.tag)


def _stock_sources(
    stock: list[StockItem], identities: list[tuple[str, str]], widest: int, settled: Settled
) -> tuple[Source, ...]:
    alike: defaultdict[Source, list[str]] = defaultdict(list)
    for item in stock:
        source = Source(
            batch=identities.index(_identity(item)),
            width_mm=item.width_mm,
            length_mm=item.length_mm,
            value_pence=stock_worth(item, widest),
            unit_cost=UnitCost(item.cost_pence_per_m2, MM2_PER_M2),
            on_core=item.form is not StockForm.OFFCUT,
            option=None,
            gate=settled.of_item.get(item.tag),
        )
        alike[source].append(item.tag)
    return tuple(replace(source, tags=tuple(tags)) for source, tags in alike.items())


def _purchases(supply: tuple[SupplyOption, ...], batch: int) -> tuple[Source, ...]:
    return tuple(
        Source(
            batch=batch,
            width_mm=option.width_mm,
            length_mm=length,
            value_pence=option.price_of(length),
            unit_cost=UnitCost(option.price_of(length), option.width_mm * length),
            on_core=option.form is SupplyForm.ROLL,
            option=number,
            gate=number,
        )
        for number, option in enumerate(supply)
        for length in option.lengths()
    )


@dataclass(frozen=True, slots=True)
class Yard:
    """What a job may be cut from: batches, sources by batch, which batch is bought, offers in time, what is settled."""

    batches: tuple[str, ...]
    of_batch: list[tuple[Source, ...]]
    new_batch: int | None
    in_time: frozenset[int]
    settled: Settled

    def demand(self, job: Job, batch: int, sizes: dict[tuple[int, int], int]) -> dict[PieceType, int]:
        """The piece types that sizes are in a batch, and how many of each."""
        pinned = job.code in self.settled.pins
        if batch == self.new_batch:
            gates = frozenset() if pinned else self.in_time
        else:
            gates = self.settled.open_to(job) & {s.gate for s in self.of_batch[batch] if s.gate is not None}
        return {PieceType(batch, width, length, gates, pinned): count for (width, length), count in sizes.items()}


def _groups_of(number: int, job: Job, yard: Yard) -> list[Group]:
    """The choice groups of one job; a batch that cannot make every type of a unit is left out.

    A job that may mix batches is laid by its first layout: one that mixed them differently in every layout could not be
    told apart strip by strip.
    """

    def demands(sizes: dict[tuple[int, int], int], layout: int) -> dict[Choice, dict[PieceType, int]]:
        found = {}
        for batch, sources in enumerate(yard.of_batch):
            demand = yard.demand(job, batch, sizes)
            if yard.settled.allows(job, yard.batches[batch]) and _batch_can_hold(demand, sources):
                found[Choice(batch, layout)] = demand
        return found

    if job.batch_rule is BatchRule.ONE:
        ways = [(_sizes(layout.strips), layout.seam_cost_pence) for layout in job.layouts] or [(_sizes(job.strips), 0)]
        each = [(demands(sizes, layout), cost) for layout, (sizes, cost) in enumerate(ways)]
        costs = {choice: cost for found, cost in each if cost for choice in found}
        return [Group(number, 1, {choice: demand for found, _ in each for choice, demand in found.items()}, costs)]
    sizes = _sizes(job.strips_or_first())
    groups = [Group(number, count, demands({size: 1}, 0)) for size, count in sizes.items()]
    if job.layouts and yard.of_batch:
        seams = {Choice(0): job.layouts[0].seam_cost_pence}
        groups.append(Group(number, 1, {Choice(0): {}}, seams))
    return groups


def _sizes(strips: Iterable[Strip]) -> dict[tuple[int, int], int]:
    needed: defaultdict[tuple[int, int], int] = defaultdict(int)
    for strip in strips:
        needed[strip.width_mm, strip.length_mm] += strip.count
    return dict(needed)


def _batch_can_hold(demand: dict[PieceType, int], sources: tuple[Source, ...]) -> bool:
    """Whether a batch has, type by type and in area, what a unit needs; necessary, not sufficient."""
    area_needed = sum(t.width_mm * t.length_mm * count for t, count in demand.items())
    area_held = 0
    covered: set[PieceType] = set()
    for source in sources:
        made = [t for t in demand if source.makes(t)]
        covered.update(made)
        if made and source.copies is None:
            area_held += area_needed
        elif made:
            area_held += source.width_mm * source.length_mm * len(source.tags)
    return len(covered) == len(demand) and area_held >= area_needed


def _penalties(jobs: tuple[Job, ...], sources: tuple[Source, ...], costs: CostSettings) -> tuple[int, ...]:
    """By job: for each of its pieces, more than cutting every piece of every job from a source of its own can cost.

    Nothing less would do: covering one job may drive all others out of a batch that they shared.
    """
    dearest = max((s.value_pence for s in sources), default=0)
    per_piece = dearest + 2 * costs.crosscut_pence + 2 * costs.rip_pence + 1_00
    everything = per_piece * sum(job.piece_count for job in jobs)
    everything += sum(max((layout.seam_cost_pence for layout in job.layouts), default=0) for job in jobs)
    return tuple(everything * job.piece_count for job in jobs)
