"""Sound plans, made by cutting sources up for real and adding up what that costs.

Nothing here calls the planner, the checker or the program's own rule of worth: cuts are counted as they are made and
money is worked out in fractions from the rules in words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import lru_cache
from math import floor
from typing import Any

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import (
    Drop,
    Lane,
    Order,
    Piece,
    Plan,
    PlannedLeftover,
    PlanStatus,
    ProductPlan,
    Shortfall,
    SourceCuts,
    StockUsed,
)
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

TODAY = date(2026, 11, 23)
MONDAY = date(2026, 11, 30)


@dataclass(frozen=True)
class Case:
    """A request and a plan for it."""

    request: PlanRequest
    plan: Plan


@dataclass
class Want:
    """A piece to be cut; the job that wants it may be named later."""

    width_mm: int
    length_mm: int
    job: str = ""
    strip: str = ""
    number: int = 0


LaneSpec = tuple[int, list[Want]]  # width, pieces
DropSpec = tuple[int, list[LaneSpec]]  # length, lanes


@dataclass(frozen=True)
class Ground:
    """Something to cut up."""

    key: str
    product: str
    batch: str
    width_mm: int
    length_mm: int
    on_core: bool
    pence_per_m2: Fraction


@dataclass(frozen=True)
class Spot:
    """Where something is left over."""

    across_mm: int
    along_mm: int
    width_mm: int
    length_mm: int


def ground_of_stock(item: StockItem) -> Ground:
    batch = item.batch or f"unknown ({item.tag})"
    on_core = item.form is not StockForm.OFFCUT
    cost = Fraction(item.cost_pence_per_m2)
    return Ground(item.tag, item.product, batch, item.width_mm, item.length_mm, on_core, cost)


def ground_of_order(order: Order) -> Ground:
    cost = Fraction(order.price_pence * 1_000_000, order.width_mm * order.length_mm)
    on_core = order.form is SupplyForm.ROLL
    return Ground(order.key, order.product, "new", order.width_mm, order.length_mm, on_core, cost)


class Bench:
    """One source on the cutting bench: makes the cuts, counts them, and keeps what falls off."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.crosscuts = 0
        self.rips = 0
        self.spots: list[Spot] = []

    def cut(self, specs: Sequence[DropSpec]) -> SourceCuts:
        drops: list[Drop] = []
        along, remaining = 0, self.ground.length_mm
        for length, lanes in specs:
            self.crosscuts += remaining > length
            drops.append(self._drop(along, length, lanes))
            along, remaining = along + length, remaining - length
        self._left(0, along, self.ground.width_mm, remaining)
        g = self.ground
        size = (g.width_mm, g.length_mm)
        return SourceCuts(g.key, g.product, g.batch, *size, tuple(drops), self.crosscuts, self.rips)

    def _drop(self, along: int, length: int, specs: Sequence[LaneSpec]) -> Drop:
        lanes: list[Lane] = []
        across, remaining = 0, self.ground.width_mm
        for width, wants in specs:
            self.rips += remaining > width
            lanes.append(Lane(across, width, self._lane(across, along, width, length, wants)))
            across, remaining = across + width, remaining - width
        self._left(across, along, remaining, length)
        return Drop(along, length, tuple(lanes))

    def _lane(self, across: int, along: int, width: int, length: int, wants: Sequence[Want]) -> tuple[Piece, ...]:
        pieces: list[Piece] = []
        for want in wants:
            self.crosscuts += length > want.length_mm
            self.rips += width > want.width_mm
            place = (across, along, want.width_mm, want.length_mm)
            pieces.append(Piece(want.job, want.strip, want.number, self.ground.key, self.ground.batch, *place))
            self._left(across + want.width_mm, along, width - want.width_mm, want.length_mm)
            along, length = along + want.length_mm, length - want.length_mm
        self._left(across, along, width, length)
        return tuple(pieces)

    def _left(self, across: int, along: int, width: int, length: int) -> None:
        if width > 0 and length > 0:
            self.spots.append(Spot(across, along, width, length))


def widest(request: PlanRequest, product: str) -> int:
    """Widest roll offered or in the yard; anything of the product where no roll is known."""
    offered = [(s.width_mm, s.form is SupplyForm.ROLL) for s in request.supply if s.product == product]
    held = [(i.width_mm, i.form is not StockForm.OFFCUT) for i in request.stock if i.product == product]
    both = offered + held
    return max([width for width, roll in both if roll] or [width for width, _ in both] or [0])


@lru_cache(100_000)  # searches through every way to cut ask the same again and again, and fractions are slow
def worth(width_mm: int, length_mm: int, full_width: bool, pence_per_m2: Fraction) -> int:
    """The rule of worth in words, in metres and fractions."""
    wide, long = Fraction(width_mm, 1000), Fraction(length_mm, 1000)
    if wide < Fraction(1, 2) or long < 1:
        return 0
    if full_width:
        share = Fraction(75, 100) + Fraction(15, 100) * (min(long, Fraction(3)) - 1) / 2
    else:
        share = (Fraction(25, 100) + Fraction(45, 100) * wide / 4) * (
            Fraction(6, 10) + Fraction(4, 10) * min(long, Fraction(6)) / 6
        )
    return floor(pence_per_m2 * wide * long * share)


def is_full(width_mm: int, on_core: bool, widest_mm: int) -> bool:
    return on_core or Fraction(width_mm) >= Fraction(98, 100) * widest_mm


def worth_of_item(request: PlanRequest, item: StockItem) -> int:
    cost = Fraction(item.cost_pence_per_m2)
    if item.form is StockForm.ROLL:
        return floor(cost * item.width_mm * item.length_mm / 1_000_000)
    full = is_full(item.width_mm, item.form is StockForm.PART_ROLL, widest(request, item.product))
    return worth(item.width_mm, item.length_mm, full, cost)


def leftover_at(request: PlanRequest, ground: Ground, spot: Spot) -> PlannedLeftover:
    whole_width = spot.across_mm == 0 and spot.width_mm == ground.width_mm
    on_core = ground.on_core and whole_width and spot.along_mm + spot.length_mm == ground.length_mm
    full = is_full(spot.width_mm, on_core, widest(request, ground.product))
    value = worth(spot.width_mm, spot.length_mm, full, ground.pence_per_m2)
    return PlannedLeftover(
        source=ground.key,
        across_mm=spot.across_mm,
        along_mm=spot.along_mm,
        width_mm=spot.width_mm,
        length_mm=spot.length_mm,
        becomes=StockForm.PART_ROLL if on_core else StockForm.OFFCUT,
        keep=spot.width_mm >= 500 and spot.length_mm >= 1000,
        value_pence=value if request.costs.leftovers_have_worth else 0,
        reason="as the rule of worth has it",
    )


def build(
    request: PlanRequest,
    specs: Mapping[str, Sequence[DropSpec]],
    orders: Iterable[Order] = (),
    short: Iterable[Shortfall] = (),
    lower: Callable[[int], int] = lambda net: net,
) -> Case:
    """Cut sources as specified and make the plan of it.

    `lower` turns a net cost into the lower bound to be claimed; by default every plan claims to be optimal.
    """
    orders, short = tuple(orders), tuple(short)
    grounds = {item.tag: ground_of_stock(item) for item in request.stock}
    grounds |= {order.key: ground_of_order(order) for order in orders}
    products = []
    for code in sorted({job.product for job in request.jobs}):
        codes = {job.code for job in request.jobs if job.product == code}
        mine = {key: specs[key] for key in specs if grounds[key].product == code}
        products.append(
            _product_plan(
                request,
                code,
                [(grounds[key], spec) for key, spec in mine.items()],
                tuple(order for order in orders if order.product == code),
                tuple(shortfall for shortfall in short if shortfall.job in codes),
                lower,
            )
        )
    return Case(request, Plan(request.window, request.today, request.currency, tuple(products)))


def _product_plan(
    request: PlanRequest,
    code: str,
    work: Sequence[tuple[Ground, Sequence[DropSpec]]],
    orders: tuple[Order, ...],
    short: tuple[Shortfall, ...],
    lower: Callable[[int], int],
) -> ProductPlan:
    cuts, leftovers, cutting = [], [], 0
    for ground, spec in work:
        bench = Bench(ground)
        cuts.append(bench.cut(spec))
        leftovers += [leftover_at(request, ground, spot) for spot in bench.spots]
        cutting += bench.crosscuts * request.costs.crosscut_pence + bench.rips * request.costs.rip_pence
    touched = {ground.key for ground, _ in work}
    used = tuple(StockUsed(i.tag, worth_of_item(request, i)) for i in request.stock if i.tag in touched)
    net = cutting
    net += sum(order.price_pence for order in orders) + sum(item.value_pence for item in used)
    net -= sum(leftover.value_pence for leftover in leftovers)
    bound = lower(net)
    status = (
        PlanStatus.OPTIMAL if net == bound or Fraction(net - bound, net) < Fraction(1, 10**6) else PlanStatus.FEASIBLE
    )
    return ProductPlan(
        product=code,
        status=PlanStatus.SHORT if short else status,
        net_cost_pence=net,
        lower_bound_pence=bound,
        foreman_cost_pence=net,
        orders=orders,
        cuts=tuple(cuts),
        stock_used=used,
        leftovers=tuple(leftovers),
        short=short,
        cutting_cost_pence=cutting,
        work=1,
        seed=0,
        ended_by="proof",
        seconds=0.1,
    )


# --- a small yard, and cuts written as text -------------------------------------------------------------------------

ROLL = StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 10000, "north", 1000)
OTHER_ROLL = StockItem("R-2", "G30", "B8", StockForm.PART_ROLL, 4000, 8000, "north", 1000)
SUPPLY = (
    SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 25000, 110000, 6),
    SupplyOption("G30", "Fernlea Mills", SupplyForm.CUT_LENGTH, 4000, 12000, 5005, 3),
)
JOB = Job(
    "J1", "Larch Row", "G30", MONDAY, "house", BatchRule.ONE, (Strip("A", 4000, 3000), Strip("B", 1500, 2000, count=2))
)


def small_request(*jobs: Job, stock: Sequence[StockItem] = (ROLL, OTHER_ROLL), **changes: Any) -> PlanRequest:
    """One grass, one whole roll of batch B7, a part roll of B8, rolls and cut lengths on offer, and job J1."""
    request = PlanRequest(
        Window(MONDAY, MONDAY + timedelta(days=4)),
        TODAY,
        (Product("G30", "thirty millimetres", 2500),),
        SUPPLY,
        tuple(stock),
        jobs or (JOB,),
    )
    return replace(request, **changes)


def read_cuts(request: PlanRequest, *drops: str) -> list[DropSpec]:
    """Read drops such as `2000: J1.B1 | 1600= J1.B2`: length, then lanes with an optional width and their pieces."""
    strips = {(job.code, strip.label): strip for job in request.jobs for strip in job.strips}
    specs: list[DropSpec] = []
    for drop in drops:
        length, _, rest = drop.partition(":")
        lanes: list[LaneSpec] = []
        for lane in rest.split("|"):
            width, _, names = lane.rpartition("=")
            wants = []
            for name in names.split():
                code, _, copy = name.partition(".")
                strip = strips[code, copy[0]]
                wants.append(Want(strip.width_mm, strip.length_mm, code, strip.label, int(copy[1:])))
            lanes.append((int(width) if width else max(want.width_mm for want in wants), wants))
        specs.append((int(length), lanes))
    return specs


def new_order(key: str = "new-1", length_mm: int = 25000, arrives: date = MONDAY - timedelta(days=1)) -> Order:
    """A roll, or a cut length where the length is not a roll's, of the small yard's supply."""
    if length_mm == 25000:
        return Order(
            key, "G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 25000, 110000, arrives - timedelta(days=6), arrives
        )
    price = floor(Fraction(5005 * length_mm, 1000) + Fraction(1, 2))
    form = SupplyForm.CUT_LENGTH
    return Order(key, "G30", "Fernlea Mills", form, 4000, length_mm, price, arrives - timedelta(days=3), arrives)
