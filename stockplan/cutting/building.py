"""One product's planning problem, stated from what a plan was asked for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import timedelta

from stockplan.cutting.instance import ANYWHERE, Choice, Group, Instance, Mixed, PieceType, Source
from stockplan.cutting.settled import Settled, settled_before
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import UnitCost, stock_worth


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
    mixed: list[Group] = []
    made_as: dict[PieceType, tuple[PieceType, ...]] = {}
    for number, job in enumerate(jobs):
        in_time = frozenset(k for k, day in enumerate(arrival) if day < job.lay_on)
        yard = Yard(batches, of_batch, new_batch, in_time, settled)
        groups.extend(_groups_of(number, job, yard))
        if job.batch_rule is BatchRule.ANY and len(job.layouts) > 1:
            mixed.append(_mixed(number, job, yard, made_as))
    return Instance(
        product=product,
        costs=request.costs,
        widest_mm=widest,
        batches=batches,
        jobs=jobs,
        penalties=_penalties(jobs, sources, request),
        sources=sources,
        groups=tuple(groups),
        supply=supply,
        cut=settled.cut,
        mixed=Mixed(tuple(mixed), made_as),
    )


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

    def had_as(self, job: Job, size: tuple[int, int]) -> tuple[PieceType, ...]:
        """The piece types that one piece of a job may be had as, one for each batch that has it."""
        found: list[PieceType] = []
        for batch, sources in enumerate(self.of_batch):
            demand = self.demand(job, batch, {size: 1})
            if _batch_can_hold(demand, sources):
                found.extend(demand)
        return tuple(found)


def _groups_of(number: int, job: Job, yard: Yard) -> list[Group]:
    """The choice groups of one job; a batch that cannot make every type of a unit is left out.

    A job that may mix batches is laid by its first layout here: which strip comes from which batch is a choice for each
    strip, and not known before the strips are. `mixing.py` says which layout comes first.
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
    # The largest strips are served first, lest smaller ones take the only place for them.
    largest_first = sorted(sizes, key=lambda size: -size[0] * size[1])
    groups = [Group(number, sizes[size], demands({size: 1}, 0)) for size in largest_first]
    if job.layouts and yard.of_batch:
        seams = {Choice(0): job.layouts[0].seam_cost_pence}
        groups.append(Group(number, 1, {Choice(0): {}}, seams))
    return groups


def _mixed(number: int, job: Job, yard: Yard, made_as: dict[PieceType, tuple[PieceType, ...]]) -> Group:
    """A job that may mix batches, as bounds see it; what its pieces may be had as is added to a mapping."""
    gates, pinned = yard.in_time | yard.settled.open_to(job), job.code in yard.settled.pins
    demands: dict[Choice, dict[PieceType, int]] = {}
    costs: dict[Choice, int] = {}
    for layout, laid in enumerate(job.layouts):
        sizes = _sizes(laid.strips)
        ways = {PieceType(ANYWHERE, *size, gates, pinned): yard.had_as(job, size) for size in sizes}
        if all(ways.values()):
            made_as.update(ways)
            demands[Choice(ANYWHERE, layout)] = dict(zip(ways, sizes.values(), strict=True))
            costs[Choice(ANYWHERE, layout)] = laid.seam_cost_pence
    return Group(number, 1, demands, costs)


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


def _penalties(jobs: tuple[Job, ...], sources: tuple[Source, ...], request: PlanRequest) -> tuple[int, ...]:
    """By job: for each of its pieces, more than cutting every piece of every job from a source of its own can cost.

    Nothing less would do: covering one job may drive all others out of a batch that they shared. One that is covered so
    far counts as many pieces more as all have that are not: what is promised to it goes to none of them.
    """
    costs = request.costs
    dearest = max((s.value_pence for s in sources), default=0)
    per_piece = dearest + 2 * costs.crosscut_pence + 2 * costs.rip_pence + 1_00
    everything = per_piece * sum(job.piece_count for job in jobs)
    everything += sum(max((layout.seam_cost_pence for layout in job.layouts), default=0) for job in jobs)
    others = sum(job.piece_count for job in jobs if job.code not in request.covered)
    return tuple(everything * (job.piece_count + (others if job.code in request.covered else 0)) for job in jobs)
