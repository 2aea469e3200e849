"""From two plans, with a job and without it, to what the job truly costs: `true_cost` says why the bracket holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from stockplan.domain.cover import Question, Take
from stockplan.domain.cover_batches import from_one_batch
from stockplan.domain.cover_purchase import MOST_PIECES, cheapest_purchases, is_small
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source, source_of
from stockplan.domain.jobs import Job
from stockplan.domain.layout import Layout
from stockplan.domain.pieces import Pieces, in_order, subsets
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, SupplyForm
from stockplan.domain.strip import Strip
from stockplan.domain.true_cost import (
    Grass,
    Solved,
    TrueCost,
    floor_pence,
    solved,
    true_cost,
    with_addition,
    with_removal,
)
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import UnitCost


class Way(NamedTuple):
    """One way to lay the job: its strips, what their seams cost in pence, and the layout, where it has a lawn."""

    strips: tuple[Strip, ...]
    seams_pence: int
    layout: Layout | None


class Addition(NamedTuple):
    """What the job is cut from beside the plan without it, and the way it is then laid."""

    takes: tuple[Take, ...]
    way: Way

    @property
    def cost_pence(self) -> int:
        """Grass, cuts and seams."""
        return sum(take.cost_pence for take in self.takes) + self.way.seams_pence


@dataclass(frozen=True, slots=True)
class Bracket:
    """What is known of a job's cost.

    Parameters
    ----------
    cost
        None where the two plans leave different work short.
    with_it, without
        What is known of both, each other's knowledge put to use.
    floor, ceiling
        As in `true_cost`; ceiling None where nothing bought in time covers the job.
    takes
        What the job is cut from where adding it to the plan without it is the best plan known; else nothing.
    layout
        How its lawns are then laid; None where it has none, or `takes` is empty.
    """

    cost: TrueCost | None
    with_it: Solved
    without: Solved
    floor: int
    ceiling: int | None
    takes: tuple[Take, ...]
    layout: Layout | None = None


def bracket(request: PlanRequest, job: Job, with_it: ProductPlan, without: ProductPlan | None) -> Bracket:
    """Bracket what a job costs.

    Parameters
    ----------
    request
        The plan asked for with the job.
    job
        The job; its pieces are not cut yet and pinned to nothing.
    with_it
        A plan of its product for the request.
    without
        One for the request less the job; None when there is no other job of the product.
    """
    added = _Added(request, job, without)
    floor = added.floor()
    known_with, made_without = solved(with_it), solved(without)
    known_without = with_removal(known_with, made_without, floor)
    extra = added.cheapest() if known_without == made_without else None
    better = with_addition(known_without, known_with, extra.cost_pence if extra else None)
    ceiling = added.ceiling()
    cost = true_cost(better, known_without, floor, ceiling)
    if extra is None or better == known_with:
        return Bracket(cost, better, known_without, floor, ceiling, ())
    return Bracket(cost, better, known_without, floor, ceiling, extra.takes, extra.way.layout)


class _Added:
    """A job added to a plan that was made without it."""

    def __init__(self, request: PlanRequest, job: Job, without: ProductPlan | None) -> None:
        self.request, self.job, self.without = request, job, without
        self.widest_mm = request.widest_mm(job.product)
        self.desk = Desk(self.widest_mm, request.costs)
        self.stock = [item for item in request.stock if item.product == job.product]
        self.supply = [option for option in request.supply if option.product == job.product]
        laid = [Way(layout.strips, layout.seam_cost_pence, layout) for layout in job.layouts]
        self.ways = laid or [Way(job.strips, 0, None)]

    def floor(self) -> int:
        """What the job's pieces are worth at the cheapest grass they can come from, its seams beside."""
        grass = [
            Grass(item.width_mm, item.length_mm, UnitCost(item.cost_pence_per_m2, MM2_PER_M2)) for item in self.stock
        ]
        for option in self.supply:
            for length in option.lengths():
                area = option.width_mm * length
                grass.append(Grass(option.width_mm, length, UnitCost(option.price_of(length), area)))
        costs = self.request.costs
        return min(floor_pence(strips, grass, self.widest_mm, costs) + seams for strips, seams, _ in self.ways)

    def ceiling(self) -> int | None:
        """What the job costs where grass is bought for it alone; None where none comes in time."""
        found = [
            sum(take.cost_pence for take in takes) + seams
            for strips, seams, _ in self.ways
            if (takes := self._bought(pieces_of(strips)))
        ]
        return min(found, default=None)

    def _bought(self, pieces: Pieces) -> list[Take] | None:
        """The purchases that cost least together; a few pieces at a time where these are too many to share out."""
        request, lay_on = self.request, self.job.lay_on
        in_time = [option for option in self.supply if (lay_on - request.today).days > option.lead_days]
        found: list[Take] = []
        for some in [pieces] if is_small(pieces) else _few_at_a_time(pieces):
            question = Question(some, (self.job.product,), request.today, lay_on)
            takes = cheapest_purchases(self.desk, in_time, question)
            if takes is None:
                return None
            found += takes
        return found

    def cheapest(self) -> Addition | None:
        """The cheapest addition to the plan without the job; None where nothing gives its pieces."""
        sources = list(self.untouched())
        found = [Addition(takes, way) for way in self.ways for takes in self._additions(sources, pieces_of(way.strips))]
        return min(found, key=lambda one: one.cost_pence, default=None)

    def _additions(self, sources: Sequence[Source], pieces: Pieces) -> Iterator[tuple[Take, ...]]:
        if is_small(pieces):
            yield from from_one_batch(self.desk, sources, pieces, 1)
        if bought := self._bought(pieces):
            yield tuple(bought)

    def untouched(self) -> Iterator[Source]:
        """Stock that the plan without the job does not cut, and the tails of what it does: they can be cut further."""
        used = {one.source for one in self.without.stock_used} if self.without else set()
        lay_on = self.job.lay_on
        for idle in self.stock:
            if idle.tag not in used and (idle.arrives_on is None or idle.arrives_on < lay_on):
                yield source_of(idle, self.widest_mm)
        if self.without is None:
            return
        items = {item.tag: item for item in self.stock}
        orders = {order.key: order for order in self.without.orders}
        lengths = {cuts.source: (cuts.width_mm, cuts.length_mm, cuts.batch) for cuts in self.without.cuts}
        for left in self.without.leftovers:
            width, length, batch = lengths[left.source]
            if left.width_mm != width or left.along_mm + left.length_mm != length or not left.keep:
                continue
            item, order = items.get(left.source), orders.get(left.source)
            there = item.arrives_on if item else order.arrives_on if order else None
            if there is not None and there >= lay_on:
                continue
            cost = UnitCost(item.cost_pence_per_m2, MM2_PER_M2) if item else None
            if order is not None:
                cost = UnitCost(order.price_pence, order.width_mm * order.length_mm)
            rolled = item.form is not StockForm.OFFCUT if item else order is not None and order.form is SupplyForm.ROLL
            if cost is not None:
                form = StockForm.PART_ROLL if rolled else StockForm.OFFCUT
                yield Source(
                    left.source, self.job.product, batch, form, left.width_mm, left.length_mm, cost, left.value_pence,
                    item.bay if item else "", "", there,
                )  # fmt: skip


def _few_at_a_time(pieces: Pieces) -> Iterator[Pieces]:
    """Part pieces, in their order, into as many of them together as are soon shared out: alike ones, or three."""
    some: Pieces = ()
    for piece in pieces:
        if len(subsets((*some, piece))) > MOST_PIECES + 1:
            yield some
            some = ()
        some = (*some, piece)
    if some:
        yield some


def pieces_of(strips: Sequence[Strip]) -> Pieces:
    """Give the pieces of some strips, copies each."""
    return in_order(tuple((one.width_mm, one.length_mm) for one in strips for _ in range(one.count)))
