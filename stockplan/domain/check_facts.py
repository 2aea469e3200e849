"""What the checker works from: a request and a plan with their cross-references looked up, and nothing assumed sound.

Every lookup may fail: a plan under suspicion can name jobs and sources that do not exist or name one twice. The first
holder of a name counts as its holder; the rule that owns the name reports the others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from stockplan.domain.jobs import Job
from stockplan.domain.picked import with_picked_layouts
from stockplan.domain.plan import NEW_BATCH, Order, Piece, Plan, PlannedLeftover
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, StockItem, SupplyForm
from stockplan.domain.units import MM2_PER_M2, size
from stockplan.domain.worth import UnitCost


class Rule(StrEnum):
    """The rules of a sound plan, by the name a violation carries."""

    COVERAGE = "coverage"
    SIZE = "size and direction"
    PLACEMENT = "inside and not overlapping"
    THROUGH_CUTS = "through-cuts"
    BATCH = "batch"
    PRODUCT = "product"
    ORDERS = "orders and arrival"
    LEFTOVERS = "leftovers"
    AREA = "area conserved"
    MONEY = "money adds up"
    BOUND = "bound"
    WINDOW = "window"
    PINS = "pins"
    CUT_ALREADY = "cut already"
    LAYOUT = "layout"


@dataclass(frozen=True, slots=True)
class Violation:
    """One breach of one rule.

    Parameters
    ----------
    rule
        A member of `Rule`.
    message
        What was found and what would be right.
    where
        The piece, source, job, order or product concerned.
    """

    rule: str
    message: str
    where: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.where}: {self.message}"


@dataclass(frozen=True, slots=True)
class Source:
    """A stock item or an order, as something to cut from.

    Parameters
    ----------
    key, product, batch, width_mm, length_mm
        As the request or the order states them.
    bought
        Whether it is an order.
    rolled
        Whether it comes on a core, so that its tail stays there.
    cost
        What its grass cost; None when its area is not positive.
    dye
        Identity of its batch: two sources match only when these are equal. A stock batch that happens to be called
        `new` does not match an order, nor an unknown batch anything but itself.
    """

    key: str
    product: str
    batch: str
    width_mm: int
    length_mm: int
    bought: bool
    rolled: bool
    cost: UnitCost | None
    dye: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A piece or a leftover as a place on its source."""

    across_mm: int
    along_mm: int
    width_mm: int
    length_mm: int
    is_piece: bool

    @property
    def right_mm(self) -> int:
        """Far edge across."""
        return self.across_mm + self.width_mm

    @property
    def end_mm(self) -> int:
        """Far end along."""
        return self.along_mm + self.length_mm

    @property
    def area_mm2(self) -> int:
        """Area in square millimetres."""
        return self.width_mm * self.length_mm

    @property
    def has_size(self) -> bool:
        """Whether both sides are positive."""
        return self.width_mm > 0 and self.length_mm > 0

    def overlaps(self, other: Rectangle) -> bool:
        """Whether the two share more than an edge."""
        beside = self.right_mm <= other.across_mm or other.right_mm <= self.across_mm
        beyond = self.end_mm <= other.along_mm or other.end_mm <= self.along_mm
        return not beside and not beyond

    def __str__(self) -> str:
        kind = "piece" if self.is_piece else "leftover"
        return f"{kind} {size(self.width_mm, self.length_mm)} at {self.across_mm} across, {self.along_mm} along"


def rectangle(part: Piece | PlannedLeftover) -> Rectangle:
    """Take the place of a piece or a leftover."""
    return Rectangle(part.across_mm, part.along_mm, part.width_mm, part.length_mm, isinstance(part, Piece))


def piece_name(piece: Piece) -> str:
    """Name a piece for a person."""
    return f"{piece.job} {piece.strip} no. {piece.number} on {piece.source}"


@dataclass(frozen=True, slots=True)
class Facts:
    """A request and a plan with their cross-references.

    Parameters
    ----------
    request, plan
        What was asked, with the strips of the layouts picked, and what was answered.
    jobs, items, orders, sources
        By code, tag, order key, and either of the last two.
    leftovers
        By the source they claim to lie on.
    cut
        Copies cut already, by job and strip.
    """

    request: PlanRequest
    plan: Plan
    jobs: dict[str, Job]
    items: dict[str, StockItem]
    orders: dict[str, Order]
    sources: dict[str, Source]
    leftovers: dict[str, tuple[PlannedLeftover, ...]]
    cut: Counter[tuple[str, str]]

    def rectangles(self, pieces: Sequence[Piece], source: str) -> list[Rectangle]:
        """Places of some pieces and of every leftover of their source."""
        return [*map(rectangle, pieces), *map(rectangle, self.leftovers.get(source, ()))]


def gather(request: PlanRequest, plan: Plan) -> Facts:
    """Look up everything the rules refer to; the strips of a job are those of the layout picked for it."""
    request = with_picked_layouts(request, plan)
    jobs = {job.code: job for job in reversed(request.jobs)}
    items = {item.tag: item for item in reversed(request.stock)}
    orders = {order.key: order for order in reversed(list(plan.orders()))}
    sources = {key: _bought(order) for key, order in orders.items()}
    sources |= {tag: _held(item) for tag, item in items.items()}
    leftovers: dict[str, tuple[PlannedLeftover, ...]] = {}
    for leftover in plan.leftovers():
        leftovers[leftover.source] = (*leftovers.get(leftover.source, ()), leftover)
    cut: Counter[tuple[str, str]] = Counter()
    for done in request.cut_already:
        cut[done.job, done.strip] += done.count
    return Facts(request, plan, jobs, items, orders, sources, leftovers, cut)


def _held(item: StockItem) -> Source:
    return Source(
        key=item.tag,
        product=item.product,
        batch=item.batch_key,
        width_mm=item.width_mm,
        length_mm=item.length_mm,
        bought=False,
        rolled=item.form in (StockForm.ROLL, StockForm.PART_ROLL),
        cost=UnitCost(item.cost_pence_per_m2, MM2_PER_M2),
        dye=("stock", item.batch) if item.batch else ("unknown", item.tag),
    )


def _bought(order: Order) -> Source:
    area = order.width_mm * order.length_mm
    return Source(
        key=order.key,
        product=order.product,
        batch=NEW_BATCH,
        width_mm=order.width_mm,
        length_mm=order.length_mm,
        bought=True,
        rolled=order.form is SupplyForm.ROLL,
        cost=UnitCost(order.price_pence, area) if area > 0 else None,
        dye=("bought", order.product),
    )
