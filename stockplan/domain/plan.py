"""A plan given: frozen data, no opinions.

Coordinates on a source: `across` from its left edge, `along` from its cut end, looking along the pile. A source is cut
with straight through-cuts only: crosscut into drops from the cut end, each drop ripped into lanes from the left, each
lane crosscut into pieces, and a piece trimmed to width. Whatever is not a piece is a leftover: pieces and leftovers
together tile every source that is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from stockplan.domain.jobs import Window
from stockplan.domain.layout import Layout
from stockplan.domain.reasons import BatchReason, OrderReason
from stockplan.domain.stock import StockForm, SupplyForm

NEW_BATCH = "new"  # everything newly bought of one product in one plan is one batch


@dataclass(frozen=True, slots=True)
class Order:
    """One roll or cut length to buy; its key is a source in the plan.

    Parameters
    ----------
    key
        `new-1`, `new-2`, …; unique in the plan.
    product, supplier, form, width_mm, length_mm
        What is bought, as in `SupplyOption`.
    price_pence
        Of the whole purchase.
    order_by, arrives_on
        The last day to order, and the day it then arrives: the day before the first job that needs it.
    """

    key: str
    product: str
    supplier: str
    form: SupplyForm
    width_mm: int
    length_mm: int
    price_pence: int
    order_by: date
    arrives_on: date


@dataclass(frozen=True, slots=True)
class Piece:
    """One strip of one job, placed on a source.

    Parameters
    ----------
    job, strip, number
        Which strip, and which copy of it counting from 1.
    source, batch
        The stock tag or order key it is cut from, and that source's batch (`new` for an order).
    across_mm, along_mm
        Near corner on the source.
    width_mm, length_mm
        The size cut, equal to the strip's.
    """

    job: str
    strip: str
    number: int
    source: str
    batch: str
    across_mm: int
    along_mm: int
    width_mm: int
    length_mm: int


@dataclass(frozen=True, slots=True)
class Lane:
    """A drop ripped lengthwise.

    Parameters
    ----------
    across_mm, width_mm
        Place and width on the source.
    pieces
        In cutting order, at least one; a piece narrower than the lane is trimmed. Width that no lane takes is the
        drop's own leftover.
    """

    across_mm: int
    width_mm: int
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Drop:
    """A full-width length taken off a source.

    Parameters
    ----------
    along_mm, length_mm
        Place and length on the source.
    lanes
        From the left edge; at least one.
    """

    along_mm: int
    length_mm: int
    lanes: tuple[Lane, ...]


@dataclass(frozen=True, slots=True)
class SourceCuts:
    """How one source is cut.

    Parameters
    ----------
    source
        Stock tag or order key.
    product, batch
        Its product and batch.
    width_mm, length_mm
        The source as it lies before cutting.
    drops
        From the cut end; at least one.
    crosscuts, rips
        Cuts across and along the pile, trims among the rips. A cut at the very end or edge of the source is no cut.
    """

    source: str
    product: str
    batch: str
    width_mm: int
    length_mm: int
    drops: tuple[Drop, ...]
    crosscuts: int
    rips: int

    def pieces(self) -> Iterator[Piece]:
        """Every piece in cutting order."""
        for drop in self.drops:
            for lane in drop.lanes:
                yield from lane.pieces


@dataclass(frozen=True, slots=True)
class PlannedLeftover:
    """A rectangle left of a used source.

    Parameters
    ----------
    source, across_mm, along_mm, width_mm, length_mm
        Where it lies on its source.
    becomes
        What it is afterwards: a part roll when it stays on the core, else an offcut.
    keep
        Keep it, or bin it.
    value_pence
        What it is worth; 0 when binned.
    reason
        Why, in a few words.
    """

    source: str
    across_mm: int
    along_mm: int
    width_mm: int
    length_mm: int
    becomes: StockForm
    keep: bool
    value_pence: int
    reason: str


@dataclass(frozen=True, slots=True)
class StockUsed:
    """A stock item the plan cuts from, and what it is worth as it lies."""

    source: str
    value_pence: int


@dataclass(frozen=True, slots=True)
class Shortfall:
    """Strips the plan does not cover.

    Parameters
    ----------
    job, strip, count
        Which, and how many copies.
    reason
        Why nothing covers it.
    remedy
        The smallest change found that would.
    """

    job: str
    strip: str
    count: int
    reason: str
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class ChosenLayout:
    """The layout a plan picks for a job that has several; the first one for a job left short.

    Parameters
    ----------
    job
        The job's code.
    layout
        One of the job's layouts.
    seam_cost_pence
        What its seams cost; nothing for a job left short.
    """

    job: str
    layout: Layout
    seam_cost_pence: int


class PlanStatus(StrEnum):
    """What is known of one product's plan."""

    OPTIMAL = "optimal"  # cost equals the bound to the penny, or the gap is below 1e-6
    FEASIBLE = "feasible"  # sound, with a known gap
    SHORT = "short"  # sound, but some strip is not covered


@dataclass(frozen=True, slots=True)
class ProductPlan:
    """The plan for one product.

    Parameters
    ----------
    product
        Product code.
    status
        See `PlanStatus`.
    net_cost_pence
        Orders + value of stock used − value of leftovers kept + cutting cost + seam cost of the layouts picked.
    lower_bound_pence
        No plan that leaves no more work uncovered costs less.
    foreman_cost_pence
        Net cost of the foreman's plan for the same jobs; None when it left a job short that this plan covers.
    orders, cuts, stock_used, leftovers, short
        The plan itself.
    cutting_cost_pence
        Crosscuts and rips at their settings.
    work, seed
        Deterministic work units spent, and the seed.
    ended_by
        `proof`, `work limit`, `clock` or `interrupt`.
    seconds
        Wall-clock time.
    held_wanted
        Tags of stock items kept for quotes that the plan would have cut, had it been free to.
    fingerprint
        Of what the plan was asked for, see `stockplan.domain.fingerprint`; empty where nobody noted it.
    layouts
        The layout picked for each job that has layouts, in order of job.
    order_reasons, batch_reasons
        Why each order is placed, and why each job covered is cut from its batch; see `stockplan.domain.reasons`. Empty
        in plans made before they were worked out.
    """

    product: str
    status: PlanStatus
    net_cost_pence: int
    lower_bound_pence: int
    foreman_cost_pence: int | None
    orders: tuple[Order, ...]
    cuts: tuple[SourceCuts, ...]
    stock_used: tuple[StockUsed, ...]
    leftovers: tuple[PlannedLeftover, ...]
    short: tuple[Shortfall, ...]
    cutting_cost_pence: int
    work: int
    seed: int
    ended_by: str
    seconds: float
    held_wanted: tuple[str, ...] = ()
    fingerprint: str = ""
    layouts: tuple[ChosenLayout, ...] = ()
    order_reasons: tuple[OrderReason, ...] = ()
    batch_reasons: tuple[BatchReason, ...] = ()

    @property
    def seam_cost_pence(self) -> int:
        """What the seams of the layouts picked cost."""
        return sum(chosen.seam_cost_pence for chosen in self.layouts)

    @property
    def gap(self) -> float:
        """Share of the cost that is not proven necessary; 0 when the plan costs nothing."""
        if self.net_cost_pence <= 0:
            return 0.0
        return (self.net_cost_pence - self.lower_bound_pence) / self.net_cost_pence


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan for every product with jobs in the window, products in order of code.

    Order keys are unique across products.
    """

    window: Window
    today: date
    currency: str
    products: tuple[ProductPlan, ...]

    def orders(self) -> Iterator[Order]:
        """Every order."""
        for product in self.products:
            yield from product.orders

    def cuts(self) -> Iterator[SourceCuts]:
        """Every source that is cut."""
        for product in self.products:
            yield from product.cuts

    def pieces(self) -> Iterator[Piece]:
        """Every piece placed."""
        for cuts in self.cuts():
            yield from cuts.pieces()

    def leftovers(self) -> Iterator[PlannedLeftover]:
        """Every leftover, kept or binned."""
        for product in self.products:
            yield from product.leftovers

    def stock_used(self) -> Iterator[StockUsed]:
        """Every stock item cut from."""
        for product in self.products:
            yield from product.stock_used

    def layouts(self) -> Iterator[ChosenLayout]:
        """Every layout picked."""
        for product in self.products:
            yield from product.layouts

    def short(self) -> Iterator[Shortfall]:
        """Every strip not covered."""
        for product in self.products:
            yield from product.short

    @property
    def net_cost_pence(self) -> int:
        """Net cost of the whole plan."""
        return sum(product.net_cost_pence for product in self.products)

    @property
    def lower_bound_pence(self) -> int:
        """Lower bound of the whole plan: the sum over products."""
        return sum(product.lower_bound_pence for product in self.products)
